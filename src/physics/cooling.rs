//! How fast a pot or a tray cools.
//!
//! **Lumped** (stirred): T = T_e + (T₀ − T_e) e^(−t/τ), τ = m c/(U A), s; m kg, c J/(kg·K), U
//! W/(m²·K) between food and surroundings, A m².
//!
//! **Slab** (unstirred), one-term series, good for Fo > 0.2 (Incropera ch. 5): with L the half-depth
//! when both faces cool, the whole depth when one does,
//!
//! ```text
//! θ = (T_centre − T_e)/(T₀ − T_e) = C₁ e^(−ζ² Fo)     Fo = α t/L²
//! ζ tan ζ = Bi = h L/k     0 < ζ < π/2                 C₁ = 4 sin ζ/(2ζ + sin 2ζ)
//! ```
//!
//! **Two-point slope** (Schaffner; Hedeen, Schaffner and Brown 2022): from two readings Δt hours
//! apart and the driving temperature T_df (the fridge's), s = [log₁₀(T₁ − T_df) − log₁₀(T₂ −
//! T_df)]/Δt, 1/h. A cooling limit from a to b in t hours needs s ≥ log₁₀[(a − T_df)/(b − T_df)]/t.
//!
//! Which limits apply is a matter of local law and is not decided here.

use super::{finite, positive, within};

/// Still air of a fridge round a closed pot, W/(m²·K) (an estimate).
pub const U_STILL_AIR_W_M2_K: f64 = 12.0;
/// Stirred food in moving cold water, W/(m²·K) (an estimate).
pub const U_COLD_WATER_W_M2_K: f64 = 100.0;
/// An ice wand or ice added, and stirred, W/(m²·K) (an estimate).
pub const U_ICE_WAND_W_M2_K: f64 = 300.0;

/// Time constant of a stirred pot, s. All above 0.
#[must_use]
pub fn time_constant_s(
    mass_kg: f64,
    heat_capacity_j_kg_k: f64,
    u_w_m2_k: f64,
    area_m2: f64,
) -> Option<f64> {
    let storage = positive(positive(mass_kg)? * positive(heat_capacity_j_kg_k)?)?;
    positive(storage / positive(positive(u_w_m2_k)? * positive(area_m2)?)?)
}

/// Temperature after `seconds` of lumped cooling (or warming), °C. −50 to 400 °C, τ above 0, time
/// from 0.
#[must_use]
pub fn lumped_c(start_c: f64, around_c: f64, tau_s: f64, seconds: f64) -> Option<f64> {
    let around = within(around_c, -50.0..=400.0)?;
    let excess = within(start_c, -50.0..=400.0)? - around;
    finite(around + excess * (-within(seconds, 0.0..=f64::MAX)? / positive(tau_s)?).exp())
}

/// Time of lumped cooling from `start_c` to `end_c`, s; `None` where it never gets there.
#[must_use]
pub fn lumped_time_s(start_c: f64, end_c: f64, around_c: f64, tau_s: f64) -> Option<f64> {
    finite(positive(tau_s)? * excess_ratio(start_c, end_c, around_c)?.ln())
}

/// ζ with ζ tan ζ = Bi, 0 to π/2, by halving. Bi above 0 to 1e6.
#[must_use]
pub fn slab_root(biot: f64) -> Option<f64> {
    let bi = within(biot, 1e-9..=1e6)?;
    let (mut low, mut high) = (0.0, std::f64::consts::FRAC_PI_2);
    for _ in 0..60 {
        let middle = (low + high) / 2.0;
        if middle * f64::tan(middle) < bi { low = middle } else { high = middle }
    }
    positive((low + high) / 2.0)
}

/// A slab of food in cold air or water.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Slab {
    /// Half the depth when both faces cool, all of it when one does, m.
    pub length_m: f64,
    /// Between face and surroundings, W/(m²·K).
    pub coefficient_w_m2_k: f64,
    /// Of the food, W/(m·K).
    pub conductivity_w_m_k: f64,
    /// Of the food, m²/s.
    pub diffusivity_m2_s: f64,
}

impl Slab {
    /// Seconds until the slowest point has gone from `start_c` to `end_c`. `None` where it never
    /// gets there, and where the answer falls below Fo = 0.2 and the one-term series does not hold.
    #[must_use]
    pub fn time_s(&self, start_c: f64, end_c: f64, around_c: f64) -> Option<f64> {
        let length = within(self.length_m, 1e-4..=1.0)?;
        let biot = positive(self.coefficient_w_m2_k)? * length / positive(self.conductivity_w_m_k)?;
        let zeta = slab_root(biot)?;
        let c1 = 4.0 * zeta.sin() / (2.0 * zeta + (2.0 * zeta).sin());
        let ratio = excess_ratio(start_c, end_c, around_c)?;
        let fourier = within((c1 * ratio).ln() / (zeta * zeta), 0.2..=1e9)?;
        finite(fourier * length * length / positive(self.diffusivity_m2_s)?)
    }
}

/// The two-point slope, 1/h: `hours` apart, above 0; both readings above `driving_c` and cooling.
#[must_use]
pub fn slope_per_h(first_c: f64, second_c: f64, driving_c: f64, hours: f64) -> Option<f64> {
    finite(excess_ratio(first_c, second_c, driving_c)?.log10() / positive(hours)?)
}

/// (T₀ − T_e)/(T − T_e), at least 1; `None` where T is not between T₀ and T_e.
fn excess_ratio(start_c: f64, end_c: f64, around_c: f64) -> Option<f64> {
    let around = within(around_c, -50.0..=400.0)?;
    let from = within(start_c, -50.0..=400.0)? - around;
    let to = within(end_c, -50.0..=400.0)? - around;
    within(from / to, 1.0..=1e12)
}

#[cfg(test)]
mod tests {
    use super::super::trial::{any_number, fair, near};
    use super::*;
    use proptest::prelude::*;

    fn tray(depth_m: f64) -> Slab {
        Slab {
            length_m: depth_m / 2.0,
            coefficient_w_m2_k: 25.0,
            conductivity_w_m_k: 0.58,
            diffusivity_m2_s: 0.58 / (1010.0 * 3900.0),
        }
    }

    // 20 L in a pot of 400 mm (0.451 m² with base and wall), ρ 1010, c 3900; minutes.
    #[test]
    fn a_pot_in_the_fridge_fails_and_ice_saves_it() {
        let rows = [
            (U_STILL_AIR_W_M2_K, 242.61, 266.53),
            (U_COLD_WATER_W_M2_K, 29.11, 31.98),
            (U_ICE_WAND_W_M2_K, 9.704, 10.661),
        ];
        for (u, tau_min, minutes) in rows {
            let tau = time_constant_s(20.2, 3900.0, u, 0.451).unwrap();
            near(Some(tau / 60.0), tau_min, 1e-3 * tau_min);
            near(lumped_time_s(57.0, 21.0, 3.0, tau).map(|s| s / 60.0), minutes, 1e-3 * minutes);
        }
    }

    // Incropera table 5.1 (from memory): Bi 1 has ζ 0.8603.
    #[test]
    fn the_slabs_root() {
        near(slab_root(1.0), 0.8603, 1e-4);
        near(slab_root(1e-9), 3.162e-5, 1e-7); // ζ² = Bi where Bi is small
        near(slab_root(1e6), std::f64::consts::FRAC_PI_2, 1e-5);
        near(slab_root(0.01), 0.0998, 1e-4);
    }

    // The series worked independently in scipy; both faces at 3 °C, 25 W/(m²·K); minutes.
    #[test]
    fn only_a_shallow_tray_cools_in_time() {
        let rows = [
            (0.025, 46.0, 131.0, 99.0),
            (0.050, 110.0, 309.0, 236.0),
            (0.075, 194.0, 536.0, 410.0),
            (0.100, 297.0, 812.0, 622.0),
        ];
        for (depth, to_21, to_5, from_63_to_8) in rows {
            let minutes = |a, b| tray(depth).time_s(a, b, 3.0).map(|s| s / 60.0);
            near(minutes(57.0, 21.0), to_21, 1.0);
            near(minutes(57.0, 5.0), to_5, 1.0);
            near(minutes(63.0, 8.0), from_63_to_8, 1.0);
        }
    }

    // A second way to the same number: the slab by finite differences, half of 50 mm.
    #[test]
    fn the_slab_agrees_with_finite_differences() {
        let slab = tray(0.05);
        let (cells, k, alpha) = (50, slab.conductivity_w_m_k, slab.diffusivity_m2_s);
        let dx = slab.length_m / f64::from(cells);
        let dt = 0.2 * dx * dx / alpha;
        let (mut t, mut seconds) = (vec![57.0_f64; cells as usize + 1], 0.0);
        while t[0] > 21.0 {
            let old = t.clone();
            let r = alpha * dt / (dx * dx);
            let last = cells as usize;
            t[0] += 2.0 * r * (old[1] - old[0]);
            for i in 1..last {
                t[i] += r * (old[i - 1] - 2.0 * old[i] + old[i + 1]);
            }
            let bi = slab.coefficient_w_m2_k * dx / k;
            t[last] += 2.0 * r * (old[last - 1] - old[last] - bi * (old[last] - 3.0));
            seconds += dt;
        }
        near(slab.time_s(57.0, 21.0, 3.0), seconds, 0.01 * seconds);
    }

    // FDA Food Code 3-501.14 (57 to 21 °C in 2 h, to 5 °C in 6 h) and 63 to 8 °C in 90 min, fridge
    // at 3 °C.
    #[test]
    fn slopes_that_the_usual_limits_need() {
        near(slope_per_h(57.0, 21.0, 3.0, 2.0), 0.2386, 1e-4);
        near(slope_per_h(57.0, 5.0, 3.0, 6.0), 0.2386, 1e-4);
        near(slope_per_h(63.0, 8.0, 3.0, 1.5), 0.7195, 1e-4);
        let tau_h = std::f64::consts::LOG10_E / 0.2386;
        near(Some(60.0 * tau_h), 109.0, 0.5);
    }

    #[test]
    fn what_never_gets_there_has_no_time() {
        assert_eq!(lumped_time_s(57.0, 2.0, 3.0, 600.0), None);
        assert_eq!(lumped_time_s(57.0, 60.0, 3.0, 600.0), None);
        assert_eq!(tray(0.05).time_s(57.0, 56.9, 3.0), None);
    }

    proptest! {
        #[test]
        fn every_answer_is_a_number_or_none(
            a in any_number(), b in any_number(), c in any_number(), d in any_number(),
        ) {
            prop_assert!(fair(time_constant_s(a, b, c, d)) && fair(slab_root(a)));
            prop_assert!(fair(lumped_c(a, b, c, d)) && fair(lumped_time_s(a, b, c, d)));
            prop_assert!(fair(slope_per_h(a, b, c, d)));
            let odd = Slab {
                length_m: a, coefficient_w_m2_k: b, conductivity_w_m_k: c, diffusivity_m2_s: d,
            };
            prop_assert!(fair(odd.time_s(57.0, 21.0, 3.0)) && fair(tray(0.05).time_s(a, b, c)));
        }
    }
}
