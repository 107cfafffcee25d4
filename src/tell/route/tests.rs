use super::*;
use proptest::prelude::*;

const HIGH: Alarm = Alarm::Catching;
const MEDIUM: Alarm = Alarm::StirDue;

fn person(ways: &[Way]) -> Person {
    Person {
        name: "pass".into(),
        ways: ways.to_vec(),
        from: Priority::Medium,
        at_once: Priority::High,
        quiet: None,
        mail: None,
    }
}

fn notice(alarm: Alarm, state: AlarmState, at_s: i64) -> Notice {
    Notice { at: Moment::from_ms(at_s * 1000), alarm, state, why: "why".into() }
}

fn now(at_s: i64) -> Now {
    Now { at: Moment::from_ms(at_s * 1000), minute: Some(12 * 60), stove: true }
}

fn raise(router: &mut Router, alarm: Alarm, at_s: i64) -> Vec<Errand> {
    router.notice(0, &notice(alarm, AlarmState::Raised, at_s), &now(at_s))
}

const BOTH: &[Way] = &[Way::Push, Way::Mail];

#[test]
fn danger_is_told_at_once_and_once() {
    let mut router = Router::new(vec![person(BOTH)]);
    let told = raise(&mut router, HIGH, 10);
    assert_eq!(told.len(), 1);
    assert_eq!((told[0].way, &told[0].because), (Way::Push, &Because::AtOnce));
    assert!(raise(&mut router, HIGH, 11).is_empty());
    assert_eq!(router.outcome(told[0].clone(), None, &now(12)), None);
    assert!((12..5000).all(|t| router.look(&now(t)).is_empty()));
}

#[test]
fn what_the_stove_answers_never_reaches_the_phone() {
    let mut router = Router::new(vec![person(BOTH)]);
    assert!(raise(&mut router, MEDIUM, 0).is_empty());
    assert!(router.look(&now(299)).is_empty());
    let seen = notice(MEDIUM, AlarmState::Acknowledged, 299);
    assert!(router.notice(0, &seen, &now(299)).is_empty());
    assert!(router.look(&now(4000)).is_empty());
}

#[test]
fn what_nobody_answers_in_its_time_goes_to_the_phone() {
    let mut router = Router::new(vec![person(BOTH)]);
    assert!(raise(&mut router, MEDIUM, 0).is_empty());
    let told = router.look(&now(300));
    assert_eq!(told[0].because, Because::Unanswered);
}

#[test]
fn without_a_lamp_or_page_the_phone_is_told_at_once() {
    let mut router = Router::new(vec![person(BOTH)]);
    let dark = Now { stove: false, ..now(0) };
    let told = router.notice(0, &notice(MEDIUM, AlarmState::Raised, 0), &dark);
    assert_eq!(told[0].because, Because::NoStove);
}

#[test]
fn quiet_hours_keep_back_a_stir_and_never_danger() {
    let night = Quiet { from_min: 22 * 60, to_min: 6 * 60 };
    let sleeper = Person { quiet: Some(night), at_once: Priority::Medium, ..person(BOTH) };
    let mut router = Router::new(vec![sleeper]);
    let at_three = Now { minute: Some(3 * 60), ..now(0) };
    assert!(router.notice(0, &notice(MEDIUM, AlarmState::Raised, 0), &at_three).is_empty());
    let danger = router.notice(0, &notice(HIGH, AlarmState::Raised, 1), &at_three);
    assert_eq!(danger.len(), 1);
    let morning = router.look(&Now { minute: Some(6 * 60), ..now(10_800) });
    assert_eq!(morning[0].because, Because::QuietIsOver);
}

#[test]
fn a_board_that_does_not_know_the_time_keeps_nothing_back() {
    let always = Quiet { from_min: 0, to_min: 1440 };
    let sleeper = Person { quiet: Some(always), at_once: Priority::Medium, ..person(BOTH) };
    let mut router = Router::new(vec![sleeper]);
    let lost = Now { minute: None, ..now(0) };
    assert_eq!(router.notice(0, &notice(MEDIUM, AlarmState::Raised, 0), &lost).len(), 1);
}

#[test]
fn quiet_hours_may_go_over_midnight() {
    let night = Quiet { from_min: 1320, to_min: 360 };
    assert!(night.holds(1320) && night.holds(0) && night.holds(359));
    assert!(!night.holds(360) && !night.holds(1319));
}

#[test]
fn a_way_that_fails_falls_to_the_next_which_says_so_and_the_next_alert_takes_that_first() {
    let mut router = Router::new(vec![person(BOTH)]);
    let first = raise(&mut router, HIGH, 0).remove(0);
    let second = router.outcome(first, Some("refused"), &now(20)).unwrap();
    assert_eq!((second.way, second.failed.as_slice()), (Way::Mail, &[Way::Push][..]));
    assert_eq!(router.down().collect::<Vec<_>>(), [(Way::Push, "refused")]);
    assert_eq!(router.outcome(second, None, &now(21)), None);
    assert_eq!(raise(&mut router, Alarm::BoilingOver, 30)[0].way, Way::Mail);
}

#[test]
fn where_every_way_fails_all_are_tried_again() {
    let mut router = Router::new(vec![person(&[Way::Mail])]);
    let first = raise(&mut router, HIGH, 0).remove(0);
    assert_eq!(router.outcome(first, Some("refused"), &now(20)), None);
    assert!(router.look(&now(79)).is_empty());
    assert_eq!(router.look(&now(80)).len(), 1);
}

#[test]
fn who_was_told_hears_that_it_is_over_and_nobody_else() {
    let mut router = Router::new(vec![person(BOTH), person(&[Way::Mail])]);
    let told = raise(&mut router, HIGH, 0);
    assert_eq!(router.outcome(told[0].clone(), None, &now(1)), None);
    let over = router.notice(0, &notice(HIGH, AlarmState::Cleared, 60), &now(60));
    assert_eq!(over.len(), 1);
    assert_eq!((over[0].person, &over[0].because), (0, &Because::Over));
    assert_eq!(over[0].raised, Moment::from_ms(0));
}

#[test]
fn a_reminder_that_gives_way_to_a_louder_alert_is_not_told_to_be_over() {
    let mut router = Router::new(vec![Person { at_once: Priority::Medium, ..person(BOTH) }]);
    let told = raise(&mut router, Alarm::StirDue, 0).remove(0);
    assert_eq!(router.outcome(told, None, &now(1)), None);
    assert_eq!(raise(&mut router, Alarm::Catching, 60).len(), 1);
    let cleared = |alarm| notice(alarm, AlarmState::Cleared, 60);
    assert!(router.notice(0, &cleared(Alarm::StirDue), &now(60)).is_empty());
    // Alone it would be.
    let told = raise(&mut router, Alarm::StirDue, 90).remove(0);
    assert_eq!(router.outcome(told, None, &now(91)), None);
    let _ = router.notice(0, &cleared(Alarm::Catching), &now(95));
    assert_eq!(router.notice(0, &cleared(Alarm::StirDue), &now(96)).len(), 1);
}

fn remembered(state: AlarmState, told: &[(String, Way)]) -> Router {
    let mut router = Router::new(vec![person(BOTH)]);
    let before = Standing {
        pot: 0,
        notice: notice(HIGH, state, 50),
        raised: Moment::from_ms(50_000),
        since: Moment::from_ms(50_000),
        told: told.to_vec(),
    };
    router.remember(before, &now(100));
    router
}

#[test]
fn after_a_restart_nothing_is_told_twice() {
    let mut router = remembered(AlarmState::Raised, &[("pass".into(), Way::Push)]);
    assert!(router.confirm(0, HIGH));
    assert!(router.look(&now(101)).is_empty());
    // The last seconds before a power cut may be lost: then it is raised anew.
    assert!(raise(&mut router, HIGH, 110).is_empty());
}

#[test]
fn after_a_restart_what_was_not_told_yet_is_told() {
    let mut router = remembered(AlarmState::Raised, &[]);
    assert!(router.look(&now(101)).is_empty(), "not before it is known to stand");
    assert!(router.confirm(0, HIGH));
    assert_eq!(router.look(&now(102)).len(), 1);
}

#[test]
fn what_is_not_raised_again_after_a_restart_is_forgotten() {
    let mut router = remembered(AlarmState::Raised, &[("pass".into(), Way::Push)]);
    assert!(router.look(&now(300)).is_empty());
    assert_eq!(raise(&mut router, HIGH, 400).len(), 1);
}

proptest! {
    /// However ways fail and whatever the cook does: a danger that stands unanswered is told, and no
    /// alert is told to anybody twice.
    #[test]
    fn no_danger_is_lost_and_none_is_told_twice(
        turns in proptest::collection::vec((0..5_u8, 1..90_i64, any::<bool>()), 1..80),
    ) {
        let mut router = Router::new(vec![person(BOTH)]);
        let (mut t, mut told) = (0, 0);
        let mut open: Vec<Errand> = Vec::new();
        let (mut stands, mut seen) = (false, false);
        for (turn, pass_s, works) in turns {
            t += pass_s;
            let state = match turn {
                0 if !stands => { (stands, seen, told) = (true, false, 0); Some(AlarmState::Raised) }
                1 if stands => { seen = true; Some(AlarmState::Acknowledged) }
                2 if stands => { stands = false; Some(AlarmState::Cleared) }
                _ => None,
            };
            match state {
                Some(state) => open.extend(router.notice(0, &notice(HIGH, state, t), &now(t))),
                None => open.extend(router.look(&now(t))),
            }
            for errand in std::mem::take(&mut open) {
                if works && errand.because != Because::Over && stands {
                    told += 1;
                }
                open.extend(router.outcome(errand, (!works).then_some("down"), &now(t)));
            }
            prop_assert!(told <= 1);
        }
        for _ in 0..4 {
            t += 61;
            open.extend(router.look(&now(t)));
            for errand in std::mem::take(&mut open) {
                told += u32::from(errand.because != Because::Over);
                open.extend(router.outcome(errand, None, &now(t)));
            }
        }
        if stands && !seen {
            prop_assert_eq!(told, 1);
        }
    }
}
