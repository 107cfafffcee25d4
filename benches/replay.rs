//! How fast a four-hour recording at 10 Hz is read, and read and judged; how fast its curve and a
//! comparison of three are drawn; how fast 10,000 stored batches are listed.
//!
//! `cargo bench --bench replay`

#![cfg(test)]

use dekchi::batch::composition::Composition;
use dekchi::batch::plan::{Plan, Start, Target};
use dekchi::batch::pot::{Pot, Site};
use dekchi::keep::keeper::{Keeper, Room};
use dekchi::keep::library::Library;
use dekchi::keep::{About, Outcome, Start as Started};
use dekchi::moment::{Moment, Wall};
use dekchi::sense::recording::Recording;
use dekchi::show::comparison::{self, Align, Comparison, Entry, Look};
use dekchi::show::curve::{self, Size, Style};
use dekchi::show::paint::Type;
use dekchi::show::story::Story;
use dekchi::watch::Watch;
use dekchi::watch::setting::{Learnt, Setting};
use divan::counter::ItemsCount;
use divan::{Bencher, black_box};

const ROWS: u32 = 4 * 3600 * 10;

fn main() {
    divan::main();
}

/// A pot that loses 3 kg/h at the boil, with a ripple of ±8 g, stirred every six minutes.
fn simmering() -> String {
    let mut text = "t_s,probe_c,load_kg\n".to_owned();
    for tenth in 0..ROWS {
        let t_s = f64::from(tenth) / 10.0;
        let probe = if tenth % 10 == 0 { "99.1250" } else { "" };
        let hand = if tenth % 3600 < 250 { 0.4 * f64::from(tenth % 17) / 17.0 } else { 0.0 };
        let ripple = 0.008 * (f64::from(tenth) * 2.4).sin();
        let load = 40.0 - 3.0 * t_s / 3600.0 + ripple + hand;
        text += &format!("{t_s:.1},{probe},{load:.3}\n");
    }
    text
}

fn setting() -> Setting {
    let composition = Composition::new(0.894, 0.072, 0.030, 0.004).unwrap();
    Setting::of(
        Site { altitude_m: 40.0, pressure: None },
        Pot {
            name: "big".to_owned(),
            base_diameter_m: 0.4,
            tare_kg: 6.2,
            lid_kg: 1.35,
            height_m: None,
        },
        Plan {
            name: "Tuesday base".to_owned(),
            pot: "big".to_owned(),
            start: Start { contents_kg: 33.8, lid_on: false, composition },
            additions: Vec::new(),
            target: Some(Target::TotalSolids(0.15)),
            stages: Vec::new(),
        },
    )
}

/// Runs over the whole recording and counts its events.
fn run(text: &str, mut judge: impl FnMut(dekchi::watch::event::Event, dekchi::moment::Moment)) {
    let mut recording = Recording::open("bench.csv", text.as_bytes()).unwrap();
    while let Some(row) = recording.next_row().unwrap() {
        row.events().for_each(|event| judge(event, row.at));
    }
}

#[divan::bench]
fn reading_alone(bencher: Bencher) {
    let text = simmering();
    bencher.counter(ItemsCount::new(ROWS)).bench(|| {
        run(&text, |event, at| {
            black_box((event, at));
        });
    });
}

#[divan::bench]
fn reading_and_judging(bencher: Bencher) {
    let text = simmering();
    bencher.counter(ItemsCount::new(ROWS)).bench(|| {
        let mut watch = Watch::new(setting());
        run(&text, |event, at| {
            black_box(watch.step(event, at));
        });
    });
}

/// The batch as it is shown.
fn story() -> Story {
    let setting = setting();
    let (mut watch, mut story) = (Watch::new(setting.clone()), Story::of(&setting));
    run(&simmering(), |event, at| {
        watch.step(event, at).iter().for_each(|action| story.take(action));
    });
    story
}

#[divan::bench]
fn a_curve_as_svg(bencher: Bencher) {
    let story = story();
    bencher.bench(|| curve::svg(&story, &Style::new(Size::wide(1000))));
}

#[divan::bench]
fn a_curve_as_png(bencher: Bencher) {
    let story = story();
    bencher.bench(|| curve::png(&story, &Style::new(Size::wide(1000))));
}

#[divan::bench]
fn three_batches_compared_and_drawn(bencher: Bencher) {
    let story = story();
    let look = Look { width: 1000, density: 2, dark: false, set_in: Type::Embedded, bare: false };
    bencher.bench(|| {
        let entry =
            |label: &str| Entry { label: label.to_owned(), story: story.clone(), stove: None };
        let comparison = Comparison::of(["41", "44", "47"].map(entry).into(), Align::Start);
        comparison::svg(&comparison, look)
    });
}

#[divan::bench(sample_count = 20)]
fn ten_thousand_batches_listed(bencher: Bencher) {
    let directory = tempfile::tempdir().unwrap();
    let path = directory.path().join("dekchi.sqlite");
    let wall = Wall { utc_ms: 1_772_528_400_000, set: true };
    let start = Started { boot: "3f0c".to_owned(), at: Moment::default(), wall };
    let (keeper, _) = Keeper::open(&path, start, Room::default()).unwrap();
    for n in 0..10_000 {
        let about = About {
            pot: "big".to_owned(),
            name: format!("Base {n}"),
            kitchen_toml: "[site]\naltitude_m = 40.0\n".repeat(20),
            batch_toml: "name = \"Tuesday base\"\n".repeat(20),
            learnt: Learnt::default(),
        };
        let batch = keeper.begin_batch(about, Moment::from_ms(1000 * n));
        keeper.end_batch(batch, Moment::from_ms(1000 * n + 500), Outcome::Done);
        if n % 100 == 99 {
            assert!(keeper.flush().all_kept());
        }
    }
    bencher.bench(|| Library::open(&path).unwrap().list().unwrap().len());
}
