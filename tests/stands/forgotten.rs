//! What happens to a pot that nobody minds: it catches, or it boils dry.

use dekchi::reading::Fault;
use dekchi::watch::action::Alarm;
use dekchi::watch::event::CookSays;

use super::kitchen::{GOOD, Kitchen, Line, Platform, plan};
use super::{SEEDS, events, raised_s, stirs};

/// Read once a second, to be quick.
const SLOWLY: Platform = Platform { hz: 1, ..GOOD };
/// Dry matter of [`plan`]'s gravy.
const DRY: f64 = 0.10;

/// So much gravy over so many watts until a twentieth of its water is left; how long before that
/// `running-dry` was told, s.
fn told_dry_before_s(kg: f64, watts: f64, probe: Line, seed: u64) -> Option<i64> {
    let mut kitchen = Kitchen::boiling(SLOWLY, plan(&[]), seed);
    (kitchen.kg, kitchen.flame_w) = (kg, watts);
    kitchen.stand(300);
    kitchen.probe = probe;
    while kitchen.kg - DRY * kg > 0.05 * (1.0 - DRY) * kg {
        kitchen.stand(1);
    }
    let dry_s = kitchen.truth.last().unwrap().t_s;
    raised_s(&kitchen, Alarm::RunningDry, 0).map(|told_s| dry_s - told_s)
}

#[test]
fn a_pot_that_boils_dry_is_told_ten_minutes_ahead() {
    for seed in SEEDS {
        for (kg, watts) in [(8.0, 2600.0), (5.0, 2600.0), (4.0, 1500.0), (8.0, 5000.0)] {
            let before_s = told_dry_before_s(kg, watts, Line::Well, seed);
            println!("{kg} kg over {watts} W: {before_s:?} s");
            let fair = before_s.is_some_and(|s| (600..3600).contains(&s));
            assert!(fair, "{kg} kg over {watts} W: told {before_s:?} s before");
        }
    }
}

#[test]
fn a_pot_that_boils_dry_is_told_without_a_probe_too() {
    for seed in SEEDS {
        let before_s = told_dry_before_s(6.0, 2600.0, Line::Fails(Fault::Absent), seed);
        assert!(before_s.is_some_and(|s| s >= 600), "told {before_s:?} s before");
    }
}

#[test]
fn a_pot_with_plenty_of_water_is_not_told_to_run_dry() {
    for seed in SEEDS {
        let mut kitchen = Kitchen::boiling(SLOWLY, plan(&[]), seed);
        for _ in 0..24 {
            kitchen.stand(280);
            kitchen.stir(20, 0.0);
        }
        assert_eq!(raised_s(&kitchen, Alarm::RunningDry, 0), None);
    }
}

/// A blended pot over 25 kW/m², stirred every seven minutes and then left for 25; its base, where that
/// is measured, gets hotter by so much a minute from a minute after the stir. Seconds from the last stir
/// until an alert.
fn left_alone(rises_k_min: Option<f64>, seed: u64) -> impl Fn(Alarm) -> Option<i64> {
    let mut kitchen = Kitchen::boiling(SLOWLY, plan(&[]), seed);
    kitchen.flame_w = 3400.0;
    kitchen.base_k = rises_k_min.map(|_| 14.0);
    for _ in 0..6 {
        kitchen.stand(400);
        kitchen.stir(20, 0.0);
    }
    let stirred_s = kitchen.truth.last().unwrap().t_s;
    for second in 0..1500 {
        let lain_min = f64::from(second - 60).max(0.0) / 60.0;
        kitchen.base_k = rises_k_min.map(|rise| 14.0 + (rise * lain_min).min(80.0));
        kitchen.stand(1);
    }
    move |alarm| raised_s(&kitchen, alarm, stirred_s).map(|told_s| told_s - stirred_s)
}

// Common practice, no source: a soft pot is stirred every 5 to 10 minutes.
#[test]
fn a_pot_that_is_left_is_told_to_be_stirred_and_then_to_catch() {
    for seed in SEEDS {
        let after_s = left_alone(None, seed);
        let (due, catching) = (after_s(Alarm::StirDue), after_s(Alarm::Catching));
        println!("stir due after {due:?}, catching after {catching:?} s");
        assert!(due.is_some_and(|s| (180..=600).contains(&s)), "stir due after {due:?} s");
        assert!(catching > due, "catching after {catching:?} s");
    }
}

// A scale that fails while the spoon goes round must not keep the reminder silent.
#[test]
fn a_pot_whose_scale_fails_during_a_stir_is_still_told_to_be_stirred() {
    for (seed, fault) in SEEDS.zip([Line::Silent, Line::Fails(Fault::Absent), Line::Silent]) {
        let mut kitchen = Kitchen::boiling(SLOWLY, plan(&[]), seed);
        kitchen.flame_w = 3400.0;
        kitchen.stand(300);
        kitchen.stir(20, 0.0);
        kitchen.stand(300);
        kitchen.stir(20, 0.0);
        kitchen.stir(12, 0.0);
        kitchen.scale = fault;
        kitchen.stir(8, 0.0);
        let stirred_s = kitchen.truth.last().unwrap().t_s;
        let told = stirs(&kitchen);
        kitchen.stand(900);
        let due_s = raised_s(&kitchen, Alarm::StirDue, stirred_s).map(|s| s - stirred_s);
        assert!(due_s.is_some_and(|s| (120..=700).contains(&s)), "stir due after {due_s:?} s");
        kitchen.scale = Line::Well;
        kitchen.stand(120);
        assert!(stirs(&kitchen) <= told + 1, "one stir, told once: {:?}", events(&kitchen));
        let since_s = kitchen.shown.last().unwrap().since_stir_s.unwrap();
        assert!(since_s > 1000.0, "{since_s} s since the last stir");
    }
}

#[test]
fn a_probe_under_the_base_tells_a_clean_bottom_from_one_that_bakes() {
    for seed in SEEDS {
        let catching = |rises| left_alone(rises, seed)(Alarm::Catching);
        let (clean, bakes) = (catching(Some(0.0)), catching(Some(15.0)));
        println!("clean {clean:?}, baking {bakes:?}");
        assert_eq!(clean, None);
        let model = catching(None).unwrap();
        assert!(bakes.is_some_and(|s| s < model), "after {bakes:?} s, {model} s without it");
    }
}

/// The catch index `minutes` after a soft pot that was never blended, or one that was, is left alone. It
/// was stirred so often before that no stir said anything by its silence.
fn index_after(additions: &[(&str, f64)], minutes: i64, seed: u64) -> f64 {
    let mut kitchen = Kitchen::boiling(SLOWLY, plan(additions), seed);
    for _ in 0..8 {
        kitchen.stand(280);
        kitchen.stir(20, 0.0);
    }
    kitchen.stand(60 * minutes);
    kitchen.shown.last().unwrap().catch_index.unwrap()
}

#[test]
fn a_blended_pot_stands_longer_than_one_with_lumps() {
    for seed in SEEDS {
        let (lumps, smooth) =
            (index_after(&[("infusion", 1.1)], 8, seed), index_after(&[], 8, seed));
        assert!(smooth < 0.9 * lumps, "{smooth} and {lumps}");
    }
}

// Half a verdict that it was clean: who finds the bottom caught says so.
#[test]
fn a_stir_without_a_word_at_a_high_index_lets_the_pot_stand_longer() {
    for seed in SEEDS {
        let mut kitchen = Kitchen::boiling(SLOWLY, plan(&[]), seed);
        let index_after_10_min = |kitchen: &mut Kitchen| {
            kitchen.stand(60);
            kitchen.stir(20, 0.0);
            kitchen.stand(600);
            kitchen.shown.last().unwrap().catch_index.unwrap()
        };
        let before = index_after_10_min(&mut kitchen);
        kitchen.stand(900);
        let after = index_after_10_min(&mut kitchen);
        println!("{before} {after}");
        assert!(after < 0.97 * before, "{before} and then {after}");
    }
}

#[test]
fn the_cooks_verdict_moves_what_is_learnt_of_the_pot() {
    for seed in SEEDS {
        let learnt = |minutes: i64, says: CookSays| {
            let mut kitchen = Kitchen::boiling(SLOWLY, plan(&[]), seed);
            kitchen.stand(60 * minutes);
            kitchen.say(says);
            kitchen.learnt()
        };
        let (caught, clean) = (learnt(6, CookSays::ItCaught), learnt(15, CookSays::BottomClean));
        assert_eq!((caught.bottom_verdicts, clean.bottom_verdicts), (1, 1));
        assert!(caught.bottom_log_scale < -0.05, "{caught:?}");
        assert!(clean.bottom_log_scale > 0.05, "{clean:?}");
    }
}
