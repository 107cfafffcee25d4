use crate::batch::larder::Larder;
use crate::watch::action::What;
use crate::watch::trial::{Stove, stove};
use crate::watch::words::understand;

/// Sauce, infusion and thinning water, all as planned.
fn thinned() -> Stove {
    let mut stove = stove(0.15);
    stove.stand(60);
    stove.pour(1.1);
    stove.stand(60);
    stove.pour(5.0);
    stove.stand(60);
    assert_eq!(
        stove.went_in(),
        [(1.1, Some("spice infusion"), false), (5.0, Some("thinning water"), false)]
    );
    stove
}

#[test]
fn an_earlier_addition_that_is_put_right_moves_the_target_from_that_moment() {
    let mut stove = thinned();
    let before_kg = stove.target_kg();
    stove.say("the infusion was 2.1 kg");
    let after_kg = stove.target_kg();
    // Another kilogram of infusion has 40 g of dry matter, and the gravy is right at 15 %.
    assert!((after_kg - before_kg - 0.04 / 0.15).abs() < 0.005, "{before_kg} {after_kg}");
    let went_in = stove.went_in();
    assert_eq!(went_in[0], (2.1, Some("spice infusion"), true));
    assert_eq!(went_in[1], (5.0, Some("thinning water"), false));
    let corrected = stove.told.iter().find_map(|what| match what {
        What::Corrected { kg, name, .. } => Some((*kg, name.clone())),
        _ => None,
    });
    assert_eq!(corrected, Some((2.1, Some("spice infusion".into()))));
    // The scale has the last word on how much is in the pot.
    let contents_kg = stove.shown.as_ref().unwrap().contents_kg.unwrap();
    assert!((contents_kg - 26.1).abs() < 0.05, "{contents_kg}");
}

#[test]
fn that_was_speaks_of_the_last_addition_and_addition_1_of_the_first() {
    let mut stove = thinned();
    stove.say("that was cream");
    stove.say("addition 1 was water");
    assert_eq!(stove.went_in(), [(1.1, Some("water"), true), (5.0, Some("cream"), true)]);
}

#[test]
fn a_word_said_while_pouring_waits_for_what_is_poured() {
    let mut stove = thinned();
    stove.pour(0.3);
    stove.say("that was cream");
    stove.pour(0.2);
    stove.stand(40);
    let went_in = stove.went_in();
    assert_eq!(went_in[1], (5.0, Some("thinning water"), false));
    assert_eq!(went_in[2], (0.5, Some("cream"), true), "{went_in:?}");
}

#[test]
fn salt_that_the_scale_cannot_see_is_put_down_on_the_cooks_word() {
    let mut stove = thinned();
    let salt_kg = stove.watch.book().now().salt_kg();
    stove.say("added 60 g salt");
    stove.stand(140);
    assert_eq!(stove.went_in().len(), 3);
    assert_eq!(stove.went_in()[1], (5.0, Some("thinning water"), false), "it is not the last");
    let more_kg = stove.watch.book().now().salt_kg() - salt_kg;
    assert!((more_kg - 0.06).abs() < 0.001, "{more_kg}");
}

#[test]
fn what_was_added_and_seen_is_not_counted_twice() {
    let mut stove = thinned();
    stove.pour(0.5);
    stove.stand(30);
    stove.say("added 500 ml water");
    stove.stand(200);
    assert_eq!(stove.went_in().len(), 3);
    assert_eq!(stove.went_in()[2].1, Some("water"));
}

#[test]
fn what_went_in_while_the_scale_was_silent_is_in_the_balance() {
    let mut stove = thinned();
    stove.silent = true;
    stove.stand(90);
    stove.say("added 60 g salt");
    stove.stand(200);
    assert_eq!(stove.went_in().len(), 2, "the scale may yet see it");
    stove.silent = false;
    stove.stand(200);
    assert_eq!(stove.went_in()[2], (0.06, Some("salt"), false), "{:?}", stove.told);
}

#[test]
fn what_never_went_in_or_nobody_knows_is_refused() {
    let stove = thinned();
    for (words, why) in [
        ("the cream was 1.2 kg", "no \"cream\" went in"),
        ("that was 1.2 kg creem", "did you mean"),
        ("addition 3 was cream", "no \"addition 3\" went in"),
    ] {
        let says = understand(words, &Larder::bundled()).unwrap();
        let refused = stove.watch.refuses(&says).unwrap().to_string();
        assert!(refused.contains(why), "{words}: {refused}");
    }
}

#[test]
fn what_the_scale_would_have_seen_and_did_not_did_not_go_in() {
    let mut stove = thinned();
    stove.say("added 50 kg water");
    stove.stand(200);
    assert_eq!(stove.went_in().len(), 2);
    stove.say("added 60 g salt");
    stove.stand(200);
    assert_eq!(stove.went_in().len(), 3);
}
