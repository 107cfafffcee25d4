//! A converter and its calibration make a scale.

use std::sync::{Arc, Mutex, PoisonError};

use super::calibration::ScaleCalibration;
use super::counts::LoadConverter;
use super::{Probe, Scale};
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
    platform: Newest,
    news: Option<Reading<Celsius>>,
}

impl CalibratedScale {
    /// `platform` is where a probe at the load cells is overheard, if there is one.
    #[must_use]
    pub fn new(
        converter: Box<dyn LoadConverter>,
        calibration: ScaleCalibration,
        own_temperature: bool,
        platform: Newest,
    ) -> Self {
        Self {
            converter,
            calibration,
            own_temperature,
            since_temperature: TEMPERATURE_EVERY,
            platform,
            news: None,
        }
    }

    fn look_at_temperature(&mut self) {
        self.since_temperature = 0;
        let reading = self.converter.temperature();
        if let Some(Ok(celsius)) = reading {
            self.platform.set(celsius);
        }
        self.news = reading;
    }
}

/// The newest temperature of the platform; clones are the same.
#[derive(Debug, Clone, Default)]
pub struct Newest(Arc<Mutex<Option<Celsius>>>);

impl Newest {
    /// The same probe at the load cells; whatever it reads corrects the scale from then on.
    #[must_use]
    pub fn overhears(&self, probe: Box<dyn Probe>) -> Box<dyn Probe> {
        Box::new(Overheard { probe, newest: self.clone() })
    }

    fn set(&self, celsius: Celsius) {
        *self.0.lock().unwrap_or_else(PoisonError::into_inner) = Some(celsius);
    }

    fn get(&self) -> Option<Celsius> {
        *self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

/// A probe whose readings are overheard.
struct Overheard {
    probe: Box<dyn Probe>,
    newest: Newest,
}

impl Probe for Overheard {
    fn read(&mut self) -> Reading<Celsius> {
        let reading = self.probe.read();
        if let Ok(celsius) = reading {
            self.newest.set(celsius);
        }
        reading
    }
}

impl Scale for CalibratedScale {
    fn read(&mut self) -> Reading<Kilograms> {
        if self.own_temperature && self.since_temperature >= TEMPERATURE_EVERY {
            self.look_at_temperature();
        }
        self.since_temperature += 1;
        let counts = self.converter.counts()?;
        self.calibration.load(counts, self.platform.get()).ok_or(Fault::OutOfRange)
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

    struct At35;

    impl Probe for At35 {
        fn read(&mut self) -> Reading<Celsius> {
            Celsius::new(35.0).ok_or(Fault::OutOfRange)
        }
    }

    fn scale(own_temperature: bool, platform: &Newest) -> CalibratedScale {
        let calibration = ScaleCalibration {
            zero_counts: 0.0,
            counts_per_kg: 10_000.0,
            curvature_per_kg: 0.0,
            top_kg: 20.0,
            at_c: Some(25.0),
            drift_kg_per_k: 0.004,
        };
        CalibratedScale::new(Box::new(Warm), calibration, own_temperature, platform.clone())
    }

    #[test]
    fn the_converters_temperature_corrects_the_load_and_is_handed_on_once() {
        let mut scale = scale(true, &Newest::default());
        assert!((scale.read().unwrap().get() - 10.0).abs() < 1e-9);
        assert_eq!(scale.platform(), Some(Ok(Celsius::new(35.0).unwrap())));
        assert_eq!(scale.platform(), None);
    }

    #[test]
    fn a_probe_at_the_platform_may_correct_it_instead() {
        let platform = Newest::default();
        let mut scale = scale(false, &platform);
        assert!((scale.read().unwrap().get() - 10.04).abs() < 1e-9);
        let mut probe = platform.overhears(Box::new(At35));
        assert_eq!(probe.read().map(Celsius::get), Ok(35.0));
        assert!((scale.read().unwrap().get() - 10.0).abs() < 1e-9);
    }
}
