//! Which planned addition was it? What the scale saw, matched to what the cook meant to do.
//!
//! Each planned addition may come early, late or never, and a fifth more or less than planned. So
//! each that is still to come is weighed as a guess (Bayes' rule):
//!
//! - its amount: a normal density about the planned kg whose standard deviation is
//!   [`AMOUNT_SD`] of the plan and the scale's own together, so that a fifth out is two of them;
//! - its turn: the next one is likeliest, and each one jumped over costs a factor [`JUMP`];
//! - against all of them, that it was not planned at all ([`UNPLANNED`]): anything from a spoonful
//!   to a bucket, each decade alike.
//!
//! A guess is a name only when it (and any other of the same name) holds [`SURE`] of the whole: when
//! the turn alone speaks for it, that is not enough. Else the addition stays unnamed and the cook
//! may say what it was. The four numbers are judgement, not measurements.

use super::plan::PlannedAddition;

/// Standard deviation of what is added, as a fraction of what was planned.
pub const AMOUNT_SD: f64 = 0.10;
/// Prior weight of an addition for each planned one that it would jump over.
pub const JUMP: f64 = 0.25;
/// Prior weight of an addition that is in no plan.
pub const UNPLANNED: f64 = 0.15;
/// Share of all guesses that a name needs.
pub const SURE: f64 = 0.80;
/// Natural logarithm of a bucket over a spoonful: 30 kg over 30 g.
const DECADES: f64 = 6.907_755_278_982_137;

/// Which of the additions still to come, in planned order, an addition of `kg` ± `sd_kg` was.
/// `None` where none fits or two fit about as well.
#[must_use]
pub fn recognise(remaining: &[PlannedAddition], kg: f64, sd_kg: f64) -> Option<usize> {
    if !(kg.is_finite() && kg > 0.0 && sd_kg.is_finite()) {
        return None;
    }
    let guesses: Vec<f64> = remaining
        .iter()
        .enumerate()
        .map(|(turn, planned)| JUMP.powi(turn as i32) * density(kg, sd_kg, planned.kg))
        .collect();
    let all = guesses.iter().sum::<f64>() + UNPLANNED / (kg * DECADES);
    let best = (0..guesses.len()).max_by(|&a, &b| guesses[a].total_cmp(&guesses[b]))?;
    let alike = |&turn: &usize| remaining[turn].name == remaining[best].name;
    let named: f64 = (0..guesses.len()).filter(alike).map(|turn| guesses[turn]).sum();
    (named >= SURE * all).then_some(best)
}

/// Density per kg of an addition of `kg` where `planned_kg` was meant.
fn density(kg: f64, sd_kg: f64, planned_kg: f64) -> f64 {
    let sd = (AMOUNT_SD * planned_kg).hypot(sd_kg).max(1e-3);
    let z = (kg - planned_kg) / sd;
    (-0.5 * z * z).exp() / (sd * std::f64::consts::TAU.sqrt())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::batch::composition::Composition;

    fn planned(kgs: &[f64]) -> Vec<PlannedAddition> {
        let of =
            |&kg| PlannedAddition { name: format!("{kg} kg"), kg, composition: Composition::WATER };
        kgs.iter().map(of).collect()
    }

    #[test]
    fn the_infusion_is_known_though_more_came_than_was_planned() {
        // Infusion, thinning water, cream and a top-up, in that order.
        let plan = planned(&[1.10, 5.57, 0.46, 1.27]);
        assert_eq!(recognise(&plan, 1.19, 0.02), Some(0));
    }

    #[test]
    fn cream_that_comes_before_the_thinning_water_is_still_cream() {
        let plan = planned(&[5.57, 0.46, 1.27]);
        assert_eq!(recognise(&plan, 0.43, 0.02), Some(1));
    }

    #[test]
    fn each_addition_is_known_a_fifth_over_or_under_when_its_turn_comes() {
        let plan = planned(&[1.10, 5.57, 0.46, 2.50]);
        for turn in 0..plan.len() {
            for off in [0.8, 0.9, 1.0, 1.1, 1.2] {
                let rest = &plan[turn..];
                assert_eq!(
                    recognise(rest, rest[0].kg * off, 0.02),
                    Some(0),
                    "{} × {off}",
                    rest[0].kg
                );
            }
        }
    }

    #[test]
    fn one_that_never_came_is_jumped_over() {
        let plan = planned(&[1.10, 5.57, 0.46]);
        assert_eq!(recognise(&plan, 5.3, 0.02), Some(1));
    }

    #[test]
    fn what_fits_two_about_as_well_stays_unnamed() {
        // 1.27 kg is the second to the gram and the first to within a seventh.
        let plan = planned(&[1.10, 1.27]);
        assert_eq!(recognise(&plan, 1.27, 0.02), None);
    }

    #[test]
    fn two_jugs_of_the_same_are_one_name() {
        let mut plan = planned(&[1.10, 1.10]);
        plan[1].name = plan[0].name.clone();
        assert_eq!(recognise(&plan, 1.12, 0.02), Some(0));
    }

    #[test]
    fn what_was_never_planned_stays_unnamed() {
        let plan = planned(&[1.10, 5.57, 0.46]);
        for kg in [0.15, 0.25, 2.5, 12.0] {
            assert_eq!(recognise(&plan, kg, 0.02), None, "{kg} kg");
        }
        assert_eq!(recognise(&[], 1.0, 0.02), None);
        assert_eq!(recognise(&plan, f64::NAN, 0.02), None);
        assert_eq!(recognise(&plan, -1.1, 0.02), None);
    }

    #[test]
    fn a_scale_in_doubt_names_less() {
        let plan = planned(&[0.46, 1.10]);
        assert_eq!(recognise(&plan, 0.8, 0.6), None);
    }
}
