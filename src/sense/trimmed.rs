//! A probe with its trim.

use super::Probe;
use super::calibration::probe::ProbeTrim;
use crate::quantity::Celsius;
use crate::reading::{Fault, Reading};

/// A probe that answers with what is behind its reading.
pub struct TrimmedProbe {
    probe: Box<dyn Probe>,
    trim: ProbeTrim,
}

impl TrimmedProbe {
    #[must_use]
    pub const fn new(probe: Box<dyn Probe>, trim: ProbeTrim) -> Self {
        Self { probe, trim }
    }
}

impl Probe for TrimmedProbe {
    fn read(&mut self) -> Reading<Celsius> {
        self.trim.apply(self.probe.read()?).ok_or(Fault::OutOfRange)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    struct At(Reading<f64>);

    impl Probe for At {
        fn read(&mut self) -> Reading<Celsius> {
            self.0.map(|c| Celsius::new(c).unwrap())
        }
    }

    #[test]
    fn a_reading_is_trimmed_and_a_fault_handed_on() {
        let trim = ProbeTrim { offset_k: -0.5, slope: 0.01 };
        let mut probe = TrimmedProbe::new(Box::new(At(Ok(100.0))), trim);
        assert_eq!(probe.read().map(Celsius::get), Ok(100.5));
        let mut probe = TrimmedProbe::new(Box::new(At(Err(Fault::Garbled))), trim);
        assert_eq!(probe.read(), Err(Fault::Garbled));
    }
}
