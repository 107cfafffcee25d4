use proptest::prelude::*;

use crate::watch::action::{POURED_BACK, What};
use crate::watch::trial::{Stove, sauce, stove};

/// A pot of 20 kg of which so much was poured out.
fn poured_out(kg: f64) -> Stove {
    let mut stove = stove(0.15);
    stove.stand(60);
    stove.pour(-kg);
    stove.stand(240);
    stove
}

/// What is in the pot by the judgement, of each part, kg.
fn parts(stove: &Stove) -> [f64; 4] {
    let now = stove.watch.book().now();
    [now.water_kg(), now.solids_kg(), now.fat_kg(), now.salt_kg()]
}

#[test]
fn gravy_that_was_sieved_is_the_same_gravy_when_it_is_poured_back() {
    let mut stove = poured_out(14.0);
    stove.pour(13.8);
    stove.stand(60);
    let back = stove.told.iter().find_map(|what| match what {
        What::PouredBack { kg, .. } => Some(*kg),
        _ => None,
    });
    assert!((back.unwrap() - 13.8).abs() < 0.01, "{:?}", stove.told);
    assert_eq!(stove.went_in(), [(13.8, Some(POURED_BACK), false)]);
    let solids = stove.watch.book().now().total_solids().unwrap();
    assert!((solids - (1.0 - sauce().water())).abs() < 2e-4, "{solids}");
}

#[test]
fn blended_jug_by_jug_in_another_vessel_it_is_never_water() {
    let mut stove = poured_out(15.0);
    for jug in [4.0, 5.0, 5.8] {
        stove.pour(jug);
        stove.stand(90);
    }
    assert!(stove.went_in().iter().all(|(_, name, _)| *name == Some(POURED_BACK)));
    let solids = stove.watch.book().now().total_solids().unwrap();
    assert!((solids - (1.0 - sauce().water())).abs() < 2e-4, "{solids}");
    stove.pour(5.0);
    stove.stand(60);
    assert_eq!(stove.went_in()[3], (5.0, Some("thinning water"), false));
}

#[test]
fn a_litre_of_water_after_some_was_put_by_is_water() {
    let mut stove = poured_out(4.0);
    stove.pour(1.8);
    stove.stand(60);
    assert_eq!(stove.went_in(), [(1.8, None, false)]);
    let water_kg = parts(&stove)[0];
    assert!((water_kg - 16.0 * sauce().water() - 1.8).abs() < 0.02, "{water_kg}");
}

#[test]
fn a_cook_can_still_say_that_what_came_back_was_something_else() {
    let mut stove = poured_out(8.0);
    stove.pour(7.8);
    stove.stand(60);
    stove.say("the gravy was water");
    assert_eq!(stove.went_in(), [(7.8, Some("water"), true)]);
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(24))]
    #[test]
    fn water_and_solids_hold_to_a_few_grams_where_most_of_a_pot_is_sieved(
        out_kg in 10.5..17.0_f64, stays in 0.0..0.08_f64, jugs in 1..4usize, out_s in 60..1100i64,
    ) {
        let mut stove = stove(0.15);
        stove.stand(60);
        stove.pour(-out_kg);
        stove.stand(out_s);
        let back_kg = out_kg * (1.0 - stays);
        for _ in 0..jugs {
            stove.pour(back_kg / jugs as f64);
            stove.stand(60);
        }
        // Nothing boiled off: each part is what it was, less what stayed in the sieve.
        let of = sauce();
        let was = [of.water(), of.solids(), of.fat(), of.salt()].map(|s| s * (20.0 - out_kg + back_kg));
        for (part, was) in parts(&stove).into_iter().zip(was) {
            prop_assert!((part - was).abs() < 0.008, "{:?} for {was:?}", parts(&stove));
        }
    }
}
