//! How a rate follows temperature.
//!
//! Arrhenius (1889): k(T)/k(T_r) = exp[−E_a/R (1/T − 1/T_r)], T in K, E_a J/mol. Thermal processing
//! says the same near one temperature with z, the kelvins for a tenfold rate (Bigelow 1921, from
//! memory): z = ln 10 · R T²/E_a, and k(T)/k(T_r) = 10^((T − T_r)/z).

use super::{GAS_CONSTANT_J_MOL_K, ICE_POINT_K, finite, positive, within};

/// How much faster a reaction runs at `t_c` than at `reference_c`. E_a 0 to 500 kJ/mol, 0 to 200 °C.
#[must_use]
pub fn rate_ratio(activation_j_mol: f64, t_c: f64, reference_c: f64) -> Option<f64> {
    let activation = within(activation_j_mol, 0.0..=500e3)?;
    let t_k = within(t_c, 0.0..=200.0)? + ICE_POINT_K;
    let reference_k = within(reference_c, 0.0..=200.0)? + ICE_POINT_K;
    finite((-activation / GAS_CONSTANT_J_MOL_K * (1.0 / t_k - 1.0 / reference_k)).exp())
}

/// Kelvins for a tenfold rate at `t_c`, K. E_a above 0, 0 to 200 °C.
#[must_use]
pub fn z_k(activation_j_mol: f64, t_c: f64) -> Option<f64> {
    let t_k = within(t_c, 0.0..=200.0)? + ICE_POINT_K;
    let tenfold = std::f64::consts::LN_10 * GAS_CONSTANT_J_MOL_K * t_k * t_k;
    positive(tenfold / positive(activation_j_mol)?)
}

/// 10^((t − reference)/z): the rate at `t_c` against that at `reference_c`. −50 to 400 °C, z 1 to
/// 200 K.
#[must_use]
pub fn tenfold_ratio(t_c: f64, reference_c: f64, z_k: f64) -> Option<f64> {
    let rise = within(t_c, -50.0..=400.0)? - within(reference_c, -50.0..=400.0)?;
    finite(10_f64.powf(rise / within(z_k, 1.0..=200.0)?))
}

#[cfg(test)]
mod tests {
    use super::super::trial::{any_number, fair, near};
    use super::*;
    use proptest::prelude::*;

    // z = ln 10 · R T²/E_a worked independently in Python: 120 °C 24.7, 29.6, 21.3, 19.7 K.
    #[test]
    fn activation_energy_as_z() {
        for (e_a, z) in [(120e3, 24.7), (100e3, 29.6), (139e3, 21.3), (150e3, 19.7)] {
            near(z_k(e_a, 120.0), z, 0.05);
        }
    }

    #[test]
    fn both_ways_agree_near_the_reference() {
        let z = z_k(120e3, 120.0).unwrap();
        let arrhenius = rate_ratio(120e3, 122.0, 120.0).unwrap();
        near(tenfold_ratio(122.0, 120.0, z), arrhenius, 0.01 * arrhenius);
    }

    // Rapusas and Driscoll 1995 give onion browning E_a 121 to 139 kJ/mol and Q10 4 to 5; the first
    // makes Q10 3.6 to 4.3 at 60 to 70 °C, so their Q10 belongs to the cooler end.
    #[test]
    fn ten_kelvins_of_onion_browning() {
        near(rate_ratio(121e3, 70.0, 60.0), 3.6, 0.05);
        near(rate_ratio(139e3, 70.0, 60.0), 4.3, 0.05);
    }

    proptest! {
        #[test]
        fn every_answer_is_a_number_or_none(a in any_number(), b in any_number(), c in any_number()) {
            prop_assert!(fair(rate_ratio(a * 1e3, b, c)) && fair(z_k(a, b)));
            prop_assert!(fair(tenfold_ratio(a, b, c)));
        }
    }
}
