//! The book of calibrations: every one dated, none thrown away, the newest of each in force.
//!
//! Kept as a TOML file that a person can read:
//!
//! ```toml
//! [[scale]]
//! name = "big"                 # the platform: its pot's name
//! made = "2026-11-25"          # the board's date; "unset" where its clock was not set
//! zero_counts = -55012.4
//! counts_per_kg = 10738.2
//! …
//! ```
//!
//! Age limits are common practice without a source: scales half a year, probes a year.

use serde::{Deserialize, Serialize};

use super::ScaleCalibration;
use super::probe::ProbeTrim;

/// A scale's calibration is called old after this, days.
pub const SCALE_DAYS: i64 = 183;
/// A probe's after this, days.
pub const PROBE_DAYS: i64 = 366;
/// A platform further than this from its calibration's temperature is out of its range, K.
pub const RANGE_K: f64 = 20.0;

/// Everything that was learnt, oldest first.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Book {
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub scale: Vec<ScaleEntry>,
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub probe: Vec<ProbeEntry>,
}

/// One calibration of a platform.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ScaleEntry {
    pub name: String,
    /// `YYYY-MM-DD`, or `unset`.
    pub made: String,
    pub zero_counts: f64,
    pub counts_per_kg: f64,
    #[serde(default)]
    pub curvature_per_kg: f64,
    pub top_kg: f64,
    pub at_c: Option<f64>,
    #[serde(default)]
    pub drift_kg_per_k: f64,
    /// What it behaves like, in words.
    #[serde(default)]
    pub behaves: String,
}

/// One trim of a probe.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ProbeEntry {
    /// The probe's own number.
    pub rom: String,
    pub made: String,
    pub offset_k: f64,
    #[serde(default)]
    pub slope: f64,
}

impl ScaleEntry {
    #[must_use]
    pub fn new(name: &str, made: &str, from: &ScaleCalibration, behaves: String) -> Self {
        Self {
            name: name.to_owned(),
            made: made.to_owned(),
            zero_counts: from.zero_counts,
            counts_per_kg: from.counts_per_kg,
            curvature_per_kg: from.curvature_per_kg,
            top_kg: from.top_kg,
            at_c: from.at_c,
            drift_kg_per_k: from.drift_kg_per_k,
            behaves,
        }
    }

    #[must_use]
    pub const fn calibration(&self) -> ScaleCalibration {
        ScaleCalibration {
            zero_counts: self.zero_counts,
            counts_per_kg: self.counts_per_kg,
            curvature_per_kg: self.curvature_per_kg,
            top_kg: self.top_kg,
            at_c: self.at_c,
            drift_kg_per_k: self.drift_kg_per_k,
        }
    }

    /// That it is old on this day.
    #[must_use]
    pub fn age_warning(&self, today: Option<&str>) -> Option<String> {
        age_warning(&self.made, today, SCALE_DAYS)
    }

    fn flaw(&self) -> Option<String> {
        let numbers = [self.zero_counts, self.curvature_per_kg, self.drift_kg_per_k];
        let bad = if !numbers.iter().all(|n| n.is_finite()) {
            "a number that is not finite"
        } else if !self.counts_per_kg.is_normal() {
            "counts_per_kg that is zero or not finite"
        } else if !(self.top_kg.is_finite() && self.top_kg > 0.0) {
            "top_kg that is not above zero"
        } else {
            return None;
        };
        Some(format!("the scale \"{}\" of {} has {bad}", self.name, self.made))
    }
}

impl ProbeEntry {
    #[must_use]
    pub const fn trim(&self) -> ProbeTrim {
        ProbeTrim { offset_k: self.offset_k, slope: self.slope }
    }

    fn flaw(&self) -> Option<String> {
        let sound = self.offset_k.abs() <= 10.0 && self.slope.abs() <= 0.1;
        (!sound).then(|| format!("the probe {} of {} has an absurd trim", self.rom, self.made))
    }
}

impl Book {
    /// Reads a book's text.
    ///
    /// # Errors
    /// One sentence with what is wrong and where.
    pub fn parse(text: &str) -> Result<Self, String> {
        let book: Self = toml::from_str(text).map_err(|e| e.to_string().trim().to_owned())?;
        let flaws = book.scale.iter().filter_map(ScaleEntry::flaw);
        match flaws.chain(book.probe.iter().filter_map(ProbeEntry::flaw)).next() {
            Some(flaw) => Err(flaw),
            None => Ok(book),
        }
    }

    /// The book as text.
    ///
    /// # Errors
    /// Never for finite numbers.
    pub fn text(&self) -> Result<String, String> {
        let head =
            "# Calibrations, oldest first; written by `dekchi calibrate`. The newest counts.\n";
        toml::to_string(self).map(|body| format!("{head}\n{body}")).map_err(|e| e.to_string())
    }

    /// The newest calibration of this platform.
    #[must_use]
    pub fn scale(&self, name: &str) -> Option<&ScaleEntry> {
        self.scale.iter().rev().find(|entry| entry.name == name)
    }

    /// The newest trim of this probe.
    #[must_use]
    pub fn probe(&self, rom: &str) -> Option<&ProbeEntry> {
        self.probe.iter().rev().find(|entry| entry.rom == rom)
    }
}

/// That the platform carries what it was not calibrated for.
#[must_use]
pub fn load_warning(entry: &ScaleEntry, load_kg: f64) -> Option<String> {
    let within = -0.02 * entry.top_kg..=entry.calibration().range_kg();
    (!within.contains(&load_kg)).then(|| {
        format!(
            "reads {load_kg:.2} kg, outside what it was calibrated for (0 to {:.0} kg)",
            entry.top_kg
        )
    })
}

/// That the platform is warmer or colder than its calibration allows for.
#[must_use]
pub fn platform_warning(entry: &ScaleEntry, now_c: f64) -> Option<String> {
    let then_c = entry.at_c.filter(|then_c| (now_c - then_c).abs() > RANGE_K)?;
    let advice = match entry.drift_kg_per_k == 0.0 {
        true => "run `dekchi calibrate drift`",
        false => "trust what follows from its drift less",
    };
    Some(format!("the platform is at {now_c:.0} °C and was calibrated at {then_c:.0} °C: {advice}"))
}

/// That a calibration is old, or of an unknown age.
#[must_use]
pub fn age_warning(made: &str, today: Option<&str>, limit_days: i64) -> Option<String> {
    let Some(made_day) = day_number(made) else {
        return Some("its calibration has no date (the board's clock was not set)".to_owned());
    };
    let age = day_number(today?)? - made_day;
    match age {
        age if age > limit_days => {
            Some(format!("its calibration is {age} days old (of {made}): time to make it anew"))
        }
        age if age < -1 => Some(format!("its calibration is dated in the future ({made})")),
        _ => None,
    }
}

/// Days since 1970-01-01 of `YYYY-MM-DD` (Howard Hinnant's algorithm for the civil calendar).
#[must_use]
pub fn day_number(date: &str) -> Option<i64> {
    let mut parts = date.splitn(3, '-').map(str::parse::<i64>);
    let (year, month, day) = (parts.next()?.ok()?, parts.next()?.ok()?, parts.next()?.ok()?);
    if !(1970..=9999).contains(&year) || !(1..=12).contains(&month) || !(1..=31).contains(&day) {
        return None;
    }
    let year = if month <= 2 { year - 1 } else { year };
    let era = year / 400;
    let year_of_era = year - era * 400;
    let day_of_year = (153 * ((month + 9) % 12) + 2) / 5 + day - 1;
    let day_of_era = year_of_era * 365 + year_of_era / 4 - year_of_era / 100 + day_of_year;
    Some(era * 146_097 + day_of_era - 719_468)
}

/// `YYYY-MM-DD` of a day number: the other way round.
#[must_use]
pub fn date_of_day(day: i64) -> String {
    let day = day + 719_468;
    let era = day.div_euclid(146_097);
    let of_era = day.rem_euclid(146_097);
    let year_of_era = (of_era - of_era / 1_460 + of_era / 36_524 - of_era / 146_096) / 365;
    let of_year = of_era - (365 * year_of_era + year_of_era / 4 - year_of_era / 100);
    let shifted = (5 * of_year + 2) / 153;
    let day = of_year - (153 * shifted + 2) / 5 + 1;
    let month = if shifted < 10 { shifted + 3 } else { shifted - 9 };
    let year = year_of_era + era * 400 + i64::from(month <= 2);
    format!("{year:04}-{month:02}-{day:02}")
}

#[cfg(test)]
mod tests {
    use super::*;

    fn entry(made: &str) -> ScaleEntry {
        let calibration = ScaleCalibration {
            zero_counts: -55_012.25,
            counts_per_kg: 10_738.5,
            curvature_per_kg: 0.0,
            top_kg: 30.0,
            at_c: Some(24.0),
            drift_kg_per_k: 0.0,
        };
        ScaleEntry::new("big", made, &calibration, "e = 10 g up to 30 kg".to_owned())
    }

    #[test]
    fn a_book_is_read_as_it_was_written_and_the_newest_counts() {
        let mut book = Book::default();
        book.scale.push(entry("2026-01-02"));
        book.scale.push(ScaleEntry { counts_per_kg: 10_700.0, ..entry("2026-06-03") });
        let trim = ProbeEntry {
            rom: "28-0316a2795f01".to_owned(),
            made: "2026-06-03".to_owned(),
            offset_k: -0.4,
            slope: 0.002,
        };
        book.probe.push(trim.clone());
        let again = Book::parse(&book.text().unwrap()).unwrap();
        assert_eq!(again, book);
        assert_eq!(again.scale("big").map(|e| e.counts_per_kg), Some(10_700.0));
        assert_eq!(again.probe("28-0316a2795f01"), Some(&trim));
        assert_eq!(again.scale("small"), None);
    }

    #[test]
    fn a_spoilt_book_is_refused_with_its_reason() {
        let good = Book { scale: vec![entry("2026-01-02")], probe: Vec::new() }.text().unwrap();
        for (from, to, why) in [
            ("counts_per_kg = 10738.5", "counts_per_kg = 0.0", "counts_per_kg that is zero"),
            ("top_kg = 30.0", "top_kg = nan", "top_kg"),
            ("zero_counts = -55012.25", "zero_counts = inf", "not finite"),
            ("made", "maid", "maid"),
        ] {
            let error = Book::parse(&good.replace(from, to)).unwrap_err();
            assert!(error.contains(why), "{error}");
        }
    }

    #[test]
    fn an_old_calibration_is_told() {
        assert_eq!(age_warning("2026-01-01", Some("2026-03-01"), SCALE_DAYS), None);
        let old = age_warning("2026-01-01", Some("2026-11-25"), SCALE_DAYS).unwrap();
        assert!(old.contains("328 days"), "{old}");
        assert!(age_warning("unset", Some("2026-11-25"), SCALE_DAYS).unwrap().contains("no date"));
        assert!(age_warning("2027-01-01", Some("2026-11-25"), 9).unwrap().contains("future"));
        assert_eq!(age_warning("2026-01-01", None, SCALE_DAYS), None);
    }

    #[test]
    fn use_outside_the_range_is_told() {
        let entry = entry("2026-11-01");
        assert_eq!(load_warning(&entry, 20.0), None);
        assert!(load_warning(&entry, 34.0).is_some_and(|words| words.contains("34.00 kg")));
        assert!(load_warning(&entry, -1.0).is_some());
        assert_eq!(platform_warning(&entry, 30.0), None);
        assert!(platform_warning(&entry, 50.0).is_some_and(|words| words.contains("drift`")));
        let learnt = ScaleEntry { drift_kg_per_k: 0.004, ..entry };
        assert!(platform_warning(&learnt, 50.0).is_some_and(|words| !words.contains("run ")));
    }

    #[test]
    fn days_are_counted_by_the_calendar() {
        assert_eq!(day_number("1970-01-01"), Some(0));
        // 2000-03-01 is day 11,017 (Hinnant's own example table).
        assert_eq!(day_number("2000-03-01"), Some(11_017));
        assert_eq!(date_of_day(11_017), "2000-03-01");
        assert!((0..40_000).all(|day| day_number(&date_of_day(day)) == Some(day)));
        assert_eq!(day_number("2026-13-01"), None);
        assert_eq!(day_number("yesterday"), None);
    }
}
