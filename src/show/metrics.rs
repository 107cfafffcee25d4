//! The board's figures as OpenMetrics text (the OpenMetrics specification, version 1.0.0).
//!
//! Base units and their names stand in the metrics' names. What is not known is left out: a gauge
//! without a sample is "not known", never zero.

use std::fmt::Write as _;

use crate::watch::action::{Alarm, Lid};

use super::board::{Board, PotNow};
use super::escape::printable;

/// The media type of [`text`].
pub const CONTENT_TYPE: &str = "application/openmetrics-text; version=1.0.0; charset=utf-8";

/// A gauge of each pot.
struct Gauge {
    name: &'static str,
    unit: &'static str,
    help: &'static str,
    value: fn(&PotNow) -> Option<f64>,
}

macro_rules! shown {
    ($field:ident) => {
        |pot| pot.story.now.as_ref().and_then(|now| now.$field)
    };
}

const GAUGES: [Gauge; 15] = [
    Gauge {
        name: "dekchi_pot_celsius",
        unit: "celsius",
        help: "The probe in the food.",
        value: shown!(pot_c),
    },
    Gauge {
        name: "dekchi_boiling_point_celsius",
        unit: "celsius",
        help: "Boiling point here and now.",
        value: shown!(boil_c),
    },
    Gauge {
        name: "dekchi_contents_kilograms",
        unit: "kilograms",
        help: "What is in the pot.",
        value: shown!(contents_kg),
    },
    Gauge {
        name: "dekchi_contents_sd_kilograms",
        unit: "kilograms",
        help: "Standard deviation of the contents.",
        value: shown!(contents_sd_kg),
    },
    Gauge {
        name: "dekchi_water_kilograms",
        unit: "kilograms",
        help: "Water in the pot.",
        value: shown!(water_kg),
    },
    Gauge {
        name: "dekchi_target_kilograms",
        unit: "kilograms",
        help: "Contents at which the target is reached.",
        value: shown!(target_kg),
    },
    Gauge {
        name: "dekchi_total_solids_ratio",
        unit: "ratio",
        help: "Dry matter as a fraction of the contents.",
        value: shown!(total_solids),
    },
    Gauge {
        name: "dekchi_evaporation_kilograms_per_hour",
        unit: "",
        help: "Water that leaves the pot.",
        value: shown!(evaporation_kg_h),
    },
    Gauge {
        name: "dekchi_heat_watts",
        unit: "watts",
        help: "Heat that the contents take up.",
        value: shown!(heat_w),
    },
    Gauge {
        name: "dekchi_boiling_ratio",
        unit: "ratio",
        help: "1 at the boil, 0 off it.",
        value: |pot| pot.story.now.as_ref()?.boiling.map(|so| f64::from(u8::from(so))),
    },
    Gauge {
        name: "dekchi_lid_on_ratio",
        unit: "ratio",
        help: "1 with the lid on, 0 with it off.",
        value: |pot| pot.story.now.as_ref()?.lid.map(|lid| f64::from(u8::from(lid == Lid::On))),
    },
    Gauge {
        name: "dekchi_catch_index_ratio",
        unit: "ratio",
        help: "0 for a bottom just scraped, 1 where it is as likely as not to have caught.",
        value: shown!(catch_index),
    },
    Gauge {
        name: "dekchi_stir_within_seconds",
        unit: "seconds",
        help: "Time until the bottom needs a stir.",
        value: shown!(stir_within_s),
    },
    Gauge {
        name: "dekchi_since_stir_seconds",
        unit: "seconds",
        help: "Time since the last stir.",
        value: shown!(since_stir_s),
    },
    Gauge {
        name: "dekchi_silent_seconds",
        unit: "seconds",
        help: "Time since anything was heard of the pot's sensors.",
        value: |pot| Some(pot.silent_s),
    },
];

/// The whole exposition.
#[must_use]
pub fn text(board: &Board, version: &str) -> String {
    let mut out = String::new();
    head(&mut out, "dekchi_build", "info", "", "The program that runs.");
    line(&mut out, "dekchi_build_info", &[("version", version)], 1.0);
    for gauge in &GAUGES {
        head(&mut out, gauge.name, "gauge", gauge.unit, gauge.help);
        for pot in &board.pots {
            if let Some(value) = (gauge.value)(pot).filter(|value| value.is_finite()) {
                line(&mut out, gauge.name, &[("pot", &pot.name)], value);
            }
        }
    }
    until_target(&mut out, board);
    alerts(&mut out, board);
    store(&mut out, board);
    out += "# EOF\n";
    out
}

fn until_target(out: &mut String, board: &Board) {
    const NAME: &str = "dekchi_target_in_seconds";
    let help = "Time until the target: middle and ends of an 80 % interval.";
    head(out, NAME, "gauge", "seconds", help);
    for pot in &board.pots {
        let Some(spread) = pot.story.now.as_ref().and_then(|now| now.target_in_s) else { continue };
        for (share, s) in [("0.1", spread.p10), ("0.5", spread.p50), ("0.9", spread.p90)] {
            line(out, NAME, &[("pot", &pot.name), ("probability", share)], s);
        }
    }
}

fn alerts(out: &mut String, board: &Board) {
    const NAME: &str = "dekchi_alert";
    head(out, NAME, "stateset", "", "Alerts that stand.");
    for pot in &board.pots {
        for alarm in Alarm::ALL {
            let stands = pot.story.raised().any(|notice| notice.alarm == alarm);
            let labels = [("pot", pot.name.as_str()), (NAME, alarm.name())];
            line(out, NAME, &labels, f64::from(u8::from(stands)));
        }
    }
}

fn store(out: &mut String, board: &Board) {
    let store = &board.store;
    let gauges = [
        (
            "dekchi_store_ok_ratio",
            "ratio",
            "1 where the store writes.",
            u64::from(store.trouble.is_none()),
        ),
        ("dekchi_store_waiting_rows", "rows", "Rows that wait for the store.", store.waiting_rows),
    ];
    for (name, unit, help, value) in gauges {
        head(out, name, "gauge", unit, help);
        line(out, name, &[], value as f64);
    }
    if let Some(hears) = board.broker {
        head(out, "dekchi_broker_connected_ratio", "gauge", "ratio", "1 where the broker hears.");
        line(out, "dekchi_broker_connected_ratio", &[], f64::from(u8::from(hears)));
    }
    let counters = [
        ("dekchi_store_commits", "Transactions committed since the start.", store.commits),
        ("dekchi_store_lost_samples", "Samples that memory could not hold.", store.lost_samples),
        ("dekchi_store_lost_rows", "Other rows that were lost.", store.lost_rows),
    ];
    for (name, help, value) in counters {
        head(out, name, "counter", "", help);
        line(out, &format!("{name}_total"), &[], value as f64);
    }
}

// Writing to a string does not fail.

fn head(out: &mut String, name: &str, kind: &str, unit: &str, help: &str) {
    let _ = writeln!(out, "# TYPE {name} {kind}");
    if !unit.is_empty() {
        let _ = writeln!(out, "# UNIT {name} {unit}");
    }
    let _ = writeln!(out, "# HELP {name} {help}");
}

fn line(out: &mut String, name: &str, labels: &[(&str, &str)], value: f64) {
    let labels: Vec<String> =
        labels.iter().map(|(key, value)| format!("{key}=\"{}\"", label(value))).collect();
    let labels =
        if labels.is_empty() { String::new() } else { format!("{{{}}}", labels.join(",")) };
    let _ = writeln!(out, "{name}{labels} {value}");
}

/// A label's value, escaped as the specification has it.
fn label(text: &str) -> String {
    printable(text).replace('\\', "\\\\").replace('"', "\\\"")
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::show::page::tests::board;

    #[test]
    fn what_is_not_known_is_left_out() {
        let board = board(0.0);
        let text = text(&board, "0.1.0");
        assert!(text.contains("dekchi_contents_kilograms{pot=\"big\"} 23.59"), "{text}");
        assert!(!text.contains("dekchi_contents_sd_kilograms{"), "{text}");
        assert!(text.contains("dekchi_alert{pot=\"big\",dekchi_alert=\"stir-due\"} 0\n"));
        assert!(text.ends_with("# EOF\n"));
    }

    #[test]
    fn a_hostile_name_stays_inside_its_label() {
        assert_eq!(label("a\"} 1\n\\evil"), "a\\\"} 1 \\\\evil");
    }
}
