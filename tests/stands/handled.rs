//! What hands do.

use dekchi::watch::action::{Lid, What};

use super::kitchen::{GOOD, Kitchen, LID_KG, Line, Platform, START_KG, plan};
use super::{SEEDS, contents_within, count, evaporation_within, events, moves_are, stirs};

const INFUSION: (&str, f64) = ("infusion", 1.1);
const THINNING: (&str, f64) = ("thinning water", 4.0);

fn boiling(seed: u64, additions: &[(&str, f64)]) -> Kitchen {
    let mut kitchen = Kitchen::boiling(GOOD, plan(additions), seed);
    kitchen.stand(900);
    kitchen
}

fn named(kitchen: &Kitchen) -> Vec<Option<String>> {
    let name = |what: &What| match what {
        What::Added { name, .. } => Some(name.clone()),
        _ => None,
    };
    kitchen.happened.iter().filter_map(|happening| name(&happening.what)).collect()
}

#[test]
fn a_hand_that_leans_on_the_rim_while_it_stirs_puts_nothing_in() {
    for seed in SEEDS {
        let mut kitchen = boiling(seed, &[INFUSION]);
        for lean_kg in [1.1, 2.5, 4.0, -0.8] {
            kitchen.stir(24, lean_kg);
            kitchen.stand(300);
        }
        moves_are(&kitchen, &[], 0.0);
        assert_eq!(events(&kitchen), ["stirred"; 4]);
        contents_within(&kitchen, 0.10);
        evaporation_within(&kitchen, 900, 0.03);
    }
}

#[test]
fn a_spoon_left_in_the_pot_is_no_food() {
    for seed in SEEDS {
        let mut kitchen = boiling(seed, &[INFUSION]);
        kitchen.stir(20, 0.0);
        kitchen.put_beside(0.28);
        kitchen.stand(400);
        kitchen.stir(20, 0.0);
        kitchen.put_beside(-0.28);
        kitchen.stand(400);
        moves_are(&kitchen, &[], 0.0);
        assert_eq!(stirs(&kitchen), 2, "{:?}", events(&kitchen));
        contents_within(&kitchen, 0.10);
    }
}

#[test]
fn a_lid_that_is_put_on_and_taken_off_is_the_lid_each_time() {
    for seed in SEEDS {
        let mut kitchen = boiling(seed, &[INFUSION]);
        for _ in 0..3 {
            kitchen.move_lid(true, false);
            kitchen.stand(400);
            assert_eq!(kitchen.shown.last().unwrap().lid, Some(Lid::On));
            kitchen.move_lid(false, false);
            kitchen.stand(400);
            assert_eq!(kitchen.shown.last().unwrap().lid, Some(Lid::Off));
        }
        moves_are(&kitchen, &[], 0.0);
        assert_eq!(events(&kitchen), ["lid-on", "lid-off"].repeat(3));
        contents_within(&kitchen, 0.10);
    }
}

// On the platform, so that its weight stays where it was: nobody could tell, and nothing may be told.
#[test]
fn a_lid_laid_down_beside_the_pot_is_no_food() {
    for seed in SEEDS {
        let mut kitchen = boiling(seed, &[INFUSION]);
        kitchen.move_lid(true, false);
        kitchen.stand(400);
        kitchen.move_lid(false, true);
        kitchen.stand(400);
        kitchen.move_lid(true, true);
        kitchen.stand(400);
        moves_are(&kitchen, &[], 0.0);
        contents_within(&kitchen, 0.10);
    }
}

#[test]
fn every_ladle_of_a_service_is_found_though_one_goes_every_two_minutes() {
    for seed in SEEDS {
        let mut kitchen = boiling(seed, &[]);
        let ladles: Vec<f64> = (0..20).map(|n| [0.35, 0.42, 0.25, 0.55][n % 4]).collect();
        for kg in &ladles {
            kitchen.pour(-kg, 100.0, 4);
            kitchen.stand(116);
        }
        let taken: Vec<f64> = ladles.iter().map(|kg| -kg).collect();
        moves_are(&kitchen, &taken, 0.05);
        let last = kitchen.shown.last().unwrap();
        assert!((last.contents_kg.unwrap() - kitchen.kg).abs() < 0.10, "{last:?}");
        let rate = last.evaporation_kg_h.unwrap() / kitchen.rate_kg_h();
        assert!((rate - 1.0).abs() < 0.10, "{rate}");
    }
}

#[test]
fn an_infusion_poured_in_seconds_is_an_infusion() {
    for seed in SEEDS {
        for seconds in [2, 4, 8] {
            let mut kitchen = boiling(seed, &[INFUSION, THINNING]);
            kitchen.pour(1.1, 70.0, seconds);
            kitchen.stand(600);
            moves_are(&kitchen, &[1.1], 0.03);
            assert_eq!(named(&kitchen), [Some("infusion".to_owned())], "in {seconds} s");
            contents_within(&kitchen, 0.10);
        }
    }
}

#[test]
fn thinning_by_a_fifth_is_weighed_and_makes_the_gravy_thinner() {
    for seed in SEEDS {
        let mut kitchen = boiling(seed, &[THINNING]);
        let before = kitchen.shown.last().unwrap().total_solids.unwrap();
        let before_kg = kitchen.kg;
        kitchen.pour(4.0, 20.0, 15);
        kitchen.stand(600);
        moves_are(&kitchen, &[4.0], 0.06);
        assert_eq!(named(&kitchen), [Some("thinning water".to_owned())]);
        let after = kitchen.shown.last().unwrap().total_solids.unwrap();
        let wanted = before * before_kg / kitchen.kg;
        assert!((after / wanted - 1.0).abs() < 0.02, "{before} to {after}, {wanted} is right");
    }
}

#[test]
fn a_blender_is_a_blender_and_leaves_the_contents() {
    for seed in SEEDS {
        let mut kitchen = boiling(seed, &[INFUSION]);
        kitchen.flame_w = 0.0;
        kitchen.stand(60);
        let before = kitchen.shown.last().unwrap().catch_index.unwrap();
        kitchen.blend(240);
        kitchen.stand(15);
        let scraped = kitchen.shown.last().unwrap();
        assert!(scraped.catch_index.unwrap() < 0.1 * before, "{before}, {scraped:?}");
        assert!(scraped.since_stir_s.unwrap() < 30.0, "{scraped:?}");
        kitchen.flame_w = 2600.0;
        kitchen.stand(600);
        moves_are(&kitchen, &[], 0.0);
        assert_eq!(count(&kitchen, |what| matches!(what, What::Blended { .. })), 1);
        assert_eq!(stirs(&kitchen), 0);
        let last = kitchen.shown.last().unwrap();
        assert!((last.contents_kg.unwrap() - kitchen.kg).abs() < 0.10, "{last:?}");
    }
}

#[test]
fn a_blender_is_a_blender_though_the_scale_fails_while_it_runs() {
    for seed in SEEDS {
        let mut kitchen = boiling(seed, &[]);
        kitchen.blend(240);
        kitchen.scale = Line::Silent;
        kitchen.blend(60);
        kitchen.stand(120);
        assert_eq!(count(&kitchen, |what| matches!(what, What::Blended { .. })), 1);
        assert_eq!(stirs(&kitchen), 0, "{:?}", events(&kitchen));
    }
}

#[test]
fn a_watch_that_begins_in_the_middle_of_a_batch_knows_the_pot_by_its_weight() {
    for seed in SEEDS {
        // Three kilograms have boiled off since the batch file was written, and it boils hard.
        let mut kitchen = Kitchen::boiling(GOOD, plan(&[INFUSION]), seed);
        kitchen.kg = START_KG - 3.0;
        kitchen.stand(1500);
        kitchen.stir(20, 0.0);
        kitchen.stand(900);
        moves_are(&kitchen, &[], 0.0);
        contents_within(&kitchen, 0.10);
        evaporation_within(&kitchen, 900, 0.03);
        assert_eq!(kitchen.shown.last().unwrap().boiling, Some(true));
    }
}

#[test]
fn an_amount_that_is_off_by_a_fifth_is_what_the_scale_says_and_still_has_its_name() {
    for seed in SEEDS {
        for share in [0.8, 1.2] {
            let mut kitchen = boiling(seed, &[INFUSION, THINNING]);
            kitchen.pour(1.1 * share, 70.0, 8);
            kitchen.stand(600);
            kitchen.pour(4.0 * share, 20.0, 12);
            kitchen.stand(600);
            moves_are(&kitchen, &[1.1 * share, 4.0 * share], 0.06);
            let names = ["infusion", "thinning water"].map(|name| Some(name.to_owned()));
            assert_eq!(named(&kitchen), names, "{share}");
        }
    }
}

#[test]
fn two_hundred_grams_are_seen_through_twenty_grams_of_noise() {
    for seed in SEEDS {
        for hz in [1, 10] {
            let platform = Platform { hz, white_kg: 0.020, boil_kg: 0.010, walk_kg: 0.010, ..GOOD };
            let mut kitchen = Kitchen::boiling(platform, plan(&[]), seed);
            kitchen.stand(900);
            for _ in 0..10 {
                kitchen.pour(-0.20, 100.0, 4);
                kitchen.stand(200);
            }
            moves_are(&kitchen, &[-0.20; 10], 0.06);
        }
    }
}

// Little leaves past the lid and much when it is off: the rate that is shown follows each time.
#[test]
fn what_leaves_is_known_again_after_the_lid_has_moved() {
    for seed in SEEDS {
        let mut kitchen = boiling(seed, &[]);
        for _ in 0..2 {
            kitchen.move_lid(true, false);
            kitchen.stand(1500);
            let rate = kitchen.shown.last().unwrap().evaporation_kg_h.unwrap();
            let off = rate / kitchen.rate_kg_h() - 1.0;
            println!("lid on: {:.1} %", 100.0 * off);
            assert!(off.abs() < 0.15, "lid on: {rate} kg/h, {off} off");
            kitchen.move_lid(false, false);
            kitchen.stand(900);
            let rate = kitchen.shown.last().unwrap().evaporation_kg_h.unwrap();
            let off = rate / kitchen.rate_kg_h() - 1.0;
            println!("lid off: {:.1} %", 100.0 * off);
            assert!(off.abs() < 0.03, "lid off: {rate} kg/h, {off} off");
        }
    }
}

// 4.5 kg less the lid's 1.35 is within a fifth of the 4.0 that were planned, and so are 4.5 kg.
#[test]
fn a_lid_put_aside_a_stir_and_a_pour_in_one_movement_are_all_three() {
    for seed in SEEDS {
        let mut kitchen = boiling(seed, &[THINNING]);
        kitchen.move_lid(true, false);
        kitchen.stand(400);
        kitchen.move_lid(false, false);
        kitchen.stir(15, 0.0);
        kitchen.pour(4.5, 20.0, 10);
        kitchen.stand(300);
        moves_are(&kitchen, &[4.5], 0.06);
        let last = kitchen.shown.last().unwrap();
        assert_eq!(last.lid, Some(Lid::Off));
        assert!((last.contents_kg.unwrap() - kitchen.kg).abs() < 0.10, "{last:?}");
    }
}

// The plan says that the lid is off; it is on, and nobody said so.
#[test]
fn a_watch_that_begins_under_a_lid_sees_the_lid() {
    for seed in SEEDS {
        let mut kitchen = Kitchen::boiling(GOOD, plan(&[INFUSION]), seed);
        (kitchen.lid_on, kitchen.beside_kg) = (true, LID_KG);
        kitchen.stand(600);
        assert_eq!(kitchen.shown.last().unwrap().lid, Some(Lid::On));
        kitchen.move_lid(false, false);
        kitchen.stand(600);
        moves_are(&kitchen, &[], 0.0);
        contents_within(&kitchen, 0.10);
    }
}

// As at the second pot of a morning: salt and cream went in, and the infusion was poured before.
#[test]
fn a_watch_that_begins_after_the_first_addition_names_the_next_one() {
    for seed in SEEDS {
        let mut kitchen = Kitchen::boiling(GOOD, plan(&[INFUSION, THINNING]), seed);
        kitchen.kg = START_KG + 1.1 - 2.0;
        kitchen.stand(900);
        kitchen.pour(4.0, 20.0, 12);
        kitchen.stand(600);
        moves_are(&kitchen, &[4.0], 0.06);
        assert_eq!(named(&kitchen), [Some("thinning water".to_owned())]);
    }
}

/// At 8 g of noise additions and ladlings are weighed to 20 g.
#[test]
fn what_goes_in_and_out_is_weighed_to_twenty_grams() {
    let mut errors: Vec<f64> = Vec::new();
    for seed in SEEDS {
        let platform = Platform { white_kg: 0.008, boil_kg: 0.008, walk_kg: 0.010, ..GOOD };
        let mut kitchen = Kitchen::boiling(platform, plan(&[]), seed);
        kitchen.stand(900);
        let amounts = [0.5, -0.3, 2.0, -0.8, 0.25, -0.45, 0.9, -LID_KG - 0.4];
        for kg in amounts {
            kitchen.pour(kg, 80.0, 6);
            kitchen.stand(240);
        }
        let said = super::moves(&kitchen);
        assert_eq!(said.len(), amounts.len(), "{said:?}");
        errors.extend(said.iter().zip(amounts).map(|(said, kg)| (said - kg).abs()));
    }
    errors.sort_by(f64::total_cmp);
    println!("{errors:.3?}");
    assert!(errors[errors.len() / 2] <= 0.020, "{errors:?}");
}
