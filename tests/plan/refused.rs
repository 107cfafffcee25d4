//! What a cook is told when a plan cannot be, or nobody hears.

use std::fs;

use super::{BATCH, KITCHEN, dekchi, root};

/// Runs a plan with one thing changed and gives its exit code and its one line.
fn refused(from: &str, to: &str, more: &[&str]) -> (i32, String) {
    let directory = tempfile::tempdir().unwrap();
    let path = directory.path().join("batch.toml");
    let text = fs::read_to_string(root().join(BATCH)).unwrap();
    assert!(text.contains(from), "{from}");
    fs::write(&path, text.replace(from, to)).unwrap();
    let said = dekchi(&[&["plan", path.to_str().unwrap(), "--kitchen", KITCHEN], more].concat());
    assert_eq!(said.out, "", "nothing is printed beside a refusal");
    let line = said.err.trim_end().to_owned();
    assert_eq!(line.lines().count(), 1, "one line: {line}");
    (said.code, line)
}

#[test]
fn what_cannot_be_is_told_in_one_clear_sentence() {
    /// From, to, more arguments, exit code, words of the sentence.
    type Case = (&'static str, &'static str, &'static [&'static str], i32, &'static [&'static str]);
    let cases: &[Case] = &[
        ("200 g garlic", "200 oz garlic", &[], 78, &["line 16", "\"oz\" is no measure", "tbsp"]),
        (
            "200 g garlic",
            "200 g gralic",
            &[],
            78,
            &["line 16", "\"gralic\"", "did you mean garlic"],
        ),
        ("200 g garlic", "-200 g garlic", &[], 78, &["line 16", "is not above zero"]),
        ("200 g garlic", "garlic", &[], 78, &["line 16", "begins with no number"]),
        ("8 green peppers", "8 cloves green peppers", &[], 78, &["has no weight", "medium"]),
        ("8 kg onions", "800 kg onions", &[], 78, &["do not fit into the pot \"big\"", "50 kg"]),
        ("total_solids = 0.105", "total_solids = 1.2", &[], 78, &["0.01 to 0.95"]),
        ("total_solids = 0.105", "litres = 1", &[], 78, &["does not boil away"]),
        ("total_solids = 0.105", "total_solids = 0.05", &[], 1, &["plan", "more water"]),
        ("total_solids = 0.105", "brix = 4", &[], 1, &["4.0 °Brix", "more water"]),
        ("total_solids = 0.105", "like_batch = 41", &[], 78, &["how thick batch 41 was"]),
        ("stage = \"finish\"", "stage = \"finsh\"", &[], 78, &["is no stage", "\"finish\""]),
        ("minutes = 60", "minutes = -60", &[], 78, &["line", "0.1 to 1440 min"]),
        ("8 kg onions", "8 kg onyons", &[], 78, &["did you mean onions"]),
        ("total_solids = 0.105", "total_solids = 0.6", &[], 78, &["a paste that burns", "or more"]),
        (
            "total_solids = 0.105",
            "contents_kg = 30",
            &[],
            1,
            &["to 30.0 kg left", "more water in it"],
        ),
        ("total_solids = 0.105", "line_spread_cm = 8", &[], 78, &["measured_cm", "was measured"]),
        ("8 kg onions", "8 kg onions", &["--contents", "60L"], 1, &["60.0 l", "40.2 l", "foam"]),
        ("8 kg onions", "8 kg onions", &["--pot", "small"], 1, &["how high the pot \"small\" is"]),
        ("8 kg onions", "8 kg onions", &["--pot", "huge"], 2, &["\"huge\" is no pot", "\"big\""]),
        ("8 kg onions", "20 kg onions", &["--as-written"], 1, &["do not fit", "40.2 l"]),
    ];
    for (from, to, more, code, words) in cases {
        let (told, line) = refused(from, to, more);
        assert_eq!(told, *code, "{line}");
        for word in *words {
            assert!(line.contains(word), "{word} in: {line}");
        }
    }
}

#[test]
fn a_saying_with_no_daemon_to_hear_it_says_so() {
    let directory = tempfile::tempdir().unwrap();
    let store = directory.path().join("none.sqlite");
    let said = dekchi(&["say", "big", "it", "caught", "--store", store.to_str().unwrap()]);
    assert_eq!(said.code, 69);
    assert!(said.err.contains("is the daemon running?"), "{}", said.err);
}

const BY_COMPOSITION: &str = "config/tuesday-base.toml";

/// The batch in mass fractions without the line that names its allergens, in this directory.
fn without_allergens(directory: &std::path::Path) -> String {
    let text = fs::read_to_string(root().join(BY_COMPOSITION)).unwrap();
    assert!(text.contains("\nallergens = [\"milk\"]"));
    let kept: Vec<_> = text.lines().filter(|line| !line.starts_with("allergens")).collect();
    let path = directory.join("batch.toml");
    fs::write(&path, kept.join("\n")).unwrap();
    path.to_str().unwrap().to_owned()
}

// Regulation (EU) 1169/2011, Art. 21 and Annex II: milk is to be told; nothing known is not nothing.
#[test]
fn allergens_that_nobody_named_are_not_known_and_never_none() {
    let directory = tempfile::tempdir().unwrap();
    let batch = without_allergens(directory.path());
    let sheet = directory.path().join("labels.html");
    let (batch, sheet) = (batch.as_str(), sheet.to_str().unwrap());
    let label = ["label", batch, "--kitchen", KITCHEN, "--made", "2026-11-24"];
    let said = dekchi(&[&label[..], &["--sheet", sheet]].concat()).out;
    let not_known = "not known, the batch file names no allergens";
    assert!(said.contains(&format!("\nContains: {not_known}\n")), "{said}");
    assert!(said.contains("Use by: Tue 24 Nov 2026 (with cream: today)"), "{said}");
    let printed = fs::read_to_string(sheet).unwrap();
    assert!(printed.contains(not_known) && !printed.contains("Contains none"), "{printed}");
    let json = dekchi(&[&label[..], &["--json"]].concat()).out;
    let json: serde_json::Value = serde_json::from_str(&json).unwrap();
    assert!(json["contains"].is_null() && json["allergens_known"] == false, "{json}");
    let plan = dekchi(&["plan", batch, "--kitchen", KITCHEN]).out;
    let words: Vec<_> = plan.split_whitespace().collect();
    assert!(words.join(" ").contains(&format!("contains {not_known}")), "{plan}");
}

#[test]
fn allergens_that_the_batch_file_names_stand_on_the_label() {
    let made = ["--kitchen", KITCHEN, "--made", "2026-11-24"];
    let said = dekchi(&[&["label", BY_COMPOSITION], &made[..]].concat()).out;
    assert!(said.contains("\nContains: MILK\n") && said.contains("with cream: today"), "{said}");
}

#[test]
fn a_pot_without_sensors_begins_no_batch() {
    let directory = tempfile::tempdir().unwrap();
    let store = directory.path().join("s.sqlite");
    let run = ["run", "--kitchen", KITCHEN, "--batch", BY_COMPOSITION, "--store"];
    let said = dekchi(&[&run[..], &[store.to_str().unwrap()]].concat());
    assert_eq!(said.code, 78, "{}", said.err);
    assert!(said.err.contains("the pot \"big\" has no sensors"), "{}", said.err);
    assert!(!store.exists(), "no store is opened for what cannot be heard");
}
