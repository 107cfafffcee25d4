//! The house holds: a room uses only rooms above it, edges never use each other, and the virtual
//! pot shares nothing with the judgement.
//!
//! Read from the source: every path that begins at the crate's root, in a `use` (groups too) or in
//! the middle of the code, comments left out.

#![cfg(test)]

use std::fs;
use std::path::{Path, PathBuf};

/// From the top of the house down; the rooms of one line may not use each other.
const HOUSE: &[&[&str]] = &[
    &["quantity"],
    &["moment"],
    &["reading"],
    &["physics"],
    &["batch"],
    &["watch"],
    &["score"],
    &["virtual_pot"],
    &["show"],
    &["sense", "keep", "tell", "serve"],
    &["config"],
    &["daemon"],
    &["cli"],
];

/// Uses that the order would allow but that are wrong all the same.
const NEVER: &[(&str, &str)] = &[("virtual_pot", "watch")];

fn storey(room: &str) -> Option<usize> {
    HOUSE.iter().position(|rooms| rooms.contains(&room))
}

/// Why `room` may not use `other`; `None` where it may.
fn quarrel(room: &str, other: &str) -> Option<String> {
    let (Some(here), Some(there)) = (storey(room), storey(other)) else {
        return Some(format!("{room} uses crate::{other}, which is no room that the house knows"));
    };
    let wrong = if room == other {
        return None;
    } else if there > here {
        "which lies below it"
    } else if there == here {
        "an edge like itself"
    } else if NEVER.contains(&(room, other)) {
        "with which it must share nothing"
    } else {
        return None;
    };
    Some(format!("{room} uses {other}, {wrong}"))
}

/// The rooms that this source names, with the line of each; `depth` is 1 for `src/room.rs`, 2 for
/// `src/room/file.rs` and so on.
fn rooms_named(source: &str, depth: usize) -> Vec<(usize, String)> {
    let code = without_comments(source);
    let root = "super::".repeat(depth);
    let mut named = Vec::new();
    for start in ["crate::", &root] {
        for (at, _) in code.match_indices(start) {
            let before = code[..at].chars().next_back();
            if before.is_some_and(|c| c.is_alphanumeric() || c == '_' || c == ':' || c == '$') {
                continue;
            }
            let line = code[..at].matches('\n').count() + 1;
            let path = code[at + start.len()..].trim_start_matches("super::");
            // A test module inside a file is one deeper, where `super`s name the room's own files.
            let segments = first_segments(path).into_iter();
            let rooms = segments.filter(|s| start == "crate::" || storey(s).is_some());
            named.extend(rooms.map(|room| (line, room)));
        }
    }
    named.retain(|(_, room)| !room.is_empty());
    named
}

/// `watch::Watch` gives `watch`; `{watch::Watch, batch::{plan, pot}}` gives `watch` and `batch`. What
/// is called with `!` is a macro and no room.
fn first_segments(path: &str) -> Vec<String> {
    let ident = |text: &str| {
        let text = text.trim_start();
        let end = text.find(|c: char| !c.is_alphanumeric() && c != '_').unwrap_or(text.len());
        if text[end..].starts_with('!') { String::new() } else { text[..end].to_owned() }
    };
    let Some(group) = path.strip_prefix('{') else { return vec![ident(path)] };
    let mut depth = 0_i32;
    let mut items = vec![String::new()];
    for c in group.chars() {
        match c {
            '}' if depth == 0 => break,
            ',' if depth == 0 => items.push(String::new()),
            _ => {
                depth += i32::from(c == '{') - i32::from(c == '}');
                items.last_mut().unwrap().push(c);
            }
        }
    }
    items.iter().map(|item| ident(item)).collect()
}

fn without_comments(source: &str) -> String {
    source.lines().map(|line| line.split("//").next().unwrap().to_owned() + "\n").collect()
}

fn rust_files(folder: &Path) -> Vec<PathBuf> {
    let mut files = Vec::new();
    for entry in fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            files.extend(rust_files(&path));
        } else if path.extension().is_some_and(|extension| extension == "rs") {
            files.push(path);
        }
    }
    files.sort();
    files
}

fn source_folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("src")
}

#[test]
fn no_room_uses_what_lies_below_it_or_beside_it() {
    let src = source_folder();
    let mut quarrels = Vec::new();
    let mut files = 0;
    for path in rust_files(&src) {
        let inside = path.strip_prefix(&src).unwrap().with_extension("");
        let parts: Vec<_> = inside.iter().map(|part| part.to_str().unwrap()).collect();
        if parts == ["lib"] || parts == ["main"] {
            continue;
        }
        files += 1;
        let source = fs::read_to_string(&path).unwrap();
        for (line, other) in rooms_named(&source, parts.len()) {
            if let Some(why) = quarrel(parts[0], &other) {
                quarrels.push(format!("src/{}.rs:{line}: {why}", inside.display()));
            }
        }
    }
    assert!(files > 20, "only {files} files were found under {}", src.display());
    assert!(quarrels.is_empty(), "\n{}", quarrels.join("\n"));
}

#[test]
fn the_house_is_the_one_that_the_library_declares() {
    let library = fs::read_to_string(source_folder().join("lib.rs")).unwrap();
    let declared: Vec<_> =
        library.lines().filter_map(|l| l.strip_prefix("pub mod ")?.strip_suffix(';')).collect();
    let known: Vec<_> = HOUSE.iter().copied().flatten().copied().collect();
    assert_eq!(declared, known, "src/lib.rs and HOUSE must name the same rooms in the same order");
}

#[test]
fn a_bad_line_is_found_wherever_it_hides() {
    let found = |room: &str, depth, source: &str| {
        let named = rooms_named(source, depth);
        named
            .iter()
            .filter_map(|(line, other)| quarrel(room, other).map(|_| *line))
            .collect::<Vec<_>>()
    };
    assert_eq!(found("watch", 1, "\nuse crate::show::lines;\n"), [2]);
    assert_eq!(
        found("watch", 2, "use crate::{\n  moment::Moment,\n  cli::{self, failure},\n};"),
        [1]
    );
    assert_eq!(found("batch", 2, "fn f() {\n    crate::watch::Watch::new(s)\n}"), [2]);
    assert_eq!(found("keep", 2, "use crate::sense::recording::Row;"), [1]);
    assert_eq!(found("virtual_pot", 1, "use crate::watch::event::Event;"), [1]);
    assert_eq!(found("watch", 1, "use super::daemon::clock;"), [1]);
    assert_eq!(found("watch", 2, "use super::super::daemon;"), [1]);
    assert_eq!(found("watch", 1, "use crate::cellar::Wine;"), [1]);
}

#[test]
fn a_good_line_is_left_in_peace() {
    let good = "use crate::{moment::Moment, batch::{plan::Plan, pot::Pot}};\n\
        // use crate::cli::failure;\n/// See [`crate::daemon`].\nuse super::event;\n\
        use crate::watch::action; crate::quantity!(A); pub(crate) fn f() {}";
    for (_, other) in rooms_named(good, 2) {
        assert_eq!(quarrel("watch", &other), None);
    }
}
