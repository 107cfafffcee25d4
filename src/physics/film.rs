//! The last millimetre: what happens to the film of food on the base, and when it catches.
//!
//! Solids settle, bubbles stop rewetting, the film dries, the wall runs away, sugars and proteins
//! brown and stick. In this file:
//!
//! **A still layer** under constant flux q warms at the wall by ΔT = (2q/k)√(αt/π) (Carslaw and
//! Jaeger; k W/(m·K), α m²/s). A purée with a yield stress σ₀ is still where buoyancy cannot shear
//! it: ρ g β ΔT L·O(0.1) < σ₀ (order of magnitude).
//!
//! **Stirring renews the surface**: left for τ s between strokes, h̄ = 2√(kρc/(πτ)) (Higbie 1935;
//! Harriott 1959).
//!
//! **Dry-out**: to boil the water (mass fraction w) off a film of thickness δ takes
//! E = ρ δ w h_fg J/m², about 1 MJ/m² for half a millimetre of gravy; at flux q that is E/q seconds.
//! This needs no calibration.
//!
//! **A dry deposit** of thickness δ and k ≈ 0.25 W/(m·K) (order of magnitude, from memory) adds qδ/k
//! to the wall: 57 to 141 K for half a millimetre at 2 to 5 kW. Once begun it runs away.
//!
//! **Catch dose**: browning follows temperature as D = ∫ 10^((T_w − 120)/z) dt, s at 120 °C, with
//! z = 25 K (E_a 120 kJ/mol; onion slices 121 to 139, Rapusas and Driscoll 1995, J Food Eng 24:417).
//! Browning needs a film gone dry (a_w < 0.9), so time counts only while the wall is more than 10 K
//! above the boil. A stir that renews the share f of the base leaves D(1 − f).
//!
//! What is physics: the flux, the film, the temperature law. What is assumed: z, the 10 K gate. What
//! nobody has published: at which dose a gravy catches. That is learnt from the cook's verdicts.

use super::arrhenius::tenfold_ratio;
use super::water::latent_heat_j_kg;
use super::{GRAVITY_M_S2, finite, positive, within};

/// Conductivity of a dried, baked-on deposit, W/(m·K). Order of magnitude, from memory.
pub const DEPOSIT_W_M_K: f64 = 0.25;
/// Reference wall temperature of the catch dose, °C.
pub const CATCH_REFERENCE_C: f64 = 120.0;
/// Kelvins for ten times the browning.
pub const CATCH_Z_K: f64 = 25.0;
/// How far above the boil a wall must be before its film counts as dry, K.
pub const DRY_WALL_EXCESS_K: f64 = 10.0;

const STILL_SHARE: f64 = 0.1;

/// Wall above the food under a still layer after `seconds` of constant flux, K. Flux 0 to
/// 10 MW/m², conductivity and diffusivity above 0, 0 to 1e6 s.
#[must_use]
pub fn still_layer_excess_k(
    flux_w_m2: f64,
    conductivity_w_m_k: f64,
    diffusivity_m2_s: f64,
    seconds: f64,
) -> Option<f64> {
    let q = within(flux_w_m2, 0.0..=1e7)?;
    let spread = positive(diffusivity_m2_s)? * within(seconds, 0.0..=1e6)?;
    let depth_m = (spread / std::f64::consts::PI).sqrt();
    finite(2.0 * q / positive(conductivity_w_m_k)? * depth_m)
}

/// Mean heat-transfer coefficient of a base renewed every `renewal_s`, W/(m²·K). Properties above 0,
/// 0.01 s to 1e6 s.
#[must_use]
pub fn renewal_w_m2_k(
    conductivity_w_m_k: f64,
    density_kg_m3: f64,
    heat_capacity_j_kg_k: f64,
    renewal_s: f64,
) -> Option<f64> {
    let storage = positive(density_kg_m3)? * positive(heat_capacity_j_kg_k)?;
    let time = std::f64::consts::PI * within(renewal_s, 0.01..=1e6)?;
    finite(2.0 * (positive(conductivity_w_m_k)? * storage / time).sqrt())
}

/// Stress by which warm food at the base tries to rise, ρ g β ΔT L, Pa. All from 0; ΔT to 500 K,
/// depth to 1 m.
#[must_use]
pub fn buoyant_stress_pa(
    density_kg_m3: f64,
    expansion_per_k: f64,
    excess_k: f64,
    depth_m: f64,
) -> Option<f64> {
    let weight = within(density_kg_m3, 0.0..=5000.0)? * GRAVITY_M_S2;
    let swelling = within(expansion_per_k, 0.0..=0.1)? * within(excess_k, 0.0..=500.0)?;
    Some(weight * swelling * within(depth_m, 0.0..=1.0)?)
}

/// Whether a yield stress holds the food at the base still against `buoyant_stress_pa`: a criterion
/// good to its order of magnitude. `None` for numbers below 0 or not finite.
#[must_use]
pub fn is_still(yield_stress_pa: f64, buoyant_stress_pa: f64) -> Option<bool> {
    let strength = within(yield_stress_pa, 0.0..=1e6)?;
    Some(strength > STILL_SHARE * within(buoyant_stress_pa, 0.0..=1e9)?)
}

/// Heat that dries a film, ρ δ w h_fg, J/m². Thickness 0 to 0.05 m, water fraction 0 to 1, boil 20
/// to 120 °C.
#[must_use]
pub fn dry_out_j_m2(
    density_kg_m3: f64,
    thickness_m: f64,
    water_fraction: f64,
    boiling_c: f64,
) -> Option<f64> {
    let film_kg_m2 = within(density_kg_m3, 0.0..=5000.0)? * within(thickness_m, 0.0..=0.05)?;
    Some(film_kg_m2 * within(water_fraction, 0.0..=1.0)? * latent_heat_j_kg(boiling_c)?)
}

/// Temperature that a dry deposit adds to the wall, K. Flux 0 to 10 MW/m², 0 to 0.05 m.
#[must_use]
pub fn deposit_excess_k(flux_w_m2: f64, thickness_m: f64) -> Option<f64> {
    Some(within(flux_w_m2, 0.0..=1e7)? * within(thickness_m, 0.0..=0.05)? / DEPOSIT_W_M_K)
}

/// How fast the catch dose grows, seconds at 120 °C per second: 10^((T_w − 120)/z) while the wall is
/// more than 10 K above `boiling_c`, else 0. Wall 0 to 400 °C, z 1 to 200 K.
#[must_use]
pub fn catch_rate(wall_c: f64, boiling_c: f64, z_k: f64) -> Option<f64> {
    let wall = within(wall_c, 0.0..=400.0)?;
    let rate = tenfold_ratio(wall, CATCH_REFERENCE_C, z_k)?;
    let dry = wall - within(boiling_c, 0.0..=120.0)? > DRY_WALL_EXCESS_K;
    Some(if dry { rate } else { 0.0 })
}

/// What is left of a dose when a stir renews `renewed` (0 to 1, clamped) of the base. A dose below 0
/// or not finite is `None`.
#[must_use]
pub fn after_stir(dose: f64, renewed: f64) -> Option<f64> {
    let kept = if renewed.is_nan() { 1.0 } else { 1.0 - renewed.clamp(0.0, 1.0) };
    Some(within(dose, 0.0..=f64::MAX)? * kept)
}

#[cfg(test)]
mod tests {
    use super::super::base::flux_w_m2;
    use super::super::trial::{any_number, fair, near};
    use super::*;
    use proptest::prelude::*;

    fn flux(kw: f64) -> f64 {
        flux_w_m2(kw * 1e3, 0.30).unwrap()
    }

    // The closed form worked independently in Python; k 0.60 W/(m·K), α 1.527e-7 m²/s.
    #[test]
    fn a_still_layer_heats_in_seconds() {
        for (kw, s, k) in [(3.0, 1.0, 31.0), (3.0, 5.0, 70.0), (3.0, 10.0, 99.0), (1.0, 10.0, 33.0)]
        {
            near(still_layer_excess_k(flux(kw), 0.60, 1.527e-7, s), k, 0.8);
        }
    }

    // A second way to the same number: the half-space equation by finite differences.
    #[test]
    fn the_still_layer_agrees_with_finite_differences() {
        let (k, alpha, q) = (0.60, 1.527e-7, flux(3.0));
        let dx = 2e-5;
        let dt = 0.4 * dx * dx / alpha;
        let mut t = vec![0.0_f64; 400];
        for _ in 0..(5.0 / dt) as usize {
            let old = t.clone();
            for i in 1..399 {
                t[i] += alpha * dt / (dx * dx) * (old[i - 1] - 2.0 * old[i] + old[i + 1]);
            }
            t[0] += 2.0 * dt * (q / dx - k * (old[0] - old[1]) / (dx * dx)) * alpha / k;
        }
        near(still_layer_excess_k(q, k, alpha, 5.0), t[0], 0.5);
    }

    // Higbie 1935 worked independently in Python, gravy of ρ 1000, c 3930, k 0.60 (within 1 %).
    #[test]
    fn stirring_renews_the_base() {
        let rows = [(1.0, 1733.0), (5.0, 775.0), (10.0, 548.0), (30.0, 316.0), (60.0, 224.0)];
        for (s, h) in rows {
            near(renewal_w_m2_k(0.60, 1000.0, 3930.0, s), h, 0.01 * h);
        }
    }

    // ρ 1000 kg/m³, 88 % water, boil at 100 °C: seconds to dry 0.2, 0.5, 1 and 2 mm.
    #[test]
    fn a_film_dries_in_half_a_minute() {
        let rows = [(2.0, [14.0, 35.0, 70.0, 140.0]), (3.0, [9.0, 23.0, 47.0, 94.0])];
        for (kw, seconds) in rows {
            for (mm, s) in [0.2, 0.5, 1.0, 2.0].into_iter().zip(seconds) {
                let energy = dry_out_j_m2(1000.0, mm * 1e-3, 0.88, 100.0);
                near(energy.map(|e| e / flux(kw)), s, 0.6);
            }
        }
        near(dry_out_j_m2(1000.0, 0.5e-3, 0.88, 100.0), 1.0e6, 0.01e6);
    }

    #[test]
    fn a_dry_deposit_runs_away() {
        let rows = [(0.2, [23.0, 34.0, 57.0]), (0.5, [57.0, 85.0, 141.0])];
        for (mm, kelvins) in rows {
            for (kw, k) in [2.0, 3.0, 5.0].into_iter().zip(kelvins) {
                near(deposit_excess_k(flux(kw), mm * 1e-3), k, 0.6);
            }
        }
    }

    #[test]
    fn a_few_pascals_of_yield_stress_stop_convection() {
        near(buoyant_stress_pa(1000.0, 7.5e-4, 30.0, 0.005), 1.1, 0.05);
        near(buoyant_stress_pa(1000.0, 7.5e-4, 30.0, 0.05), 11.0, 0.1);
        assert_eq!(is_still(5.0, 11.0), Some(true));
        assert_eq!(is_still(0.05, 11.0), Some(false));
        assert_eq!((is_still(1.01, 10.0), is_still(0.99, 10.0)), (Some(true), Some(false)));
    }

    // 10^((T − 120)/25) by hand.
    #[test]
    fn browning_doubles_every_seven_and_a_half_kelvins() {
        let rows = [(120.0, 1.0), (130.0, 2.5), (140.0, 6.3), (150.0, 15.8)];
        for (wall, rate) in rows {
            near(catch_rate(wall, 100.0, CATCH_Z_K), rate, 0.05);
        }
        near(catch_rate(110.1, 100.0, CATCH_Z_K), 0.40, 0.01);
        assert_eq!(catch_rate(109.0, 100.0, CATCH_Z_K), Some(0.0));
        assert_eq!(catch_rate(109.0, 95.0, CATCH_Z_K).map(|r| r > 0.0), Some(true));
    }

    #[test]
    fn a_stir_takes_away_what_it_reaches() {
        assert_eq!(after_stir(200.0, 0.75), Some(50.0));
        assert_eq!(after_stir(200.0, 7.0), Some(0.0));
        assert_eq!(after_stir(200.0, f64::NAN), Some(200.0));
    }

    proptest! {
        #[test]
        fn every_answer_is_a_number_or_none(
            a in any_number(), b in any_number(), c in any_number(), d in any_number(),
        ) {
            prop_assert!(fair(still_layer_excess_k(a, b, c, d)) && fair(renewal_w_m2_k(a, b, c, d)));
            prop_assert!(fair(still_layer_excess_k(4e4, b, c, 10.0)));
            prop_assert!(fair(buoyant_stress_pa(a, b, c, d)) && fair(dry_out_j_m2(a, b, c, d)));
            prop_assert!(fair(deposit_excess_k(a, b)) && fair(catch_rate(a, b, c)));
            prop_assert!(fair(after_stir(a, b)));
        }
    }
}
