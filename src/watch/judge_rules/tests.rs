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
