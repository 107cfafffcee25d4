//! The handbook: pure formulas, each with source, range and units. Knows nothing of pots or batches.
//!
//! SI units throughout, temperatures in °C where a cook would say them, and the unit in every name.
//! A formula asked outside the range it is good for answers `None`, or clamps where its text says
//! so; no function here panics or returns NaN or infinity.

pub mod air;
pub mod arrhenius;
pub mod base;
pub mod boiling_rise;
pub mod bounds;
pub mod budget;
pub mod consistency;
pub mod cooling;
pub mod evaporation;
pub mod film;
pub mod food;
pub mod heat;
pub mod softening;
pub mod water;
pub mod weighing;

use std::ops::RangeInclusive;

/// 0 °C in kelvin.
pub const ICE_POINT_K: f64 = 273.15;
/// Standard acceleration of gravity, m/s² (ISO 80000-3).
pub const GRAVITY_M_S2: f64 = 9.806_65;
/// Molar gas constant, J/(mol·K) (CODATA 2018, exact).
pub const GAS_CONSTANT_J_MOL_K: f64 = 8.314_462_618;
/// Molar mass of water, kg/mol (IAPWS).
pub const WATER_KG_MOL: f64 = 0.018_015_268;

/// `value` where it is a number inside `range`.
fn within(value: f64, range: RangeInclusive<f64>) -> Option<f64> {
    range.contains(&value).then_some(value)
}

/// `value` where it is finite.
fn finite(value: f64) -> Option<f64> {
    value.is_finite().then_some(value)
}

/// `value` where it is a finite number above zero.
fn positive(value: f64) -> Option<f64> {
    (value > 0.0).then_some(value).and_then(finite)
}

/// c₀ + c₁ x + c₂ x² + …
fn polynomial(x: f64, coefficients: &[f64]) -> f64 {
    coefficients.iter().rev().fold(0.0, |sum, c| sum * x + c)
}

#[cfg(test)]
mod trial {
    //! Numbers to try a formula with: likely ones, absurd ones, NaN and infinity.

    use proptest::prelude::*;

    /// Any number at all, likely ones often.
    pub fn any_number() -> impl Strategy<Value = f64> {
        prop_oneof![
            2 => proptest::num::f64::ANY,
            4 => -50.0..150.0,
            2 => 0.0..1.0,
            2 => -1e7..1e7,
            1 => Just(0.0),
            1 => Just(f64::NAN),
            1 => prop_oneof![Just(f64::INFINITY), Just(f64::NEG_INFINITY)],
        ]
    }

    /// A formula's answer is a number or `None`.
    pub fn fair(answer: Option<f64>) -> bool {
        answer.is_none_or(f64::is_finite)
    }

    /// `got` and `wanted` agree within `tolerance`, or the test fails and says both.
    #[track_caller]
    pub fn near(got: Option<f64>, wanted: f64, tolerance: f64) {
        let got = got.expect("a number");
        assert!((got - wanted).abs() <= tolerance, "got {got}, wanted {wanted} ± {tolerance}");
    }
}
