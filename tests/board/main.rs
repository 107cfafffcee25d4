//! What stands on paper holds: pins, budget, drawings, man pages, package files.

#![cfg(test)]

mod asyncapi;
mod bench;
mod fresh;

use dekchi::config::board::{self, Pins};
use dekchi::config::broker;
use dekchi::config::kitchen::Kitchen;
use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;

fn path(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join(name)
}

fn read(name: &str) -> String {
    fs::read_to_string(path(name)).unwrap_or_else(|error| panic!("{name}: {error}"))
}

fn dekchi(args: &[&str]) -> String {
    let out = Command::new(env!("CARGO_BIN_EXE_dekchi")).args(args).output().unwrap();
    assert!(out.status.success(), "{args:?}: {}", String::from_utf8_lossy(&out.stderr));
    String::from_utf8(out.stdout).unwrap()
}

/// Header pins of the 40-pin header by the processor's numbers (Raspberry Pi's documentation).
const HEADER: [(u8, u32); 26] = [
    (2, 3),
    (3, 5),
    (4, 7),
    (14, 8),
    (15, 10),
    (17, 11),
    (18, 12),
    (27, 13),
    (22, 15),
    (23, 16),
    (24, 18),
    (10, 19),
    (9, 21),
    (25, 22),
    (11, 23),
    (8, 24),
    (7, 26),
    (5, 29),
    (6, 31),
    (12, 32),
    (13, 33),
    (19, 35),
    (16, 36),
    (26, 37),
    (20, 38),
    (21, 40),
];

#[test]
fn the_pin_table_is_what_the_program_does() {
    let table = read("hardware/README.md");
    for (key, gpio) in Pins::default().named() {
        let header = HEADER.iter().find(|(g, _)| *g == gpio).unwrap().1;
        let row = format!("| {key} | {gpio} | {header} |");
        assert!(table.contains(&row), "{row} is not in hardware/README.md");
    }
}

#[test]
fn the_wiring_drawings_use_the_same_pins() {
    let wiring =
        ["lamp", "hx711", "probes"].map(|name| read(&format!("hardware/wiring/{name}.yml")));
    let labels = wiring.concat();
    let said = |word: &str| {
        match word {
            "hx711_data" => "data",
            "hx711_clock" => "clock",
            "onewire" => "1-Wire",
            other => other,
        }
        .to_owned()
    };
    for (key, gpio) in Pins::default().named() {
        let label = format!("GPIO {gpio} {}", said(key));
        assert!(labels.contains(&label), "{label} is in no wiring drawing");
    }
}

#[test]
fn the_budget_on_paper_is_the_one_that_the_program_works_out() {
    let paper = read("hardware/README.md");
    let (_, rest) = paper.split_once("<!-- budget -->\n").unwrap();
    let (table, _) = rest.split_once("<!-- end -->").unwrap();
    assert_eq!(table, dekchi(&["budget"]));
}

#[test]
fn each_drawing_is_of_the_text_beside_it() {
    let digest = |name: &str| {
        let hash = ring::digest::digest(&ring::digest::SHA256, read(name).as_bytes());
        hash.as_ref().iter().map(|byte| format!("{byte:02x}")).collect::<String>()
    };
    let wiring = fs::read_dir(path("hardware/wiring")).unwrap().map(|e| e.unwrap().file_name());
    let wiring = wiring.map(|name| format!("hardware/wiring/{}", name.to_str().unwrap()));
    let sources: Vec<String> = wiring.filter(|name| name.ends_with(".yml")).collect();
    assert!(sources.len() >= 6);
    for source in sources.iter().map(String::as_str).chain(["hardware/platform.py"]) {
        let drawing = source.replace(".yml", ".svg").replace(".py", ".svg");
        let stamp = format!("<!-- drawn from sha256:{} -->", digest(source));
        assert!(read(&drawing).contains(&stamp), "{source} was changed: run hardware/draw.sh");
    }
}

#[test]
fn the_man_page_names_every_command() {
    let page = read("deploy/man/dekchi.1");
    let help = dekchi(&["--help"]);
    let (_, commands) = help.split_once("Commands:\n").unwrap();
    let names = commands
        .lines()
        .map_while(|line| line.strip_prefix("  "))
        .filter_map(|line| line.split_whitespace().next().filter(|_| !line.starts_with(' ')));
    for name in names.filter(|&name| name != "help") {
        assert!(page.contains(&format!(".B {name}\n")), "{name} is not in deploy/man/dekchi.1");
    }
}

#[test]
fn the_file_formats_page_names_every_key_of_board_and_broker() {
    let page = read("deploy/man/dekchi-kitchen.5");
    let words: BTreeSet<&str> =
        page.split(|c: char| !c.is_alphanumeric() && c != '_').filter(|w| !w.is_empty()).collect();
    let keys = [board::BOARD_KEYS, board::PIN_KEYS, board::SENSOR_KEYS, broker::KEYS].concat();
    for key in keys {
        assert!(words.contains(key), "{key} is not in deploy/man/dekchi-kitchen.5");
    }
}

#[test]
fn the_packaged_kitchen_is_a_sound_one() {
    let text = read("deploy/etc/kitchen.toml");
    assert!(Kitchen::parse("kitchen.toml", &text).is_ok());
    // With every commented example switched on it must be sound too.
    let all: String = text
        .lines()
        .map(|line| match line.strip_prefix("# ") {
            Some(rest) if rest.contains(" = ") || rest.starts_with('[') => format!("{rest}\n"),
            _ => format!("{line}\n"),
        })
        .collect();
    let kitchen = Kitchen::parse("kitchen.toml", &all);
    assert!(kitchen.is_ok(), "{:?}", kitchen.err());
}

#[test]
fn the_package_brings_files_that_are_there() {
    let manifest: toml::Table = read("Cargo.toml").parse().unwrap();
    let deb = &manifest["package"]["metadata"]["deb"];
    for asset in deb["assets"].as_array().unwrap() {
        let file = asset[0].as_str().unwrap();
        assert!(file.starts_with("target/") || path(file).exists(), "{file} is missing");
    }
    let depends = deb["depends"].as_str().unwrap();
    for needed in ["libc6", "libgcc-s1", "tzdata"] {
        assert!(depends.contains(needed), "{needed} is not among the package's needs");
    }
}

/// systemd-analyze is on Debian and its kin; elsewhere this says that it was left out.
#[test]
fn the_units_exposure_is_at_most_two() {
    let unit = path("deploy/systemd/dekchi.service");
    let Ok(out) = Command::new("systemd-analyze")
        .args(["security", "--offline=true", "--threshold=20"])
        .arg(&unit)
        .output()
    else {
        eprintln!("LEFT OUT: no systemd-analyze on this machine");
        return;
    };
    let said = String::from_utf8_lossy(&out.stdout);
    assert!(out.status.success(), "more than 2.0:\n{}", said.lines().last().unwrap_or_default());
}
