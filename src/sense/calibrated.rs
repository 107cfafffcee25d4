//! A converter and its calibration make a scale.

use super::Scale;
use super::calibration::ScaleCalibration;
use super::counts::LoadConverter;
use crate::quantity::{Celsius, Kilograms};
use crate::reading::{Fault, Reading};

/// How often the converter's own temperature is looked at, conversions: once in five minutes at 10 Hz,
/// because each look costs about a second of load.
const TEMPERATURE_EVERY: u32 = 3_000;

/// A platform that answers in kilograms.
pub struct CalibratedScale {
    converter: Box<dyn LoadConverter>,
    calibration: ScaleCalibration,
    /// Whether the platform's temperature is the converter's.
    own_temperature: bool,
    since_temperature: u32,
    platform: Option<Celsius>,
    news: Option<Reading<Celsius>>,
}

impl CalibratedScale {
    #[must_use]
    pub fn new(
        converter: Box<dyn LoadConverter>,
        calibration: ScaleCalibration,
        own_temperature: bool,
    ) -> Self {
        Self {
            converter,
            calibration,
            own_temperature,
            since_temperature: TEMPERATURE_EVERY,
            platform: None,
            news: None,
        }
    }

    /// Tells the platform's temperature, where a probe of its own measures it.
    pub fn platform_is(&mut self, celsius: Option<Celsius>) {
        self.platform = celsius;
    }

    fn look_at_temperature(&mut self) {
        self.since_temperature = 0;
        let reading = self.converter.temperature();
        if let Some(Ok(celsius)) = reading {
            self.platform = Some(celsius);
        }
        self.news = reading;
    }
}

impl Scale for CalibratedScale {
    fn read(&mut self) -> Reading<Kilograms> {
        if self.own_temperature && self.since_temperature >= TEMPERATURE_EVERY {
            self.look_at_temperature();
        }
        self.since_temperature += 1;
        let counts = self.converter.counts()?;
        self.calibration.load(counts, self.platform).ok_or(Fault::OutOfRange)
    }

    fn platform(&mut self) -> Option<Reading<Celsius>> {
        self.news.take()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::sense::counts::{Counts, Tally};

    /// 10 kg on a platform whose zero drifts 4 g/K, at 35 °C.
    struct Warm;

    impl LoadConverter for Warm {
        fn counts(&mut self) -> Reading<Counts> {
            Counts::from_bits(100_400)
        }

        fn temperature(&mut self) -> Option<Reading<Celsius>> {
            Some(Celsius::new(35.0).ok_or(Fault::OutOfRange))
        }

        fn tally(&self) -> Tally {
            Tally::default()
        }
    }

    fn scale(own_temperature: bool) -> CalibratedScale {
        let calibration = ScaleCalibration {
            zero_counts: 0.0,
            counts_per_kg: 10_000.0,
            curvature_per_kg: 0.0,
            top_kg: 20.0,
            at_c: Some(25.0),
            drift_kg_per_k: 0.004,
        };
        CalibratedScale::new(Box::new(Warm), calibration, own_temperature)
    }

    #[test]
    fn the_converters_temperature_corrects_the_load_and_is_handed_on_once() {
        let mut scale = scale(true);
        assert!((scale.read().unwrap().get() - 10.0).abs() < 1e-9);
        assert_eq!(scale.platform(), Some(Ok(Celsius::new(35.0).unwrap())));
        assert_eq!(scale.platform(), None);
    }

    #[test]
    fn a_probe_at_the_platform_may_correct_it_instead() {
        let mut scale = scale(false);
        assert!((scale.read().unwrap().get() - 10.04).abs() < 1e-9);
        scale.platform_is(Celsius::new(35.0));
        assert!((scale.read().unwrap().get() - 10.0).abs() < 1e-9);
    }
}
