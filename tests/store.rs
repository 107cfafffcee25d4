//! The store: what was handed over is there again, whatever the disk does.

#![cfg(test)]

use std::path::Path;

use dekchi::keep::keeper::{Keeper, Room};
use dekchi::keep::library::Library;
use dekchi::keep::{About, Outcome, Start};
use dekchi::moment::{Moment, Wall};
use dekchi::quantity::{Celsius, Kilograms};
use dekchi::reading::Fault;
use dekchi::watch::event::{CookSays, Event};
use dekchi::watch::setting::Learnt;

/// 2026-03-03 09:00:00 UTC.
const NINE_ON_TUESDAY_MS: i64 = 1_772_528_400_000;

fn start() -> Start {
    let wall = Wall { utc_ms: NINE_ON_TUESDAY_MS, set: true };
    Start { boot: "3f0c".to_owned(), at: Moment::from_ms(5_000), wall }
}

fn open(path: &Path) -> Keeper {
    Keeper::open(path, start(), Room::default()).unwrap().0
}

fn about() -> About {
    About {
        pot: "big".to_owned(),
        name: "Tuesday base".to_owned(),
        kitchen_toml: "[site]\naltitude_m = 40.0\n".to_owned(),
        batch_toml: "name = \"Tuesday base\"\n".to_owned(),
        learnt: Learnt { bottom_log_scale: 0.25, bottom_verdicts: 3 },
    }
}

fn load(kg: f64) -> Event {
    Event::Load(Ok(Kilograms::new(kg).unwrap()))
}

#[test]
fn a_batch_comes_back_as_the_judgement_was_given_it() {
    let directory = tempfile::tempdir().unwrap();
    let path = directory.path().join("dekchi.sqlite");
    let keeper = open(&path);
    let batch = keeper.begin_batch(about(), Moment::from_ms(7_000));
    let mut told = Vec::new();
    for n in 0..400_i64 {
        let at = batch.time(Moment::from_ms(7_000 + 100 * n));
        let mut events = vec![load(43.0 - 0.001 * (n % 17) as f64)];
        if n % 10 == 0 {
            events.push(Event::Probe(Ok(Celsius::new(97.0 + 0.0625 * (n % 3) as f64).unwrap())));
        }
        if n == 250 {
            events.push(Event::Probe(Err(Fault::Absent)));
            events.push(Event::Tick);
            events.push(Event::Cook(CookSays::BottomClean));
        }
        for event in events {
            keeper.event(batch, &event, at);
            told.push((at, event));
        }
    }
    keeper.end_batch(batch, Moment::from_ms(40_000), Outcome::Done);
    assert!(keeper.close().all_kept());

    let library = Library::open(&path).unwrap();
    let list = library.list().unwrap();
    assert_eq!(list.len(), 1);
    assert_eq!((list[0].number, list[0].lasted_s), (1, 40.0));
    assert_eq!(list[0].began, Wall { utc_ms: NINE_ON_TUESDAY_MS + 2_000, set: true });
    assert_eq!(list[0].outcome.as_deref(), Some("done"));
    let samples = library.samples(1).unwrap();
    assert_eq!(samples.damaged, 0);
    assert_eq!(samples.events, told);
}
