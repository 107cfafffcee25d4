//! What a platform behaves like, in the terms of OIML R 76.
//!
//! R 76-1:2006 states a weighing instrument by its verification interval e and its capacity Max, with
//! n = Max/e. Class III (n up to 10,000; from e = 5 g at least 500) allows on first verification
//!
//! ```text
//! ±0.5 e to 500 e,  ±1 e to 2,000 e,  ±1.5 e to 10,000 e
//! ```
//!
//! and class IIII (n 100 to 1,000) the same to 50 e, 200 e and 1,000 e (tables 3 and 6). Readings of one
//! load may differ by that limit (3.6.1); a load left for 30 minutes may creep 0.5 e, and on return the
//! zero may stay 0.5 e away (3.9.4). Weights must be known to a third of the limit (3.7.1).
//!
//! Here the smallest e is sought of 1, 2, 5 × 10ᵏ g for which everything that was measured keeps within
//! these limits. It is a way to say how good the platform was on that day and with those weights. It is
//! no verification, and nothing may be sold by it: that takes an approved instrument and an inspector.

use super::fit::Fit;
use crate::physics::weighing::permissible_error_kg;

/// What a platform behaves like.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Behaves {
    /// Interval, kg.
    pub e_kg: f64,
    /// Up to here, kg: the heaviest weight used.
    pub max_kg: f64,
    /// "III" or "IIII".
    pub class: &'static str,
    /// What keeps it from being finer.
    pub limited_by: Limit,
}

/// The measurement that sets the interval.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Limit {
    Errors,
    Repeatability,
    Creep,
    ZeroReturn,
    Weights,
    Noise,
    /// So many intervals need a heavier weight, or class III ends there.
    Capacity,
}

impl Limit {
    #[must_use]
    pub const fn words(self) -> &'static str {
        match self {
            Self::Errors => "the errors at the known weights",
            Self::Repeatability => "readings of one load that differ",
            Self::Creep => "creep under a load that stays",
            Self::ZeroReturn => "a zero that does not come back",
            Self::Weights => "how well the weights are known",
            Self::Noise => "noise of the reading at rest",
            Self::Capacity => "the class allows no more intervals",
        }
    }
}

/// Largest permissible error on first verification for a load, kg.
#[must_use]
pub fn permissible_kg(load_kg: f64, e_kg: f64, class_iii: bool) -> f64 {
    // A load of exactly 500 e must not fall to the other side by rounding.
    let load_kg = load_kg.abs() * (1.0 - 1e-9);
    let as_iii = if class_iii { load_kg } else { 10.0 * load_kg };
    permissible_error_kg(as_iii, e_kg).unwrap_or(1.5 * e_kg)
}

/// The finest class that what was measured bears out; `None` where even e = 1 kg is not kept.
///
/// `creep_kg` is the largest change seen under a load that stayed, over however long it was watched.
#[must_use]
pub fn behaves(fit: &Fit, creep_kg: Option<f64>) -> Option<Behaves> {
    let mut limited_by = Limit::Capacity;
    for e_kg in intervals() {
        let n = fit.calibration.top_kg / e_kg;
        let class = match n {
            n if n > 10_000.0 => continue,
            n if n >= if e_kg >= 0.005 { 500.0 } else { 100.0 } => "III",
            n if n >= 100.0 => "IIII",
            _ => return None,
        };
        match first_broken(fit, creep_kg, e_kg, class == "III") {
            Some(limit) => limited_by = limit,
            None => {
                return Some(Behaves { e_kg, max_kg: fit.calibration.top_kg, class, limited_by });
            }
        }
    }
    None
}

/// 0.1 g to 1 kg in steps of 1, 2, 5.
fn intervals() -> impl Iterator<Item = f64> {
    (-4..0).flat_map(|power| [1.0, 2.0, 5.0].map(|step| step * 10_f64.powi(power))).chain([1.0])
}

fn first_broken(fit: &Fit, creep_kg: Option<f64>, e_kg: f64, class_iii: bool) -> Option<Limit> {
    let limit = |load_kg| permissible_kg(load_kg, e_kg, class_iii);
    let top = limit(fit.calibration.top_kg);
    // A tiny slack, so that a value on the limit counts as kept.
    let over = |value: f64, limit: f64| value.abs() > limit * (1.0 + 1e-9);
    if over(fit.weights_kg, top / 3.0) {
        return Some(Limit::Weights);
    }
    if fit.errors.iter().any(|&(kg, error)| over(error, limit(kg))) {
        return Some(Limit::Errors);
    }
    if fit.repeatability_kg.is_some_and(|spread| over(spread, top)) {
        return Some(Limit::Repeatability);
    }
    if creep_kg.is_some_and(|creep| over(creep, 0.5 * e_kg)) {
        return Some(Limit::Creep);
    }
    if fit.zero_return_kg.is_some_and(|zero| over(zero, 0.5 * e_kg)) {
        return Some(Limit::ZeroReturn);
    }
    // An indication that settles needs a second's mean quieter than a quarter of e (our own rule).
    over(fit.noise_kg / 10_f64.sqrt(), 0.25 * e_kg).then_some(Limit::Noise)
}

#[cfg(test)]
mod tests {
    use super::super::fit::{Step, fit};
    use super::*;

    #[test]
    fn the_limits_are_those_of_r_76() {
        // OIML R 76-1:2006, table 6: Max 30 kg, e 10 g: ±5 g to 5 kg, ±10 g to 20 kg, ±15 g above.
        let limit = |kg| permissible_kg(kg, 0.010, true);
        assert_eq!((limit(5.0), limit(20.0), limit(20.1)), (0.005, 0.010, 0.015));
        // Max 60 kg, e 20 g: ±20 g at 40 kg.
        assert_eq!(permissible_kg(40.0, 0.020, true), 0.020);
        assert_eq!(permissible_kg(1.0, 0.020, false), 0.010);
    }

    fn measured(errors_g: [f64; 4], noise_g: f64, weights_g: f64) -> Fit {
        let step = |kg: f64, error_g: f64| Step {
            known_kg: kg,
            known_to_kg: weights_g / 1_000.0,
            counts: (kg + error_g / 1_000.0) * 10_000.0,
            noise_counts: noise_g * 10.0,
            samples: 300,
        };
        let [a, b, c, d] = errors_g;
        fit(&[step(0.0, 0.0), step(10.0, a), step(30.0, b), step(30.0, c), step(0.0, d)], None)
            .unwrap()
    }

    #[test]
    fn a_good_platform_behaves_like_ten_grams_up_to_thirty_kilograms() {
        let fit = measured([3.0, 4.0, -4.0, 4.0], 7.0, 3.0);
        let is = behaves(&fit, Some(0.005)).unwrap();
        assert_eq!((is.e_kg, is.max_kg, is.class), (0.010, 30.0, "III"));
    }

    #[test]
    fn the_worst_of_what_was_measured_sets_the_interval() {
        let e = |fit: &Fit, creep| behaves(fit, creep).map(|b| (b.e_kg, b.limited_by));
        let good = [0.0; 4];
        assert_eq!(e(&measured(good, 0.5, 0.5), Some(0.0)), Some((0.005, Limit::Capacity)));
        assert_eq!(e(&measured(good, 0.5, 0.5), Some(0.020)), Some((0.050, Limit::Creep)));
        assert_eq!(e(&measured(good, 0.5, 15.0), None), Some((0.050, Limit::Weights)));
        assert_eq!(e(&measured(good, 30.0, 0.5), None), Some((0.050, Limit::Noise)));
        let apart = measured([0.0, 30.0, -30.0, 0.0], 0.5, 0.5);
        assert_eq!(e(&apart, None), Some((0.100, Limit::Repeatability)));
    }

    #[test]
    fn a_platform_that_keeps_no_limit_is_given_no_class() {
        assert_eq!(behaves(&measured([0.0, 900.0, -900.0, 0.0], 0.5, 0.5), None), None);
    }
}
