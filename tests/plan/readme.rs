//! README.md and the program say the same.

use std::fs;

use super::{dekchi, root};

/// A command line as a shell splits it, as far as double quotes go.
fn split(line: &str) -> Vec<&str> {
    let mut parts = Vec::new();
    for (n, part) in line.split('"').enumerate() {
        if n % 2 == 1 { parts.push(part) } else { parts.extend(part.split_whitespace()) }
    }
    parts
}

/// The worked batch of README.md: after each "$ dekchi …" lines of its output in order, with "…" where
/// some are left out.
#[test]
fn the_worked_batch_of_the_readme_is_what_the_program_says() {
    let readme = fs::read_to_string(root().join("README.md")).unwrap();
    let (_, section) = readme.split_once("### A batch from plan to label").unwrap();
    let (section, _) = section.split_once("\n### ").unwrap();
    let mut lines = section.lines().filter_map(|line| line.strip_prefix("    ")).peekable();
    let mut ran = 0;
    while let Some(line) = lines.next() {
        let Some(command) = line.strip_prefix("$ dekchi ") else { continue };
        let said = dekchi(&split(command));
        assert_eq!(said.code, 0, "{command}: {}", said.err);
        let mut out = said.out.lines();
        while let Some(shown) = lines.next_if(|line| !line.starts_with('$')) {
            // What is typed while it cooks has no output here.
            if shown != "…" && !shown.starts_with("dekchi ") {
                assert!(out.any(|line| line == shown), "{command} does not say: {shown}");
            }
        }
        ran += 1;
    }
    assert_eq!(ran, 3);
}
