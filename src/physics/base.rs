//! Heat through the pot's base: from the flame's heat to the temperature of the wall the food sits on.
//!
//! With Q the heat that crosses a base of diameter D, the flux is q = Q/(π D²/4), W/m². The wall
//! stands above the food by what the food needs to carry q away:
//!
//! **Convection** of a level plate facing up (McAdams 1954; Incropera eq. 9.30 and 9.31), L = D/4:
//!
//! ```text
//! Nu = h L/k = 0.54 Ra^¼   (Ra 10⁴ to 10⁷)        Ra = g β ΔT L³ ρ² c/(µ k)
//!              0.15 Ra^⅓   (Ra 10⁷ to 10¹¹)       q = h ΔT
//! ```
//!
//! solved for ΔT at the given q. For thick food this is an upper bound: the water of the film boils
//! before the wall gets so hot.
//!
//! **Nucleate boiling** (Rohsenow 1952, n = 1 for water):
//!
//! ```text
//! q = µ h_fg [g(ρ_l − ρ_v)/σ]^½ [c ΔT/(C_sf h_fg Pr)]³
//! ```
//!
//! C_sf 0.0130 (scored or plain metal) to 0.008 (ground steel), from memory. While the film is wet
//! the wall is 5 to 15 K above the boil, whatever the burner does.
//!
//! **Critical flux**, above which steam keeps the water off: q = C h_fg √ρ_v [σ g (ρ_l − ρ_v)]^¼.
//! Zuber's hydrodynamic theory has C = π/24 = 0.131; 0.149 is advised for large plates (Incropera)
//! and used here. Burners stay a factor ten below it.
//!
//! **The base itself** adds q Σ δ/k, δ m thick, k W/(m·K) ([`ALUMINIUM_W_M_K`],
//! [`STAINLESS_W_M_K`]). Above a burner's ports the flux is two to three times the mean on thin
//! steel (from memory).

use super::water::{
    conductivity_w_m_k, density_kg_m3, expansion_per_k, heat_capacity_j_kg_k, latent_heat_j_kg,
    steam_density_kg_m3, surface_tension_n_m, viscosity_pa_s,
};
use super::{GRAVITY_M_S2, positive, within};

/// Cast or rolled pan alloy, W/(m·K) (common practice, no source: alloys span 120 to 220).
pub const ALUMINIUM_W_M_K: f64 = 160.0;
/// Austenitic stainless steel near 100 °C, W/(m·K) (common practice, no source).
pub const STAINLESS_W_M_K: f64 = 16.0;
/// Rohsenow's surface factor for plain metal under water (from memory).
pub const ROHSENOW_PLAIN: f64 = 0.013;
/// The same for ground and polished stainless steel (from memory).
pub const ROHSENOW_GROUND_STEEL: f64 = 0.008;

const CRITICAL_FLUX_FACTOR: f64 = 0.149;
const TRANSITION_RAYLEIGH: f64 = 1e7;

/// What convection asks of a liquid.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Liquid {
    pub conductivity_w_m_k: f64,
    pub density_kg_m3: f64,
    pub heat_capacity_j_kg_k: f64,
    pub viscosity_pa_s: f64,
    pub expansion_per_k: f64,
}

impl Liquid {
    /// Water at `t_c`, 10 to 110 °C.
    #[must_use]
    pub fn water(t_c: f64) -> Option<Self> {
        Some(Self {
            conductivity_w_m_k: conductivity_w_m_k(t_c)?,
            density_kg_m3: density_kg_m3(t_c)?,
            heat_capacity_j_kg_k: heat_capacity_j_kg_k(t_c)?,
            viscosity_pa_s: viscosity_pa_s(t_c)?,
            expansion_per_k: expansion_per_k(t_c)?,
        })
    }

    /// A hot gravy of given viscosity: conductivity 0.60, density 990, heat capacity 3930 (Choi and
    /// Okos near 95 °C), expansion of water at the boil, 7.5e-4 1/K.
    #[must_use]
    pub const fn gravy(viscosity_pa_s: f64) -> Self {
        Self {
            conductivity_w_m_k: 0.60,
            density_kg_m3: 990.0,
            heat_capacity_j_kg_k: 3930.0,
            viscosity_pa_s,
            expansion_per_k: 7.5e-4,
        }
    }

    /// Ra for one kelvin over a length of one metre, 1/(K·m³).
    fn rayleigh_per_k_m3(&self) -> Option<f64> {
        let weight = GRAVITY_M_S2 * self.expansion_per_k * self.density_kg_m3.powi(2);
        positive(
            weight * self.heat_capacity_j_kg_k / (self.viscosity_pa_s * self.conductivity_w_m_k),
        )
    }
}

/// Mean heat flux through a round base, W/m². Up to 1 MW, diameter 0.05 to 3 m; cooling is 0.
#[must_use]
pub fn flux_w_m2(heat_w: f64, base_diameter_m: f64) -> Option<f64> {
    let d = within(base_diameter_m, 0.05..=3.0)?;
    Some(within(heat_w, -1e6..=1e6)?.max(0.0) / (std::f64::consts::FRAC_PI_4 * d * d))
}

/// Nusselt (or Sherwood) number of a level plate facing up, L = area/perimeter. Ra below 10⁴ is read
/// by the first branch, above 10¹¹ by the second; below 0 or NaN gives 0.
#[must_use]
pub fn upward_plate_nusselt(rayleigh: f64) -> f64 {
    let ra = rayleigh.max(0.0);
    if ra < TRANSITION_RAYLEIGH { 0.54 * ra.powf(0.25) } else { 0.15 * ra.cbrt() }
}

/// Wall above bulk by convection alone, K, at `flux_w_m2` over a base of `base_diameter_m`. Flux 0 to
/// 10 MW/m². Where the branches overlap (Ra near 10⁷) the first is taken.
#[must_use]
pub fn convection_excess_k(flux_w_m2: f64, base_diameter_m: f64, liquid: &Liquid) -> Option<f64> {
    let q = within(flux_w_m2, 0.0..=1e7)?;
    let length = within(base_diameter_m, 0.05..=3.0)? / 4.0;
    let per_k = liquid.rayleigh_per_k_m3()? * length.powi(3);
    // q L/k = c (per_k ΔT)^n ΔT, solved for ΔT
    let reach = q * length / positive(liquid.conductivity_w_m_k)?;
    let excess = |c: f64, n: f64| (reach / (c * per_k.powf(n))).powf(1.0 / (1.0 + n));
    let (slow, quick) = (excess(0.54, 0.25), excess(0.15, 1.0 / 3.0));
    let excess = if per_k * slow <= TRANSITION_RAYLEIGH { slow } else { quick };
    within(excess, 0.0..=1e9)
}

/// Wall above the boiling point under boiling water, K (Rohsenow). `boiling_c` 20 to 110 °C, flux 0
/// to 10 MW/m², `surface_factor` C_sf 0.002 to 0.02.
#[must_use]
pub fn boiling_excess_k(flux_w_m2: f64, boiling_c: f64, surface_factor: f64) -> Option<f64> {
    let q = within(flux_w_m2, 0.0..=1e7)?;
    let water = Liquid::water(within(boiling_c, 20.0..=110.0)?)?;
    let latent = latent_heat_j_kg(boiling_c)?;
    let lift = GRAVITY_M_S2 * (water.density_kg_m3 - steam_density_kg_m3(boiling_c)?);
    let scale = water.viscosity_pa_s * latent * (lift / surface_tension_n_m(boiling_c)?).sqrt();
    let prandtl = water.viscosity_pa_s * water.heat_capacity_j_kg_k / water.conductivity_w_m_k;
    let factor = within(surface_factor, 0.002..=0.02)?;
    Some(factor * latent * prandtl / water.heat_capacity_j_kg_k * (q / scale).cbrt())
}

/// Flux above which a boiling base dries under its own steam, W/m². 20 to 110 °C.
#[must_use]
pub fn critical_flux_w_m2(boiling_c: f64) -> Option<f64> {
    let steam = steam_density_kg_m3(within(boiling_c, 20.0..=110.0)?)?;
    let lift = GRAVITY_M_S2 * (density_kg_m3(boiling_c)? - steam);
    let surface = (surface_tension_n_m(boiling_c)? * lift).powf(0.25);
    Some(CRITICAL_FLUX_FACTOR * latent_heat_j_kg(boiling_c)? * steam.sqrt() * surface)
}

/// Temperature lost across layers of (thickness m, conductivity W/(m·K)), K. Flux 0 to 10 MW/m²,
/// each layer up to 0.1 m and at least 0.01 W/(m·K).
#[must_use]
pub fn layers_excess_k(flux_w_m2: f64, layers: &[(f64, f64)]) -> Option<f64> {
    let q = within(flux_w_m2, 0.0..=1e7)?;
    layers.iter().try_fold(0.0, |sum, &(thickness_m, k)| {
        Some(sum + q * within(thickness_m, 0.0..=0.1)? / within(k, 0.01..=500.0)?)
    })
}

#[cfg(test)]
mod tests {
    use super::super::trial::{any_number, fair, near};
    use super::*;
    use proptest::prelude::*;

    const BASE_M: f64 = 0.30;

    fn flux(kw: f64) -> f64 {
        flux_w_m2(kw * 1e3, BASE_M).unwrap()
    }

    #[test]
    fn a_300_mm_base_spreads_the_heat() {
        for (kw, kw_m2) in [(2.0, 28.3), (3.0, 42.4), (5.0, 70.7)] {
            near(Some(flux(kw) / 1e3), kw_m2, 0.06);
        }
        assert_eq!(flux_w_m2(-50.0, BASE_M), Some(0.0));
    }

    // ht 1.2.0 Nu_horizontal_plate_McAdams: its own doctest (Pr 5.54, Gr 3.21e8), and Pr 1.753,
    // Gr 1e10.
    #[test]
    fn the_plate_correlation_agrees_with_another_code() {
        near(Some(upward_plate_nusselt(5.54 * 3.21e8)), 181.731_212_743_844_57, 1e-9);
        near(Some(upward_plate_nusselt(1.753e10)), 389.659_466_058_189_14, 1e-9);
        near(Some(upward_plate_nusselt(1e4)), 5.4, 1e-9);
        near(Some(upward_plate_nusselt(1e6)), 17.076_299_364_909_25, 1e-9);
        assert_eq!(upward_plate_nusselt(-1.0), 0.0);
    }

    // ht 1.2.0 with the same properties, h W/(m²·K) and wall above bulk K at 2, 3 and 5 kW.
    #[test]
    fn thick_food_leaves_the_wall_hot() {
        let rows = [
            (Liquid::water(100.0).unwrap(), [(1451.0, 20.0), (1606.0, 26.0), (1824.0, 39.0)]),
            (Liquid::gravy(0.001), [(992.0, 29.0), (1098.0, 39.0), (1247.0, 57.0)]),
            (Liquid::gravy(0.1), [(314.0, 90.0), (347.0, 122.0), (394.0, 179.0)]),
            (Liquid::gravy(1.0), [(181.0, 156.0), (196.0, 216.0), (218.0, 325.0)]),
            (Liquid::gravy(5.0), [(131.0, 216.0), (142.0, 298.0), (158.0, 449.0)]),
        ];
        for (liquid, wanted) in rows {
            for (kw, (h, excess)) in [2.0, 3.0, 5.0].into_iter().zip(wanted) {
                let got = convection_excess_k(flux(kw), BASE_M, &liquid);
                near(got, excess, 0.02 * excess + 0.5);
                near(got.map(|k| flux(kw) / k), h, 0.02 * h);
            }
        }
    }

    // The same library, solved for the wall with scipy's brentq: K at 2, 3 and 5 kW.
    #[test]
    fn the_wall_under_a_gravy_to_a_part_in_a_thousand() {
        let rows = [
            (0.001, [28.482, 38.604, 56.627]),
            (0.1, [90.067, 122.078, 179.070]),
            (1.0, [155.997, 215.769, 324.689]),
            (5.0, [215.233, 297.703, 447.983]),
        ];
        for (mu, wanted) in rows {
            for (kw, excess) in [2.0, 3.0, 5.0].into_iter().zip(wanted) {
                let got = convection_excess_k(flux(kw), BASE_M, &Liquid::gravy(mu));
                near(got, excess, 0.001 * excess);
            }
        }
    }

    // ht 1.2.0 Rohsenow with IF97 properties at 99.974 °C.
    #[test]
    fn a_wet_wall_stays_near_the_boil() {
        let plain = [(1.0, 4.661), (2.0, 5.872), (3.0, 6.722), (5.0, 7.970)];
        let ground = [(1.0, 2.868), (2.0, 3.614), (3.0, 4.137), (5.0, 4.905)];
        for (kw, excess) in plain {
            near(boiling_excess_k(flux(kw), 99.974, ROHSENOW_PLAIN), excess, 0.01);
        }
        for (kw, excess) in ground {
            near(boiling_excess_k(flux(kw), 99.974, ROHSENOW_GROUND_STEEL), excess, 0.01);
        }
        near(boiling_excess_k(139.7e3, 99.974, ROHSENOW_PLAIN), 10.0, 0.02);
    }

    // ht 1.2.0 Zuber with K = 0.149 (its default, 0.18, gives 1523; Zuber's own 0.131 1108 kW/m²).
    #[test]
    fn a_burner_is_far_from_the_critical_flux() {
        near(critical_flux_w_m2(99.974), 1_260_658.0, 1000.0);
        assert!(flux(8.0) < 0.1 * critical_flux_w_m2(99.974).unwrap());
    }

    #[test]
    fn what_the_base_itself_costs_at_3_kw() {
        near(layers_excess_k(flux(3.0), &[(0.006, ALUMINIUM_W_M_K)]), 1.6, 0.05);
        near(layers_excess_k(flux(3.0), &[(0.003, STAINLESS_W_M_K)]), 8.0, 0.05);
    }

    proptest! {
        #[test]
        fn every_answer_is_a_number_or_none(
            a in any_number(), b in any_number(), c in any_number(), d in any_number(),
        ) {
            let odd = Liquid {
                conductivity_w_m_k: a,
                density_kg_m3: b,
                heat_capacity_j_kg_k: c,
                viscosity_pa_s: d,
                expansion_per_k: a,
            };
            for liquid in [odd, Liquid::gravy(d)] {
                prop_assert!(fair(convection_excess_k(a, b, &liquid)));
                prop_assert!(fair(convection_excess_k(4e4, 0.3, &liquid)));
            }
            prop_assert!(fair(flux_w_m2(a, b)) && fair(boiling_excess_k(a, b, 0.013)));
            prop_assert!(fair(boiling_excess_k(a.abs(), 99.0, c)) && fair(critical_flux_w_m2(a)));
            prop_assert!(fair(layers_excess_k(a, &[(b, c), (0.001, d)])));
            prop_assert!(!upward_plate_nusselt(a).is_nan());
        }

        #[test]
        fn more_heat_makes_a_hotter_wall(kw in 0.1..10.0, mu in 0.0003..10.0) {
            let at = |kw| convection_excess_k(flux(kw), BASE_M, &Liquid::gravy(mu)).unwrap();
            // The branches meet with a step of a few percent near Ra = 10⁷.
            prop_assert!(at(1.2 * kw) > at(kw));
        }
    }
}
