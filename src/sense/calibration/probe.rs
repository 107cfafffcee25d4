//! A probe's trim by ice water and by the boil.
//!
//! A slush of crushed ice and water stands at 0.0 °C; water at a rolling boil at its saturation
//! temperature for the pressure in the kitchen. With r₀ and r_b what the probe read there and t_b the
//! boiling point:
//!
//! ```text
//! one point:   t = r + (t_b − r_b)
//! two points:  t = (r − r₀) · t_b/(r_b − r₀)
//! ```
//!
//! A probe further out than its maker allows (±0.5 °C to 85 °C, ±2 °C above; DS18B20 data sheet) is more
//! likely in the wrong place than wrong: that is said, and the trim refused.

use crate::quantity::Celsius;

/// What a probe is trimmed by: true = read·(1 + slope) + offset.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ProbeTrim {
    pub offset_k: f64,
    pub slope: f64,
}

impl ProbeTrim {
    pub const NONE: Self = Self { offset_k: 0.0, slope: 0.0 };

    /// The temperature behind a reading.
    #[must_use]
    pub fn apply(self, read: Celsius) -> Option<Celsius> {
        Celsius::new(read.get() * (1.0 + self.slope) + self.offset_k)
    }
}

/// Most that a sound probe is off in ice water, K: the maker's 0.5 and as much for the slush.
const ICE_LIMIT_K: f64 = 1.0;
/// Most at the boil, K: the maker's 2 and half a kelvin for pressure and place.
const BOIL_LIMIT_K: f64 = 2.5;

/// Why a trim is refused.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum NoTrim {
    Ice,
    Boil,
    Nothing,
}

impl NoTrim {
    #[must_use]
    pub const fn words(self) -> &'static str {
        match self {
            Self::Ice => {
                "more than 1 °C from 0 °C: crush the ice finer, pour off the water, stir, keep the \
                 tip off the glass; if it stays, the probe is bad"
            }
            Self::Boil => {
                "more than 2.5 °C from the boiling point: is it a rolling boil, plain water, the tip \
                 covered and off the base, the altitude or pressure right? If it stays, the probe \
                 is bad"
            }
            Self::Nothing => "neither ice water nor the boil was measured",
        }
    }
}

/// The trim from what the probe read in ice water and at the boil, and the boiling point, °C.
///
/// # Errors
/// [`NoTrim`] where a reading is beyond what a sound probe could give.
pub fn trim(
    ice_c: Option<f64>,
    boil_c: Option<f64>,
    true_boil_c: f64,
) -> Result<ProbeTrim, NoTrim> {
    if ice_c.is_some_and(|read| read.abs() > ICE_LIMIT_K) {
        return Err(NoTrim::Ice);
    }
    if boil_c.is_some_and(|read| (read - true_boil_c).abs() > BOIL_LIMIT_K) {
        return Err(NoTrim::Boil);
    }
    match (ice_c, boil_c) {
        (None, None) => Err(NoTrim::Nothing),
        (Some(ice), None) => Ok(ProbeTrim { offset_k: -ice, slope: 0.0 }),
        (None, Some(boil)) => Ok(ProbeTrim { offset_k: true_boil_c - boil, slope: 0.0 }),
        (Some(ice), Some(boil)) => {
            let gain = true_boil_c / (boil - ice);
            Ok(ProbeTrim { offset_k: -ice * gain, slope: gain - 1.0 })
        }
    }
}

/// Whether readings have come to rest: the last `window` of them within two steps of the probe.
#[must_use]
pub fn at_rest(readings: &[f64], window: usize, step_c: f64) -> Option<f64> {
    let last = readings.len().checked_sub(window).map(|from| &readings[from..])?;
    let low = last.iter().copied().fold(f64::INFINITY, f64::min);
    let high = last.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    (window > 0 && high - low <= 2.0 * step_c + 1e-9)
        .then(|| last.iter().sum::<f64>() / window as f64)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn c(trim: ProbeTrim, read: f64) -> f64 {
        trim.apply(Celsius::new(read).unwrap()).unwrap().get()
    }

    #[test]
    fn two_points_are_both_met() {
        let trim = trim(Some(-0.25), Some(101.0), 99.6).unwrap();
        assert!(c(trim, -0.25).abs() < 1e-12);
        assert!((c(trim, 101.0) - 99.6).abs() < 1e-12);
    }

    #[test]
    fn one_point_moves_the_whole_probe() {
        let boil = trim(None, Some(98.5), 99.6).unwrap();
        assert!((c(boil, 60.0) - 61.1).abs() < 1e-12);
        let ice = trim(Some(0.5), None, 99.6).unwrap();
        assert!((c(ice, 60.0) - 59.5).abs() < 1e-12);
        assert_eq!(c(ProbeTrim::NONE, 60.0), 60.0);
    }

    #[test]
    fn a_probe_in_the_wrong_place_is_not_trimmed_to_fit() {
        assert_eq!(trim(Some(2.0), Some(99.6), 99.6), Err(NoTrim::Ice));
        assert_eq!(trim(None, Some(95.0), 99.6), Err(NoTrim::Boil));
        assert_eq!(trim(None, None, 99.6), Err(NoTrim::Nothing));
    }

    #[test]
    fn a_probe_at_rest_is_told_from_one_that_still_moves() {
        let moving: Vec<f64> = (0..30).map(|i| 20.0 + f64::from(i)).collect();
        assert_eq!(at_rest(&moving, 30, 0.0625), None);
        let still: Vec<f64> = (0..30).map(|i| 99.5 + 0.0625 * f64::from(i % 3)).collect();
        assert!((at_rest(&still, 30, 0.0625).unwrap() - 99.5625).abs() < 1e-9);
        assert_eq!(at_rest(&still, 31, 0.0625), None);
    }
}
