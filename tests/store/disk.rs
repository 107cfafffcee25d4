//! The disk is full, read-only or failing.
//!
//! A full and a read-only file system are made in a mount namespace of the child's own; a failing
//! device is made by strace, which lets chosen system calls fail. Where this machine permits neither,
//! the test says so loudly and passes.

use std::fs;
use std::path::Path;
use std::process::{Command, Output, Stdio};

use dekchi::keep::health::{Health, TroubleKind};
use dekchi::keep::library::Library;
use dekchi::moment::Moment;
use dekchi::watch::event::CookSays;

use super::child;
use super::kitchen::{Rig, about, open, open_somehow};
use super::workload::{EVENTS_A_ROUND, check, last_kept};

/// Runs an ignored test of this program with a file system of 400 kB mounted on `disk`; `None`
/// where that is not permitted here.
fn on_a_small_disk(name: &str, directory: &Path) -> Option<Output> {
    let disk = directory.join("disk");
    fs::create_dir(&disk).unwrap();
    let mount = format!("mount -t tmpfs -o size=400k none {}", disk.display());
    let unshare = |script: &str| {
        let mut command = Command::new("unshare");
        command.args(["--user", "--map-root-user", "--mount", "sh", "-c", script, "sh"]);
        command
    };
    let permitted = unshare(&mount).stderr(Stdio::null()).status().is_ok_and(|s| s.success());
    if !permitted {
        eprintln!("SKIPPED: this machine lets nobody mount a small disk, so {name} was not tried");
        return None;
    }
    let task = child::command(name, directory);
    let mut command = unshare(&format!("{mount} && exec \"$@\""));
    command.arg(task.get_program()).args(task.get_args());
    command.envs(task.get_envs().filter_map(|(key, value)| Some((key, value?))));
    Some(command.output().unwrap())
}

fn passed(output: Option<Output>) {
    if let Some(output) = output {
        let said = String::from_utf8_lossy(&output.stdout);
        assert!(output.status.success(), "{said}{}", String::from_utf8_lossy(&output.stderr));
    }
}

fn trouble(health: &Health) -> Option<TroubleKind> {
    health.trouble.as_ref().map(|trouble| trouble.kind)
}

#[test]
#[ignore = "runs as a child of the test of a full disk"]
fn cook_while_the_disk_fills_up() {
    let Some(directory) = child::directory() else { return };
    let disk = directory.join("disk");
    let (path, ballast) = (disk.join("dekchi.sqlite"), disk.join("ballast"));
    fs::write(&ballast, vec![0; 200_000]).unwrap();
    let keeper = open(&path);
    let batch = keeper.begin_batch(about(), Moment::default());
    let mut rig = Rig::new(11);
    let mut full = 0;
    for n in 0..2000 {
        rig.ten_seconds(&keeper, batch, n);
        let at = Moment::from_ms(n * 10_000 + 9_999);
        keeper.word(batch, &CookSays::ThatWas { kg: Some(n as f64), name: None }, "test", at);
        let health = keeper.flush();
        if health.trouble.is_some() {
            assert_eq!(trouble(&health), Some(TroubleKind::DiskFull), "{health:?}");
            assert!(health.waiting_rows > 0);
            full += 1;
        }
        if full == 20 {
            // Half an hour and more would fit into memory; somebody makes room before that.
            fs::remove_file(&ballast).unwrap();
            let health = keeper.flush();
            assert!(health.all_kept(), "{health:?}");
            drop(keeper);
            let samples = Library::open(&path).unwrap().samples(1).unwrap();
            assert_eq!(samples.events.len() as i64, (n + 1) * (EVENTS_A_ROUND as i64 + 1));
            check(&path, Some(n));
            return;
        }
    }
    panic!("the disk never was full");
}

#[test]
fn a_full_disk_stops_nothing_and_loses_nothing_that_memory_can_hold() {
    let directory = tempfile::tempdir().unwrap();
    passed(on_a_small_disk("disk::cook_while_the_disk_fills_up", directory.path()));
}

fn remount(disk: &Path, how: &str) {
    let mount = Command::new("mount").args(["-o", &format!("remount,{how}")]).arg(disk).status();
    assert!(mount.unwrap().success());
}

#[test]
#[ignore = "runs as a child of the test of a read-only disk"]
fn cook_while_the_disk_is_read_only() {
    let Some(directory) = child::directory() else { return };
    let disk = directory.join("disk");
    let path = disk.join("dekchi.sqlite");
    // A store with one batch, closed; then the card goes read-only and the board starts again.
    let keeper = open(&path);
    keeper.begin_batch(about(), Moment::default());
    assert!(keeper.close().all_kept());
    remount(&disk, "ro");
    assert_eq!(Library::open(&path).unwrap().list().unwrap().len(), 1);
    let keeper = open_somehow(&path);
    let health = keeper.health();
    assert_eq!(trouble(&health), Some(TroubleKind::ReadOnly), "{health:?}");
    let batch = keeper.begin_batch(about(), Moment::default());
    let mut rig = Rig::new(12);
    for n in 0..5 {
        rig.ten_seconds(&keeper, batch, n);
        assert_eq!(trouble(&keeper.flush()), Some(TroubleKind::ReadOnly));
    }
    assert_eq!(keeper.number(batch), None);
    remount(&disk, "rw");
    let health = keeper.flush();
    assert!(health.all_kept(), "{health:?}");
    assert_eq!(keeper.number(batch), Some(2));
    drop(keeper);
    let samples = Library::open(&path).unwrap().samples(2).unwrap();
    assert_eq!(samples.events.len(), 5 * EVENTS_A_ROUND);
}

#[test]
fn a_read_only_disk_is_said_and_watched_through() {
    let directory = tempfile::tempdir().unwrap();
    passed(on_a_small_disk("disk::cook_while_the_disk_is_read_only", directory.path()));
}

/// Lets the `when`-th call fail (strace's own notation) while a child cooks twelve rounds, and sees
/// what it kept: the last round that was acknowledged, and how many were at once.
fn with_failing(calls: &str, error: &str, when: &str) -> (Option<i64>, usize) {
    let directory = tempfile::tempdir().unwrap();
    fs::write(directory.path().join("rounds"), "12").unwrap();
    let task = child::command("workload::cook_rounds", directory.path());
    let output = Command::new("strace")
        .args(["-f", "-qq", "-o", "/dev/null", "-e", &format!("trace={calls}")])
        .args(["-e", &format!("inject={calls}:error={error}:when={when}")])
        .arg(task.get_program())
        .args(task.get_args())
        .envs(task.get_envs().filter_map(|(key, value)| Some((key, value?))))
        .output()
        .unwrap();
    let said = String::from_utf8_lossy(&output.stderr);
    assert!(output.status.success(), "{calls} {error} {when}: {said}");
    let kept = last_kept(output.stdout.as_slice());
    check(&directory.path().join("dekchi.sqlite"), kept);
    let printed = String::from_utf8_lossy(&output.stdout);
    (kept, printed.lines().filter(|line| line.starts_with("kept ")).count())
}

fn strace_works() -> bool {
    let mut strace = Command::new("strace");
    strace.args(["-qq", "-o", "/dev/null", "-e", "inject=fsync:error=EIO", "true"]);
    let works = strace.stderr(Stdio::null()).status().is_ok_and(|status| status.success());
    if !works {
        eprintln!("SKIPPED: strace cannot be run here, so no system call was made to fail");
    }
    works
}

#[test]
fn a_sync_that_fails_once_at_any_instant_loses_nothing() {
    if !strace_works() {
        return;
    }
    let mut late = 0;
    for k in 1..=20 {
        let (kept, at_once) = with_failing("fsync,fdatasync", "EIO", &k.to_string());
        assert_eq!(kept, Some(11), "{k}");
        late += 12 - at_once;
    }
    // A round whose sync failed is not acknowledged; the next one writes it anew.
    assert!(late >= 6, "{late}");
}

#[test]
fn a_device_that_fails_from_some_instant_on_never_acknowledges_what_it_lost() {
    if !strace_works() {
        return;
    }
    for (calls, error) in [
        ("fsync,fdatasync", "EIO"),
        ("pwrite64", "EIO"),
        ("pwrite64", "ENOSPC"),
        ("pwrite64", "EROFS"),
    ] {
        for k in [1, 2, 7, 19, 40] {
            with_failing(calls, error, &format!("{k}+"));
        }
    }
}

#[test]
fn writes_that_fail_for_a_while_are_made_good() {
    if !strace_works() {
        return;
    }
    for error in ["EIO", "ENOSPC", "EROFS"] {
        for k in [3, 11, 29] {
            let when = format!("{k}..{}", k + 9);
            let (kept, at_once) = with_failing("pwrite64", error, &when);
            assert!(kept == Some(11) && at_once < 12, "{error} {when}: {kept:?} {at_once}");
        }
    }
}
