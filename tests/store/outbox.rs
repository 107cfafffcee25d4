//! What a broker has not acknowledged waits, in order, bounded, alerts for ever.

use std::path::Path;

use dekchi::keep::keeper::{Keeper, Room};
use dekchi::keep::{Letter, LetterKind};
use dekchi::moment::Moment;
use rusqlite::Connection;

use super::kitchen::{open, start};

fn letter(key: &str, kind: LetterKind) -> Letter {
    Letter {
        key: key.to_owned(),
        kind,
        at: Moment::from_ms(7_000),
        topic: "dekchi/board/big/reading".to_owned(),
        payload: format!("{{\"key\":\"{key}\"}}").into_bytes(),
    }
}

fn keys(keeper: &Keeper, limit: usize) -> Vec<String> {
    // What the writer has in hand is left out of a backlog until it is written.
    keeper.flush();
    keeper.backlog(limit).into_iter().map(|letter| letter.key).collect()
}

fn rows_ever(path: &Path) -> i64 {
    let db = Connection::open(path).unwrap();
    db.query_row("SELECT count(*) FROM outbox", [], |row| row.get(0)).unwrap()
}

#[test]
fn letters_outlive_a_restart_in_their_order_until_each_is_acknowledged() {
    let directory = tempfile::tempdir().unwrap();
    let path = directory.path().join("dekchi.sqlite");
    let keeper = open(&path);
    keeper.post(letter("r1", LetterKind::Telemetry));
    keeper.post(letter("a1", LetterKind::Alert));
    keeper.post(letter("r2", LetterKind::Telemetry));
    assert_eq!(keys(&keeper, 10), ["r1", "a1", "r2"]);
    keeper.close();
    let keeper = open(&path);
    assert_eq!(keeper.backlog(1), [letter("r1", LetterKind::Telemetry)]);
    keeper.acknowledged("r1");
    let left: Vec<_> = keeper.backlog(10).into_iter().map(|letter| letter.key).collect();
    assert_eq!(left, ["a1", "r2"]);
    keeper.post(letter("r3", LetterKind::Telemetry));
    assert_eq!(keys(&keeper, 10), ["a1", "r2", "r3"]);
    keeper.acknowledged("a1");
    keeper.acknowledged("r2");
    keeper.flush();
    assert_eq!(keys(&keeper, 10), ["r3"]);
    keeper.acknowledged("r3");
    keeper.close();
    assert_eq!(rows_ever(&path), 0);
}

#[test]
fn telemetry_that_is_acknowledged_before_the_next_commit_never_touches_the_disk() {
    let directory = tempfile::tempdir().unwrap();
    let path = directory.path().join("dekchi.sqlite");
    let keeper = open(&path);
    keeper.flush();
    let before = keeper.health();
    for n in 0..100 {
        keeper.post(letter(&n.to_string(), LetterKind::Telemetry));
        keeper.acknowledged(&n.to_string());
    }
    assert_eq!(keeper.health(), before);
}

#[test]
fn of_six_hours_without_a_broker_the_oldest_telemetry_goes_first_and_alerts_never() {
    let directory = tempfile::tempdir().unwrap();
    let path = directory.path().join("dekchi.sqlite");
    let room = Room { telemetry_rows: 500, ..Room::default() };
    let keeper = Keeper::open(&path, start(), room).unwrap().0;
    // A reading every ten seconds, an alert every hour.
    for n in 0..2160 {
        keeper.post(letter(&format!("r{n}"), LetterKind::Telemetry));
        if n % 360 == 0 {
            keeper.post(letter(&format!("a{n}"), LetterKind::Alert));
        }
        if n % 100 == 99 {
            assert!(keeper.flush().all_kept());
        }
    }
    keeper.close();
    let keeper = Keeper::open(&path, start(), room).unwrap().0;
    let mut sent = Vec::new();
    loop {
        let batch = keeper.backlog(64);
        if batch.is_empty() {
            break;
        }
        for letter in batch {
            keeper.acknowledged(&letter.key);
            sent.push(letter.key);
        }
    }
    let (alerts, readings): (Vec<_>, Vec<_>) = sent.into_iter().partition(|k| k.starts_with('a'));
    assert_eq!(alerts, ["a0", "a360", "a720", "a1080", "a1440", "a1800"]);
    let newest: Vec<_> = (1660..2160).map(|n| format!("r{n}")).collect();
    assert_eq!(readings, newest);
}

#[test]
fn a_letter_with_a_key_that_waits_already_is_not_kept_twice() {
    let directory = tempfile::tempdir().unwrap();
    let path = directory.path().join("dekchi.sqlite");
    let keeper = open(&path);
    keeper.post(letter("same", LetterKind::Event));
    keeper.post(letter("same", LetterKind::Event));
    let health = keeper.flush();
    assert!(health.all_kept() && health.lost_rows == 0);
    assert_eq!(keys(&keeper, 10), ["same"]);
}
