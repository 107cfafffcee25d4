//! The index beside this file names only tests that there are, and every test of this program.

use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};

const INDEX: &str = include_str!("README.md");
const ROWS: usize = 38;

fn sources(directory: &Path, found: &mut Vec<PathBuf>) {
    for entry in fs::read_dir(directory).unwrap().map(Result::unwrap) {
        let path = entry.path();
        if path.is_dir() {
            sources(&path, found);
        } else if path.extension().is_some_and(|end| end == "rs") {
            found.push(path);
        }
    }
}

/// The tests of a source: functions under `#[test]` and the like, those within `proptest!` too.
fn tests_of(source: &str) -> Vec<&str> {
    let mut names = Vec::new();
    let mut marked = false;
    for line in source.lines().map(str::trim) {
        let is_mark = line == "#[test]" || line.starts_with("#[tokio::test");
        marked |= is_mark;
        let code = line.trim_start_matches("async ");
        if let Some(name) = code.strip_prefix("fn ").filter(|_| marked) {
            names.extend(name.split('(').next());
            marked = false;
        }
    }
    names
}

fn all_tests() -> BTreeSet<String> {
    let mut files = Vec::new();
    ["src", "tests"].iter().for_each(|room| sources(Path::new(room), &mut files));
    let mut names = BTreeSet::new();
    for file in files {
        let source = fs::read_to_string(&file).unwrap();
        names.extend(tests_of(&source).into_iter().map(str::to_owned));
    }
    names
}

/// The rows of the index: number, and the cell that says what proves it.
fn rows() -> Vec<(usize, &'static str)> {
    let cells = |line: &'static str| line.trim_matches('|').split(" | ").collect::<Vec<_>>();
    let row = |line| match cells(line)[..] {
        [number, _, _, proof] => Some((number.trim().parse().ok()?, proof)),
        _ => None,
    };
    INDEX.lines().filter(|line| line.starts_with('|')).filter_map(row).collect()
}

/// What stands between backquotes and has no space, dot or slash: a test's name.
fn named(text: &str) -> impl Iterator<Item = &str> {
    text.split('`').skip(1).step_by(2).filter(|name| {
        name.len() > 20 && name.chars().all(|c| c.is_ascii_alphanumeric() || c == '_')
    })
}

#[test]
fn every_fault_has_a_test_that_there_is_or_says_why_it_has_none() {
    let tests = all_tests();
    let rows = rows();
    assert_eq!(rows.iter().map(|(n, _)| *n).collect::<Vec<_>>(), (1..=ROWS).collect::<Vec<_>>());
    for (number, proof) in rows {
        let proved = named(proof).count() > 0 || proof.contains("not tested here:");
        assert!(proved, "row {number} names no test: {proof}");
    }
    for name in named(INDEX) {
        assert!(tests.contains(name), "the index names {name}, which there is not");
    }
}

#[test]
fn every_test_of_this_program_stands_in_the_index() {
    let mut files = Vec::new();
    sources(Path::new("tests/faults"), &mut files);
    for file in files.iter().filter(|file| !file.ends_with("index.rs")) {
        let source = fs::read_to_string(file).unwrap();
        for name in tests_of(&source) {
            assert!(named(INDEX).any(|named| named == name), "{name} is not in the index");
        }
    }
}
