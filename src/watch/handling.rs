//! What a disturbance was: nothing, a stir, the lid, an addition, a ladling, the blender.
//!
//! Decided when the load is at rest again, from the step s between the level predicted and the new
//! one, how long and how hard it shook, and what the lid weighs. The lid's mass is known to a few
//! grams and so is the strongest evidence; the plan's amounts are known to a fifth.
//!
//! ```text
//! |s| small              shaken ≥ 6 s: stirred (≥ 2 min: blended); else nothing
//! s ≈ −lid, lid on       the lid was taken off and put beside
//! s ≈ +lid, lid off      the lid was put on
//! s > 0                  added; with the lid off by the way where s + lid is the next planned
//! s < 0                  taken; with the lid off by the way where s + lid is a ladle's worth
//! small s > 0, stirred   a spoon left in, until it is taken out again or another stands there, too
//! s > 0, flame off       an ice paddle or the like, until it is taken out again
//! ```
//!
//! Assumptions (common practice, no source): a stir lasts 6 s to 2 min; a spoon left in weighs
//! 0.12 to 0.45 kg; nobody ladles out more than a kilogram and leaves the lid off unseen.

use super::settle::Disturbance;

/// Shaking that makes a stir, s.
const STIR_S: f64 = 6.0;
/// Shaking that makes a stir where something was poured or the lid moved, s.
const FIRM_S: f64 = 15.0;
/// A level on its way for this long was poured, s.
const POUR_S: f64 = 5.0;
/// And this long even if it was little, s.
const DRIBBLE_S: f64 = 4.0;
/// And only this long where its weight is the lid's, s.
const LONG_POUR_S: f64 = 7.5;
/// A lid is weighed as well as this, kg.
const LID_EXACT_KG: f64 = 0.012;
/// Shaking that makes a blender, s.
const BLEND_S: f64 = 120.0;
/// A spoon left in the pot, kg.
const SPOON_KG: (f64, f64) = (0.12, 0.45);
/// A lid and a spoon that are taken away drip and let steam go, kg.
const DRIPS_KG: f64 = 0.08;
/// An ice paddle weighs less than this, kg.
const PADDLE_KG: f64 = 4.0;
/// What a ladle takes with the lid left off, kg.
const LADLE_KG: (f64, f64) = (0.12, 1.0);
/// Steps below this are the platform's, kg.
const LEAST_STEP_KG: f64 = 0.045;

/// What happened, as far as mass and lid go.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Verdict {
    /// Food put in (positive) or taken out (negative), kg; 0 where none was.
    pub food_kg: f64,
    /// What else stands on the platform now and did not before, kg.
    pub spoon_kg: f64,
    pub lid: Option<LidMove>,
    pub shaking: Shaking,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum LidMove {
    PutOn,
    TakenOff,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Shaking {
    None,
    Stirred,
    Blended,
}

/// What is known before the disturbance is judged.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Before {
    pub lid_on: bool,
    pub lid_kg: f64,
    /// A spoon left in earlier, kg; 0 where there is none.
    pub spoon_kg: f64,
    /// Whether the scale failed meanwhile: then nobody saw a stir.
    pub blind: bool,
    /// Whether the flame is off for good: what goes in then cools the pot, it is no food.
    pub cooling: bool,
}

/// A disturbance whose level stepped by `step_kg`, and what was known before it.
#[derive(Debug, Clone, Copy)]
struct Case<'a> {
    disturbance: &'a Disturbance,
    step_kg: f64,
    /// Steps below this are none, kg.
    small_kg: f64,
    before: &'a Before,
    /// Amounts of the additions that are still to come, in their order.
    planned_kg: &'a [f64],
}

/// Judges a disturbance whose level stepped by `step_kg` ± `step_sd_kg`. `still_planned_kg` are the
/// amounts of the additions that are still to come.
#[must_use]
pub fn judge(
    disturbance: &Disturbance,
    step_kg: f64,
    step_sd_kg: f64,
    before: &Before,
    still_planned_kg: &[f64],
) -> Verdict {
    let shaking = shaking(disturbance);
    let small_kg = LEAST_STEP_KG.max(3.5 * step_sd_kg);
    let nothing = Verdict { food_kg: 0.0, spoon_kg: 0.0, lid: None, shaking };
    if step_kg.abs() <= small_kg {
        return nothing;
    }
    let put = lid_alone(step_kg, step_sd_kg, before, still_planned_kg);
    let exact = (step_kg.abs() - before.lid_kg).abs() <= (4.0 * step_sd_kg).max(LID_EXACT_KG);
    // A stir before it leans on the load, so that a lid laid on may look like a pour.
    let pour_s = match (exact, shaking) {
        (true, Shaking::Stirred) => f64::INFINITY,
        (true, _) => LONG_POUR_S,
        (false, _) => POUR_S,
    };
    let poured = step_kg > 0.0 && disturbance.poured_s >= pour_s;
    if let Some(lid) = put.filter(|_| !poured) {
        return Verdict { lid: Some(lid), shaking: firm(disturbance, shaking), ..nothing };
    }
    let case = Case { disturbance, step_kg, small_kg, before, planned_kg: still_planned_kg };
    if let Some(spoon_kg) = case.spoon_kg() {
        return Verdict { spoon_kg, ..nothing };
    }
    let shaking = firm(disturbance, shaking);
    if case.is_spoon_out_with_the_lid() {
        let lid = Some(LidMove::TakenOff);
        return Verdict { food_kg: 0.0, spoon_kg: -before.spoon_kg, lid, shaking };
    }
    if let Some(food_kg) = case.with_the_lid_off_kg() {
        return Verdict { food_kg, lid: Some(LidMove::TakenOff), spoon_kg: 0.0, shaking };
    }
    Verdict { food_kg: step_kg, shaking, ..nothing }
}

impl Case<'_> {
    /// What was put in or taken out where the lid was put aside in the same disturbance, kg.
    fn with_the_lid_off_kg(&self) -> Option<f64> {
        if !self.before.lid_on {
            return None;
        }
        let food_kg = self.step_kg + self.before.lid_kg;
        let ladled = within(-food_kg, LADLE_KG);
        (ladled || self.is_next_with_the_lid_off(food_kg)).then_some(food_kg)
    }

    /// Whether `food_kg` is the next planned addition, poured in while the lid was lifted.
    fn is_next_with_the_lid_off(&self, food_kg: f64) -> bool {
        let Some(next_kg) = self.planned_kg.first() else { return false };
        // A stir with the lid in the other hand dips as deep, and comes back less a little steam.
        let back = self.step_kg.abs() <= DRIPS_KG;
        let lifted = self.disturbance.lid_lifted_s > 0.0 && !back;
        let nearer = (food_kg - next_kg).abs() <= (self.step_kg - next_kg).abs();
        let alone = is_planned(self.planned_kg, self.step_kg) && !nearer;
        lifted && food_kg > self.small_kg && is_planned(self.next(), food_kg) && !alone
    }

    /// The next planned addition, where there is one.
    fn next(&self) -> &[f64] {
        self.planned_kg.get(..1).unwrap_or_default()
    }

    /// Whether the lid was put aside and the spoon taken out with it.
    fn is_spoon_out_with_the_lid(&self) -> bool {
        let left_kg = self.step_kg + self.before.lid_kg + self.before.spoon_kg;
        let both = self.before.lid_on && self.before.spoon_kg > 0.0;
        both && left_kg.abs() <= self.small_kg.max(DRIPS_KG)
    }

    /// The change of what stands on the platform besides, where a spoon explains the step, kg.
    fn spoon_kg(&self) -> Option<f64> {
        if self.before.spoon_kg == 0.0 {
            return self.is_left_in().then_some(self.step_kg);
        }
        let stays_kg = self.before.spoon_kg + self.step_kg;
        if stays_kg.abs() <= self.small_kg.max(0.06) {
            return Some(-self.before.spoon_kg);
        }
        // Taken out for the stir, and left in again as it was not before, or another one.
        let stirred = shaking(self.disturbance) == Shaking::Stirred;
        let other = stirred && !is_planned(self.planned_kg, self.step_kg);
        let second = self.is_left_in() && stays_kg <= 2.0 * SPOON_KG.1;
        ((other && within(stays_kg, SPOON_KG)) || second).then_some(self.step_kg)
    }

    /// Whether a spoon was left in: a plan's later amounts do not come before the next one.
    fn is_left_in(&self) -> bool {
        let planned = |plan: &[f64]| is_planned(plan, self.step_kg);
        let firm = self.disturbance.shaken_s >= FIRM_S;
        let due = planned(self.next());
        let planned = due || (planned(self.planned_kg) && !firm);
        let poured = self.disturbance.poured_s >= DRIBBLE_S;
        !poured && is_spoon(self.step_kg, shaking(self.disturbance), self.before, planned)
    }
}

/// A pour and a lid shake the pot too: with them it takes longer shaking to be a stir.
fn firm(disturbance: &Disturbance, shaking: Shaking) -> Shaking {
    let short = shaking == Shaking::Stirred && disturbance.shaken_s < FIRM_S;
    if short { Shaking::None } else { shaking }
}

fn lid_alone(step_kg: f64, sd_kg: f64, before: &Before, planned: &[f64]) -> Option<LidMove> {
    if before.lid_kg <= 0.0 {
        return None;
    }
    let room_kg = (0.04 * before.lid_kg).max(4.0 * sd_kg).max(0.045).min(0.35 * before.lid_kg);
    if before.lid_on {
        return ((step_kg + before.lid_kg).abs() <= room_kg).then_some(LidMove::TakenOff);
    }
    let off_kg = (step_kg - before.lid_kg).abs();
    let nearer = planned.iter().any(|kg| (step_kg - kg).abs() < 0.5 * off_kg);
    (off_kg <= room_kg && !nearer).then_some(LidMove::PutOn)
}

fn is_spoon(step_kg: f64, shaking: Shaking, before: &Before, planned: bool) -> bool {
    if before.cooling && !planned && within(step_kg, (0.0, PADDLE_KG)) {
        return true;
    }
    let may_be = shaking == Shaking::Stirred || before.blind;
    may_be && !planned && within(step_kg, SPOON_KG)
}

/// What a disturbance's shaking was.
#[must_use]
pub fn shaking(disturbance: &Disturbance) -> Shaking {
    if disturbance.shaken_s >= BLEND_S {
        Shaking::Blended
    } else if disturbance.shaken_s >= STIR_S && disturbance.force_kg > 0.1 {
        Shaking::Stirred
    } else {
        Shaking::None
    }
}

/// Within a fifth and a little of an amount that is still to come.
fn is_planned(still_planned_kg: &[f64], kg: f64) -> bool {
    still_planned_kg.iter().any(|planned| (kg - planned).abs() <= 0.22 * planned)
}

fn within(value: f64, (low, high): (f64, f64)) -> bool {
    (low..=high).contains(&value)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn disturbance(shaken_s: f64) -> Disturbance {
        Disturbance {
            began_s: 0.0,
            ended_s: 30.0,
            level_kg: 0.0,
            level_sd_kg: 0.004,
            shaken_s,
            force_kg: if shaken_s > 0.0 { 0.25 } else { 0.0 },
            lid_lifted_s: 0.0,
            moved_s: 0.0,
            poured_s: 0.0,
        }
    }

    fn before(lid_on: bool) -> Before {
        Before { lid_on, lid_kg: 1.35, spoon_kg: 0.0, blind: false, cooling: false }
    }

    fn judged(shaken_s: f64, step_kg: f64, before: &Before, plan: &[f64]) -> Verdict {
        judge(&disturbance(shaken_s), step_kg, 0.006, before, plan)
    }

    #[test]
    fn shaking_that_leaves_the_level_is_a_stir() {
        let verdict = judged(25.0, 0.012, &before(false), &[]);
        assert_eq!((verdict.food_kg, verdict.shaking), (0.0, Shaking::Stirred));
    }

    #[test]
    fn minutes_of_shaking_are_the_blender() {
        assert_eq!(judged(400.0, 0.0, &before(false), &[]).shaking, Shaking::Blended);
    }

    #[test]
    fn the_lids_weight_in_the_right_direction_is_the_lid() {
        assert_eq!(judged(0.0, -1.36, &before(true), &[]).lid, Some(LidMove::TakenOff));
        assert_eq!(judged(0.0, 1.34, &before(false), &[]).lid, Some(LidMove::PutOn));
        assert_eq!(judged(0.0, 1.34, &before(true), &[]).lid, None);
    }

    #[test]
    fn an_infusion_near_the_lids_weight_is_not_the_lid() {
        let verdict = judged(0.0, 1.19, &before(false), &[1.19]);
        assert_eq!((verdict.lid, verdict.food_kg), (None, 1.19));
    }

    #[test]
    fn a_spoon_left_in_is_no_food_and_comes_out_again() {
        let left = judged(20.0, 0.31, &before(false), &[1.1]);
        assert_eq!((left.food_kg, left.spoon_kg), (0.0, 0.31));
        let with_spoon = Before { spoon_kg: 0.31, ..before(false) };
        let out = judged(20.0, -0.30, &with_spoon, &[1.1]);
        assert_eq!((out.food_kg, out.spoon_kg), (0.0, -0.31));
    }

    #[test]
    fn another_spoon_left_in_the_place_of_the_first_is_no_food() {
        let with_spoon = Before { spoon_kg: 0.24, ..before(false) };
        let other = judged(30.0, 0.095, &with_spoon, &[]);
        assert_eq!((other.food_kg, other.spoon_kg), (0.0, 0.095));
    }

    #[test]
    fn a_cup_of_water_poured_in_is_no_spoon() {
        let poured = Disturbance { poured_s: 7.0, ..disturbance(8.0) };
        let verdict = judge(&poured, 0.3, 0.006, &before(false), &[]);
        assert_eq!((verdict.food_kg, verdict.spoon_kg), (0.3, 0.0));
    }

    #[test]
    fn a_spoon_left_long_before_the_cream_is_due_is_no_cream() {
        let verdict = judged(20.0, 0.305, &before(false), &[0.66, 2.34, 0.278]);
        assert_eq!((verdict.food_kg, verdict.spoon_kg), (0.0, 0.305));
    }

    #[test]
    fn a_second_spoon_left_in_is_no_food() {
        let with_spoon = Before { spoon_kg: 0.29, ..before(false) };
        let second = judged(25.0, 0.31, &with_spoon, &[2.34]);
        assert_eq!((second.food_kg, second.spoon_kg), (0.0, 0.31));
    }

    #[test]
    fn a_spoon_taken_out_with_the_lid_is_no_ladle() {
        let with_spoon = Before { spoon_kg: 0.25, ..before(true) };
        let verdict = judged(32.0, -1.67, &with_spoon, &[]);
        assert_eq!((verdict.lid, verdict.food_kg), (Some(LidMove::TakenOff), 0.0));
        assert_eq!(verdict.spoon_kg, -0.25);
    }

    #[test]
    fn a_stir_with_the_lid_in_the_other_hand_is_no_lid_off_and_infusion() {
        let held = Disturbance { lid_lifted_s: 16.0, ..disturbance(21.0) };
        let verdict = judge(&held, -0.063, 0.005, &before(true), &[1.2]);
        assert_eq!((verdict.lid, verdict.shaking), (None, Shaking::Stirred));
        assert!(verdict.food_kg.abs() < 0.07);
        let tasted = judge(&held, -0.30, 0.005, &before(true), &[0.2, 2.3, 1.1]);
        assert_eq!((tasted.lid, tasted.food_kg), (None, -0.30));
        let infused = judge(&held, -0.15, 0.005, &before(true), &[1.2]);
        assert_eq!(infused.lid, Some(LidMove::TakenOff));
        assert!((infused.food_kg - 1.2).abs() < 1e-9);
    }

    #[test]
    fn a_lid_put_on_slowly_is_told_by_its_weight() {
        let slow = Disturbance { poured_s: 5.0, ..disturbance(4.0) };
        assert_eq!(judge(&slow, 1.343, 0.004, &before(false), &[]).lid, Some(LidMove::PutOn));
        assert_eq!(judge(&slow, 1.31, 0.004, &before(false), &[]).lid, None);
        let long = Disturbance { poured_s: 9.0, ..slow };
        assert_eq!(judge(&long, 1.343, 0.004, &before(false), &[]).lid, None);
        let stirred = Disturbance { shaken_s: 37.0, force_kg: 0.3, ..long };
        assert_eq!(judge(&stirred, 1.343, 0.004, &before(false), &[]).lid, Some(LidMove::PutOn));
    }

    #[test]
    fn a_ladle_taken_while_the_lid_is_put_aside_is_both() {
        let verdict = judged(0.0, -1.75, &before(true), &[]);
        assert_eq!(verdict.lid, Some(LidMove::TakenOff));
        assert!((verdict.food_kg + 0.40).abs() < 1e-9);
    }
}
