//! One rule for files that are not there, over all commands: a file that is named and cannot be read is
//! a bad argument, whatever it is for.

use std::fs;

use super::{BATCH, KITCHEN, dekchi};

/// A file that no test lays down.
const GONE: &str = "no/such/file";

/// Each command that reads files, once for each of them: the file that is not there stands in its place.
const NAMED: &[&[&str]] = &[
    &["batches", "--store", GONE],
    &["batches", "show", "1", "--store", GONE],
    &["batches", "export", "1", "--into", "target", "--store", GONE],
    &["calibrate", "scale", "--kitchen", GONE],
    &["calibrate", "probe", "--kitchen", GONE],
    &["calibrate", "drift", "--kitchen", GONE],
    &["calibrate", "show", "--kitchen", GONE],
    &["check", GONE],
    &["check", KITCHEN, GONE],
    &["check", GONE, BATCH],
    &["check", "--kitchen", GONE],
    &["check", KITCHEN, "--batch", GONE],
    &["compare", GONE, GONE],
    &["compare", "no/such.jsonl", "no/such.csv"],
    &["compare", "1", "2", "--store", GONE],
    &["curve", GONE, "-o", "target/never.svg"],
    &["curve", "1", "--store", GONE, "-o", "target/never.svg"],
    &["label", GONE, "--kitchen", KITCHEN],
    &["label", BATCH, "--kitchen", GONE],
    &["label", "1", "--store", GONE],
    &["pair", "--store", GONE],
    &["pair", "list", "--store", GONE],
    &["plan", GONE, "--kitchen", KITCHEN],
    &["plan", BATCH, "--kitchen", GONE],
    &["replay", GONE, "--kitchen", KITCHEN, "--batch", BATCH],
    &["replay", "Cargo.toml", "--kitchen", GONE, "--batch", BATCH],
    &["replay", "Cargo.toml", "--kitchen", KITCHEN, "--batch", GONE],
    &["run", "--kitchen", GONE],
    &["run", "--kitchen", KITCHEN, "--batch", GONE],
    &["say", "big", "stirred", "--store", GONE],
    &["score", GONE],
    &["sensors", "--kitchen", GONE],
    &["sheet", GONE, "-o", "target/never.html"],
    &["sheet", "1", "--store", GONE, "-o", "target/never.html"],
    &["test-alerts", "--kitchen", GONE],
];

/// Commands that read no file that is named.
const WITHOUT: &[&str] = &["budget", "cool", "demo", "practise", "help"];

#[test]
fn a_file_that_is_named_and_not_there_is_a_bad_argument_of_every_command() {
    for args in NAMED {
        let said = dekchi(args);
        assert_eq!(said.code, 2, "{args:?}: {}", said.err);
        // clap's own refusals are another matter: what is asked here is asked of the file.
        assert!(!said.err.contains("Usage:"), "{args:?}: {}", said.err);
        assert!(said.err.contains("no/such"), "{args:?} does not name the file: {}", said.err);
    }
}

#[test]
fn no_command_is_left_out_of_the_rule() {
    let help = dekchi(&["help"]).out;
    let (_, commands) = help.split_once("Commands:\n").unwrap();
    let (commands, _) = commands.split_once("\n\n").unwrap();
    let mut seen = 0;
    for line in commands.lines().filter(|line| !line.starts_with("   ")) {
        let name = line.split_whitespace().next().unwrap();
        let held = NAMED.iter().any(|args| args[0] == name);
        assert!(held != WITHOUT.contains(&name), "{name}");
        seen += 1;
    }
    assert!(seen > 15, "{help}");
}

#[test]
fn what_is_there_and_wrong_is_told_apart_from_what_is_not_there() {
    let directory = tempfile::tempdir().unwrap();
    let wrong = directory.path().join("wrong.toml");
    fs::write(&wrong, "name = 3\n").unwrap();
    let wrong = wrong.to_str().unwrap();
    for args in [&["plan", wrong, "--kitchen", KITCHEN][..], &["check", KITCHEN, wrong]] {
        assert_eq!(dekchi(args).code, 78, "{args:?}");
    }
    // What reads a recording answers for all of its files at once.
    let replay = ["replay", "Cargo.toml", "--kitchen", KITCHEN, "--batch", wrong];
    assert_eq!(dekchi(&replay).code, 2);
    // A file that is to be written is no input.
    let sheet = directory.path().join("no/such/plan.html");
    let plan = ["plan", BATCH, "--kitchen", KITCHEN, "--sheet", sheet.to_str().unwrap()];
    assert_eq!(dekchi(&plan).code, 74);
}
