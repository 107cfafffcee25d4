//! The batch file: what the cook means to do.
//!
//! Food is written as ingredients in kitchen measures, or as kilograms and mass fractions; both may
//! stand in one file.
//!
//! ```toml
//! name = "Tuesday base"
//! pot = "big"                  # a pot of the kitchen file
//! portion_ml = 250             # may be left out, as may
//! allergens = ["mustard"]      # what the packets say beyond what the ingredients are known to hold
//!
//! [start]                      # what is in the pot when the watching begins
//! lid = "on"                   # or "off"
//! ingredients = ["8 kg onions", "6 l water", "3 tbsp salt"]
//! # or: contents_kg = 23.6
//! #     composition = { water = 0.894, solids = 0.072, fat = 0.030, salt = 0.004 }
//!
//! [[stage]]                    # in order, in the kitchen's own words; may be left out
//! name = "soften"
//! minutes = 45                 # the usual time, or until = "boil" or until = "target"
//! lid = "on"                   # off where it is not said
//! flame = "half"               # of the pot's usual: full, half, low or off
//! blend = true                 # blended hot in this stage
//!
//! [[addition]]                 # in order; each may come early, late or never
//! name = "cream"
//! stage = "soften"             # where there are stages
//! when = "halfway"             # or "start" or "end"
//! kg = 0.43
//! composition = { water = 0.735, solids = 0.075, fat = 0.190, salt = 0.0 }
//! # or: ingredients = ["430 ml cream"]
//!
//! [target]                     # may be left out; one of
//! total_solids = 0.118         # dry matter as a fraction of the contents
//! # contents_kg, litres, dip_cm, reduced_by, brix, bostwick_cm, line_spread_cm, like_batch
//! ```
//!
//! A batch that was taken out of the store also has what was [`learnt`] of its pot before.

pub mod fit;
pub mod food;
pub mod learnt;
mod reach;
pub mod stage;
pub mod target;

use std::f64::consts::FRAC_PI_4;
use std::path::Path;

use crate::batch::outlook::Size;
use crate::batch::plan::Plan;
use crate::batch::pot::Pot;
use crate::batch::recipe::{Later, Load, Recipe, Stage, Until};
use crate::batch::wanted::Wanted;
use crate::watch::setting::Learnt;

use super::complaint::Complaints;
use super::file::{self, File};
use super::ingredient::allergens;
use super::kitchen::Kitchen;
use super::section::Section;

/// The keys and tables of a batch file.
pub const KEYS: &[&str] =
    &["name", "pot", "portion_ml", "allergens", "start", "stage", "addition", "target", "learnt"];

const START_KEYS: &[&str] = &["contents_kg", "lid", "composition", "ingredients"];
const ADDITION_KEYS: &[&str] = &["name", "kg", "composition", "ingredients", "stage", "when"];

/// The most that a pot holds, kg.
const MOST_KG: f64 = 2000.0;

/// A batch file, understood.
#[derive(Debug, Clone, PartialEq)]
pub struct Batch {
    pub recipe: Recipe,
    pub plan: Plan,
    /// What was known of the pot before.
    pub learnt: Learnt,
}

/// Total solids of an earlier batch when it was right, by its number.
pub type Like<'l> = &'l dyn Fn(u32) -> Option<f64>;

/// Reads and checks the file at `path`; no earlier batch can be asked for.
pub fn read(path: &Path, kitchen: &Kitchen) -> Result<Plan, Complaints> {
    parse(&path.display().to_string(), &file::text(path)?, kitchen)
}

/// Checks a batch file's text. `name` is what complaints call the file.
pub fn parse(name: &str, text: &str, kitchen: &Kitchen) -> Result<Plan, Complaints> {
    parse_whole(name, text, kitchen, &|_| None).map(|batch| batch.plan)
}

/// Reads and checks the file at `path`, with the recipe behind the plan.
pub fn read_whole(path: &Path, kitchen: &Kitchen, like: Like<'_>) -> Result<Batch, Complaints> {
    parse_whole(&path.display().to_string(), &file::text(path)?, kitchen, like)
}

/// Checks a batch file's text, with the recipe behind the plan.
pub fn parse_whole(
    name: &str,
    text: &str,
    kitchen: &Kitchen,
    like: Like<'_>,
) -> Result<Batch, Complaints> {
    let file = File::parse(name, text)?;
    let batch = batch(&file.root(KEYS), kitchen, like);
    file.finish(batch)
}

/// As [`read_whole`], for a batch that is to be cooked in this pot (the one that it names, where it is
/// `None`) and this size: what cannot be brought about there is refused too.
pub fn read_to_cook(
    path: &Path,
    kitchen: &Kitchen,
    like: Like<'_>,
    (pot, size): (Option<&str>, Size),
) -> Result<Batch, Complaints> {
    let (name, text) = (path.display().to_string(), file::text(path)?);
    let file = File::parse(&name, &text)?;
    let root = file.root(KEYS);
    let batch = batch(&root, kitchen, like);
    if let Some(batch) = batch.as_ref().filter(|_| file.is_right()) {
        let pot = kitchen.pot(pot.unwrap_or(&batch.recipe.pot));
        pot.into_iter()
            .for_each(|pot| fit::mind(&root, batch, &fit::To { kitchen, pot, size, like }));
    }
    file.finish(batch)
}

fn batch(root: &Section<'_>, kitchen: &Kitchen, like: Like<'_>) -> Option<Batch> {
    let pot = pot(root, kitchen);
    let learnt = learnt::read(root);
    let section = root.table_or_none("target", target::KEYS);
    let asked = section.as_ref().and_then(target::read);
    let recipe = recipe(root, kitchen, pot, asked.map(|(_, wanted)| wanted))?;
    if section.is_none() && recipe.stages.iter().any(|stage| stage.until == Until::Target) {
        root.refuse("target", "is missing, though a stage goes on until it", "a [target]");
    }
    let target = match (&section, asked) {
        (Some(section), Some((key, wanted))) => {
            Some(reach::reachable(section, key, wanted, &recipe, pot?, like)?)
        }
        (Some(_), None) => return None,
        (None, _) => None,
    };
    let plan = recipe.plan(target)?;
    Some(Batch { recipe, plan, learnt: learnt? })
}

fn recipe(
    root: &Section<'_>,
    kitchen: &Kitchen,
    pot: Option<&Pot>,
    wanted: Option<Wanted>,
) -> Option<Recipe> {
    let name = root.text("name");
    let portion_ml = root.number_or_none("portion_ml", 10.0..=5000.0, "ml");
    let allergens = allergens(root, "allergens", None);
    let start = root.table("start", START_KEYS);
    let start = start.and_then(|section| start_load(&section, pot, kitchen));
    let stages = root.tables("stage", stage::KEYS)?;
    let stages: Vec<Option<Stage>> = stages.iter().map(stage::read).collect();
    let stages: Option<Vec<Stage>> = stages.into_iter().collect();
    let sections = root.tables("addition", ADDITION_KEYS)?;
    let known = stages.as_deref();
    let later: Vec<_> = sections.iter().map(|section| later(section, known, kitchen)).collect();
    let (start, lid_on) = start?;
    Some(Recipe {
        name: name?,
        pot: pot?.name.clone(),
        lid_on,
        start,
        stages: stages?,
        later: later.into_iter().collect::<Option<_>>()?,
        wanted,
        portion_l: portion_ml.map(|ml| ml / 1000.0),
        allergens: root.has("allergens").then_some(allergens?),
    })
}

fn pot<'k>(root: &Section<'_>, kitchen: &'k Kitchen) -> Option<&'k Pot> {
    if !root.has("pot") {
        root.refuse("pot", "is missing: it says in which pot it is cooked", kitchen.pot_names());
        return None;
    }
    let name = root.text("pot")?;
    let pot = kitchen.pot(&name);
    if pot.is_none() {
        let wrong = format!("\"{name}\" is no pot of the kitchen file");
        root.refuse("pot", wrong, kitchen.pot_names());
    }
    pot
}

fn start_load(section: &Section<'_>, pot: Option<&Pot>, kitchen: &Kitchen) -> Option<(Load, bool)> {
    let lid_on = section.choice("lid", &[("off", false), ("on", true)]);
    let load = food::read(section, "contents_kg", 0.0..=MOST_KG, &kitchen.larder)?;
    let kg = load.kg();
    if let Some(pot) = pot.filter(|pot| kg > holds_kg(pot)) {
        let key = if section.has("ingredients") { "ingredients" } else { "contents_kg" };
        let wrong =
            format!("{} kg do not fit into the pot \"{}\"", (kg * 100.0).round() / 100.0, pot.name);
        section.refuse(key, wrong, format!("0 to {:.0} kg", holds_kg(pot)));
    }
    Some((load, lid_on?))
}

/// The most that can be meant to be in the pot, kg: as water up to its rim, or, where its height is
/// not known, twice as high as wide.
fn holds_kg(pot: &Pot) -> f64 {
    let height_m = pot.height_m.unwrap_or(2.0 * pot.base_diameter_m);
    FRAC_PI_4 * pot.base_diameter_m.powi(2) * height_m * 1000.0
}

fn later(section: &Section<'_>, stages: Option<&[Stage]>, kitchen: &Kitchen) -> Option<Later> {
    let name = section.text("name");
    let when = stage::when(section, stages);
    let load = food::read(section, "kg", 0.001..=MOST_KG, &kitchen.larder)?;
    let ((stage, at), name) = (when?, name?);
    let contains = match load {
        Load::Stated { .. } => kitchen.larder.named_in(&name),
        Load::Measured(_) => Vec::new(),
    };
    Some(Later { name, load, stage, at, contains })
}

#[cfg(test)]
mod tests;
