//! Boiling point elevation: how much above water a salted, sugared gravy boils.
//!
//! Water boils where its vapour pressure, lowered by what is dissolved (Raoult's law), meets the air's:
//!
//! ```text
//! T_boil = T_sat(p/a_w)          a_w = n_w/(n_w + n_s) for an ideal solution
//! ```
//!
//! n_w mol of water, n_s mol of dissolved particles (salt counts twice). For thin solutions that is
//! ΔT = K_b Σ i m with K_b = R T_b² M_w/Δh_vap = 0.51298 K·kg/mol at one atmosphere.
//!
//! A published formula for sugar: ΔT = 1.78 x + 6.22 x², K, x mass fraction (Geankoplis 1983, as read
//! in a public code). No measured table for tomato or onion was found. A gravy stands 0.2 to 0.5 K
//! above water, less than the probe's own error: the rise serves as the level "at the boil", never as
//! a measure of solids.

use super::water::boiling_point_c;
use super::{WATER_KG_MOL, within};

/// "At the boil" of a gravy, K above water's boiling point, and how unsure that is.
pub const GRAVY_RISE_K: f64 = 0.3;
pub const GRAVY_RISE_SD_K: f64 = 0.3;

/// Mass fractions of a food: its water and what is dissolved in it.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Solution {
    pub water: f64,
    pub salt: f64,
    /// Glucose and fructose.
    pub monosaccharides: f64,
    pub sucrose: f64,
    pub citric_acid: f64,
}

impl Solution {
    /// Water activity as an ideal solution. Fractions 0 to 1 with some water; `None` else.
    #[must_use]
    pub fn water_activity(&self) -> Option<f64> {
        let moles = |fraction: f64, kg_mol: f64| Some(within(fraction, 0.0..=1.0)? / kg_mol);
        let water = moles(within(self.water, 0.01..=1.0)?, WATER_KG_MOL)?;
        let particles = 2.0 * moles(self.salt, 0.058_443)?
            + moles(self.monosaccharides, 0.180_156)?
            + moles(self.sucrose, 0.342_297)?
            + moles(self.citric_acid, 0.192_124)?;
        Some(water / (water + particles))
    }
}

/// Rise of the boiling point at `pressure_pa` by water activity, K. a_w 0.2 to 1, 20 to 130 kPa.
#[must_use]
pub fn rise_k(pressure_pa: f64, water_activity: f64) -> Option<f64> {
    let p = within(pressure_pa, 20_000.0..=130_000.0)?;
    let activity = within(water_activity, 0.2..=1.0)?;
    Some(boiling_point_c(p / activity)? - boiling_point_c(p)?)
}

/// Rise of the boiling point of sugar dissolved in water near one atmosphere, K; `sugar` its mass
/// fraction, 0 to 0.6. Geankoplis 1983.
#[must_use]
pub fn sugar_rise_k(sugar: f64) -> Option<f64> {
    let x = within(sugar, 0.0..=0.6)?;
    Some(1.78 * x + 6.22 * x * x)
}

#[cfg(test)]
mod tests {
    use super::super::trial::{any_number, fair, near};
    use super::super::{GAS_CONSTANT_J_MOL_K, ICE_POINT_K, air, water};
    use super::*;
    use proptest::prelude::*;

    const ATM: f64 = air::STANDARD_PRESSURE_PA;

    fn rise(solution: Solution) -> Option<f64> {
        rise_k(ATM, solution.water_activity()?)
    }

    fn sugar(fraction: f64) -> Solution {
        Solution { water: 1.0 - fraction, monosaccharides: fraction, ..Solution::default() }
    }

    // Ideal solution over IAPWS-IF97, worked in Python with iapws 1.5.5 by a formula typed anew.
    #[test]
    fn salt_sugar_and_gravy_boil_a_little_higher() {
        for (salt, k) in [(0.01, 0.174), (0.02, 0.351)] {
            near(rise(Solution { water: 1.0 - salt, salt, ..Solution::default() }), k, 0.0006);
        }
        near(rise(sugar(0.10)), 0.3099, 0.0005);
        near(rise(sugar(0.20)), 0.6933, 0.0005);
        near(rise(Solution { water: 0.8, sucrose: 0.2, ..Solution::default() }), 0.3667, 0.0005);
        near(
            rise(Solution { water: 0.9, citric_acid: 0.1, ..Solution::default() }),
            0.2907,
            0.0005,
        );
        let start = Solution {
            water: 0.92,
            salt: 0.006,
            monosaccharides: 0.03,
            sucrose: 0.012,
            citric_acid: 0.002,
        };
        let end = Solution {
            water: 0.84,
            salt: 0.012,
            monosaccharides: 0.055,
            sucrose: 0.022,
            citric_acid: 0.004,
        };
        near(rise(start), 0.2282, 0.0005);
        near(rise(end), 0.4780, 0.0005);
        for gravy in [start, end] {
            near(rise(gravy), GRAVY_RISE_K, GRAVY_RISE_SD_K);
        }
    }

    // K_b of water is 0.512 to 0.513 K·kg/mol in every table of physical chemistry.
    #[test]
    fn a_thin_solution_follows_the_ebullioscopic_constant() {
        let boil_c = water::boiling_point_c(ATM).unwrap();
        let t_k = boil_c + ICE_POINT_K;
        let k_b = GAS_CONSTANT_J_MOL_K * t_k * t_k / water::latent_heat_j_kg(boil_c).unwrap();
        near(Some(k_b), 0.51298, 0.0001);
        let molality = 0.1;
        let activity = 1.0 / (1.0 + molality * WATER_KG_MOL);
        // K_b takes steam for an ideal gas, which at the boil is 1.7 % off.
        near(rise_k(ATM, activity), k_b * molality, 0.02 * k_b * molality);
    }

    // The published formula does not say which sugar: it stands between the lightest and the heaviest.
    #[test]
    fn the_published_sugar_formula_lies_between_two_ideal_sugars() {
        for x in [0.10, 0.20, 0.30] {
            let sucrose = Solution { water: 1.0 - x, sucrose: x, ..Solution::default() };
            let between = rise(sucrose).unwrap()..rise(sugar(x)).unwrap();
            assert!(between.contains(&sugar_rise_k(x).unwrap()), "{x}: {between:?}");
        }
    }

    // Geankoplis 1983 as quoted.
    #[test]
    fn the_sugar_formula() {
        for (x, k) in [(0.10, 0.240), (0.20, 0.605), (0.30, 1.094)] {
            near(sugar_rise_k(x), k, 0.001);
        }
    }

    proptest! {
        #[test]
        fn every_answer_is_a_number_or_none(
            p in any_number(), a in any_number(), w in any_number(), s in any_number(),
        ) {
            prop_assert!(fair(rise_k(p, a)) && fair(rise_k(ATM, a)) && fair(sugar_rise_k(a)));
            let solution = Solution { water: w, salt: s, sucrose: a, ..Solution::default() };
            prop_assert!(fair(solution.water_activity()));
        }
    }
}
