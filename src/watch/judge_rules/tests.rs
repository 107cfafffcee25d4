use crate::watch::action::{Alarm, AlarmState};
use crate::watch::trial::{Stove, cooking, stove};

/// Brings it to the boil and boils it for a quarter of an hour.
fn boils(mut stove: Stove) -> Stove {
    (stove.k_min, stove.kg_h) = (2.0, 0.3);
    stove.stand(12 * 60);
    stove.kg_h = 3.0;
    for _ in 0..3 {
        stove.stand(5 * 60);
        stove.stir(20);
    }
    stove
}

fn flame_out(stove: &mut Stove, k_min: f64) {
    (stove.k_min, stove.kg_h) = (k_min, 0.2);
}

#[test]
fn a_flame_that_goes_out_at_the_boil_is_told() {
    let mut stove = boils(stove(0.2));
    flame_out(&mut stove, -0.5);
    stove.stand(10 * 60);
    assert!(stove.raised(Alarm::GoingCold), "{:?}", stove.alerts);
}

#[test]
fn a_pot_that_cools_because_it_is_blended_is_not_told_to_look_at_the_flame() {
    let mut stove = boils(stove(0.2));
    flame_out(&mut stove, -1.0);
    stove.stand(100);
    stove.stir(7 * 60);
    stove.stand(15 * 60);
    assert!(!stove.raised(Alarm::GoingCold), "{:?}", stove.alerts);
    assert!(!stove.raised(Alarm::CoolingTooSlow));
    stove.stand(15 * 60);
    assert!(stove.raised(Alarm::GoingCold), "nobody lit it again: {:?}", stove.alerts);
}

#[test]
fn what_is_only_blended_with_the_flame_off_is_not_cooled_for_the_store() {
    let mut stove = boils(stove(0.2));
    stove.say("flame off");
    flame_out(&mut stove, -1.5);
    stove.stir(7 * 60);
    stove.stand(50 * 60);
    assert!(stove.c < 30.0);
    assert!(!stove.raised(Alarm::CoolingTooSlow), "{:?}", stove.alerts);
}

#[test]
fn a_gravy_that_is_right_may_fall_to_where_it_is_held() {
    // Boiled down from 12 to 12.3 % and turned down low.
    let mut stove = boils(cooking(vec![], Some(crate::batch::plan::Target::TotalSolids(0.123))));
    assert!(stove.raised(Alarm::TargetReached), "{:?}", stove.alerts);
    flame_out(&mut stove, -0.6);
    stove.stand(30 * 60);
    assert!(stove.c > 80.0 && !stove.raised(Alarm::GoingCold), "{:?}", stove.alerts);
    // Twenty minutes before it would be too cool to hold it is told.
    stove.stand(20 * 60);
    assert!(stove.c > 63.0 && stove.raised(Alarm::GoingCold), "{:?}", stove.alerts);
}

#[test]
fn what_was_heated_through_again_cools_anew() {
    let mut stove = cooking(vec![], None);
    stove.stand(120);
    stove.say("flame off");
    flame_out(&mut stove, -0.5);
    stove.stand(60 * 60);
    assert!(stove.raised(Alarm::CoolingTooSlow), "50 °C, and 8 °C is far: {:?}", stove.alerts);
    // Heated to 80 °C, the flame off again.
    stove.k_min = 1.5;
    stove.stand(20 * 60);
    let last = stove.alerts.iter().rfind(|(_, alarm, _)| *alarm == Alarm::CoolingTooSlow);
    assert!(matches!(last, Some((_, _, AlarmState::Cleared))), "{:?}", stove.alerts);
    stove.say("flame off");
    stove.k_min = -0.5;
    let told = stove.alerts.len();
    stove.stand(25 * 60);
    let since = &stove.alerts[told..];
    assert!(stove.c > 63.0);
    assert!(since.iter().all(|(_, alarm, _)| *alarm != Alarm::CoolingTooSlow), "{since:?}");
}

#[test]
fn a_cold_infusion_that_is_not_stirred_in_yet_is_no_flame_that_went_out() {
    let mut stove = boils(stove(0.2));
    stove.k_min = -0.4;
    stove.pour(1.1);
    stove.stand(6 * 60);
    assert!(!stove.raised(Alarm::GoingCold), "{:?}", stove.alerts);
    // 1.1 kg of tap water takes 20 kg at 97 °C down by 5 K at most.
    flame_out(&mut stove, -0.5);
    stove.stand(8 * 60);
    assert!(stove.raised(Alarm::GoingCold), "it fell further than that: {:?}", stove.alerts);
}

#[test]
fn a_gravy_that_is_served_and_topped_up_is_not_told_right_anew() {
    let mut stove = boils(cooking(vec![], Some(crate::batch::plan::Target::TotalSolids(0.123))));
    assert!(stove.raised(Alarm::TargetReached), "{:?}", stove.alerts);
    (stove.k_min, stove.kg_h) = (-0.6, 1.0);
    for _ in 0..4 {
        stove.stand(4 * 60);
        stove.pour(-0.4);
    }
    let cleared = (Alarm::TargetReached, AlarmState::Cleared);
    assert!(stove.alerts.iter().any(|(_, alarm, state)| (*alarm, *state) == cleared));
    stove.k_min = 0.0;
    stove.pour(0.5);
    let told = stove.alerts.len();
    for _ in 0..12 {
        stove.stand(5 * 60);
        stove.pour(-0.3);
    }
    let anew = [Alarm::TargetNear, Alarm::TargetReached];
    let since = &stove.alerts[told..];
    assert!(since.iter().all(|(_, alarm, _)| !anew.contains(alarm)), "{since:?}");
}

/// The second at which a stir is first asked for in a pot that boils unstirred; something goes in at
/// `poured_s`.
fn stir_asked_s(poured_s: Option<i64>) -> i64 {
    let mut stove = boils(cooking(vec![], None));
    let told = stove.alerts.len();
    let asked = |(_, alarm, state): &(i64, Alarm, AlarmState)| {
        [Alarm::StirDue, Alarm::Catching].contains(alarm) && *state == AlarmState::Raised
    };
    for second in 0..3600 {
        stove.stand(1);
        if stove.alerts[told..].iter().any(asked) {
            return second;
        }
        if Some(second) == poured_s {
            stove.pour(0.3);
        }
    }
    panic!("no stir was asked for: {:?}", stove.alerts);
}

#[test]
fn a_cook_who_pours_something_in_is_not_told_to_stir_in_that_minute_and_later_is() {
    let due_s = stir_asked_s(None);
    let asked_s = stir_asked_s(Some(due_s - 20));
    assert!((30..240).contains(&(asked_s - due_s)), "{due_s} {asked_s}");
}
