//! The process dies at any instant.

use std::fs;

use super::child;
use super::kitchen::Chance;
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
