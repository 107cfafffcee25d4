//! Recordings with their truth beside them, scored.

use std::process::{Command, Output};

use super::{BATCH, KITCHEN, Table, sentence, simmering};

/// A folder with one recording, `reduce-1`, and its truth.
fn scored() -> Table {
    let table = Table::laid();
    let series = |first: f64, per_step: f64| -> Vec<f64> {
        (0..=60).map(|step| first + per_step * f64::from(step)).collect()
    };
    let truth = serde_json::json!({
        "secs": 600, "step_s": 10, "contents_kg": series(23.6, -1.0 / 120.0),
        "water_kg": series(21.1, -1.0 / 120.0), "evaporation_kg_h": series(3.0, 0.0),
        "events": [{"t_s": 300, "what": "stirred", "secs": 25}], "target_s": null,
    });
    table.put("reduce-1.csv", simmering(600.0));
    table.put("reduce-1.kitchen.toml", KITCHEN);
    table.put("reduce-1.batch.toml", BATCH);
    table.put("reduce-1.truth.json", truth.to_string());
    table
}

#[test]
fn a_folder_is_scored_as_json_text_and_markdown() {
    let table = scored();
    let output = table.dekchi(&["score", ".", "--json", "--each"]);
    assert_eq!(output.status.code(), Some(0), "{}", String::from_utf8_lossy(&output.stderr));
    let score: serde_json::Value = serde_json::from_slice(&output.stdout).unwrap();
    assert_eq!(score["all"]["dekchi"], score["parts"]["reduce-1"]["dekchi"]);
    assert!(score["all"]["dekchi"]["stirs_found"].is_number());
    // A steady pot without noise: the straight line knows its slope to a part in a thousand.
    let slope = score["all"]["straight_line"]["evaporation_error"].as_f64().unwrap();
    assert!(slope < 1e-3, "{slope}");
    for form in [&["score", "."][..], &["score", ".", "--markdown"]] {
        let text = String::from_utf8(table.dekchi(form).stdout).unwrap();
        assert!(text.contains("evaporation error, median") && text.contains("reduce"), "{text}");
    }
}

#[test]
fn gzipped_recordings_are_scored_alike() {
    let table = scored();
    let plain = table.dekchi(&["score", ".", "--json", "--misses"]);
    for name in ["reduce-1.csv", "reduce-1.truth.json"] {
        let gzip = Command::new("gzip").arg(table.path(name)).status().unwrap();
        assert!(gzip.success());
    }
    let gzipped = table.dekchi(&["score", ".", "--json", "--misses"]);
    let but_speed = |output: &Output| {
        let mut score: serde_json::Value = serde_json::from_slice(&output.stdout).unwrap();
        score["all"]["dekchi"]["samples_per_second"].take();
        score["all"].take()
    };
    assert_eq!(but_speed(&gzipped), but_speed(&plain));
    assert_eq!(gzipped.stderr, plain.stderr);
}

#[test]
fn a_folder_without_truth_or_with_a_bad_one_is_refused() {
    let table = Table::laid();
    let told = sentence(&table.dekchi(&["score", "."]), 2);
    assert_eq!(told, ".: no recording with a NAME.truth.json beside it is there");
    let table = scored();
    table.put("reduce-1.truth.json", "{}");
    let told = sentence(&table.dekchi(&["score", "."]), 2);
    assert!(told.starts_with("./reduce-1.truth.json: missing field"), "{told}");
}
