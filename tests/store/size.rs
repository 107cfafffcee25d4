//! How much is written.

use std::fs;

use dekchi::keep::Outcome;
use dekchi::moment::Moment;

use super::child;
use super::kitchen::{Rig, about, open};
use super::powercut::in_memory;

const POT_HOUR: i64 = 360;

/// What a process has handed to the kernel to be written, bytes.
fn written() -> u64 {
    let io = fs::read_to_string("/proc/self/io").unwrap();
    let line = io.lines().find(|line| line.starts_with("wchar:")).unwrap();
    line.rsplit(' ').next().unwrap().parse().unwrap()
}

#[test]
#[expect(clippy::disallowed_methods, reason = "waits for the writer's thread")]
#[ignore = "runs as a child of the test of the pot-hour's size"]
fn keep_an_hour_of_several_pots() {
    let Some(directory) = child::directory() else { return };
    let pots: usize = fs::read_to_string(directory.join("pots")).unwrap().parse().unwrap();
    let path = directory.join("dekchi.sqlite");
    let keeper = open(&path);
    let mut rigs: Vec<_> = (0..pots)
        .map(|n| (Rig::new(n as u64), keeper.begin_batch(about(), Moment::default())))
        .collect();
    keeper.flush();
    let before = written();
    for n in 0..POT_HOUR {
        for (rig, batch) in &mut rigs {
            rig.ten_seconds(&keeper, *batch, n);
        }
        // As on the board, where the writer is long done when the next ten seconds are; snapshots wait
        // for the commit after.
        for _ in 0..50 {
            if keeper.health().waiting_rows > 0 {
                std::thread::sleep(std::time::Duration::from_millis(1));
            }
        }
    }
    for (_, batch) in rigs {
        keeper.end_batch(batch, Moment::from_ms(3_600_000), Outcome::Done);
    }
    keeper.close();
    let after = written();
    let size = fs::metadata(&path).unwrap().len();
    let figures = format!("{} {size}", after - before);
    fs::write(directory.join("figures"), figures).unwrap();
}

/// Bytes a pot-hour: handed to the kernel, and in the file.
fn pot_hour(pots: u64) -> [u64; 2] {
    let directory = in_memory();
    fs::write(directory.path().join("pots"), pots.to_string()).unwrap();
    let mut child = child::start("size::keep_an_hour_of_several_pots", directory.path());
    assert!(child.wait().unwrap().success());
    let figures = fs::read_to_string(directory.path().join("figures")).unwrap();
    let mut figures = figures.split(' ').map(|figure| figure.parse::<u64>().unwrap() / pots);
    [(); 2].map(|()| figures.next().unwrap())
}

#[test]
fn a_noisy_pot_hour_at_ten_hertz_is_well_under_a_megabyte() {
    for pots in [1, 4] {
        let [handed, kept] = pot_hour(pots);
        eprintln!("{pots} pots, a pot-hour: handed over {handed}, kept {kept}");
        assert!(handed < 1_000_000, "{handed}");
        assert!(kept < 200_000, "{kept}");
    }
}
