//! Water and its steam: where it boils, and what heat, room and drag it takes.
//!
//! **Saturation line**, IAPWS R7-97(2012) (IAPWS-IF97) region 4, equations 29 to 31. With T in K,
//! p in MPa and the coefficients n₁…n₁₀:
//!
//! ```text
//! θ = T + n₉/(T − n₁₀)
//! A = θ² + n₁θ + n₂   B = n₃θ² + n₄θ + n₅   C = n₆θ² + n₇θ + n₈
//! p = [2C / (−B + √(B² − 4AC))]⁴
//!
//! β = p^¼
//! E = β² + n₃β + n₆   F = n₁β² + n₄β + n₇   G = n₂β² + n₅β + n₈
//! D = 2G / (−F − √(F² − 4EG))
//! T = [n₁₀ + D − √((n₁₀ + D)² − 4(n₉ + n₁₀D))] / 2
//! ```
//!
//! Good from 0 °C to the critical point (373.946 °C, 22.064 MPa). Magnus-type formulas are not used:
//! at 100 °C they are up to 2.6 % off in pressure, 0.7 K at the boil.
//!
//! **Latent heat, density, heat capacity** of the liquid: polynomials in t (°C), 0 to 120 °C, fitted
//! to IAPWS-IF97 (the largest error stands at each).
//!
//! **Viscosity and thermal conductivity**: IAPWS SR6-08(2011), liquid water at 0.1 MPa, up to
//! 110 °C, x = T/300 K: Σ aᵢ x^bᵢ. **Surface tension**: IAPWS R1-76(2014),
//! σ = 0.2358 τ^1.256 (1 − 0.625 τ) N/m, τ = 1 − T/647.096 K. **Density of saturated steam**:
//! IAPWS SR1-86(1992), ln(ρ/322) = Σ cᵢ τ^(eᵢ/6).

use super::{ICE_POINT_K, finite, polynomial, within};

const CRITICAL_K: f64 = 647.096;
const CRITICAL_C: f64 = CRITICAL_K - ICE_POINT_K;

/// n₁ to n₁₀ of R7-97 table 34.
const N: [f64; 10] = [
    0.116_705_214_527_67e4,
    -0.724_213_167_032_06e6,
    -0.170_738_469_400_92e2,
    0.120_208_247_024_70e5,
    -0.323_255_503_223_33e7,
    0.149_151_086_135_30e2,
    -0.482_326_573_615_91e4,
    0.405_113_405_420_57e6,
    -0.238_555_575_678_49,
    0.650_175_348_447_98e3,
];

/// Pressure at which water of `t_c` °C boils, Pa. 0 to 373.946 °C; IAPWS-IF97 equation 30.
#[must_use]
pub fn saturation_pressure_pa(t_c: f64) -> Option<f64> {
    let t_k = within(t_c, 0.0..=CRITICAL_C)? + ICE_POINT_K;
    let theta = t_k + N[8] / (t_k - N[9]);
    let a = polynomial(theta, &[N[1], N[0], 1.0]);
    let b = polynomial(theta, &[N[4], N[3], N[2]]);
    let c = polynomial(theta, &[N[7], N[6], N[5]]);
    let p_mpa = (2.0 * c / (-b + (b * b - 4.0 * a * c).sqrt())).powi(4);
    finite(p_mpa * 1e6)
}

/// Temperature at which pure water boils at `pressure_pa`, °C. 611.213 Pa to 22.064 MPa;
/// IAPWS-IF97 equation 31. At one atmosphere a kilopascal is worth 0.2765 K.
#[must_use]
pub fn boiling_point_c(pressure_pa: f64) -> Option<f64> {
    let beta = (within(pressure_pa, 611.213..=22.064e6)? * 1e-6).powf(0.25);
    let e = polynomial(beta, &[N[5], N[2], 1.0]);
    let f = polynomial(beta, &[N[6], N[3], N[0]]);
    let g = polynomial(beta, &[N[7], N[4], N[1]]);
    let d = 2.0 * g / (-f - (f * f - 4.0 * e * g).sqrt());
    let sum = N[9] + d;
    let t_k = (sum - (sum * sum - 4.0 * (N[8] + N[9] * d)).sqrt()) / 2.0;
    finite(t_k - ICE_POINT_K)
}

/// Heat of vaporisation on the saturation line, J/kg. 0 to 120 °C; within 60 J/kg of IF97.
#[must_use]
pub fn latent_heat_j_kg(t_c: f64) -> Option<f64> {
    let t = within(t_c, 0.0..=120.0)?;
    Some(1e3 * polynomial(t, &[2500.948, -2.378_220, 6.274_24e-4, -1.295_651e-5]))
}

/// Density of liquid water, kg/m³. 0 to 120 °C; within 0.08 of IF97 at 0.2 MPa.
#[must_use]
pub fn density_kg_m3(t_c: f64) -> Option<f64> {
    let t = within(t_c, 0.0..=120.0)?;
    let fit = [999.9739, 0.040_420_74, -7.009_651e-3, 3.364_963e-5, -9.148_573e-8];
    Some(polynomial(t, &fit))
}

/// Heat capacity of liquid water at constant pressure, J/(kg·K). 0 to 120 °C; within 3.2 of IF97
/// at 0.2 MPa.
#[must_use]
pub fn heat_capacity_j_kg_k(t_c: f64) -> Option<f64> {
    let t = within(t_c, 0.0..=120.0)?;
    let fit = [4.215_813, -2.365_668e-3, 4.806_196e-5, -3.749_063e-7, 1.308_684e-9];
    Some(1e3 * polynomial(t, &fit))
}

/// Volumetric expansion of liquid water −(1/ρ) dρ/dt, 1/K, from the slope of [`density_kg_m3`].
/// 10 to 120 °C (below that water's density turns and the fit's slope is poor); within 3 % of IF97
/// above 40 °C.
#[must_use]
pub fn expansion_per_k(t_c: f64) -> Option<f64> {
    let t = within(t_c, 10.0..=120.0)?;
    let slope = [0.040_420_74, -2.0 * 7.009_651e-3, 3.0 * 3.364_963e-5, -4.0 * 9.148_573e-8];
    Some(-polynomial(t, &slope) / density_kg_m3(t)?)
}

/// Dynamic viscosity of liquid water, Pa·s. 0 to 110 °C; IAPWS SR6-08(2011), 1 %.
#[must_use]
pub fn viscosity_pa_s(t_c: f64) -> Option<f64> {
    const TERMS: [(f64, f64); 4] =
        [(280.68, -1.9), (511.45, -7.7), (61.131, -19.6), (0.459_03, -40.0)];
    Some(1e-6 * liquid_power_sum(t_c, TERMS)?)
}

/// Thermal conductivity of liquid water, W/(m·K). 0 to 110 °C; IAPWS SR6-08(2011), 2 %.
#[must_use]
pub fn conductivity_w_m_k(t_c: f64) -> Option<f64> {
    const TERMS: [(f64, f64); 4] =
        [(1.6630, -1.15), (-1.7781, -3.4), (1.1567, -6.0), (-0.432_115, -7.6)];
    liquid_power_sum(t_c, TERMS)
}

fn liquid_power_sum(t_c: f64, terms: [(f64, f64); 4]) -> Option<f64> {
    let x = (within(t_c, 0.0..=110.0)? + ICE_POINT_K) / 300.0;
    Some(terms.iter().map(|(a, b)| a * x.powf(*b)).sum())
}

/// Surface tension of water against its steam, N/m. 0 to 373.946 °C; IAPWS R1-76(2014).
#[must_use]
pub fn surface_tension_n_m(t_c: f64) -> Option<f64> {
    let tau = reduced_distance(t_c)?;
    Some(0.2358 * tau.powf(1.256) * (1.0 - 0.625 * tau))
}

/// Density of saturated steam, kg/m³. 0 to 373.946 °C; IAPWS SR1-86(1992).
#[must_use]
pub fn steam_density_kg_m3(t_c: f64) -> Option<f64> {
    const TERMS: [(f64, f64); 6] = [
        (-2.031_502_40, 2.0),
        (-2.683_029_40, 4.0),
        (-5.386_264_92, 8.0),
        (-17.299_160_5, 18.0),
        (-44.758_658_1, 37.0),
        (-63.920_106_3, 71.0),
    ];
    let tau = reduced_distance(t_c)?;
    let exponent: f64 = TERMS.iter().map(|(c, e)| c * tau.powf(e / 6.0)).sum();
    Some(322.0 * exponent.exp())
}

/// τ = 1 − T/T_critical, never below zero.
fn reduced_distance(t_c: f64) -> Option<f64> {
    let t_k = within(t_c, 0.0..=CRITICAL_C)? + ICE_POINT_K;
    Some((1.0 - t_k / CRITICAL_K).max(0.0))
}

#[cfg(test)]
mod tests {
    use super::super::trial::{any_number, fair, near};
    use super::*;
    use proptest::prelude::*;

    // IAPWS R7-97(2012) tables 35 and 36, through iapws 1.5.5.
    #[test]
    fn saturation_agrees_with_the_official_tables() {
        for (t_k, p_mpa) in
            [(300.0, 0.353_658_941e-2), (500.0, 0.263_889_776e1), (600.0, 0.123_443_146e2)]
        {
            near(saturation_pressure_pa(t_k - 273.15), p_mpa * 1e6, p_mpa * 1e-2);
        }
        for (p_mpa, t_k) in [(0.1, 372.755_919), (1.0, 453.035_632), (10.0, 584.149_488)] {
            near(boiling_point_c(p_mpa * 1e6), t_k - 273.15, 1e-6);
        }
    }

    // iapws 1.5.5 IAPWS97(T, x), and beside it CoolProp 8.0.0 (IAPWS-95, another formulation).
    #[test]
    fn the_steam_table_of_the_kitchen() {
        let rows = [
            // t °C, p kPa (IF97), p kPa (IAPWS-95), h_fg kJ/kg (IF97), h_fg (IAPWS-95)
            (20.0, 2.3392, 2.3393, 2453.55, 2453.52),
            (60.0, 19.9458, 19.9464, 2357.69, 2357.65),
            (80.0, 47.4147, 47.4145, 2308.07, 2308.00),
            (95.0, 84.6089, 84.6085, 2269.60, 2269.52),
            (100.0, 101.418, 101.4180, 2256.47, 2256.40),
            (110.0, 143.376, 143.3787, 2229.70, 2229.65),
        ];
        for (t, p, p95, h, h95) in rows {
            near(saturation_pressure_pa(t), p * 1e3, 1.0);
            near(saturation_pressure_pa(t), p95 * 1e3, 4.0);
            near(latent_heat_j_kg(t), h * 1e3, 80.0);
            near(latent_heat_j_kg(t), h95 * 1e3, 150.0);
        }
    }

    // iapws 1.5.5: density and heat capacity at 1 atm or saturation, viscosity, conductivity.
    #[test]
    fn the_liquid_agrees_with_if97() {
        let rows = [
            (20.0, 998.21, 4.1848, 1.0016e-3, 0.5980),
            (60.0, 983.21, 4.1828, 0.4660e-3, 0.6510),
            (80.0, 971.80, 4.1955, 0.3541e-3, 0.6670),
            (95.0, 961.90, 4.2106, 0.2971e-3, 0.6752),
            (100.0, 958.35, 4.2166, 0.2816e-3, 0.6772),
            (110.0, 950.95, 4.2304, 0.2546e-3, 0.6803),
        ];
        for (t, rho, cp, mu, k) in rows {
            near(density_kg_m3(t), rho, 0.13);
            near(heat_capacity_j_kg_k(t), cp * 1e3, 3.2);
            near(viscosity_pa_s(t), mu, 0.001 * mu);
            near(conductivity_w_m_k(t), k, 0.0005);
        }
    }

    // iapws 1.5.5 and CoolProp 8.0.0, which agree to 1e-5, at 0.01 and 5 °C.
    #[test]
    fn cold_water_is_six_times_as_thick() {
        near(viscosity_pa_s(0.01), 1.791_13e-3, 0.001e-3);
        near(viscosity_pa_s(5.0), 1.518_17e-3, 0.001e-3);
    }

    #[test]
    fn expansion_is_the_slope_of_the_density() {
        for t in [10.5, 40.0, 80.0, 119.5] {
            let rho = |t| density_kg_m3(t).unwrap();
            let slope = (rho(t + 0.01) - rho(t - 0.01)) / 0.02;
            near(expansion_per_k(t), -slope / rho(t), 1e-9);
        }
    }

    // Near the boil such formulas are 0.1 to 2.6 % off: Antoine (8.07131, 1730.63, 233.426; mmHg), Buck,
    // and Magnus (17.625, 243.04), worked by hand at 100 °C, where IF97 has 101.418 kPa.
    #[test]
    fn no_magnus_formula_is_used_at_the_boil() {
        let magnus_pa = 610.94 * (17.625 * 100.0 / (243.04 + 100.0_f64)).exp();
        let antoine_pa = 133.322 * 10_f64.powf(8.07131 - 1730.63 / (233.426 + 100.0));
        near(Some(magnus_pa), 104_077.0, 30.0);
        near(Some(antoine_pa), 101_336.0, 10.0);
        near(saturation_pressure_pa(100.0), 101_418.0, 1.0);
        let off_k = boiling_point_c(magnus_pa).unwrap() - 100.0;
        near(Some(off_k), 0.72, 0.03);
    }

    // iapws 1.5.5 at 99.974 °C: σ 0.058917 N/m, steam 0.59762 kg/m³, expansion 7.509e-4 1/K.
    #[test]
    fn steam_and_surface_at_the_boil() {
        near(surface_tension_n_m(99.974), 0.058_917, 1e-6);
        near(steam_density_kg_m3(99.974), 0.597_62, 1e-4);
        near(expansion_per_k(99.974), 7.509e-4, 0.02e-4 * 7.5);
        near(expansion_per_k(60.0), 5.232e-4, 0.03 * 5.232e-4);
    }

    // Clausius–Clapeyron, h_fg = T (v″ − v′) dp/dT, joins three fits of different origin.
    #[test]
    fn latent_heat_obeys_clausius_clapeyron() {
        for t in [20.0, 60.0, 95.0, 110.0] {
            let p = |t| saturation_pressure_pa(t).unwrap();
            let slope = (p(t + 0.01) - p(t - 0.01)) / 0.02;
            let swelling = 1.0 / steam_density_kg_m3(t).unwrap() - 1.0 / density_kg_m3(t).unwrap();
            let h = (t + ICE_POINT_K) * swelling * slope;
            near(latent_heat_j_kg(t), h, 400.0);
        }
    }

    #[test]
    fn a_kilopascal_moves_the_boil_by_a_quarter_degree() {
        let rise = boiling_point_c(101_825.0).unwrap() - boiling_point_c(100_825.0).unwrap();
        near(Some(rise), 0.2765, 0.0005);
        near(boiling_point_c(97_000.0), 98.76, 0.01);
        near(boiling_point_c(104_500.0), 100.84, 0.01);
    }

    #[test]
    fn nothing_is_said_outside_the_range() {
        assert_eq!(saturation_pressure_pa(-0.1), None);
        assert_eq!(saturation_pressure_pa(374.0), None);
        assert_eq!(boiling_point_c(600.0), None);
        assert_eq!(latent_heat_j_kg(121.0), None);
        assert_eq!(viscosity_pa_s(f64::NAN), None);
    }

    proptest! {
        #[test]
        fn every_answer_is_a_number_or_none(x in any_number()) {
            for f in [
                saturation_pressure_pa, boiling_point_c, latent_heat_j_kg, density_kg_m3,
                heat_capacity_j_kg_k, expansion_per_k, viscosity_pa_s, conductivity_w_m_k,
                surface_tension_n_m, steam_density_kg_m3,
            ] {
                prop_assert!(fair(f(x)));
            }
        }

        #[test]
        fn saturation_there_and_back(t in 0.0..373.9) {
            let back = saturation_pressure_pa(t).and_then(boiling_point_c);
            prop_assert!((back.unwrap() - t).abs() < 1e-5);
        }
    }
}
