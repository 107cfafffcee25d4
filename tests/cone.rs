//! The judgement on a real load cell that nobody on this project ran.
//!
//! Four runs of a specimen losing mass under a constant heat flux (MaCFP/matl-db, MIT, see
//! tests/data/mass_loss_cone), 1 Hz, noise 0.07 to 0.12 g on 70 g. They are read as a pot ten or
//! fifty times as heavy: 70 g are 0.7 or 3.5 kg, and the noise 1 to 6 g. The rate rises all the time,
//! so a forecast at a steady rate comes late; there is no probe.

#![cfg(test)]

use std::fs;

use dekchi::batch::composition::Composition;
use dekchi::batch::plan::{Plan, Start, Target};
use dekchi::batch::pot::{Pot, Site};
use dekchi::moment::Moment;
use dekchi::quantity::Kilograms;
use dekchi::watch::Watch;
use dekchi::watch::action::{Action, Snapshot, What};
use dekchi::watch::event::Event;
use dekchi::watch::setting::Setting;

/// Each run with the kg of the pot to a gram of it: what boils is at most some 15 kg an hour, and
/// at 65 kW/m² half the specimen is gone in three minutes.
const RUNS: [(&str, f64); 4] = [
    ("Aalto_Gasification_65kW_1", 0.01),
    ("DBI_Lund_Gasification_25kW_1", 0.05),
    ("DBI_Lund_Gasification_25kW_2", 0.05),
    ("TIFP_Gasification_65kW_1", 0.01),
];
const TARE_KG: f64 = 3.1;

/// (s, kg) of a run, without its first rows, in which the specimen is put on.
fn run((name, scale): (&str, f64)) -> Vec<(f64, f64)> {
    let text = fs::read_to_string(format!("tests/data/mass_loss_cone/{name}.csv")).unwrap();
    let row = |line: &str| {
        let mut cells = line.split(',').map(str::parse::<f64>);
        Some((cells.next()?.ok()?, scale * cells.next()?.ok()?))
    };
    text.lines().skip(2).filter_map(row).skip(3).collect()
}

fn setting(start_kg: f64) -> Setting {
    let composition = Composition::new(0.90, 0.10, 0.0, 0.0).unwrap();
    let pot = Pot {
        name: "cone".to_owned(),
        base_diameter_m: 0.40,
        tare_kg: TARE_KG,
        lid_kg: 1.35,
        height_m: None,
    };
    let plan = Plan {
        name: "cone".to_owned(),
        pot: "cone".to_owned(),
        start: Start { contents_kg: start_kg, lid_on: false, composition },
        additions: Vec::new(),
        target: Some(Target::Contents(0.5 * start_kg)),
        stages: Vec::new(),
    };
    Setting::of(Site { altitude_m: 0.0, pressure: None }, pot, plan)
}

struct Seen {
    shown: Vec<Snapshot>,
    moves: usize,
    reached_s: f64,
}

fn watched(of: (&str, f64)) -> Seen {
    let rows = run(of);
    let start_kg = rows[..5].iter().map(|(_, kg)| kg).sum::<f64>() / 5.0;
    let mut watch = Watch::new(setting(start_kg));
    let mut seen = Seen { shown: Vec::new(), moves: 0, reached_s: f64::NAN };
    for &(t_s, kg) in &rows {
        if kg < 0.5 * start_kg && seen.reached_s.is_nan() {
            seen.reached_s = t_s;
        }
        let load = Ok(Kilograms::new(TARE_KG + kg).unwrap());
        for action in watch.step(Event::Load(load), Moment::from_seconds(t_s).unwrap()) {
            match action {
                Action::Show(now) => seen.shown.push(*now),
                Action::Happened(h) => {
                    let moved = matches!(h.what, What::Added { .. } | What::Taken { .. });
                    seen.moves += usize::from(moved && h.at.seconds() < seen.reached_s.max(0.0));
                }
                Action::Tell(_) => {}
            }
        }
    }
    seen
}

fn shown_at(seen: &Seen, t_s: f64) -> &Snapshot {
    seen.shown.iter().rev().find(|s| s.at.seconds() <= t_s).unwrap()
}

#[test]
fn the_contents_follow_a_real_load_cell() {
    for of in RUNS {
        let (name, seen, rows) = (of.0, watched(of), run(of));
        for now in seen.shown.iter().filter(|s| s.at.seconds() > 30.0) {
            let t_s = now.at.seconds();
            let Some(&(_, kg)) = rows.iter().find(|(then_s, _)| *then_s >= t_s) else { continue };
            let off_kg = (now.contents_kg.unwrap() - kg).abs();
            assert!(off_kg < 0.10 * rows[0].1, "{name} at {t_s} s: {off_kg} kg off");
        }
    }
}

/// A straight line over-predicts the time of these bending runs by 4 to 28 % ten minutes ahead of a
/// slow one (computed once from the same data). Measured here, a quarter of the way before half is
/// gone: 177 s for 152 and 171 for 155 at 25 kW/m², 57 for 44 and 78 for 52 at 65 kW/m², where the
/// whole run is three minutes.
#[test]
fn a_target_is_foretold_on_a_real_load_cell() {
    for of in RUNS {
        let (name, seen) = (of.0, watched(of));
        let lead_s = 0.25 * seen.reached_s;
        let spread = shown_at(&seen, seen.reached_s - lead_s).target_in_s;
        let said_s = spread.map(|s| s.p50).unwrap_or(f64::INFINITY);
        println!("{name}: {lead_s:.0} s before {:.0} s said {said_s:.0} s", seen.reached_s);
        assert!(
            (0.8..1.6).contains(&(said_s / lead_s)),
            "{name}: {said_s} s said {lead_s} s before"
        );
    }
}
