//! What truly happened in a simulated pot.
//!
//! JSON: series sampled every `step_s` from the recording's beginning, and `events` with `t_s`,
//! `what`, and where it fits `secs`, `kg`, `name` and `watts`. Keys that are not named here are
//! passed over.

use serde::Deserialize;

/// How far below its boiling point a pot still cooks, K.
pub const COOKING_K: f64 = 3.0;

/// The truth behind a recording.
#[derive(Debug, Clone, PartialEq, Deserialize)]
pub struct Truth {
    /// Length of the recording, s.
    pub secs: f64,
    pub step_s: f64,
    pub contents_kg: Vec<f64>,
    pub water_kg: Vec<f64>,
    pub evaporation_kg_h: Vec<f64>,
    #[serde(default)]
    pub pot_c: Vec<f64>,
    /// Boiling point of the contents at the start, °C.
    #[serde(default)]
    pub boil_c: Option<f64>,
    #[serde(default)]
    pub events: Vec<TrueEvent>,
    /// When the bottom caught.
    #[serde(default)]
    pub caught_s: Option<f64>,
    /// When the target was reached.
    #[serde(default)]
    pub target_s: Option<f64>,
}

/// Something that was done to the pot.
#[derive(Debug, Clone, PartialEq, Deserialize)]
pub struct TrueEvent {
    pub t_s: f64,
    /// `stirred`, `added`, `taken`, `blended`, `lid-on`, `lid-off`, `flame`, `sensor-fault`, …
    pub what: String,
    /// How long it took, s.
    #[serde(default)]
    pub secs: f64,
    #[serde(default)]
    pub kg: Option<f64>,
    #[serde(default)]
    pub name: Option<String>,
    #[serde(default)]
    pub watts: Option<f64>,
    /// `probe` or `scale`, of a `sensor-fault` and of the `sensor-back` that ends it.
    #[serde(default)]
    pub sensor: Option<String>,
}

impl TrueEvent {
    #[must_use]
    pub fn end_s(&self) -> f64 {
        self.t_s + self.secs
    }

    /// Whether hands or tools were in or at the pot, so that its load was disturbed.
    #[must_use]
    pub fn is_handling(&self) -> bool {
        matches!(
            self.what.as_str(),
            "stirred" | "added" | "taken" | "blended" | "lid-on" | "lid-off"
        )
    }

    /// Whether nothing can be weighed in its span.
    #[must_use]
    pub fn hides_the_load(&self) -> bool {
        self.is_handling() || self.is_fault() && self.sensor.as_deref() != Some("probe")
    }

    #[must_use]
    pub fn is_fault(&self) -> bool {
        self.what == "sensor-fault"
    }
}

impl Truth {
    /// Reads a truth file's text; the error is one sentence.
    pub fn parse(text: &str) -> Result<Self, String> {
        let mut truth: Self = serde_json::from_str(text).map_err(|error| error.to_string())?;
        let fair = |t_s: f64| (0.0..=1e8).contains(&t_s);
        if truth.step_s > 0.0 && fair(truth.secs) && truth.events.iter().all(|e| fair(e.t_s)) {
            truth.stretch_faults();
            Ok(truth)
        } else {
            Err("step_s must be more than 0, and every time from 0 to 100000000 s".to_owned())
        }
    }

    /// A fault lasts until its sensor is back, or to the end.
    fn stretch_faults(&mut self) {
        let backs: Vec<_> =
            self.events.iter().filter(|e| e.what == "sensor-back").cloned().collect();
        for fault in self.events.iter_mut().filter(|event| event.is_fault() && event.secs == 0.0) {
            let back = backs.iter().find(|b| b.t_s >= fault.t_s && b.sensor == fault.sensor);
            fault.secs = back.map_or(self.secs, |back| back.t_s) - fault.t_s;
        }
    }

    /// Between its samples a series runs straight; `None` beyond its end.
    #[must_use]
    pub fn at(&self, series: &[f64], t_s: f64) -> Option<f64> {
        let place = t_s / self.step_s;
        let (before, part) = (place.floor(), place.fract());
        let first = *series.get(before as usize)?;
        let second = *series.get(before as usize + 1).unwrap_or(&first);
        Some(first + part * (second - first))
    }

    /// Contents at the start, kg.
    #[must_use]
    pub fn start_kg(&self) -> Option<f64> {
        self.contents_kg.first().copied().filter(|kg| *kg > 0.0)
    }

    /// Whether the pot was being cooked: within [`COOKING_K`] of its boiling point, as far as known.
    #[must_use]
    pub fn is_cooking(&self, t_s: f64) -> bool {
        let pot_c = self.at(&self.pot_c, t_s);
        pot_c.zip(self.boil_c).is_none_or(|(pot_c, boil_c)| pot_c >= boil_c - COOKING_K)
    }

    /// When the last stir before the catch ended (0 where there was none), and the catch, s; `None`
    /// where it caught under the spoon, which is no neglect.
    #[must_use]
    pub fn neglect(&self) -> Option<(f64, f64)> {
        let caught_s = self.caught_s?;
        if self.stirs().any(|e| (e.t_s..e.end_s()).contains(&caught_s)) {
            return None;
        }
        let ends = self.stirs().map(TrueEvent::end_s).filter(|end_s| *end_s <= caught_s);
        Some((ends.fold(0.0, f64::max), caught_s))
    }

    fn stirs(&self) -> impl Iterator<Item = &TrueEvent> {
        self.events.iter().filter(|e| e.what == "stirred" || e.what == "blended")
    }

    /// Whether the bottom is left to catch at `t_s`, or has caught and nobody has stirred since.
    #[must_use]
    pub fn is_left_to_catch(&self, t_s: f64) -> bool {
        self.neglect().is_some_and(|(from_s, caught_s)| {
            let after = self.stirs().map(TrueEvent::end_s).filter(|end_s| *end_s > caught_s);
            (from_s..=after.fold(self.secs, f64::min)).contains(&t_s)
        })
    }

    /// Whether `t_s` lies from `before_s` before to `after_s` after one of these events.
    #[must_use]
    pub fn is_near(
        &self,
        t_s: f64,
        before_s: f64,
        after_s: f64,
        of: impl Fn(&TrueEvent) -> bool,
    ) -> bool {
        self.events
            .iter()
            .filter(|event| of(event))
            .any(|event| (event.t_s - before_s..=event.end_s() + after_s).contains(&t_s))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_series_runs_straight_between_its_samples_and_ends() {
        let truth = Truth::parse(
            r#"{"secs":20,"step_s":10,"contents_kg":[10,9,8],"water_kg":[],"evaporation_kg_h":[],
                "caught_s":null,"soft":[0]}"#,
        )
        .unwrap();
        assert_eq!(truth.at(&truth.contents_kg, 15.0), Some(8.5));
        assert_eq!(truth.at(&truth.contents_kg, 20.0), Some(8.0));
        assert_eq!(truth.at(&truth.contents_kg, 31.0), None);
        assert_eq!(truth.at(&truth.water_kg, 0.0), None);
    }

    #[test]
    fn a_fault_lasts_until_its_own_sensor_is_back() {
        let truth = Truth::parse(
            r#"{"secs":900,"step_s":10,"contents_kg":[],"water_kg":[],"evaporation_kg_h":[],
                "events":[{"t_s":100,"what":"sensor-fault","sensor":"scale"},
                {"t_s":200,"what":"sensor-fault","sensor":"probe"},
                {"t_s":300,"what":"sensor-back","sensor":"probe"},
                {"t_s":400,"what":"sensor-back","sensor":"scale"}]}"#,
        )
        .unwrap();
        assert_eq!((truth.events[0].secs, truth.events[1].secs), (300.0, 100.0));
        assert!(truth.is_near(350.0, 0.0, 0.0, TrueEvent::hides_the_load));
        assert!(!truth.is_near(401.0, 0.0, 0.0, TrueEvent::hides_the_load));
    }

    #[test]
    fn a_truth_without_a_step_is_refused() {
        let text = r#"{"secs":1,"step_s":0,"contents_kg":[],"water_kg":[],"evaporation_kg_h":[]}"#;
        assert!(Truth::parse(text).is_err());
        assert!(Truth::parse("[]").is_err());
    }
}
