//! The process dies at any instant.

use std::fs;
use std::io::{BufRead, BufReader};

use dekchi::keep::library::Library;
use dekchi::moment::Moment;

use super::child;
use super::kitchen::{Chance, about, load, open};
use super::workload::{check, last_kept};

/// How often the child is killed; more by the environment for a long run.
#[expect(clippy::disallowed_methods, reason = "a long run is asked for by the environment")]
fn times() -> u64 {
    std::env::var("DEKCHI_KILLS").ok().and_then(|n| n.parse().ok()).unwrap_or(25)
}

/// Kills a child so often on one store; how many rounds were acknowledged.
#[expect(clippy::disallowed_methods, reason = "lets the child work for a random while")]
fn kill(times: u64, chance: &mut Chance) -> i64 {
    let directory = tempfile::tempdir().unwrap();
    fs::write(directory.path().join("rounds"), "100000").unwrap();
    let path = directory.path().join("dekchi.sqlite");
    let mut last = None;
    for _ in 0..times {
        let mut child = child::start("workload::cook_rounds", directory.path());
        std::thread::sleep(std::time::Duration::from_micros(20_000 + chance.below(180_000)));
        child.kill().unwrap();
        let printed = child.stdout.take().unwrap();
        child.wait().unwrap();
        last = last.max(last_kept(printed));
        if path.exists() {
            check(&path, last);
        }
    }
    last.map_or(0, |last| last + 1)
}

#[test]
fn nothing_acknowledged_is_lost_when_the_process_is_killed() {
    let mut chance = Chance::new(20_260_303);
    let (times, mut left, mut rounds) = (times(), times(), 0);
    while left > 0 {
        rounds += kill(left.min(25), &mut chance);
        left -= left.min(25);
    }
    eprintln!("{rounds} rounds kept over {times} kills");
    assert!(rounds > 0);
}

#[test]
#[expect(clippy::disallowed_methods, reason = "waits for the writer's thread")]
#[ignore = "runs as a child of the test of the last ten seconds"]
fn hand_samples_over() {
    let Some(directory) = child::directory() else { return };
    let keeper = open(&directory.join("dekchi.sqlite"));
    let batch = keeper.begin_batch(about(), Moment::default());
    keeper.flush();
    for tenth in 0..1_000_000 {
        keeper.event(batch, &load(40.0), Moment::from_ms(100 * tenth));
        // As on the board, where a writer with something to do is long done before the next sample.
        while keeper.health().waiting_rows > 0 {
            std::thread::sleep(std::time::Duration::from_micros(200));
        }
        println!("handed {}", 100 * tenth);
    }
}

#[test]
fn of_a_board_that_dies_at_most_the_last_ten_seconds_of_samples_are_missing() {
    let mut chance = Chance::new(10);
    let mut most_ms = 0;
    for _ in 0..12 {
        let directory = tempfile::tempdir().unwrap();
        let mut child = child::start("killed::hand_samples_over", directory.path());
        let lines = BufReader::new(child.stdout.take().unwrap());
        let after = 150 + chance.below(900) as usize;
        let handed = |line: String| line.strip_prefix("handed ")?.parse::<i64>().ok();
        let mut handed = lines.lines().map_while(Result::ok).filter_map(handed);
        let seen = handed.nth(after).unwrap();
        child.kill().unwrap();
        let last = handed.last().unwrap_or(seen);
        child.wait().unwrap();
        let samples = Library::open(&directory.path().join("dekchi.sqlite")).unwrap().samples(1);
        let kept = samples.unwrap().events.last().map_or(Moment::default(), |(at, _)| *at);
        most_ms = most_ms.max(last - kept.ms());
    }
    eprintln!("at most {most_ms} ms of samples were missing");
    assert!((1..=10_000).contains(&most_ms), "{most_ms}");
}
