use super::*;

fn state(flux: f64) -> State {
    State {
        pot_c: 98.0,
        flux: Some(flux),
        total_solids: TYPICAL_SOLIDS,
        base_c: None,
        hidden: false,
    }
}

fn left_until(index: f64, flux: f64, start: [f64; 5]) -> u32 {
    let mut bottom = Bottom { starts: start, ..Bottom::new(Some(98.0), 0.0) };
    let mut seconds = 0;
    while bottom.index() < index && seconds < 20_000 {
        bottom.second(&state(flux));
        seconds += 1;
    }
    seconds
}

const RAW: [f64; 5] = [1.0, 0.0, 0.0, 0.0, 0.0];
const SOFT: [f64; 5] = [0.0, 0.0, 0.0, 0.0, 1.0];

#[test]
fn a_soft_pot_over_the_usual_flame_stands_for_the_time_of_the_trades_rule() {
    let seconds = left_until(1.0, REFERENCE_FLUX, SOFT);
    assert!((f64::from(seconds) - REFERENCE_S).abs() < 12.0, "{seconds}");
}

/// Common practice, no source: an unstirred pot is safe for the first 40 to 60 minutes, half of
/// which it takes to boil.
#[test]
fn a_raw_pot_never_stirred_stands_for_the_time_of_the_trades_rule() {
    let mut bottom = Bottom { starts: RAW, ..Bottom::new(Some(20.0), 0.0) };
    let mut t: i32 = 0;
    while bottom.index() < 1.0 && t < 20_000 {
        let pot_c = (20.0 + f64::from(t) * 78.0 / 1500.0).min(98.0);
        bottom.second(&State { pot_c, ..state(REFERENCE_FLUX) });
        t += 1;
    }
    assert!((2400..=3600).contains(&t), "{t} s");
    assert!((t - 2940).abs() < 60, "{t} s, the middle of the rule is 49 min");
}

/// Common practice, no source: once soft, a stir every 5 to 10 minutes. The cook is asked before.
#[test]
fn a_soft_pot_is_due_for_a_stir_at_about_half_the_time_that_it_stands() {
    let share = f64::from(left_until(DUE, REFERENCE_FLUX, SOFT)) / REFERENCE_S;
    assert!((0.4..=0.6).contains(&share), "{share}");
}

#[test]
fn a_higher_flame_catches_sooner() {
    assert!(left_until(1.0, 25_000.0, SOFT) < left_until(1.0, 12_000.0, SOFT));
}

#[test]
fn a_stir_takes_the_danger_away() {
    let mut bottom = Bottom::new(Some(98.0), 0.0);
    (0..500).for_each(|_| bottom.second(&state(16_000.0)));
    let before = bottom.index();
    bottom.stirred();
    assert!(bottom.index() < 0.11 * before);
    assert!(bottom.stir_within_s().unwrap() > 120.0);
}

#[test]
fn a_cook_who_stirs_every_seven_minutes_has_a_soft_pot_before_him() {
    let softness = |gap: u32| {
        let mut bottom = Bottom::new(Some(90.0), 0.0);
        for _ in 0..3 {
            (0..gap).for_each(|_| bottom.second(&State { pot_c: 85.0, ..state(12_000.0) }));
            bottom.stirred();
        }
        bottom.softness()
    };
    assert!(softness(420) > softness(1000) + 0.15);
}

#[test]
fn a_base_probe_is_believed_before_the_model() {
    let left = |layer_k: f64| {
        let mut bottom = Bottom { starts: SOFT, ..Bottom::new(Some(98.0), 0.0) };
        for s in 0..900 {
            let base_c = 98.0 + 12.0 + if s < 60 { 0.0 } else { layer_k };
            bottom.second(&State { base_c: Some(base_c), ..state(20_000.0) });
        }
        bottom.index()
    };
    assert!(left(1.0) < 0.5, "{}", left(1.0));
    assert!(left(45.0) > 3.0, "{}", left(45.0));
}

#[test]
fn verdicts_move_this_pots_threshold_the_right_way() {
    assert!(Bottom::learn(0.0, 0, 0.6, true) < -0.1);
    assert!(Bottom::learn(0.0, 0, 1.4, false) > 0.1);
    let settled = Bottom::learn(0.0, 20, 1.4, false);
    assert!(settled > 0.0 && settled < 0.05);
}

#[test]
fn a_cold_pot_never_catches() {
    let mut bottom = Bottom::new(Some(20.0), 0.0);
    (0..7200).for_each(|_| bottom.second(&State { pot_c: 40.0, ..state(0.0) }));
    assert_eq!(bottom.index(), 0.0);
}

/// Common practice, no source: a soft pot is stirred every 5 to 10 minutes.
#[test]
fn a_pot_stirred_two_minutes_ago_is_not_told_to_catch_unless_a_probe_under_it_says_so() {
    let hot = state(34_000.0);
    let stirred = |base_c: Option<f64>, for_s: u32| {
        let mut bottom = Bottom { starts: SOFT, ..Bottom::new(Some(98.0), 0.0) };
        for s in 0..for_s {
            let base_c = base_c.filter(|_| s > 60).or_else(|| base_c.map(|_| 110.0));
            bottom.second(&State { base_c, ..hot });
        }
        assert!(bottom.index() > AT_ONCE.0, "{}", bottom.index());
        bottom.is_catching()
    };
    assert!(!stirred(None, 160));
    assert!(stirred(None, 190));
    assert!(stirred(Some(190.0), 160));
}
