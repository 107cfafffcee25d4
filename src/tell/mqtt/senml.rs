//! Readings that were kept while the broker was away, as a SenML pack (RFC 8428). Pure.
//!
//! One record a value. The pack's base name is the pot's topic with `:` for `/` and with what a SenML
//! name may not hold replaced by `_` (RFC 8428 §4.5.1); the base time is that of its first reading.
//! Units are SenML's where it has one (`Cel`, `kg`, `W`, `s`, `/`) and stand in the name as well.

use serde::Serialize;

use crate::watch::action::Snapshot;

/// A pack that is being filled.
#[derive(Debug, Clone, PartialEq)]
pub struct Pack {
    base_name: String,
    base_utc_ms: Option<i64>,
    records: Vec<Record>,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
struct Record {
    #[serde(skip_serializing_if = "Option::is_none")]
    bn: Option<String>,
    /// s since 1970-01-01 UTC
    #[serde(skip_serializing_if = "Option::is_none")]
    bt: Option<f64>,
    n: &'static str,
    #[serde(skip_serializing_if = "Option::is_none")]
    u: Option<&'static str>,
    /// s after the base time
    #[serde(skip_serializing_if = "is_zero")]
    t: f64,
    v: f64,
}

#[expect(clippy::trivially_copy_pass_by_ref, reason = "serde hands a reference over")]
fn is_zero(t: &f64) -> bool {
    *t == 0.0
}

impl Pack {
    #[must_use]
    pub fn new(board: &str, pot: &str) -> Self {
        let base_name = name(&format!("dekchi:{board}:{pot}:"));
        Self { base_name, base_utc_ms: None, records: Vec::new() }
    }

    /// Puts in what a snapshot knows.
    pub fn add(&mut self, utc_ms: i64, now: &Snapshot) {
        let base_utc_ms = *self.base_utc_ms.get_or_insert(utc_ms);
        let t = (utc_ms - base_utc_ms) as f64 / 1000.0;
        let values = [
            ("pot_c", Some("Cel"), now.pot_c, 2),
            ("contents_kg", Some("kg"), now.contents_kg, 3),
            ("water_kg", Some("kg"), now.water_kg, 3),
            ("total_solids", Some("/"), now.total_solids, 5),
            ("evaporation_kg_h", None, now.evaporation_kg_h, 3),
            ("heat_w", Some("W"), now.heat_w, 0),
            ("target_in_s", Some("s"), now.target_in_s.map(|spread| spread.p50), 0),
            ("catch_index", Some("/"), now.catch_index, 3),
        ];
        for (n, u, value, decimals) in values {
            let Some(v) = value.filter(|v| v.is_finite()) else { continue };
            self.records.push(Record { bn: None, bt: None, n, u, t, v: rounded(v, decimals) });
        }
    }

    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.records.is_empty()
    }

    /// The pack as JSON, and an empty one in its place; `None` where there is nothing in it.
    pub fn seal(&mut self) -> Option<String> {
        let mut records = std::mem::take(&mut self.records);
        let base_utc_ms = self.base_utc_ms.take()?;
        let first = records.first_mut()?;
        first.bn = Some(self.base_name.clone());
        first.bt = Some(base_utc_ms as f64 / 1000.0);
        serde_json::to_string(&records).ok()
    }
}

fn rounded(value: f64, decimals: i32) -> f64 {
    let scale = 10_f64.powi(decimals);
    (value * scale).round() / scale + 0.0
}

/// A name of letters, digits and `- : . / _`, beginning with a letter or digit.
fn name(text: &str) -> String {
    let fair = |c: char| if c.is_ascii_alphanumeric() || "-:._".contains(c) { c } else { '_' };
    text.chars().map(fair).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::watch::action::Spread;

    fn snapshot(pot_c: f64) -> Snapshot {
        Snapshot {
            pot_c: Some(pot_c),
            target_in_s: Some(Spread { p10: 1.0, p50: 61.4, p90: 100.0 }),
            heat_w: Some(f64::NAN),
            ..Snapshot::default()
        }
    }

    #[test]
    fn a_pack_is_senml_with_the_times_of_its_readings() {
        let mut pack = Pack::new("quay", "größer");
        pack.add(1_795_636_960_250, &snapshot(98.125));
        pack.add(1_795_636_970_250, &snapshot(98.2));
        assert_eq!(
            pack.seal().unwrap(),
            "[{\"bn\":\"dekchi:quay:gr__er:\",\"bt\":1795636960.25,\"n\":\"pot_c\",\"u\":\"Cel\",\"v\":98.13},\
             {\"n\":\"target_in_s\",\"u\":\"s\",\"v\":61.0},\
             {\"n\":\"pot_c\",\"u\":\"Cel\",\"t\":10.0,\"v\":98.2},\
             {\"n\":\"target_in_s\",\"u\":\"s\",\"t\":10.0,\"v\":61.0}]"
        );
        assert_eq!(pack.seal(), None);
    }

    #[test]
    fn what_is_not_known_is_not_in_the_pack() {
        let mut pack = Pack::new("quay", "big");
        pack.add(0, &Snapshot::default());
        assert!(pack.is_empty());
        assert_eq!(pack.seal(), None);
    }
}
