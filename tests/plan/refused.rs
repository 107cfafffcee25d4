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
        (
            "200 g garlic",
            "200 stone garlic",
            &[],
            78,
            &["line 16", "\"stone\" is no measure", "oz"],
        ),
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
        ("total_solids = 0.105", "total_solids = 0.05", &[], 78, &["line 75", "more water"]),
        ("total_solids = 0.105", "brix = 4", &[], 78, &["target.brix", "4.0 °Brix", "more water"]),
        (
            "total_solids = 0.105",
            "dip_cm = 45",
            &[],
            78,
            &["line 75", "is deeper than the pot", "0.5 to 40 cm"],
        ),
        ("total_solids = 0.105", "like_batch = 41", &[], 78, &["how thick batch 41 was"]),
        ("stage = \"finish\"", "stage = \"finsh\"", &[], 78, &["is no stage", "\"finish\""]),
        ("minutes = 60", "minutes = -60", &[], 78, &["line", "0.1 to 1440 min"]),
        ("8 kg onions", "8 kg onyons", &[], 78, &["did you mean onions"]),
        ("total_solids = 0.105", "total_solids = 0.6", &[], 78, &["a paste that burns", "or more"]),
        (
            "total_solids = 0.105",
            "contents_kg = 30",
            &[],
            78,
            &["target.contents_kg", "kg left", "more water in it"],
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

/// The harbour's base with one thing changed, in this directory.
fn changed(directory: &std::path::Path, from: &str, to: &str) -> String {
    let text = fs::read_to_string(root().join(BATCH)).unwrap();
    assert!(text.contains(from), "{from}");
    let path = directory.join("batch.toml");
    fs::write(&path, text.replace(from, to)).unwrap();
    path.to_str().unwrap().to_owned()
}

#[test]
fn check_is_as_strict_as_plan() {
    let directory = tempfile::tempdir().unwrap();
    for (to, words) in [
        ("total_solids = 0.05", "target.total_solids: boiling cannot bring it to 5.0 %"),
        ("dip_cm = 45", "target.dip_cm: 45.0 cm is deeper than the pot"),
        ("litres = 55", "target.litres"),
    ] {
        let batch = changed(directory.path(), "total_solids = 0.105", to);
        let checked = dekchi(&["check", KITCHEN, &batch]);
        let planned = dekchi(&["plan", &batch, "--kitchen", KITCHEN, "--as-written"]);
        assert_eq!((checked.code, planned.code), (78, 78), "{}{}", checked.err, planned.err);
        assert!(
            checked.err.contains(words) && checked.err.contains("; allowed: "),
            "{}",
            checked.err
        );
        assert_eq!(checked.err, planned.err, "{to}");
    }
    let batch = changed(directory.path(), "7.7 l water", "40 l water");
    let checked = dekchi(&["check", KITCHEN, &batch]);
    assert_eq!(checked.code, 78);
    assert!(checked.err.contains("start.ingredients: with what is added later"), "{}", checked.err);
}

#[test]
fn a_batch_that_is_not_scaled_to_its_pot_is_warned_of() {
    let directory = tempfile::tempdir().unwrap();
    let vat = directory.path().join("kitchen.toml");
    let kitchen = fs::read_to_string(root().join(KITCHEN)).unwrap();
    let wide = kitchen.replace("base_diameter_m = 0.40", "base_diameter_m = 1.2");
    fs::write(&vat, wide).unwrap();
    let vat = vat.to_str().unwrap();
    let batch = BATCH;
    let planned = dekchi(&["plan", batch, "--kitchen", vat, "--as-written"]);
    let checked = dekchi(&["check", vat, batch]);
    for said in [&planned, &checked] {
        assert_eq!(said.code, 0, "{}", said.err);
        assert!(said.err.contains("beware: ") && said.err.contains("cm deep"), "{}", said.err);
        assert!(said.err.contains("dekchi plan scales it"), "{}", said.err);
    }
    assert!(dekchi(&["check", KITCHEN, batch]).err.is_empty());
    assert!(!dekchi(&["plan", batch, "--kitchen", vat]).err.contains("beware"));
    // No room for foam as it is written: it fits the pot, and boils over.
    let full = changed(directory.path(), "7.7 l water", "22 l water");
    let checked = dekchi(&["check", KITCHEN, &full]);
    assert_eq!(checked.code, 0, "{}", checked.err);
    assert!(checked.err.contains("with room left for foam"), "{}", checked.err);
}

#[test]
fn a_scaled_batch_is_written_in_the_measures_of_the_cook() {
    let directory = tempfile::tempdir().unwrap();
    let path = directory.path().join("today.toml");
    let today = path.to_str().unwrap();
    let said =
        dekchi(&["plan", BATCH, "--kitchen", KITCHEN, "--contents", "20l", "--write", today]);
    assert_eq!(said.code, 0, "{}", said.err);
    let text = fs::read_to_string(&path).unwrap();
    for line in [" g garlic\"", " g ginger\"", " ml rapeseed oil\"", " tbsp salt\"", " l water\""] {
        assert!(text.contains(line), "{line} in {text}");
    }
    assert!(!text.contains("0.1 kg") && !text.contains("0.0"), "{text}");
    let planned = |batch: &str, more: &[&str]| -> serde_json::Value {
        let of = ["plan", batch, "--kitchen", KITCHEN, "--json"];
        serde_json::from_str(&dekchi(&[&of, more].concat()).out).unwrap()
    };
    // What is read again weighs what was planned, to the scale of a kitchen.
    let (again, was) = (planned(today, &["--as-written"]), planned(BATCH, &["--contents", "20l"]));
    let kg = |plan: &serde_json::Value| plan["start"]["kg"].as_f64().unwrap();
    assert!((kg(&again) - kg(&was)).abs() < 0.01, "{} {}", kg(&again), kg(&was));
}

#[test]
fn a_saying_with_no_daemon_to_hear_it_says_so() {
    let directory = tempfile::tempdir().unwrap();
    let store = directory.path().join("none.sqlite");
    fs::write(&store, "").unwrap();
    let said = dekchi(&["say", "big", "it", "caught", "--store", store.to_str().unwrap()]);
    assert_eq!(said.code, 69);
    assert!(said.err.contains("is the daemon running?"), "{}", said.err);
}

const BY_COMPOSITION: &str = "config/tuesday-base.toml";

/// The batch in mass fractions without the line that names its allergens, in this directory; its cream
/// is called so.
fn without_allergens(directory: &std::path::Path, cream: &str) -> String {
    let text = fs::read_to_string(root().join(BY_COMPOSITION)).unwrap();
    assert!(text.contains("\nallergens = [\"milk\"]"));
    let text = text.replace("name = \"cream\"", &format!("name = \"{cream}\""));
    let kept: Vec<_> = text.lines().filter(|line| !line.starts_with("allergens")).collect();
    let path = directory.join("batch.toml");
    fs::write(&path, kept.join("\n")).unwrap();
    path.to_str().unwrap().to_owned()
}

// Regulation (EU) 1169/2011, Art. 21 and Annex II: milk is to be told; nothing known is not nothing.
#[test]
fn allergens_that_nobody_named_are_not_known_and_never_none() {
    let directory = tempfile::tempdir().unwrap();
    let batch = without_allergens(directory.path(), "the white jug");
    let sheet = directory.path().join("labels.html");
    let (batch, sheet) = (batch.as_str(), sheet.to_str().unwrap());
    let label = ["label", batch, "--kitchen", KITCHEN, "--made", "2026-11-24"];
    let said = dekchi(&[&label[..], &["--sheet", sheet]].concat()).out;
    let not_known = "not known, the batch file names no allergens";
    assert!(said.contains(&format!("\nContains: {not_known}\n")), "{said}");
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
fn cream_by_its_name_is_milk_though_no_packet_was_named() {
    let directory = tempfile::tempdir().unwrap();
    let rest = "; the rest is not known, the batch file names no allergens";
    for cream in ["cream", "double cream", "Double cream, 48 %"] {
        let batch = without_allergens(directory.path(), cream);
        let made = ["--kitchen", KITCHEN, "--made", "2026-11-24"];
        let said = dekchi(&[&["label", &batch], &made[..]].concat()).out;
        assert!(said.contains(&format!("\nContains: MILK{rest}\n")), "{said}");
        assert!(said.contains("Use by: Tue 24 Nov 2026 (with cream: today)"), "{said}");
        let json = dekchi(&[&["label", &batch, "--json"], &made[..]].concat()).out;
        let json: serde_json::Value = serde_json::from_str(&json).unwrap();
        assert_eq!(json["contains"], serde_json::json!(["milk"]), "{json}");
        assert_eq!(json["allergens_known"], false, "{json}");
    }
}

#[test]
fn double_cream_is_an_ingredient_and_no_measure() {
    let directory = tempfile::tempdir().unwrap();
    let batch = changed(directory.path(), "1 l single cream", "1 l double cream");
    assert_eq!(dekchi(&["check", KITCHEN, &batch]).code, 0);
    let batch = changed(directory.path(), "1 l single cream", "1 l thick cream");
    let checked = dekchi(&["check", KITCHEN, &batch]).err;
    assert!(checked.contains("\"thick cream\" is no ingredient that is known"), "{checked}");
    assert!(checked.contains("did you mean") && checked.contains("cream"), "{checked}");
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
