//! One sensor's readings over the last seconds: value, noise, rate, age, faults.

use std::collections::{BTreeMap, VecDeque};

use crate::moment::Moment;
use crate::reading::{Fault, Reading};

/// What a table begins with.
pub const HEAD: &str =
    "sensor                     value       raw     noise   rate/s  age/s  good  faults";

/// How far back noise and rate look, s.
const WINDOW_S: f64 = 10.0;

/// A reading before and after its calibration.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Number {
    pub raw: f64,
    /// `None` where the sensor was never calibrated.
    pub value: Option<f64>,
}

impl Number {
    /// A number that needs no calibration.
    #[must_use]
    pub const fn plain(number: f64) -> Self {
        Self { raw: number, value: Some(number) }
    }
}

/// One sensor.
#[derive(Debug)]
pub struct Meter {
    name: String,
    unit: &'static str,
    recent: VecDeque<(Moment, Number)>,
    good: u64,
    faults: BTreeMap<&'static str, u64>,
    last_fault: Option<Fault>,
}

impl Meter {
    #[must_use]
    pub fn new(name: &str, unit: &'static str) -> Self {
        Self {
            name: name.to_owned(),
            unit,
            recent: VecDeque::new(),
            good: 0,
            faults: BTreeMap::new(),
            last_fault: None,
        }
    }

    /// Takes a reading of this moment.
    pub fn take(&mut self, at: Moment, reading: Reading<Number>) {
        match reading {
            Ok(number) => {
                self.good += 1;
                self.last_fault = None;
                self.recent.push_back((at, number));
            }
            Err(fault) => {
                *self.faults.entry(fault.words()).or_default() += 1;
                self.last_fault = Some(fault);
            }
        }
        while self.recent.len() > 1 && self.recent.front().is_some_and(|r| at - r.0 > WINDOW_S) {
            self.recent.pop_front();
        }
    }

    /// Noise by the differences of neighbours, so that a pot that is being filled is not noise.
    fn noise(&self) -> Option<f64> {
        let numbers = self.recent.iter().map(|(_, n)| n.value.unwrap_or(n.raw));
        let next = numbers.clone().skip(1);
        let squares: Vec<f64> = numbers.zip(next).map(|(a, b)| (a - b).powi(2)).collect();
        let n = squares.len() as f64;
        (squares.len() >= 5).then(|| (squares.iter().sum::<f64>() / n / 2.0).sqrt())
    }

    fn rate(&self) -> Option<f64> {
        let (first, last) = (self.recent.front()?.0, self.recent.back()?.0);
        let intervals = (self.recent.len() - 1) as f64;
        (last > first).then(|| intervals / (last - first))
    }

    /// One line of the table.
    #[must_use]
    pub fn line(&self, now: Moment) -> String {
        let last = self.recent.back();
        let decimals = if self.unit == "kg" { 3 } else { 2 };
        let number = |value: Option<f64>| value.map_or("-".into(), |v| format!("{v:.decimals$}"));
        let raw =
            last.map_or("-".into(), |(_, n)| format!("{:.*}", raw_decimals(self.unit), n.raw));
        let short = |value: Option<f64>| value.map_or("-".into(), |v| format!("{v:.1}"));
        let value = number(last.and_then(|(_, n)| n.value));
        format!(
            "{:<20} {value:>8} {:<3} {raw:>9} {:>8} {:>8} {:>6} {:>5}  {}",
            self.name,
            self.unit,
            number(self.noise()),
            short(self.rate()),
            short(last.map(|(at, _)| now - *at)),
            self.good,
            self.fault_words(),
        )
        .trim_end()
        .to_owned()
    }

    fn fault_words(&self) -> String {
        let total: u64 = self.faults.values().sum();
        match self.last_fault {
            Some(fault) => format!("{total}, now: {fault}"),
            None if total > 0 => format!("{total}, none now"),
            None => "0".to_owned(),
        }
    }

    /// The same as a JSON object.
    #[must_use]
    pub fn json(&self, now: Moment) -> serde_json::Value {
        let last = self.recent.back();
        serde_json::json!({
            "sensor": self.name,
            "unit": self.unit,
            "value": last.and_then(|(_, n)| n.value),
            "raw": last.map(|(_, n)| n.raw),
            "noise": self.noise(),
            "rate_hz": self.rate(),
            "age_s": last.map(|(at, _)| now - *at),
            "good": self.good,
            "faults": self.faults,
            "fault": self.last_fault.map(Fault::words),
        })
    }
}

/// A converter's counts are whole numbers.
fn raw_decimals(unit: &str) -> usize {
    if unit == "kg" { 0 } else { 2 }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn meter() -> Meter {
        let mut meter = Meter::new("big scale", "kg");
        for n in 0..200 {
            let counts = 100_000.0 + if n % 2 == 0 { 20.0 } else { -20.0 };
            let number = Number { raw: counts, value: Some(counts / 10_000.0) };
            meter.take(Moment::from_ms(n * 100), Ok(number));
        }
        meter
    }

    #[test]
    fn value_noise_rate_and_age_are_those_of_the_last_seconds() {
        let json = meter().json(Moment::from_ms(20_400));
        assert_eq!(json["value"], 9.998);
        assert_eq!(json["rate_hz"], 10.0);
        assert_eq!(json["age_s"], 0.5);
        assert_eq!(json["good"], 200);
        // Neighbours 4 g apart: 4 g/√2.
        assert!((json["noise"].as_f64().unwrap() - 0.004 / 2_f64.sqrt()).abs() < 1e-9);
    }

    #[test]
    fn a_silent_sensor_shows_its_age_and_its_fault() {
        let mut meter = meter();
        meter.take(Moment::from_ms(30_000), Err(Fault::Absent));
        let line = meter.line(Moment::from_ms(30_000));
        assert!(line.contains("10.1") && line.contains("1, now: does not answer"), "{line}");
        assert_eq!(meter.json(Moment::from_ms(30_000))["faults"][Fault::Absent.words()], 1);
    }

    #[test]
    fn what_is_not_known_is_a_dash() {
        let mut meter = Meter::new("big scale", "kg");
        meter.take(Moment::from_ms(0), Ok(Number { raw: 5.0, value: None }));
        let line = meter.line(Moment::from_ms(0));
        assert!(line.starts_with("big scale                   - kg          5        -"), "{line}");
    }
}
