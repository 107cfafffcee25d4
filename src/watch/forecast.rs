//! Time until the target.
//!
//! The target is reached when the contents fall to m* = D/TS*, with D the dry matter, kg, and TS*
//! the total solids aimed at. At the boil the contents fall at the rate r and the time is the first
//! passage of a falling line through m*:
//!
//! ```text
//! t = (m − m*)/r,    var t ≈ (σ_m² + t² σ_r² − 2 t cov(m, r) + σ_w² t³/3)/r²
//! ```
//!
//! (delta method; the last term is the rate's own wander to come). The spread is lognormal with that
//! coefficient of variation: times are positive and late is likelier than early. Below the boil the
//! pot first warms: the time to the boil is added, with the water that leaves meanwhile, and the
//! rate at the boil is foretold from the heat.
//!
//! What the interval covers: the scale, the platform's drift, the rate and its wander. What it does
//! not: the recipe's own solids (±0.5 % of the contents moves the end by minutes), a flame that
//! somebody turns, a lid that somebody moves. It is "as things stand".

use super::action::Spread;

/// z of the 10 % and 90 % points of a normal distribution.
const Z10: f64 = 1.281_551_6;
/// A target further than this is not reached as things stand, s.
const NEVER_S: f64 = 12.0 * 3600.0;
/// Share by which the rate may wander in an hour that is to come.
const WANDER_H: f64 = 0.08;
/// The least doubt about a time, s: a reading every few seconds and the eye of the cook.
const LEAST_SD_S: f64 = 8.0;

/// What the forecast starts from.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Now {
    pub contents_kg: f64,
    pub contents_sd_kg: f64,
    pub rate_kg_s: f64,
    pub rate_sd_kg_s: f64,
    pub covariance: f64,
    pub target_kg: f64,
    /// Where the pot is still warming.
    pub warming: Option<Warming>,
}

/// A pot on its way to the boil.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Warming {
    /// Until it boils, s.
    pub boil_s: f64,
    /// Doubt about a slope that is young, as a share of it.
    pub doubt: f64,
    /// What it will lose then, kg/s.
    pub rate_kg_s: f64,
    pub rate_sd_kg_s: f64,
}

/// When the target is reached; `None` where it will not be, as things stand.
#[must_use]
pub fn target_in_s(now: &Now) -> Option<Spread> {
    let to_go_kg = now.contents_kg - now.target_kg;
    if to_go_kg <= 0.0 {
        return Some(Spread { p10: 0.0, p50: 0.0, p90: 0.0 });
    }
    let (middle_s, sd_s) = match now.warming {
        Some(warming) => after_warming(now, to_go_kg, warming)?,
        None => at_a_steady_rate(now, to_go_kg)?,
    };
    if middle_s > NEVER_S {
        return None;
    }
    Some(spread(middle_s, sd_s.max(LEAST_SD_S)))
}

fn at_a_steady_rate(now: &Now, to_go_kg: f64) -> Option<(f64, f64)> {
    let r = now.rate_kg_s;
    if r <= 0.0 {
        return None;
    }
    let t = to_go_kg / r;
    let wander = WANDER_H * r * (t / 3600.0 / 3.0).sqrt();
    let rate_var = now.rate_sd_kg_s * now.rate_sd_kg_s + wander * wander;
    let var = now.contents_sd_kg.powi(2) + t * t * rate_var - 2.0 * t * now.covariance;
    Some((t, var.max(0.0).sqrt() / r))
}

fn after_warming(now: &Now, to_go_kg: f64, warming: Warming) -> Option<(f64, f64)> {
    let meanwhile_kg = now.rate_kg_s * warming.boil_s;
    if meanwhile_kg >= to_go_kg {
        return at_a_steady_rate(now, to_go_kg);
    }
    let then = Now {
        rate_kg_s: warming.rate_kg_s,
        rate_sd_kg_s: warming.rate_sd_kg_s,
        covariance: 0.0,
        warming: None,
        ..*now
    };
    let (after_s, after_sd_s) = at_a_steady_rate(&then, to_go_kg - meanwhile_kg)?;
    Some((
        warming.boil_s + after_s,
        after_sd_s.hypot(0.1_f64.hypot(warming.doubt) * warming.boil_s),
    ))
}

/// A lognormal spread with median `middle_s` and standard deviation about `sd_s`.
fn spread(middle_s: f64, sd_s: f64) -> Spread {
    let variation = sd_s / middle_s.max(1.0);
    let s = variation.mul_add(variation, 1.0).ln().sqrt();
    let by = (Z10 * s).exp();
    Spread { p10: middle_s / by, p50: middle_s, p90: middle_s * by }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn now(contents_kg: f64) -> Now {
        Now {
            contents_kg,
            contents_sd_kg: 0.03,
            rate_kg_s: 3.0 / 3600.0,
            rate_sd_kg_s: 0.05 / 3600.0,
            covariance: 0.0,
            target_kg: 18.0,
            warming: None,
        }
    }

    /// Ten minutes from the boil, losing a kilogram an hour till then.
    fn cold(doubt: f64) -> Now {
        let warming = Some(Warming {
            boil_s: 600.0,
            doubt,
            rate_kg_s: 3.0 / 3600.0,
            rate_sd_kg_s: 0.2 / 3600.0,
        });
        Now { rate_kg_s: 1.0 / 3600.0, warming, ..now(21.0) }
    }

    #[test]
    fn three_kilograms_at_three_an_hour_take_an_hour() {
        let spread = target_in_s(&now(21.0)).unwrap();
        assert!((spread.p50 - 3600.0).abs() < 1e-9);
        assert!(spread.p10 < 3600.0 && spread.p90 > 3600.0);
    }

    #[test]
    fn a_target_that_is_reached_takes_no_time() {
        assert_eq!(target_in_s(&now(17.9)).unwrap().p90, 0.0);
    }

    #[test]
    fn a_pot_that_loses_nothing_never_gets_there() {
        assert_eq!(target_in_s(&Now { rate_kg_s: 0.0, ..now(21.0) }), None);
        assert_eq!(target_in_s(&Now { rate_kg_s: 1e-5, ..now(21.0) }), None);
    }

    #[test]
    fn a_pot_that_must_warm_first_takes_that_much_longer() {
        let spread = target_in_s(&cold(0.05)).unwrap();
        assert!((spread.p50 - (600.0 + 3600.0 - 200.0)).abs() < 1e-6);
    }

    #[test]
    fn a_flame_that_was_just_lit_makes_a_wider_spread() {
        let (lit, burning) = (target_in_s(&cold(1.0)).unwrap(), target_in_s(&cold(0.02)).unwrap());
        assert!((lit.p50 - burning.p50).abs() < 1e-9);
        assert!(lit.p90 - lit.p10 > 1.2 * (burning.p90 - burning.p10));
    }

    #[test]
    fn more_doubt_about_the_scale_makes_a_wider_spread() {
        let wide = Now { contents_sd_kg: 0.2, ..now(21.0) };
        let (a, b) = (target_in_s(&now(21.0)).unwrap(), target_in_s(&wide).unwrap());
        assert!(b.p90 - b.p10 > 1.5 * (a.p90 - a.p10));
    }
}
