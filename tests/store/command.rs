//! `dekchi batches`, on the real program.

use std::fs;
use std::path::Path;
use std::process::{Command, Output};

use dekchi::keep::{About, Outcome};
use dekchi::moment::Moment;
use dekchi::show::lines;
use dekchi::virtual_pot::recording as rehearsed;
use dekchi::virtual_pot::{Kind, VirtualPot};
use dekchi::watch::event::{CookSays, Event};
use dekchi::watch::setting::Learnt;

use super::kitchen::{about, open};
use super::round_trip::{lively, watch};

fn dekchi(directory: &Path, args: &[&str]) -> Output {
    let mut command = Command::new(env!("CARGO_BIN_EXE_dekchi"));
    command.current_dir(directory).args(args).env("TZ", "UTC").env_remove("STATE_DIRECTORY");
    command.output().unwrap()
}

fn printed(directory: &Path, args: &[&str]) -> String {
    let output = dekchi(directory, args);
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    String::from_utf8(output.stdout).unwrap()
}

/// Keeps a rehearsed batch of which the pot was known before; what was said of it, as JSON Lines in
/// order of time.
fn cook(directory: &Path) -> Vec<String> {
    let texts = rehearsed::write(VirtualPot::new(Kind::Neglect, 3));
    let learnt = Learnt { bottom_log_scale: 0.6, bottom_verdicts: 5 };
    let (kitchen_toml, batch_toml) = (texts.kitchen, texts.batch);
    let about = About { kitchen_toml, batch_toml, learnt, pot: "pot".to_owned(), ..about() };
    let events = lively(&texts.csv);
    let live = watch(&about, &events);
    fs::create_dir(directory.join("dekchi-data")).unwrap();
    let keeper = open(&directory.join("dekchi-data/dekchi.sqlite"));
    let batch = keeper.begin_batch(about, Moment::default());
    for (at, event) in &events {
        match event {
            Event::Cook(says) => keeper.word(batch, says, "page", *at),
            event => keeper.event(batch, event, *at),
        }
    }
    live.iter().for_each(|action| keeper.action(batch, action));
    keeper.end_batch(batch, events.last().unwrap().0, Outcome::Done);
    assert!(keeper.close().all_kept());
    let mut said: Vec<_> = live.iter().map(|action| lines::line("pot", action)).collect();
    said.sort_by_key(|(at, _)| *at);
    said.into_iter().map(|(_, line)| line).collect()
}

#[test]
fn a_batch_is_listed_shown_and_taken_out_and_replays_as_it_was() {
    let directory = tempfile::tempdir().unwrap();
    let here = directory.path();
    let said = cook(here);

    let list = printed(here, &["batches"]);
    assert_eq!(list.lines().count(), 2);
    assert!(list.contains("1   2026-03-03 09:00") && list.contains("done"), "{list}");
    let json: serde_json::Value =
        serde_json::from_str(&printed(here, &["batches", "--json"])).unwrap();
    assert_eq!((&json["number"], &json["outcome"]), (&1.into(), &"done".into()));

    let shown = printed(here, &["batches", "show", "1"]);
    assert!(shown.contains("said by page: That was 0.43 kg of cream, \"double\""));
    assert!(shown.contains("alert stir-due raised"), "{shown}");

    // The boxes are labelled with the day on which it was cooked, whenever that is printed.
    let label = printed(here, &["label", "1"]);
    assert!(label.contains("Made: Tue 3 Mar 2026 at 08:59"), "{label}");

    printed(here, &["batches", "export", "1", "--into", "out"]);
    let batch = fs::read_to_string(here.join("out/batch.toml")).unwrap();
    assert!(batch.contains("bottom_log_scale = 0.6\nbottom_verdicts = 5"), "{batch}");
    let files = ["--kitchen", "out/kitchen.toml", "--batch", "out/batch.toml"];
    let replay = [&["replay", "out/recording.csv"], &files[..]].concat();
    let again = printed(here, &replay);
    for (live, again) in said.iter().zip(again.lines()) {
        assert_eq!(again, live);
    }
    assert_eq!(again.lines().count(), said.len());
}

#[test]
fn what_cannot_be_had_gets_one_sentence_and_an_exit_code() {
    let directory = tempfile::tempdir().unwrap();
    let here = directory.path();
    let refused = |args: &[&str]| {
        let output = dekchi(here, args);
        let sentence = String::from_utf8(output.stderr).unwrap();
        assert_eq!(sentence.trim_end().lines().count(), 1, "{sentence}");
        (output.status.code(), sentence)
    };
    let (code, sentence) = refused(&["batches"]);
    assert!(code == Some(69) && sentence.contains("no batch has been kept yet"), "{sentence}");
    let (code, sentence) = refused(&["pair", "list", "--kitchen", "kitchen.toml"]);
    assert_eq!(code, Some(69), "the kitchen file may be named: {sentence}");
    let path = here.join("dekchi.sqlite");
    let keeper = open(&path);
    let batch = keeper.begin_batch(about(), Moment::default());
    keeper.word(batch, &CookSays::Stirred, "page", Moment::from_ms(5));
    keeper.close();
    let store = ["--store", "dekchi.sqlite"];
    let (code, sentence) = refused(&[&["batches", "show", "7"], &store[..]].concat());
    assert_eq!((code, sentence.as_str()), (Some(2), "batch 7 is not in the store\n"));
    let (code, sentence) = refused(&[&["label", "7"], &store[..]].concat());
    assert_eq!((code, sentence.as_str()), (Some(2), "batch 7 is not in the store\n"));
    let out = here.join("no/such/place.csv");
    let export = ["batches", "export", "1", "--recording", out.to_str().unwrap()];
    let (code, sentence) = refused(&[&export[..], &store[..]].concat());
    assert!(code == Some(74) && sentence.contains("place.csv cannot be written"), "{sentence}");
    fs::write(&path, "not a database").unwrap();
    let (code, sentence) = refused(&[&["batches"], &store[..]].concat());
    assert!(code == Some(74) && sentence.contains("is not a database"), "{sentence}");
}
