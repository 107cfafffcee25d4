//! Small pots whose figures can be counted by hand.

use super::*;
use crate::watch::action::{Lid, Sensor};

fn at(t_s: f64) -> Moment {
    Moment::from_seconds(t_s).unwrap()
}

/// An hour and a half that loses 3 kg/h from 20 kg; the target is reached at 4800 s.
fn truth(events: &[(f64, &str, f64, Option<f64>)]) -> Truth {
    let steps = 0..=540;
    let events = events.iter().map(|(t_s, what, secs, kg)| TrueEvent {
        t_s: *t_s,
        what: (*what).to_owned(),
        secs: *secs,
        kg: *kg,
        name: (*what == "added").then(|| "cream".to_owned()),
        watts: (*what == "flame").then_some(0.0),
        sensor: None,
    });
    Truth {
        secs: 5400.0,
        step_s: 10.0,
        contents_kg: steps.clone().map(|n| 20.0 - f64::from(n) / 120.0).collect(),
        water_kg: steps.clone().map(|n| 18.0 - f64::from(n) / 120.0).collect(),
        evaporation_kg_h: steps.map(|_| 3.0).collect(),
        pot_c: Vec::new(),
        boil_c: None,
        events: events.collect(),
        caught_s: None,
        target_s: Some(4800.0),
    }
}

/// Readings that say too much by a tenth of the time left and of the evaporation, and by 0.1 kg.
fn readings() -> Vec<Snapshot> {
    let reading = |n: u32| {
        let t_s = f64::from(n) * 10.0;
        let left_s = f64::max(4800.0 - t_s, 0.0);
        Snapshot {
            at: at(t_s),
            contents_kg: Some(20.1 - t_s / 1200.0),
            evaporation_kg_h: Some(3.3),
            target_in_s: Some(Spread { p10: left_s, p50: 1.1 * left_s, p90: 1.3 * left_s }),
            lid: Some(Lid::Off),
            ..Snapshot::default()
        }
    };
    (0..=540).map(reading).collect()
}

fn happening(t_s: f64, seen_s: f64, what: What) -> Happening {
    Happening { at: at(t_s), seen: at(seen_s), what }
}

fn added(kg: f64, name: Option<&str>) -> What {
    What::Added { kg, sd_kg: 0.01, name: name.map(str::to_owned) }
}

fn notice(t_s: f64, alarm: Alarm, state: AlarmState) -> Notice {
    Notice { at: at(t_s), alarm, state, why: String::new() }
}

#[test]
fn readings_that_are_off_by_a_tenth_come_out_as_a_tenth() {
    let said = Said { readings: readings(), ..Said::default() };
    let tally = Tally::of(&truth(&[]), &said);
    let errors: Vec<_> = tally.forecasts.iter().flatten().map(Forecast::error).collect();
    assert_eq!(errors.len(), 4);
    assert!(errors.iter().all(|error| (error - 0.1).abs() < 1e-9), "{errors:?}");
    assert!(tally.forecasts.iter().flatten().all(Forecast::is_covered));
    assert!(tally.evaporation.iter().all(|error| (error - 0.1).abs() < 1e-9));
    assert!(tally.contents.iter().all(|error| (error - 0.005).abs() < 1e-9));
    assert_eq!((tally.contents.len(), tally.evaporation.len()), (541, 511));
}

#[test]
fn a_forecast_that_would_be_too_early_to_make_is_not_asked_for() {
    let early = Truth { target_s: Some(2000.0), ..truth(&[]) };
    let tally = Tally::of(&early, &Said { readings: readings(), ..Said::default() });
    assert_eq!(tally.forecasts.each_ref().map(Vec::len), [0, 0, 1, 1]);
}

#[test]
fn a_target_is_told_in_time_too_early_or_never() {
    let reached = |t_s| notice(t_s, Alarm::TargetReached, AlarmState::Raised);
    let tally_of = |truth: &Truth, notices| Tally::of(truth, &Said { notices, ..Said::default() });
    let told = tally_of(&truth(&[]), vec![reached(4190.0), reached(4860.0), reached(5300.0)]);
    assert_eq!((&told.reached_after_s[..], told.false_reached), (&[60.0][..], 1));
    let untold = tally_of(&truth(&[]), Vec::new());
    assert_eq!(untold.reached_after_s, [f64::INFINITY]);
    let never = tally_of(&Truth { target_s: None, ..truth(&[]) }, vec![reached(5000.0)]);
    assert_eq!((never.reached_after_s.len(), never.false_reached), (0, 1));
}

#[test]
fn the_minutes_around_handling_do_not_count_for_the_curve() {
    let said = Said { readings: readings(), ..Said::default() };
    let tally = Tally::of(&truth(&[(1000.0, "stirred", 30.0, None)]), &said);
    // 990 to 1150 s for evaporation, 990 to 1090 s for contents, both ends counted.
    assert_eq!(tally.evaporation.len(), 511 - 17);
    assert_eq!(tally.contents.len(), 541 - 11);
    assert_eq!(tally.contents_always.len(), 541);
}

#[test]
fn what_is_not_said_where_it_could_be_known_counts_as_wrong() {
    let silent = Snapshot { at: at(1000.0), ..Snapshot::default() };
    let tally = Tally::of(&truth(&[]), &Said { readings: vec![silent], ..Said::default() });
    assert_eq!((&tally.evaporation[..], &tally.contents[..]), (&[-1.0][..], &[1.0][..]));
    assert!(tally.forecasts.iter().flatten().all(|forecast| forecast.error().is_infinite()));
}

#[test]
fn additions_and_ladlings_are_found_missed_and_made_up() {
    let handled = truth(&[
        (1000.0, "added", 5.0, Some(0.8)),
        (2000.0, "taken", 4.0, Some(0.4)),
        (3000.0, "taken", 4.0, Some(0.1)),
    ]);
    let truth = Truth { target_s: None, ..handled };
    let happenings = vec![
        happening(1003.0, 1035.0, added(0.79, Some("cream"))),
        happening(2500.0, 2530.0, added(0.3, None)),
        happening(3000.0, 3030.0, What::Taken { kg: 0.15, sd_kg: 0.01 }),
    ];
    let tally = Tally::of(&truth, &Said { happenings, ..Said::default() });
    assert_eq!(tally.moves, Found { there: 2, found: 1 });
    assert_eq!(tally.names, Found { there: 1, found: 1 });
    assert_eq!(tally.false_moves, 1);
    assert_eq!(tally.told_after_s, [30.0]);
    assert!((tally.moves_kg[0] - 0.01).abs() < 1e-12);
    assert_eq!(
        tally.misses,
        ["2000 s: taken 0.400 kg of something missed", "2500 s: added of 0.300 kg made up"]
    );
}

#[test]
fn lids_and_stirs_are_found_missed_and_made_up() {
    let truth = truth(&[
        (500.0, "lid-on", 0.0, None),
        (1000.0, "stirred", 25.0, None),
        (2000.0, "stirred", 25.0, None),
        (3000.0, "blended", 300.0, None),
    ]);
    let happenings = vec![
        happening(505.0, 520.0, What::LidOff),
        happening(1010.0, 1050.0, What::Stirred { for_s: 20.0 }),
        happening(2500.0, 2550.0, What::Stirred { for_s: 20.0 }),
        happening(3100.0, 3150.0, What::Stirred { for_s: 20.0 }),
    ];
    let tally = Tally::of(&truth, &Said { happenings, ..Said::default() });
    assert_eq!((tally.lids, tally.false_lids), (Found { there: 1, found: 0 }, 1));
    assert_eq!((tally.stirs, tally.false_stirs), (Found { there: 2, found: 1 }, 1));
    assert_eq!(tally.blends, Found { there: 1, found: 0 });
}

#[test]
fn a_warning_counts_from_the_last_stir_to_the_catch() {
    let caught = Truth { caught_s: Some(3025.0), ..truth(&[(2000.0, "stirred", 25.0, None)]) };
    let tally_of = |notices| Tally::of(&caught, &Said { notices, ..Said::default() });
    let late = tally_of(vec![notice(2525.0, Alarm::StirDue, AlarmState::Raised)]);
    assert_eq!((late.catches, &late.warned_at[..]), (Found { there: 1, found: 1 }, &[0.5][..]));
    let standing = tally_of(vec![notice(1500.0, Alarm::StirDue, AlarmState::Raised)]);
    assert_eq!(standing.warned_at, [0.0]);
    let cleared = tally_of(vec![
        notice(1500.0, Alarm::StirDue, AlarmState::Raised),
        notice(2010.0, Alarm::StirDue, AlarmState::Cleared),
        notice(3030.0, Alarm::Catching, AlarmState::Raised),
    ]);
    assert_eq!(cleared.catches, Found { there: 1, found: 0 });
    assert_eq!((cleared.alerts, cleared.early_catching), (2, 0));
}

#[test]
fn a_cry_of_catching_in_a_tended_pot_is_false() {
    let notices = vec![
        notice(2000.0, Alarm::Catching, AlarmState::Raised),
        notice(4000.0, Alarm::Catching, AlarmState::Raised),
    ];
    let tally = Tally::of(&truth(&[]), &Said { notices, ..Said::default() });
    assert_eq!((tally.tended_catching, tally.early_catching), (2, 1));
    assert_eq!((tally.tended_hours, tally.early_hours), (1.5, 0.75));
}

#[test]
fn a_flame_out_a_failed_sensor_and_a_dry_pot_must_be_told_in_time() {
    let mut dry = truth(&[(1000.0, "flame", 0.0, None), (2000.0, "sensor-fault", 0.0, None)]);
    dry.water_kg = (0..=540).map(|n| if n < 400 { 18.0 } else { 0.5 }).collect();
    let fault = What::SensorFault { sensor: Sensor::Probe, why: "does not answer" };
    let said = |cold_s, fault_s, dry_s| Said {
        readings: Vec::new(),
        happenings: vec![happening(2000.0, fault_s, fault.clone())],
        notices: vec![
            notice(cold_s, Alarm::GoingCold, AlarmState::Raised),
            notice(dry_s, Alarm::RunningDry, AlarmState::Raised),
        ],
    };
    let in_time = Tally::of(&dry, &said(1290.0, 2050.0, 3400.0));
    let all = Found { there: 1, found: 1 };
    assert_eq!((in_time.flame_out, in_time.faults, in_time.dry), (all, all, all));
    let mut of_the_scale = dry.clone();
    of_the_scale.events[1].sensor = Some("scale".to_owned());
    let other = Tally::of(&of_the_scale, &said(1290.0, 2050.0, 3400.0));
    assert_eq!(other.faults, Found { there: 1, found: 0 });
    let late = Tally::of(&dry, &said(1310.0, 2061.0, 3401.0));
    let none = Found { there: 1, found: 0 };
    assert_eq!((late.flame_out, late.faults, late.dry), (none, none, none));
    let held = Truth { pot_c: vec![70.0; 541], boil_c: Some(99.0), ..dry };
    assert_eq!(Tally::of(&held, &said(1290.0, 2050.0, 3400.0)).flame_out, Found::default());
}

#[test]
fn two_recordings_add_up_to_their_samples() {
    let said = Said { readings: readings(), ..Said::default() };
    let one = Tally::of(&truth(&[(1000.0, "stirred", 25.0, None)]), &said);
    let mut both = one.clone();
    both.add(&one);
    assert_eq!(both.stirs, Found { there: 2, found: 0 });
    assert_eq!(both.hours, 3.0);
    assert_eq!(both.contents.len(), 2 * one.contents.len());
    assert_eq!(both.forecasts[0].len(), 2);
}
