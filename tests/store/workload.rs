//! A cook at work, in a process that may die at any instant.
//!
//! Each round is ten seconds of one pot and one word of the cook's, numbered by the kilograms that
//! it names. A round is acknowledged, by a line on standard output, once the store says that all is
//! kept. Whatever happens to the process or the disk, every acknowledged round must be there
//! afterwards, once, and whole.

use std::io::{BufRead, BufReader, Read};
use std::path::Path;

use dekchi::keep::library::{Library, Unreadable};
use dekchi::moment::Moment;
use dekchi::watch::event::{CookSays, Event};
use rusqlite::Connection;

use super::child;
use super::kitchen::{Rig, about, open_somehow};

/// Events of one round, the word not counted.
pub const EVENTS_A_ROUND: usize = 120;

#[test]
#[ignore = "runs as a child of the tests that kill it or break its disk"]
fn cook_rounds() {
    let Some(directory) = child::directory() else { return };
    let rounds: i64 = std::fs::read_to_string(directory.join("rounds")).unwrap().parse().unwrap();
    cook(&directory.join("dekchi.sqlite"), rounds);
}

fn cook(path: &Path, rounds: i64) {
    let keeper = open_somehow(path);
    let before = keeper_rounds(path);
    let batch = keeper.begin_batch(about(), Moment::default());
    let mut rig = Rig::new(7);
    for n in 0..rounds {
        rig.ten_seconds(&keeper, batch, n);
        let says = CookSays::ThatWas { kg: Some((before + n) as f64), name: None };
        keeper.word(batch, &says, "test", Moment::from_ms(n * 10_000 + 9_999));
        if keeper.flush().all_kept() {
            println!("\nkept {}", before + n);
        }
    }
    if keeper.close().all_kept() {
        println!("\nclosed {}", before + rounds);
    }
}

/// How many rounds a store has from earlier processes.
fn keeper_rounds(path: &Path) -> i64 {
    let words = all_words(path);
    words.last().map_or(0, |last| last + 1)
}

fn all_words(path: &Path) -> Vec<i64> {
    let Ok(library) = Library::open(path) else { return Vec::new() };
    let mut numbers = Vec::new();
    let mut batches = library.list().unwrap();
    batches.sort_by_key(|entry| entry.number);
    for entry in batches {
        for word in library.words(entry.number).unwrap() {
            if let CookSays::ThatWas { kg: Some(n), .. } = word.says {
                numbers.push(n as i64);
            }
        }
    }
    numbers
}

/// The last round that was acknowledged in what a child printed; `None` for none.
pub fn last_kept(printed: impl Read) -> Option<i64> {
    let lines = BufReader::new(printed).lines().map_while(Result::ok);
    let kept = |line: String| -> Option<i64> {
        let closed = line.strip_prefix("closed ").and_then(|n| n.parse::<i64>().ok());
        closed.map(|rounds| rounds - 1).or_else(|| line.strip_prefix("kept ")?.parse().ok())
    };
    lines.filter_map(kept).max()
}

/// Sees that the store is sound and has every round up to `acknowledged`, each once and whole.
pub fn check(path: &Path, acknowledged: Option<i64>) {
    let sound: String = Connection::open(path)
        .unwrap()
        .query_row("PRAGMA integrity_check", [], |row| row.get(0))
        .unwrap();
    assert_eq!(sound, "ok");
    let words = all_words(path);
    let expected: Vec<i64> = (0..words.len() as i64).collect();
    assert_eq!(words, expected);
    let needed = acknowledged.map_or(0, |n| n + 1);
    assert!(words.len() as i64 >= needed, "{} of {needed} rounds", words.len());
    let library = match Library::open(path) {
        Err(Unreadable::Missing(_)) if needed == 0 => return,
        library => library.unwrap(),
    };
    for entry in library.list().unwrap() {
        let samples = library.samples(entry.number).unwrap();
        let said = library.words(entry.number).unwrap().len();
        let told = samples.events.iter().filter(|(_, event)| !matches!(event, Event::Cook(_)));
        assert_eq!(samples.damaged, 0);
        // Up to the last acknowledged round all samples are there; of the one after it, which may
        // have been cut short, any part.
        assert!(told.count() >= said.saturating_sub(1) * EVENTS_A_ROUND);
    }
}
