//! What was told is remembered by the store across restarts.

use dekchi::daemon::herald::{Remembered, standings};
use dekchi::keep::keeper::{Keeper, Room};
use dekchi::keep::library::Library;
use dekchi::keep::{About, Browser, Delivery, Start};
use dekchi::moment::{Moment, Wall};
use dekchi::tell::route::{Now, Person, Router, Way};
use dekchi::watch::action::{Action, Alarm, AlarmState, Notice};
use dekchi::watch::setting::Learnt;
use dekchi::watch::urgency::Priority;

fn raised() -> Notice {
    let (at, why) = (Moment::from_ms(60_000), "12 min since the last stir".to_owned());
    Notice { at, alarm: Alarm::Catching, state: AlarmState::Raised, why }
}

fn told(arrived: bool) -> Delivery {
    Delivery {
        at: Moment::from_ms(61_000),
        alarm: Alarm::Catching,
        raised: Moment::from_ms(60_000),
        person: "pass".into(),
        way: "mail".into(),
        because: "it is told at once".into(),
        attempts: 1,
        arrived,
        answer: "answered 250".into(),
    }
}

/// Keeps an alert and its delivery, cuts the power, and says what the next start would tell.
fn after_a_restart(deliveries: &[Delivery]) -> usize {
    let directory = tempfile::tempdir().unwrap();
    let path = directory.path().join("s.sqlite");
    let wall = Wall { utc_ms: 1_795_636_960_000, set: true };
    let start = Start { boot: "boot".into(), at: Moment::default(), wall };
    let (keeper, _) = Keeper::open(&path, start, Room::default()).unwrap();
    let about = About {
        pot: "big".into(),
        name: "Tuesday base".into(),
        kitchen_toml: String::new(),
        batch_toml: String::new(),
        learnt: Learnt::default(),
    };
    let key = keeper.begin_batch(about, Moment::default());
    keeper.action(key, &Action::Tell(raised()));
    deliveries.iter().for_each(|delivery| keeper.delivery(key, delivery.clone()));
    let browser = Browser {
        person: "pass".into(),
        endpoint: "https://push.example/1".into(),
        p256dh: "a".into(),
        auth: "b".into(),
    };
    keeper.browser(browser.clone());
    assert!(keeper.flush().trouble.is_none());
    let library = Library::open(&path).unwrap();
    assert_eq!(library.browsers().unwrap(), [browser]);
    let before = Remembered {
        notices: library.notices(1).unwrap(),
        deliveries: library.deliveries(1).unwrap(),
    };
    assert_eq!(before.deliveries, deliveries);
    drop(keeper);
    let mut router = Router::new(vec![Person {
        name: "pass".into(),
        ways: vec![Way::Mail],
        from: Priority::Medium,
        at_once: Priority::High,
        quiet: None,
        mail: None,
    }]);
    let now = Now { at: Moment::from_ms(500_000), minute: None, stove: true };
    for standing in standings(0, &before, Moment::from_ms(70_000), now.at) {
        router.remember(standing, &now);
    }
    assert!(router.confirm(0, Alarm::Catching));
    router.look(&now).len() + router.notice(0, &raised(), &now).len()
}

#[test]
fn what_arrived_before_the_restart_is_not_told_again() {
    assert_eq!(after_a_restart(&[told(true)]), 0);
}

#[test]
fn what_did_not_arrive_before_the_restart_is_told_after_it_once() {
    assert_eq!(after_a_restart(&[told(false)]), 1);
    assert_eq!(after_a_restart(&[]), 1);
}
