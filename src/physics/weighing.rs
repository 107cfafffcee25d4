//! What a platform of load cells can and cannot see.
//!
//! **Class and error**, OIML R 76-1:2006 class III (e the verification interval, n = Max/e 500 to
//! 10 000): permissible error at verification ±0.5e up to 500e, ±1e to 2000e, ±1.5e to 10 000e; in
//! service twice that. **Creep**, OIML R 60-1: within 30 min of loading at most 0.7·|mpe| of the
//! cell, and 0.15·|mpe| between the 20th and 30th minute; mpe of a cell is p_LC (0.7, from memory)
//! times the class steps of its own interval v = E_max/n_LC. These are limits of approved
//! instruments: dekchi claims none.
//!
//! **Counts**: a bridge of sensitivity S (V/V at rated load) read ratiometrically against ±½ V_exc/G
//! over N bits gives S·G·2^N/E_max counts per unit of load (G 128, N 24 for the usual converters).
//! **Noise** u_n of the converter (V rms) is u_n E_max/(S V_exc) of load.
//!
//! **Drift** decides: zero and span move with temperature, creep with time. Parts that are
//! independent add as the root of squares, parts that go together add plainly. Over a stretch of
//! time drift looks like evaporation of drift/time.
//!
//! **Buoyancy**: air carries ρ_air V of a pot's volume; warm air round it carries less.

use super::air::density_kg_m3;
use super::{finite, positive, within};

/// p_LC, a cell's share of the instrument's permissible error (R 60, from memory).
pub const CELL_SHARE: f64 = 0.7;

/// Permissible error at verification of a class III instrument, kg. Load 0 to 10 000 e, e above 0.
/// In service twice this.
#[must_use]
pub fn permissible_error_kg(load_kg: f64, interval_kg: f64) -> Option<f64> {
    let e = positive(interval_kg)?;
    let steps = within(load_kg, 0.0..=f64::MAX)? / e;
    let share = match steps {
        n if n <= 500.0 => 0.5,
        n if n <= 2000.0 => 1.0,
        n if n <= 10_000.0 => 1.5,
        _ => return None,
    };
    finite(share * e)
}

/// Permissible error of a load cell, kg: p_LC times the class steps of its own interval
/// v = `rated_kg`/`intervals` (3000 for class C3).
#[must_use]
pub fn cell_error_kg(load_kg: f64, rated_kg: f64, intervals: f64) -> Option<f64> {
    let v = positive(rated_kg)? / positive(intervals)?;
    Some(CELL_SHARE * permissible_error_kg(load_kg, v)?)
}

/// Most a cell may creep in the first 30 minutes under `load_kg`, kg (R 60-1).
#[must_use]
pub fn cell_creep_kg(load_kg: f64, rated_kg: f64, intervals: f64) -> Option<f64> {
    Some(0.7 * cell_error_kg(load_kg, rated_kg, intervals)?)
}

/// Bridge, excitation and converter of a platform.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Bridge {
    /// V/V at rated load, e.g. 1e-3.
    pub sensitivity: f64,
    /// Load at which it has that sensitivity, all cells together, kg.
    pub rated_kg: f64,
    pub excitation_v: f64,
    pub gain: f64,
    pub bits: u32,
}

impl Bridge {
    /// Converter counts per kilogram. Sensitivity, rated load and gain above 0, 1 to 32 bits.
    #[must_use]
    pub fn counts_per_kg(&self) -> Option<f64> {
        if !(1..=32).contains(&self.bits) {
            return None;
        }
        let span = positive(self.sensitivity)? * positive(self.gain)? * f64::from(self.bits).exp2();
        positive(span / positive(self.rated_kg)?)
    }

    /// Load that looks like `noise_v` at the converter's input, kg.
    #[must_use]
    pub fn noise_kg(&self, noise_v: f64) -> Option<f64> {
        let volts_per_kg =
            positive(self.sensitivity)? * positive(self.excitation_v)? / positive(self.rated_kg)?;
        finite(within(noise_v, 0.0..=1.0)? / positive(volts_per_kg)?)
    }
}

/// Independent parts together: the root of the sum of squares, in the unit of the parts. Each finite.
#[must_use]
pub fn independent(parts: &[f64]) -> Option<f64> {
    finite(parts.iter().map(|p| p * p).sum::<f64>().sqrt())
}

/// Evaporation that a drift of `drift_kg` over `seconds` is mistaken for, kg/s. Time above 0.
#[must_use]
pub fn drift_as_evaporation_kg_s(drift_kg: f64, seconds: f64) -> Option<f64> {
    finite(finite(drift_kg)? / positive(seconds)?)
}

/// What the air carries of `volume_m3`, kg, dry air of `air_c` and `pressure_pa`. 0 to 10 m³.
#[must_use]
pub fn buoyancy_kg(volume_m3: f64, air_c: f64, pressure_pa: f64) -> Option<f64> {
    Some(within(volume_m3, 0.0..=10.0)? * density_kg_m3(air_c, pressure_pa, 0.0)?)
}

#[cfg(test)]
mod tests {
    use super::super::trial::{any_number, fair, near};
    use super::*;
    use proptest::prelude::*;

    const HALF_BRIDGES: Bridge =
        Bridge { sensitivity: 1e-3, rated_kg: 200.0, excitation_v: 5.0, gain: 128.0, bits: 24 };
    const FULL_BRIDGES: Bridge = Bridge { sensitivity: 2e-3, ..HALF_BRIDGES };

    // OIML R 76-1:2006 table 6.
    #[test]
    fn permissible_errors_of_class_iii() {
        near(permissible_error_kg(20.0, 0.010), 0.010, 1e-12);
        near(permissible_error_kg(20.0, 0.020), 0.020, 1e-12);
        near(permissible_error_kg(5.0, 0.010), 0.005, 1e-12);
        near(permissible_error_kg(25.0, 0.010), 0.015, 1e-12);
        near(permissible_error_kg(5.01, 0.010), 0.010, 1e-12);
        near(permissible_error_kg(20.01, 0.010), 0.015, 1e-12);
        assert_eq!(permissible_error_kg(101.0, 0.010), None);
    }

    // OIML R 60-1 for a C3 cell of 50 kg with 12.5 kg on it: v 16.7 g, mpe 11.7 g, creep 8.2 g.
    #[test]
    fn creep_that_a_class_c3_cell_may_have() {
        near(cell_error_kg(12.5, 50.0, 3000.0), 0.01167, 1e-4);
        near(cell_creep_kg(12.5, 50.0, 3000.0), 0.00817, 1e-4);
    }

    #[test]
    fn counts_per_gram_of_the_usual_platforms() {
        near(HALF_BRIDGES.counts_per_kg(), 10_740.0, 5.0);
        near(FULL_BRIDGES.counts_per_kg(), 21_470.0, 10.0);
        near(HALF_BRIDGES.counts_per_kg().map(|c| 1.0 / c), 0.093e-3, 0.0005e-3);
    }

    // 50 and 90 nV rms are what one maker's board notes give at 10 and 80 samples a second.
    #[test]
    fn converter_noise_in_grams() {
        for (volts, half_g, full_g) in [(50e-9, 2.0, 1.0), (90e-9, 3.6, 1.8)] {
            near(HALF_BRIDGES.noise_kg(volts), half_g * 1e-3, 1e-6);
            near(FULL_BRIDGES.noise_kg(volts), full_g * 1e-3, 1e-6);
        }
        let low = Bridge { excitation_v: 3.3, ..HALF_BRIDGES };
        near(low.noise_kg(50e-9), 3.0e-3, 0.05e-3);
    }

    #[test]
    fn drift_looks_like_evaporation() {
        for (g, kg_h) in [(50.0, 0.025), (100.0, 0.05), (200.0, 0.10)] {
            let seen = drift_as_evaporation_kg_s(g * 1e-3, 7200.0).map(|r| r * 3600.0);
            near(seen, kg_h, 1e-9);
        }
        near(independent(&[10.0; 4]), 20.0, 1e-9);
    }

    #[test]
    fn the_air_carries_part_of_the_pot() {
        let cool = buoyancy_kg(0.030, 20.0, 101_325.0).unwrap();
        let warm = buoyancy_kg(0.030, 60.0, 101_325.0).unwrap();
        near(Some(cool), 0.036, 0.0005);
        near(Some(cool - warm), 0.004, 0.0005);
    }

    proptest! {
        #[test]
        fn every_answer_is_a_number_or_none(
            a in any_number(), b in any_number(), c in any_number(), d in any_number(),
            bits in any::<u32>(),
        ) {
            prop_assert!(fair(permissible_error_kg(a, b)) && fair(cell_creep_kg(a, b, c)));
            let bridge =
                Bridge { sensitivity: a, rated_kg: b, excitation_v: c, gain: d, bits };
            prop_assert!(fair(bridge.counts_per_kg()) && fair(bridge.noise_kg(d)));
            prop_assert!(fair(HALF_BRIDGES.noise_kg(a)) && fair(independent(&[a, b, c])));
            prop_assert!(fair(drift_as_evaporation_kg_s(a, b)) && fair(buoyancy_kg(a, b, c)));
        }
    }
}
