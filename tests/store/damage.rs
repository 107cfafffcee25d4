//! A damaged file is put aside, never deleted, and the pot is watched on.

use std::fs;
use std::path::{Path, PathBuf};

use dekchi::keep::Refusal;
use dekchi::keep::health::TroubleKind;
use dekchi::keep::keeper::{Keeper, Room};
use dekchi::keep::library::Library;
use dekchi::moment::Moment;
use rusqlite::Connection;

use super::kitchen::{Rig, about, open, start};

/// A store with some minutes of one pot, closed.
fn stocked(directory: &Path) -> PathBuf {
    let path = directory.join("dekchi.sqlite");
    let keeper = open(&path);
    let batch = keeper.begin_batch(about(), Moment::default());
    let mut rig = Rig::new(3);
    (0..20).for_each(|n| rig.ten_seconds(&keeper, batch, n));
    assert!(keeper.close().all_kept());
    path
}

/// Opens what may be damaged, watches a pot for a while, and sees that this is kept.
fn watch_on(path: &Path) -> Vec<PathBuf> {
    let (keeper, report) = Keeper::open(path, start(), Room::default()).unwrap();
    assert_eq!(report.health.trouble, None, "{path:?}");
    let batch = keeper.begin_batch(about(), Moment::default());
    Rig::new(4).ten_seconds(&keeper, batch, 0);
    let health = keeper.flush();
    assert!(health.all_kept(), "{health:?}");
    let number = keeper.number(batch).unwrap();
    drop(keeper);
    let samples = Library::open(path).unwrap().samples(number).unwrap();
    assert_eq!((samples.damaged, samples.events.len()), (0, 120));
    health.set_aside
}

#[test]
fn a_flipped_byte_anywhere_costs_at_most_what_it_hit() {
    let directory = tempfile::tempdir().unwrap();
    let path = stocked(directory.path());
    let sound = fs::read(&path).unwrap();
    let mut put_aside = 0;
    for place in (0..sound.len()).step_by(97) {
        let mut damaged = sound.clone();
        damaged[place] ^= 0xff;
        fs::write(&path, &damaged).unwrap();
        let aside = watch_on(&path);
        for file in &aside {
            assert_eq!(fs::read(file).unwrap(), damaged, "byte {place}");
            fs::remove_file(file).unwrap();
        }
        put_aside += aside.len();
    }
    // The rest hit free space or a value, which the checksum of its block finds when it is read.
    assert!(put_aside > 20, "{put_aside} of {}", sound.len() / 97);
}

#[test]
fn a_file_cut_off_anywhere_is_put_aside_whole() {
    let directory = tempfile::tempdir().unwrap();
    let path = stocked(directory.path());
    let sound = fs::read(&path).unwrap();
    for length in (0..sound.len()).step_by(512) {
        fs::write(&path, &sound[..length]).unwrap();
        let aside = watch_on(&path);
        // Nothing is left to put aside of a file without a byte.
        assert_eq!(aside.len(), usize::from(length > 0), "{length} of {}", sound.len());
        for file in &aside {
            assert_eq!(fs::read(file).unwrap(), sound[..length]);
            fs::remove_file(file).unwrap();
        }
    }
}

#[test]
fn what_never_was_a_database_is_put_aside() {
    let directory = tempfile::tempdir().unwrap();
    let path = directory.path().join("dekchi.sqlite");
    fs::write(&path, "the cat walked over the keyboard ".repeat(100)).unwrap();
    let aside = watch_on(&path);
    assert!(aside[0].to_str().unwrap().contains("dekchi.sqlite.corrupt-"));
    assert!(fs::read_to_string(&aside[0]).unwrap().starts_with("the cat"));
}

#[test]
fn the_log_of_another_database_does_no_harm() {
    let (ours, theirs) = (tempfile::tempdir().unwrap(), tempfile::tempdir().unwrap());
    let path = stocked(ours.path());
    let other = theirs.path().join("other.sqlite");
    let connection = Connection::open(&other).unwrap();
    connection.pragma_update(None, "journal_mode", "wal").unwrap();
    connection.execute_batch("CREATE TABLE t (x); INSERT INTO t VALUES (1);").unwrap();
    let log = fs::read(theirs.path().join("other.sqlite-wal")).unwrap();
    fs::write(ours.path().join("dekchi.sqlite-wal"), log).unwrap();
    watch_on(&path);
}

#[test]
fn damage_that_shows_while_the_pot_is_watched_is_put_aside_too() {
    let directory = tempfile::tempdir().unwrap();
    let path = stocked(directory.path());
    let keeper = open(&path);
    let batch = keeper.begin_batch(about(), Moment::default());
    let mut rig = Rig::new(5);
    rig.ten_seconds(&keeper, batch, 0);
    assert!(keeper.flush().all_kept());
    // All pages but the first go bad, and another process makes the writer read them again.
    let other = Connection::open(&path).unwrap();
    other.query_row("PRAGMA wal_checkpoint(TRUNCATE)", [], |_| Ok(())).unwrap();
    other.pragma_update(None, "user_version", 2).unwrap();
    let mut pages = fs::read(&path).unwrap();
    pages[1024..].fill(0xff);
    fs::write(&path, pages).unwrap();
    rig.ten_seconds(&keeper, batch, 1);
    let mut health = keeper.flush();
    if !health.all_kept() {
        assert_eq!(health.trouble.map(|t| t.kind), Some(TroubleKind::Damaged));
        health = keeper.flush();
    }
    rig.ten_seconds(&keeper, batch, 2);
    keeper.flush();
    let number = keeper.number(batch).unwrap();
    drop(keeper);
    let library = Library::open(&path).unwrap();
    let about_it = library.about(number);
    assert!(health.set_aside.len() == 1 && about_it.is_ok(), "{health:?} {about_it:?}");
    assert_eq!(library.samples(number).unwrap().events.len(), 240);
}

#[test]
fn a_store_of_a_newer_dekchi_is_refused_and_left_alone() {
    let directory = tempfile::tempdir().unwrap();
    let path = stocked(directory.path());
    Connection::open(&path).unwrap().pragma_update(None, "user_version", 3).unwrap();
    let before = fs::read(&path).unwrap();
    let refusal = Keeper::open(&path, start(), Room::default()).unwrap_err();
    assert!(matches!(refusal, Refusal::Newer { found: 3, known: 2, .. }), "{refusal}");
    assert!(refusal.to_string().contains("newer dekchi (schema 3; this one knows up to 2)"));
    assert_eq!(fs::read(&path).unwrap(), before);
    assert!(Library::open(&path).unwrap_err().to_string().contains("schema 3"));
}

#[test]
fn the_database_of_another_program_is_refused_and_left_alone() {
    let directory = tempfile::tempdir().unwrap();
    let path = directory.path().join("accounts.sqlite");
    Connection::open(&path).unwrap().execute_batch("CREATE TABLE ledger (x)").unwrap();
    let before = fs::read(&path).unwrap();
    let refusal = Keeper::open(&path, start(), Room::default()).unwrap_err();
    assert!(matches!(refusal, Refusal::Foreign { .. }), "{refusal}");
    assert_eq!(fs::read(&path).unwrap(), before);
}

#[test]
#[expect(clippy::disallowed_methods, reason = "waits for the check beside the watching")]
fn a_large_store_is_looked_through_while_the_pot_is_watched() {
    let directory = tempfile::tempdir().unwrap();
    let path = stocked(directory.path());
    let other = Connection::open(&path).unwrap();
    other
        .execute("INSERT INTO outbox VALUES (1, 'k', 1, 0, 2, 't', zeroblob(10000000))", [])
        .unwrap();
    drop(other);
    // A page in the middle, which nothing reads when the store is opened.
    let mut pages = fs::read(&path).unwrap();
    let place = pages.len() / 2048 * 1024;
    pages[place..place + 4].fill(0xff);
    fs::write(&path, &pages).unwrap();
    let (keeper, report) = Keeper::open(&path, start(), Room::default()).unwrap();
    assert!(report.health.trouble.is_none() && report.health.set_aside.is_empty());
    let batch = keeper.begin_batch(about(), Moment::default());
    let mut rig = Rig::new(6);
    let mut n = 0;
    while keeper.health().set_aside.is_empty() {
        rig.ten_seconds(&keeper, batch, n);
        keeper.flush();
        n += 1;
        assert!(n < 20_000, "the damage was never found");
        std::thread::sleep(std::time::Duration::from_millis(5));
    }
    rig.ten_seconds(&keeper, batch, n);
    assert!(keeper.flush().all_kept());
    let number = keeper.number(batch).unwrap();
    drop(keeper);
    // What was kept before the damage was found lies in the file that was put aside; the new one
    // begins with what waited then.
    let last = Library::open(&path).unwrap().samples(number).unwrap().events.len();
    assert!((1..=2).contains(&(last / 120)) && last % 120 == 0, "{last}");
}
