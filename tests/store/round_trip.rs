//! What goes in comes out.

use dekchi::config::batch;
use dekchi::config::kitchen::Kitchen;
use dekchi::keep::library::Library;
use dekchi::keep::{About, Outcome, resolution};
use dekchi::moment::{Moment, Wall};
use dekchi::quantity::{Celsius, Pascals};
use dekchi::reading::Fault;
use dekchi::sense::recording::Recording;
use dekchi::show::recording;
use dekchi::virtual_pot::recording as rehearsed;
use dekchi::virtual_pot::{Kind, VirtualPot};
use dekchi::watch::Watch;
use dekchi::watch::action::{Action, Happening, Snapshot, What};
use dekchi::watch::event::{CookSays, Event};
use dekchi::watch::setting::Setting;

use super::kitchen::{NINE_ON_TUESDAY_MS, Rig, about, load, open};

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

#[test]
fn gravy_that_came_back_from_the_sieve_is_kept_as_that_and_other_additions_as_they_were() {
    let directory = tempfile::tempdir().unwrap();
    let path = directory.path().join("dekchi.sqlite");
    let keeper = open(&path);
    let batch = keeper.begin_batch(about(), Moment::default());
    let happened = [
        What::Taken { kg: 14.0, sd_kg: 0.01 },
        What::PouredBack { kg: 13.8, sd_kg: 0.01 },
        What::Added { kg: 0.5, sd_kg: 0.01, name: None },
        What::Corrected { kg: 0.0, name: None, ago_s: 40.0 },
    ];
    let at = Moment::from_ms(5_000);
    for what in happened.clone() {
        keeper.action(batch, &Action::Happened(Happening { at, seen: at, what }));
    }
    assert!(keeper.close().all_kept());
    let kept = Library::open(&path).unwrap().happenings(1).unwrap();
    assert_eq!(kept.into_iter().map(|kept| kept.what).collect::<Vec<_>>(), happened);
}

/// A rehearsed batch with what a live one also has: faults, ticks, the cook's words.
pub fn lively(csv: &str) -> Vec<(Moment, Event)> {
    let mut recording = Recording::open("pot.csv", csv.as_bytes()).unwrap();
    let mut events = Vec::new();
    while let Some(row) = recording.next_row().unwrap() {
        // On the board the sensors are read one after the other, in any order.
        let at = row.at.plus_ms(1_234);
        let second = row.at.ms() / 1000;
        let mut told: Vec<_> = row.events().map(resolution::rounded).collect();
        if second % 2 == 1 {
            told.reverse();
        }
        if row_is_at(at, 600_000) {
            told.push(Event::Probe(Err(Fault::Garbled)));
            told.push(Event::Tick);
        }
        if row_is_at(at, 900_000) {
            let name = Some("cream, \"double\"".to_owned());
            told.insert(0, Event::Cook(CookSays::ThatWas { kg: Some(0.43), name }));
            told.push(Event::Air(Ok(Pascals::new(97_213.0).unwrap())));
            told.push(Event::Cook(CookSays::BottomClean));
        }
        events.extend(told.into_iter().map(|event| (at, event)));
    }
    events
}

fn row_is_at(at: Moment, ms: i64) -> bool {
    (ms..ms + 100).contains(&at.ms())
}

/// What the judgement says of a batch, given what is kept of it.
pub fn watch(about: &About, events: &[(Moment, Event)]) -> Vec<Action> {
    let kitchen = Kitchen::parse("kitchen.toml", &about.kitchen_toml).unwrap();
    let plan = batch::parse("batch.toml", &about.batch_toml, &kitchen).unwrap();
    let pot = kitchen.pot(&plan.pot).unwrap().clone();
    let mut watch = Watch::new(Setting {
        learnt: about.learnt,
        rules: kitchen.habits.rules,
        larder: kitchen.larder,
        ..Setting::of(kitchen.site, pot, plan)
    });
    events.iter().flat_map(|(at, event)| watch.step(event.clone(), *at)).collect()
}

#[test]
fn an_exported_batch_replays_to_the_same_happenings() {
    let texts = rehearsed::write(VirtualPot::new(Kind::Reduce, 7));
    let directory = tempfile::tempdir().unwrap();
    let path = directory.path().join("dekchi.sqlite");
    let keeper = open(&path);
    let kept =
        About { kitchen_toml: texts.kitchen.clone(), batch_toml: texts.batch.clone(), ..about() };
    let events = lively(&texts.csv);
    let live = watch(&kept, &events);
    let batch = keeper.begin_batch(kept, Moment::default());
    for (at, event) in &events {
        keeper.event(batch, event, *at);
    }
    live.iter().for_each(|action| keeper.action(batch, action));
    assert!(keeper.close().all_kept());

    let library = Library::open(&path).unwrap();
    let samples = library.samples(1).unwrap();
    assert_eq!(samples.events, events);
    let mut csv = Vec::new();
    recording::write(&samples.events, &mut csv).unwrap();
    let mut exported = Recording::open("out.csv", csv.as_slice()).unwrap();
    let mut again = Vec::new();
    while let Some(row) = exported.next_row().unwrap() {
        let at = row.at;
        again.extend(row.events().map(|event| (at, event)));
    }
    assert_eq!(again, events);
    let about = library.about(1).unwrap();
    assert_eq!(watch(&about, &again), live);
    let happenings: Vec<_> = live
        .iter()
        .filter_map(|a| if let Action::Happened(h) = a { Some(h.clone()) } else { None })
        .collect();
    assert_eq!(library.happenings(1).unwrap(), happenings);
    assert!(happenings.len() >= 3 && live.len() > 100, "{happenings:?}");
}

#[test]
fn a_snapshot_comes_back_to_a_milligram_and_a_thousandth_of_a_degree() {
    let directory = tempfile::tempdir().unwrap();
    let path = directory.path().join("dekchi.sqlite");
    let keeper = open(&path);
    let batch = keeper.begin_batch(about(), Moment::default());
    let full = Rig::new(1).snapshot(Moment::from_ms(10_000));
    let nothing_known = Snapshot { at: Moment::from_ms(20_000), ..Snapshot::default() };
    for snapshot in [&full, &nothing_known] {
        keeper.action(batch, &Action::Show(Box::new(snapshot.clone())));
    }
    keeper.close();
    let kept = Library::open(&path).unwrap().snapshots(1).unwrap();
    assert_eq!(kept[1], nothing_known);
    let numbers = |s: &Snapshot| {
        let t = s.target_in_s.unwrap();
        let known = [
            s.pot_c,
            s.contents_kg,
            s.contents_sd_kg,
            s.water_kg,
            s.fat_kg,
            s.salt_kg,
            s.total_solids,
            s.evaporation_kg_h,
            s.evaporation_sd_kg_h,
            s.heat_w,
            s.boil_c,
            s.target_kg,
            s.catch_index,
            s.stir_within_s,
            s.since_stir_s,
            s.served_kg,
            s.runs_out_in_s,
            s.top_up_l,
        ];
        let mut numbers: Vec<f64> = known.into_iter().map(Option::unwrap).collect();
        numbers.extend([t.p10, t.p50, t.p90]);
        numbers
    };
    for (kept, given) in numbers(&kept[0]).into_iter().zip(numbers(&full)) {
        assert!((kept - given).abs() <= 0.000_501, "{kept} {given}");
    }
    let rest = |s: &Snapshot| (s.at, s.lid, s.boiling, s.next_addition.clone(), s.raised.clone());
    assert_eq!(rest(&kept[0]), rest(&full));
}
