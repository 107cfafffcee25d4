//! Whether what was learnt of a pot's scale and probes still holds: its age, and whether it is used
//! where it was learnt.
//!
//! A hand that leans on the pot is no load outside the range: one that stays for [`STAYS_S`] is. What
//! was found first is told until it is over, so that nothing is told anew with every gram.

use crate::config::board::Sensors;
use crate::moment::Moment;
use crate::sense::calibration::book::{
    Book, PROBE_DAYS, ProbeEntry, RANGE_K, ScaleEntry, age_warning, date_of_day, load_warning,
    platform_warning,
};
use crate::watch::event::Event;

/// A load counts as outside the range after this, s.
const STAYS_S: f64 = 30.0;
/// A platform that was too far from its calibration's temperature is near again with this to spare, K.
const NEAR_AGAIN_K: f64 = 2.0;

/// What is in force for one pot, and how it is used.
#[derive(Debug, Clone, Default)]
pub struct Calibrations {
    scale: Option<ScaleEntry>,
    /// A scale hangs there that was never calibrated.
    uncalibrated: bool,
    probes: Vec<ProbeEntry>,
    /// Since when, and the load then, kg.
    outside: Option<(Moment, f64)>,
    /// Whether it stayed.
    stays: bool,
    /// The platform's temperature where it is too far from the calibration's, °C.
    far_c: Option<f64>,
}

impl Calibrations {
    /// Those of this pot's sensors.
    #[must_use]
    pub fn of(book: &Book, pot: &str, sensors: &Sensors) -> Self {
        let scale = sensors.scale.and_then(|_| book.scale(pot)).cloned();
        let roms = sensors.probe.iter().chain(&sensors.base);
        let probes = roms.filter_map(|rom| book.probe(rom.as_str())).cloned().collect();
        let uncalibrated = sensors.scale.is_some() && scale.is_none();
        Self { scale, uncalibrated, probes, ..Self::default() }
    }

    /// The scale was calibrated meanwhile.
    pub fn calibrated(&mut self, entry: ScaleEntry) {
        (self.scale, self.uncalibrated) = (Some(entry), false);
    }

    /// Takes in what was measured.
    pub fn hear(&mut self, event: &Event, at: Moment) {
        let Some(scale) = &self.scale else { return };
        match event {
            Event::Load(Ok(load)) => {
                let kg = load.get();
                self.outside = match (load_warning(scale, kg), self.outside) {
                    (None, _) => None,
                    (Some(_), Some(since)) => Some(since),
                    (Some(_), None) => Some((at, kg)),
                };
                self.stays = self.outside.is_some_and(|(since, _)| at - since >= STAYS_S);
            }
            Event::Platform(Ok(celsius)) => {
                let now_c = celsius.get();
                let apart_k = scale.at_c.map_or(0.0, |then_c| (now_c - then_c).abs());
                self.far_c = match self.far_c {
                    Some(told) if apart_k > RANGE_K - NEAR_AGAIN_K => Some(told),
                    _ => (apart_k > RANGE_K).then_some(now_c),
                };
            }
            _ => {}
        }
    }

    /// What should be said of them on this day (1970-01-01 is 0; `None` while the board does not know
    /// it); empty where all is well.
    #[must_use]
    pub fn warnings(&self, pot: &str, day: Option<i64>) -> Vec<String> {
        let today = day.map(date_of_day);
        let mut said = Vec::new();
        if self.uncalibrated {
            said.push(format!(
                "{pot}'s scale: it was never calibrated, so the pot is watched without it: \
                 run `dekchi calibrate scale --pot {pot}`, and it is read from then on"
            ));
        }
        if let Some(scale) = &self.scale {
            let load = self.outside.filter(|_| self.stays);
            let found = [
                scale.age_warning(today.as_deref()),
                load.and_then(|(_, kg)| load_warning(scale, kg)),
                self.far_c.and_then(|c| platform_warning(scale, c)),
            ];
            said.extend(found.into_iter().flatten().map(|words| format!("{pot}'s scale: {words}")));
        }
        for probe in &self.probes {
            let words = age_warning(&probe.made, today.as_deref(), PROBE_DAYS);
            said.extend(words.map(|words| format!("{pot}'s probe {}: {words}", probe.rom)));
        }
        said
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::quantity::{Celsius, Kilograms};
    use crate::sense::calibration::book::day_number;

    const BOOK: &str = "[[scale]]\nname = \"big\"\nmade = \"2026-01-01\"\nzero_counts = 0.0\n\
        counts_per_kg = 1e4\ntop_kg = 30.0\nat_c = 25.0\n\
        [[probe]]\nrom = \"28-0316a2795f01\"\nmade = \"2025-01-01\"\noffset_k = -0.4\n";

    fn calibrations() -> Calibrations {
        let sensors = Sensors {
            probe: crate::sense::ds18b20::RomId::new("28-0316a2795f01"),
            scale: Some(crate::config::board::Converter::Nau7802),
            ..Sensors::default()
        };
        Calibrations::of(&Book::parse(BOOK).unwrap(), "big", &sensors)
    }

    fn load(kg: f64) -> Event {
        Event::Load(Ok(Kilograms::new(kg).unwrap()))
    }

    fn platform(celsius: f64) -> Event {
        Event::Platform(Ok(Celsius::new(celsius).unwrap()))
    }

    const fn at(s: i64) -> Moment {
        Moment::from_ms(s * 1000)
    }

    #[test]
    fn old_calibrations_of_scale_and_probe_are_told_and_fresh_ones_are_not() {
        let told = calibrations().warnings("big", day_number("2026-11-25"));
        assert_eq!(told.len(), 2, "{told:?}");
        assert!(told[0].starts_with("big's scale: its calibration is 328 days old"), "{told:?}");
        assert!(told[1].starts_with("big's probe 28-0316a2795f01: its cal"), "{told:?}");
        let told = calibrations().warnings("big", day_number("2026-01-02"));
        assert!(told.iter().all(|words| !words.contains("scale")), "{told:?}");
        assert_eq!(calibrations().warnings("big", None), [""; 0], "the day is not known");
    }

    #[test]
    fn a_load_outside_the_range_is_told_when_it_stays_and_in_the_same_words() {
        let mut pot = calibrations();
        let mut told = |s, kg| {
            pot.hear(&load(kg), at(s));
            pot.warnings("big", None)
        };
        assert_eq!(told(0, 40.0), [""; 0]);
        assert_eq!(told(20, 40.0), [""; 0], "somebody leans on it");
        assert_eq!(told(21, 20.0), [""; 0]);
        assert_eq!(told(30, 34.0), [""; 0]);
        let first = told(61, 34.5);
        assert!(first[0].contains("reads 34.00 kg, outside"), "{first:?}");
        assert_eq!(told(90, 35.0), first);
        assert_eq!(told(91, 32.0), [""; 0]);
    }

    #[test]
    fn a_platform_far_from_its_calibrations_temperature_is_told_until_it_is_well_near() {
        let mut pot = calibrations();
        let mut told = |celsius| {
            pot.hear(&platform(celsius), at(0));
            pot.warnings("big", None)
        };
        assert_eq!(told(44.0), [""; 0]);
        let first = told(46.0);
        assert!(first[0].contains("at 46 °C and was calibrated at 25 °C"), "{first:?}");
        assert_eq!(told(44.0), first);
        assert_eq!(told(42.0), [""; 0]);
    }

    #[test]
    fn a_scale_that_was_never_calibrated_is_told_until_it_is() {
        let sensors =
            Sensors { scale: Some(crate::config::board::Converter::Nau7802), ..Sensors::default() };
        let mut pot = Calibrations::of(&Book::default(), "big", &sensors);
        let told = pot.warnings("big", None);
        assert!(told[0].contains("run `dekchi calibrate scale --pot big`"), "{told:?}");
        pot.calibrated(Book::parse(BOOK).unwrap().scale("big").unwrap().clone());
        assert_eq!(pot.warnings("big", None), [""; 0]);
    }

    #[test]
    fn a_pot_that_weighs_by_a_recording_has_no_calibration() {
        let book = Book::parse(BOOK).unwrap();
        let pot = Calibrations::of(&book, "big", &Sensors::default());
        assert_eq!(pot.warnings("big", day_number("2026-11-25")), [""; 0]);
    }
}
