//! Recordings, kitchen files and batch files: what is good is replayed, what is bad gets its one
//! clear sentence and its exit code, and no bytes at all make the readers panic.

#![cfg(test)]

use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};

use tempfile::TempDir;

mod damaged;
mod scored;

const KITCHEN: &str = "[site]\naltitude_m = 40.0\n\n[[pot]]\nname = \"big\"\n\
    base_diameter_m = 0.40\ntare_kg = 6.2\nlid_kg = 1.35\n";
const BATCH: &str = "name = \"Tuesday base\"\npot = \"big\"\n\n[start]\ncontents_kg = 23.6\n\
    lid = \"off\"\ncomposition = { water = 0.894, solids = 0.072, fat = 0.030, salt = 0.004 }\n\n\
    [[addition]]\nname = \"cream\"\nkg = 0.43\n\
    composition = { water = 0.735, solids = 0.075, fat = 0.190, salt = 0.0 }\n\n\
    [target]\ntotal_solids = 0.118\n";
const HEADER: &str = "t_s,probe_c,load_kg\n";

/// A folder with a kitchen, a batch and a recording in it.
struct Table {
    folder: TempDir,
}

impl Table {
    fn laid() -> Self {
        let table = Self { folder: TempDir::new().unwrap() };
        table.put("kitchen.toml", KITCHEN);
        table.put("batch.toml", BATCH);
        table.put("pot.csv", simmering(60.0));
        table
    }

    fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    fn put(&self, name: &str, bytes: impl AsRef<[u8]>) {
        fs::write(self.path(name), bytes).unwrap();
    }

    fn dekchi(&self, args: &[&str]) -> Output {
        let program = Command::new(env!("CARGO_BIN_EXE_dekchi"))
            .current_dir(self.folder.path())
            .args(args)
            .output();
        program.unwrap()
    }

    fn replay(&self, recording: &str, more: &[&str]) -> Output {
        let fixed = ["replay", recording, "--kitchen", "kitchen.toml", "--batch", "batch.toml"];
        self.dekchi(&[&fixed[..], more].concat())
    }

    /// The sentence with which this recording is refused.
    fn refused(&self, recording: impl AsRef<[u8]>) -> String {
        self.put("bad.csv", recording);
        sentence(&self.replay("bad.csv", &[]), 2)
    }
}

/// A pot that loses 3 kg/h at the boil, as its sensors would record it.
fn simmering(seconds: f64) -> String {
    let rows = (0..(seconds * 10.0) as u32).map(|tenth| {
        let t_s = f64::from(tenth) / 10.0;
        let probe = if tenth % 10 == 0 { "99.1250" } else { "" };
        format!("{t_s:.1},{probe},{:.3}\n", 29.8 - 3.0 * t_s / 3600.0)
    });
    HEADER.to_owned() + &rows.collect::<String>()
}

/// The one line on standard error, where the exit code is the expected one.
fn sentence(output: &Output, code: i32) -> String {
    let told = String::from_utf8(output.stderr.clone()).unwrap();
    assert_eq!(output.status.code(), Some(code), "{told}");
    assert_eq!(told.lines().count(), 1, "{told}");
    told.trim_end().to_owned()
}

fn lines(output: &Output) -> Vec<serde_json::Value> {
    assert_eq!(output.status.code(), Some(0), "{}", String::from_utf8_lossy(&output.stderr));
    let text = String::from_utf8(output.stdout.clone()).unwrap();
    text.lines().map(|line| serde_json::from_str(line).unwrap()).collect()
}

#[test]
fn a_good_recording_is_replayed_in_order_of_time_and_always_alike() {
    let table = Table::laid();
    let output = table.replay("pot.csv", &["--every", "5"]);
    let lines = lines(&output);
    let times: Vec<_> = lines.iter().map(|line| line["t_s"].as_f64().unwrap()).collect();
    assert!(times.is_sorted(), "{times:?}");
    let readings: Vec<_> = lines.iter().filter(|line| line["kind"] == "reading").collect();
    assert_eq!(readings.len(), 12);
    assert!(readings.iter().all(|line| line["pot"] == "big" && line["lid"] == "off"));
    assert_eq!(table.replay("pot.csv", &["--every", "5"]).stdout, output.stdout);
}

#[test]
fn a_reading_comes_every_ten_seconds_where_nothing_else_is_said() {
    let table = Table::laid();
    let readings = lines(&table.replay("pot.csv", &[]));
    assert_eq!(readings.iter().filter(|line| line["kind"] == "reading").count(), 6);
}

#[test]
fn gaps_an_early_end_and_other_columns_are_no_error() {
    let table = Table::laid();
    let rows = "0,99,29.8,hm\n0.1,,29.8,\n900,,,\n5000.0,98,,\"a, b\"\n5000.0,,29.1,\n50";
    table.put("gaps.csv", format!("t_s,probe_c,load_kg,note\n{rows}"));
    let output = table.replay("gaps.csv", &[]);
    assert_eq!(
        sentence(&output, 0),
        "gaps.csv: the last row was cut off and is left out",
        "only the cut-off row is worth a word"
    );
    assert!(!output.stdout.is_empty());
}

#[test]
fn a_broken_row_is_refused_with_its_line() {
    let told = Table::laid().refused(format!("{HEADER}0,99,29.8\n0.1,29.8\n0.2,,29.8\n"));
    assert_eq!(told, "bad.csv, line 3: cells in this row: 2; allowed: 3, as many as in the header");
}

#[test]
fn a_number_that_cannot_be_read_is_refused_with_its_line_and_column() {
    let table = Table::laid();
    for cell in ["nan", "inf", "-Infinity", "1,5", "29.8kg", "0x10", "1e400", "--1", "\u{663}"] {
        let told = table.refused(format!("{HEADER}0,99,29.8\n1,,\"{cell}\"\n"));
        assert_eq!(
            told,
            format!(
                "bad.csv, line 3, column load_kg: \"{cell}\" is not a number; allowed: a finite \
                 decimal number, or nothing where no reading was made"
            )
        );
    }
}

#[test]
fn a_missing_or_doubled_column_is_refused_by_name() {
    let table = Table::laid();
    for missing in ["t_s", "probe_c", "load_kg"] {
        let told = table.refused(format!("{}0,1,2\n", HEADER.replace(missing, "other")));
        let begins = format!("bad.csv, line 1, column {missing}: the header does not name this");
        assert!(told.starts_with(&begins), "{told}");
    }
    let told = table.refused("t_s,probe_c,load_kg,load_kg\n0,1,2,3\n");
    assert!(told.starts_with("bad.csv, line 1, column load_kg: the header names"), "{told}");
}

#[test]
fn a_recording_without_rows_is_refused() {
    let table = Table::laid();
    assert!(table.refused(HEADER).starts_with("bad.csv, line 2: there are no rows; allowed: "));
    assert!(table.refused("").starts_with("bad.csv, line 1: the file is empty; allowed: "));
}

#[test]
fn time_that_runs_backwards_is_refused() {
    let told = Table::laid().refused(format!("{HEADER}5,99,29.8\n4.9,99,29.8\n"));
    let wrong = "bad.csv, line 3, column t_s: 4.9 s comes after 5 s; allowed: times that never";
    assert!(told.starts_with(wrong), "{told}");
}

#[test]
fn what_is_no_text_or_has_no_line_ends_is_refused() {
    let table = Table::laid();
    let told = table.refused([HEADER.as_bytes(), b"0,99,\xff\n"].concat());
    assert_eq!(told, "bad.csv, line 2: the line is not UTF-8 text; allowed: UTF-8");
    let told = table.refused(vec![b'7'; 1 << 20]);
    assert_eq!(told, "bad.csv, line 1: the line is too long; allowed: at most 16384 bytes");
}

#[test]
fn a_recording_that_is_not_there_or_is_a_folder_is_refused() {
    let table = Table::laid();
    let told = sentence(&table.replay("nowhere.csv", &[]), 2);
    assert!(told.starts_with("nowhere.csv: cannot be opened: "), "{told}");
    assert!(sentence(&table.replay(".", &[]), 2).starts_with("., line 1: cannot be read: "));
}

#[test]
fn a_bad_kitchen_or_batch_is_one_line_and_exit_code_2_in_a_replay() {
    let table = Table::laid();
    table.put("batch.toml", BATCH.replace("pot = \"big\"", "pot = \"small\""));
    assert_eq!(
        sentence(&table.replay("pot.csv", &[]), 2),
        "batch.toml, line 2, pot: \"small\" is no pot of the kitchen file; allowed: \"big\""
    );
    table.put("kitchen.toml", KITCHEN.replace("6.2", "1e9").replace("0.40", "nan"));
    assert_eq!(
        sentence(&table.replay("pot.csv", &[]), 2),
        "kitchen.toml, line 6, pot.base_diameter_m: nan cannot be; allowed: 0.08 to 2 m \
         (and 1 more: see dekchi check)"
    );
}

#[test]
fn an_interval_that_cannot_be_is_a_bad_argument() {
    let table = Table::laid();
    for every in ["0", "-1", "nan", "inf", "soon", "1e9"] {
        assert_eq!(table.replay("pot.csv", &["--every", every]).status.code(), Some(2), "{every}");
    }
}

#[test]
fn check_says_how_good_files_are_understood() {
    let table = Table::laid();
    let output = table.dekchi(&["check", "kitchen.toml", "batch.toml"]);
    assert_eq!(output.status.code(), Some(0));
    assert_eq!(
        String::from_utf8(output.stdout).unwrap(),
        "kitchen.toml: a kitchen, 40 m above the sea; pot \"big\" 0.4 m wide, tare 6.2 kg, lid 1.35 kg\n\
         batch.toml: \"Tuesday base\" in pot \"big\" starts with 23.600 kg at 10.6 % total solids, \
         lid off; then 0.430 kg cream; until 11.8 % total solids\n"
    );
}

#[test]
fn check_tells_everything_that_is_wrong_one_line_each() {
    let table = Table::laid();
    table.put("kitchen.toml", KITCHEN.replace("6.2", "1e9").replace("altitude_m", "altitude"));
    let output = table.dekchi(&["check", "kitchen.toml", "batch.toml"]);
    assert_eq!(output.status.code(), Some(78));
    let told = String::from_utf8(output.stderr).unwrap();
    let expected = [
        "kitchen.toml, line 1, site.altitude_m: is missing; allowed: -450 to 5500 m above the sea",
        "kitchen.toml, line 2, site.altitude: is not a key of this table; allowed: ",
        "kitchen.toml, line 7, pot.tare_kg: 1e9 cannot be; allowed: 0 to 500 kg",
        "batch.toml: no sound kitchen file stands before it",
    ];
    assert_eq!(told.lines().count(), expected.len(), "{told}");
    for (line, begins) in told.lines().zip(expected) {
        assert!(line.starts_with(begins), "{line}");
    }
}

/// A table of files that must not pass, and what must be said of each.
#[test]
fn each_absurd_file_gets_its_sentence() {
    let table = Table::laid();
    let cases: &[(&str, &str, &str, &str)] = &[
        ("kitchen.toml", "altitude_m = 40.0", "altitude_m = nan", "line 2, site.altitude_m: nan"),
        ("kitchen.toml", "altitude_m = 40.0", "altitude_m = \"40\"", "\"40\" cannot be"),
        ("kitchen.toml", "altitude_m = 40.0", "altitude_m = 9e9", "allowed: -450 to 5500 m"),
        ("kitchen.toml", "lid_kg = 1.35", "lid_kg = -1", "pot.lid_kg: -1 cannot be; allowed: 0 to"),
        ("kitchen.toml", "name = \"big\"", "name = \"\"", "line 5, pot.name: \"\" cannot be"),
        ("kitchen.toml", "name = \"big\"", "name = \"a+b\"", "pot.name: \"a+b\" cannot be"),
        ("kitchen.toml", "[[pot]]", "[pot]", "line 4, pot: a table cannot be; allowed: [[pot]]"),
        ("kitchen.toml", "[[pot]]", "[[pan]]", "line 4, pan: is not a key of this table"),
        ("kitchen.toml", "[site]", "[site", "kitchen.toml, line 1: "),
        ("batch.toml", "kg = 0.43", "kg = inf", "line 11, addition.kg: inf cannot be"),
        (
            "batch.toml",
            "solids = 0.072",
            "solids = 0.72",
            "start.composition: the parts sum to 1.648",
        ),
        (
            "batch.toml",
            "total_solids = 0.118",
            "total_solids = 0.0118",
            "line 15, target.total_solids",
        ),
        ("batch.toml", "23.6", "2e9", "start.contents_kg: 2e9 cannot be; allowed: 0 to 2000 kg"),
        ("batch.toml", "lid = \"off\"", "lid = true", "allowed: \"off\", \"on\""),
        ("batch.toml", "[target]", "[goal]", "line 14, goal: is not a key of this table"),
        (
            "batch.toml",
            "name = \"cream\"",
            "name = \"cr\\neam\"",
            "addition.name: \"cr\\neam\" cannot",
        ),
    ];
    for (file, from, to, says) in cases {
        let good = if *file == "batch.toml" { BATCH } else { KITCHEN };
        assert!(good.contains(from), "{from}");
        table.put(file, good.replacen(from, to, 1));
        let output = table.dekchi(&["check", "kitchen.toml", "batch.toml"]);
        let told = String::from_utf8(output.stderr).unwrap();
        assert_eq!(output.status.code(), Some(78), "{to}: {told}");
        assert!(told.starts_with(file) && told.contains(says), "{to}: {told}");
        table.put(file, good);
    }
}

#[test]
fn a_file_that_is_not_there_is_refused_by_check() {
    let output = Table::laid().dekchi(&["check", "nowhere.toml"]);
    let told = sentence(&output, 2);
    assert!(told.starts_with("nowhere.toml: cannot be read: "), "{told}");
}

#[test]
fn a_reader_that_has_heard_enough_is_no_failure() {
    let table = Table::laid();
    table.put("long.csv", simmering(600.0));
    let mut replay = Command::new(env!("CARGO_BIN_EXE_dekchi"))
        .current_dir(table.folder.path())
        .args(["replay", "long.csv", "--kitchen", "kitchen.toml", "--batch", "batch.toml"])
        .args(["--every", "0.1"])
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    drop(replay.stdout.take());
    let output = replay.wait_with_output().unwrap();
    assert_eq!(output.status.code(), Some(0), "{}", String::from_utf8_lossy(&output.stderr));
    assert!(output.stderr.is_empty());
}

#[test]
fn every_example_file_is_right() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("config");
    let names = |kitchens: bool| {
        let files = fs::read_dir(&folder).unwrap().map(|entry| entry.unwrap().path());
        let toml = files.filter(|path| path.extension().is_some_and(|e| e == "toml"));
        let mut names: Vec<_> = toml
            .filter(|path| fs::read_to_string(path).unwrap().contains("[site]") == kitchens)
            .map(|path| path.to_str().unwrap().to_owned())
            .collect();
        names.sort();
        names
    };
    let (kitchens, batches) = (names(true), names(false));
    assert!(!kitchens.is_empty() && !batches.is_empty());
    for kitchen in &kitchens {
        let args: Vec<_> =
            ["check", kitchen].into_iter().chain(batches.iter().map(String::as_str)).collect();
        let output = Table::laid().dekchi(&args);
        let told = String::from_utf8_lossy(&output.stderr);
        assert_eq!(output.status.code(), Some(0), "{told}");
        let understood = String::from_utf8(output.stdout).unwrap();
        assert_eq!(understood.lines().count(), args.len() - 1, "{understood}");
    }
}
