use crate::batch::larder::Larder;
use crate::watch::action::{Alarm, What};
use crate::watch::event::CookSays;
use crate::watch::trial::{Stove, stove};
use crate::watch::words::understand;

/// 20 kg of sauce into which the scale saw something go that weighs what the infusion would.
fn taken_for_infusion() -> Stove {
    let mut stove = stove(0.15);
    stove.stand(60);
    stove.pour(1.1);
    stove.stand(60);
    assert_eq!(stove.went_in(), [(1.1, Some("spice infusion"), false)]);
    stove
}

fn contents_kg(stove: &mut Stove) -> f64 {
    stove.stand(12);
    stove.shown.as_ref().unwrap().contents_kg.unwrap()
}

fn next(stove: &mut Stove) -> Option<String> {
    stove.stand(12);
    stove.shown.as_ref().unwrap().next_addition.as_ref().map(|(name, _)| name.clone())
}

fn refused(stove: &Stove, words: &str) -> Option<String> {
    let says = understand(words, &Larder::bundled()).unwrap();
    stove.watch.refuses(&says).map(|why| why.to_string())
}

#[test]
fn a_pan_that_was_put_down_is_no_infusion_and_weighs_nothing_as_food() {
    let mut stove = taken_for_infusion();
    let before = stove.watch.book().now().dry_kg();
    stove.say("nothing was added");
    assert_eq!(stove.went_in(), [(0.0, None, true)]);
    assert!((contents_kg(&mut stove) - 20.0).abs() < 0.03);
    assert!((before - stove.watch.book().now().dry_kg() - 0.044).abs() < 0.001, "4 % of 1.1 kg");
    assert_eq!(next(&mut stove).as_deref(), Some("spice infusion"), "it is still to come");
    let told = stove.told.last().unwrap();
    assert!(matches!(told, What::Corrected { kg: 0.0, name: None, .. }), "{told:?}");
    // The pan is taken away again: nothing was ladled out.
    stove.pour(-1.1);
    stove.stand(60);
    assert!(!stove.told.iter().any(|what| matches!(what, What::Taken { .. })), "{:?}", stove.told);
    assert!((contents_kg(&mut stove) - 20.0).abs() < 0.03);
}

#[test]
fn a_pan_that_was_put_down_and_taken_away_was_neither_infusion_nor_ladle() {
    let mut stove = taken_for_infusion();
    stove.pour(-1.1);
    stove.stand(60);
    let dry_kg = 20.0 * 0.12;
    assert!((stove.watch.book().now().dry_kg() - dry_kg).abs() > 0.05);
    stove.say("that was nothing");
    assert!((stove.watch.book().now().dry_kg() - dry_kg).abs() < 0.001);
    assert!((contents_kg(&mut stove) - 20.0).abs() < 0.03);
    assert_eq!(stove.shown.as_ref().unwrap().served_kg, None);
}

#[test]
fn what_was_said_to_be_nothing_can_be_cream_after_all() {
    let mut stove = taken_for_infusion();
    stove.say("nothing was added");
    stove.say("that was 1.1 kg cream");
    assert_eq!(stove.went_in(), [(1.1, Some("cream"), true)]);
    assert!((contents_kg(&mut stove) - 21.1).abs() < 0.03);
}

#[test]
fn a_correction_that_is_taken_back_leaves_what_the_scale_saw() {
    let mut stove = taken_for_infusion();
    let before = *stove.watch.book().now();
    stove.say("that was 2.1 kg cream");
    stove.say("take that back");
    assert_eq!(stove.went_in(), [(1.1, Some("spice infusion"), false)]);
    assert!((stove.watch.book().now().fat_kg() - before.fat_kg()).abs() < 1e-6);
    assert!((contents_kg(&mut stove) - 21.1).abs() < 0.03);
    assert_eq!(next(&mut stove).as_deref(), Some("thinning water"));
    let why = refused(&stove, "take that back").unwrap();
    assert_eq!(why, "nothing was said that could be taken back");
}

#[test]
fn nothing_was_added_can_be_taken_back_too() {
    let mut stove = taken_for_infusion();
    stove.say("nothing was added");
    stove.say("take that back");
    assert_eq!(stove.went_in(), [(1.1, Some("spice infusion"), false)]);
    assert!((contents_kg(&mut stove) - 21.1).abs() < 0.03);
}

#[test]
fn salt_that_was_said_and_never_went_in_is_out_of_the_balance_again() {
    for wait_s in [20, 150] {
        let mut stove = taken_for_infusion();
        let salt_kg = stove.watch.book().now().salt_kg();
        stove.say("added 60 g salt");
        stove.stand(wait_s);
        stove.say("take that back");
        stove.stand(200);
        let now_kg = stove.watch.book().now().salt_kg();
        assert!((now_kg - salt_kg).abs() < 1e-6, "after {wait_s} s: {now_kg} for {salt_kg}");
    }
}

#[test]
fn a_target_a_lid_and_a_flame_are_taken_back() {
    let mut stove = taken_for_infusion();
    let right = |stove: &mut Stove| stove.target_kg();
    stove.pour(5.0);
    stove.stand(60);
    let target_kg = right(&mut stove);
    stove.say("right now");
    assert!((right(&mut stove) - target_kg).abs() > 1.0);
    stove.say("take that back");
    assert!((right(&mut stove) - target_kg).abs() < 0.05);
    stove.say("lid on");
    stove.say("take that back");
    assert!(stove.told.ends_with(&[What::LidOn, What::LidOff]), "{:?}", stove.told);
}

#[test]
fn a_stir_that_was_not_one_does_not_spare_the_bottom() {
    let mut stove = stove(0.15);
    stove.stand(1800);
    let index = |stove: &mut Stove| {
        stove.stand(12);
        stove.shown.as_ref().unwrap().since_stir_s.unwrap()
    };
    let before_s = index(&mut stove);
    stove.say("stirred");
    assert!(index(&mut stove) < 30.0);
    stove.say("take that back");
    assert!(index(&mut stove) > before_s);
}

#[test]
fn an_alert_that_does_not_stand_is_not_acknowledged() {
    let stove = taken_for_infusion();
    let why = refused(&stove, "acknowledge stir-due").unwrap();
    assert_eq!(why, "stir-due does not stand; no alert does");
    let says = CookSays::Shelve { alarm: Alarm::Catching, for_s: 600.0 };
    assert!(stove.watch.refuses(&says).is_some());
}
