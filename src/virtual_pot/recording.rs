//! A virtual batch as the four texts of a recording: samples, kitchen, batch and truth.

use std::fmt::Write as _;

use serde_json::{Value, json};

use crate::batch::composition::Composition;
use crate::batch::plan::{PlannedAddition, Target};
use crate::moment::Moment;

use super::{Sample, VirtualPot};

/// The texts of one recording.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Texts {
    pub csv: String,
    pub kitchen: String,
    pub batch: String,
    pub truth: String,
}

/// Cooks `pot` to its end and writes it down.
#[must_use]
pub fn write(mut pot: VirtualPot) -> Texts {
    let start_lid = pot.plan.start.lid_on;
    let csv = csv(&mut pot);
    Texts { csv, kitchen: kitchen(&pot), batch: batch(&pot, start_lid), truth: truth(&pot) }
}

/// Cells of one row; samples of one moment share it unless one comes twice.
#[derive(Debug, Default)]
struct Row {
    probe: Option<String>,
    load: Option<String>,
    base: Option<String>,
    platform: Option<String>,
}

impl Row {
    fn cell(&mut self, sample: Sample) -> (&mut Option<String>, String) {
        let c = |r: crate::reading::Reading<crate::quantity::Celsius>| {
            r.map_or_else(|_| String::new(), |c| format!("{:.4}", c.get()))
        };
        match sample {
            Sample::Load(kg) => {
                let text = kg.map_or_else(|_| String::new(), |kg| format!("{:.3}", kg.get()));
                (&mut self.load, text)
            }
            Sample::Probe(r) => (&mut self.probe, c(r)),
            Sample::Base(r) => (&mut self.base, c(r)),
            Sample::Platform(r) => (&mut self.platform, c(r)),
        }
    }

    fn flush(&mut self, at: Moment, out: &mut String) {
        let cells = [self.probe.take(), self.load.take(), self.base.take(), self.platform.take()];
        if cells.iter().all(Option::is_none) {
            return;
        }
        let cells = cells.map(Option::unwrap_or_default);
        let _ = writeln!(out, "{:.1},{}", at.seconds(), cells.join(","));
    }
}

fn csv(pot: &mut VirtualPot) -> String {
    let mut out = String::from("t_s,probe_c,load_kg,base_c,platform_c\n");
    let mut row = Row::default();
    let mut row_at = Moment::default();
    for (at, sample) in pot {
        if at != row_at {
            row.flush(row_at, &mut out);
            row_at = at;
        }
        if row.cell(sample).0.is_some() {
            row.flush(at, &mut out);
        }
        let (cell, text) = row.cell(sample);
        *cell = Some(text);
    }
    row.flush(row_at, &mut out);
    out
}

/// The kitchen file of a pot.
#[must_use]
pub fn kitchen(pot: &VirtualPot) -> String {
    format!(
        "[site]\naltitude_m = {:.1}\n\n[[pot]]\nname = \"{}\"\nbase_diameter_m = {}\n\
         tare_kg = {}\nlid_kg = {}\n",
        pot.site.altitude_m, pot.pot.name, pot.pot.base_diameter_m, pot.pot.tare_kg, pot.pot.lid_kg
    )
}

/// The batch file of a pot that began with the lid on or off.
#[must_use]
pub fn batch(pot: &VirtualPot, lid_on: bool) -> String {
    let plan = &pot.plan;
    let mut out = format!(
        "name = \"{}\"\npot = \"{}\"\n\n[start]\ncontents_kg = {:.4}\nlid = \"{}\"\n\
         composition = {}\n",
        plan.name,
        plan.pot,
        plan.start.contents_kg,
        if lid_on { "on" } else { "off" },
        parts(plan.start.composition)
    );
    for addition in &plan.additions {
        let _ = write!(
            out,
            "\n[[addition]]\nname = \"{}\"\nkg = {:.4}\ncomposition = {}\n",
            addition.name,
            addition.kg,
            parts(addition.composition)
        );
    }
    if let Some(Target::TotalSolids(total_solids)) = plan.target {
        let _ = write!(out, "\n[target]\ntotal_solids = {total_solids:.6}\n");
    }
    out
}

fn parts(made_of: Composition) -> String {
    format!(
        "{{ water = {:.6}, solids = {:.6}, fat = {:.6}, salt = {:.6} }}",
        made_of.water(),
        made_of.solids(),
        made_of.fat(),
        made_of.salt()
    )
}

fn truth(pot: &VirtualPot) -> String {
    let mut value = serde_json::to_value(pot.truth()).unwrap_or(Value::Null);
    round(&mut value);
    let start = pot.plan.start;
    value["pot"] = json!({
        "base_diameter_m": pot.pot.base_diameter_m,
        "tare_kg": pot.pot.tare_kg,
        "lid_kg": pot.pot.lid_kg,
        "altitude_m": pot.site.altitude_m,
    });
    value["start"] = json!({
        "contents_kg": start.contents_kg,
        "lid_on": start.lid_on,
        "water": start.composition.water(),
        "solids": start.composition.solids(),
        "fat": start.composition.fat(),
        "salt": start.composition.salt(),
    });
    value["plan"] = pot.plan.additions.iter().map(planned).collect();
    value.to_string()
}

fn planned(addition: &PlannedAddition) -> Value {
    json!({
        "name": addition.name,
        "kg": addition.kg,
        "water": addition.composition.water(),
        "solids": addition.composition.solids(),
        "fat": addition.composition.fat(),
        "salt": addition.composition.salt(),
    })
}

/// Five decimals are enough and keep the file small.
fn round(value: &mut Value) {
    match value {
        Value::Array(items) => items.iter_mut().for_each(round),
        Value::Object(fields) => fields.values_mut().for_each(round),
        Value::Number(number) => {
            if let Some(x) = number.as_f64().filter(|_| number.is_f64()) {
                *value = json!((x * 1e5).round() / 1e5);
            }
        }
        _ => {}
    }
}
