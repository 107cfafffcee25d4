//! The board starts again, and may not know what time it is.

use dekchi::keep::keeper::{Keeper, Room};
use dekchi::keep::library::Library;
use dekchi::keep::{Outcome, Start};
use dekchi::moment::{Moment, Wall};
use dekchi::watch::event::{CookSays, Event};
use dekchi::watch::setting::Learnt;
use rusqlite::Connection;

use super::kitchen::{NINE_ON_TUESDAY_MS, Rig, about, load, open, start};

fn booted(boot: &str, utc_ms: i64, set: bool) -> Start {
    Start { boot: boot.to_owned(), at: Moment::from_ms(3_000), wall: Wall { utc_ms, set } }
}

#[test]
fn an_unfinished_batch_goes_on_after_a_restart_as_one_batch() {
    let directory = tempfile::tempdir().unwrap();
    let path = directory.path().join("dekchi.sqlite");
    let keeper = open(&path);
    let batch = keeper.begin_batch(about(), Moment::from_ms(50_000));
    keeper.event(batch, &load(40.0), batch.time(Moment::from_ms(51_000)));
    keeper.word(batch, &CookSays::LidOn, "page", Moment::from_ms(2_000));
    keeper.event(batch, &load(40.1), Moment::from_ms(2_500));
    keeper.close();

    let boot = booted("77aa", NINE_ON_TUESDAY_MS + 3_600_000, true);
    let (keeper, report) = Keeper::open(&path, boot, Room::default()).unwrap();
    let [unfinished] = report.unfinished.as_slice() else { panic!("{report:?}") };
    assert_eq!((unfinished.number, &unfinished.about), (1, &about()));
    assert_eq!(unfinished.last, Moment::from_ms(2_500));
    // The first daemon's clock stood at 5 s at nine o'clock, the batch began when it stood at 50 s.
    let last_wall = Wall { utc_ms: NINE_ON_TUESDAY_MS + 45_000 + 2_500, set: true };
    assert_eq!(unfinished.last_wall, last_wall);
    let batch = keeper.resume_batch(unfinished, Moment::from_ms(9_000), Moment::from_ms(600_000));
    assert_eq!(batch.time(Moment::from_ms(9_500)), Moment::from_ms(600_500));
    keeper.event(batch, &load(39.0), Moment::from_ms(600_500));
    keeper.word(batch, &CookSays::LidOff, "page", Moment::from_ms(600_600));
    keeper.end_batch(batch, Moment::from_ms(700_000), Outcome::Abandoned);
    keeper.close();

    let library = Library::open(&path).unwrap();
    assert_eq!(library.unfinished().unwrap(), []);
    let entry = library.entry(1).unwrap();
    assert_eq!((entry.lasted_s, entry.outcome.as_deref()), (700.0, Some("abandoned")));
    let told = library.samples(1).unwrap().events;
    let expected = [
        (1_000, load(40.0)),
        (2_000, Event::Cook(CookSays::LidOn)),
        (2_500, load(40.1)),
        (600_500, load(39.0)),
        (600_600, Event::Cook(CookSays::LidOff)),
    ];
    assert_eq!(told, expected.map(|(ms, event)| (Moment::from_ms(ms), event)));
}

#[test]
fn when_the_clock_is_set_every_row_of_this_start_has_its_true_time() {
    let directory = tempfile::tempdir().unwrap();
    let path = directory.path().join("dekchi.sqlite");
    let boot = booted("b", 0, false);
    let keeper = Keeper::open(&path, boot, Room::default()).unwrap().0;
    let batch = keeper.begin_batch(about(), Moment::from_ms(4_000));
    keeper.flush();
    let began = || Library::open(&path).unwrap().list().unwrap()[0].began;
    // At 3 s the wall said 1970-01-01 00:00:00.
    assert_eq!(began(), Wall { utc_ms: 1_000, set: false });
    let wall = Wall { utc_ms: NINE_ON_TUESDAY_MS, set: true };
    keeper.clock(Moment::from_ms(10_000), wall);
    keeper.word(batch, &CookSays::Stirred, "button", Moment::from_ms(6_500));
    keeper.flush();
    assert_eq!(began(), Wall { utc_ms: NINE_ON_TUESDAY_MS - 6_000, set: true });
    // A later jump is noted and moves nothing.
    let jump = Wall { utc_ms: NINE_ON_TUESDAY_MS + 7 * 3_600_000, set: true };
    keeper.clock(Moment::from_ms(20_000), jump);
    keeper.close();
    assert_eq!(began(), Wall { utc_ms: NINE_ON_TUESDAY_MS - 6_000, set: true });
    let db = Connection::open(&path).unwrap();
    let one = |sql: &str| db.query_row(sql, [], |row| row.get::<_, i64>(0)).unwrap();
    assert_eq!(one("SELECT count(*) FROM clocks"), 2);
    assert_eq!(one("SELECT utc_ms FROM word"), NINE_ON_TUESDAY_MS + 500);
}

#[test]
fn what_a_pot_taught_is_there_for_the_next_batch() {
    let directory = tempfile::tempdir().unwrap();
    let path = directory.path().join("dekchi.sqlite");
    let keeper = open(&path);
    let learnt = Learnt { bottom_log_scale: -0.125, bottom_verdicts: 4 };
    keeper.learnt("big", Learnt::default());
    keeper.learnt("big", learnt);
    keeper.close();
    let library = Library::open(&path).unwrap();
    assert_eq!(library.learnt("big").unwrap(), learnt);
    assert_eq!(library.learnt("small").unwrap(), Learnt::default());
}

#[test]
fn readers_see_whole_rounds_while_the_writer_writes() {
    let directory = tempfile::tempdir().unwrap();
    let path = directory.path().join("dekchi.sqlite");
    let keeper = open(&path);
    let batch = keeper.begin_batch(about(), Moment::default());
    keeper.flush();
    let reader = {
        let path = path.clone();
        std::thread::spawn(move || {
            let (mut seen, mut reads) = (0, 0);
            while seen < 200 * 120 {
                let samples = Library::open(&path).unwrap().samples(1).unwrap();
                assert_eq!(samples.events.len() % 120, 0);
                assert!(samples.events.len() >= seen);
                seen = samples.events.len();
                reads += 1;
            }
            reads
        })
    };
    let mut rig = Rig::new(21);
    for n in 0..200 {
        rig.ten_seconds(&keeper, batch, n);
        assert!(keeper.flush().all_kept());
    }
    assert!(reader.join().unwrap() > 1);
}

#[test]
fn a_copy_of_a_store_in_use_is_whole() {
    let directory = tempfile::tempdir().unwrap();
    let path = directory.path().join("dekchi.sqlite");
    let keeper = open(&path);
    let batch = keeper.begin_batch(about(), Moment::default());
    Rig::new(22).ten_seconds(&keeper, batch, 0);
    keeper.flush();
    let copy = directory.path().join("copy.sqlite");
    Library::open(&path).unwrap().back_up(&copy).unwrap();
    let samples = |path| Library::open(path).unwrap().samples(1).unwrap();
    assert_eq!(samples(&copy), samples(&path));
    let again = Library::open(&path).unwrap().back_up(&copy).unwrap_err();
    assert!(again.to_string().contains("it is there already"), "{again}");
    // The copy is a store like any other.
    assert!(Keeper::open(&copy, start(), Room::default()).unwrap().0.close().all_kept());
}

#[test]
fn a_second_daemon_is_refused_the_store_that_the_first_has_open() {
    let directory = tempfile::tempdir().unwrap();
    let path = directory.path().join("dekchi.sqlite");
    let first = open(&path);
    let refusal = Keeper::open(&path, start(), Room::default()).unwrap_err();
    assert!(refusal.to_string().starts_with("another dekchi has"), "{refusal}");
    assert!(first.close().all_kept());
    open(&path).close();
}
