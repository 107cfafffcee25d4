//! From a converter's counts to kilograms, and from a probe's number to the pot's temperature.
//!
//! A bridge of load cells is nearly straight. With c the counts, z the counts of the empty platform,
//! s the span (counts a kilogram), M the heaviest weight used and k the curvature:
//!
//! ```text
//! m₁ = (c − z)/s
//! m  = m₁ + k·m₁·(m₁ − M) − d·(T − T₀)
//! ```
//!
//! The curvature vanishes at the empty platform and at M, so span and curvature do not trade with each
//! other. d is the drift of zero with the platform's temperature T, learnt apart (see [`drift`]).
//!
//! A probe reads t for a true t + a + b·t; a is known from one point (the boil, where it matters most)
//! and b where ice water was used too.

pub mod book;
pub mod class;
pub mod drift;
pub mod fit;
pub mod probe;

use super::counts::Counts;
use crate::quantity::{Celsius, Kilograms};

/// What was learnt of a platform.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ScaleCalibration {
    /// Counts of the empty platform.
    pub zero_counts: f64,
    /// Span, counts a kilogram; negative where the bridge is wired the other way round.
    pub counts_per_kg: f64,
    /// Curvature, 1/kg.
    pub curvature_per_kg: f64,
    /// The heaviest weight used, kg.
    pub top_kg: f64,
    /// Temperature of the platform then, °C.
    pub at_c: Option<f64>,
    /// Drift of zero with the platform's temperature, kg/K.
    pub drift_kg_per_k: f64,
}

impl ScaleCalibration {
    /// The load, kg; the drift is taken off where the platform's temperature is known.
    #[must_use]
    pub fn load(&self, counts: Counts, platform: Option<Celsius>) -> Option<Kilograms> {
        Kilograms::new(self.kg(f64::from(counts.get()), platform.map(Celsius::get)))
    }

    /// The same in plain numbers.
    #[must_use]
    pub fn kg(&self, counts: f64, platform_c: Option<f64>) -> f64 {
        let straight = (counts - self.zero_counts) / self.counts_per_kg;
        let warmer_k = platform_c.zip(self.at_c).map_or(0.0, |(now, then)| now - then);
        straight + self.curvature_per_kg * straight * (straight - self.top_kg)
            - self.drift_kg_per_k * warmer_k
    }

    /// Beyond this the calibration says nothing: a tenth over the heaviest weight used, kg.
    #[must_use]
    pub fn range_kg(&self) -> f64 {
        1.1 * self.top_kg
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const STRAIGHT: ScaleCalibration = ScaleCalibration {
        zero_counts: 20_000.0,
        counts_per_kg: 10_740.0,
        curvature_per_kg: 0.0,
        top_kg: 30.0,
        at_c: Some(25.0),
        drift_kg_per_k: 0.004,
    };

    #[test]
    fn counts_become_kilograms() {
        assert_eq!(STRAIGHT.kg(20_000.0 + 10_740.0 * 12.5, Some(25.0)), 12.5);
    }

    #[test]
    fn a_warm_platform_is_corrected_and_an_unknown_temperature_is_not_guessed() {
        assert!((STRAIGHT.kg(20_000.0, Some(35.0)) + 0.040).abs() < 1e-12);
        assert_eq!(STRAIGHT.kg(20_000.0, None), 0.0);
    }

    #[test]
    fn curvature_changes_neither_zero_nor_the_heaviest_weight() {
        let bent = ScaleCalibration { curvature_per_kg: -2e-5, ..STRAIGHT };
        assert_eq!(bent.kg(20_000.0, None), 0.0);
        assert!((bent.kg(20_000.0 + 10_740.0 * 30.0, None) - 30.0).abs() < 1e-12);
        assert!((bent.kg(20_000.0 + 10_740.0 * 15.0, None) - 15.0045).abs() < 1e-9);
    }
}
