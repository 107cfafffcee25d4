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

pub mod food;
pub mod learnt;
pub mod stage;
pub mod target;

use std::f64::consts::FRAC_PI_4;
use std::path::Path;

use crate::batch::plan::{Plan, Target};
use crate::batch::pot::Pot;
use crate::batch::recipe::{Later, Load, Recipe, Stage, Until};
use crate::batch::wanted::{Ground, Wanted};
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

/// Dry matter from which a gravy is a paste that burns whatever one does, as a share.
const PASTE: f64 = 0.45;

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
            Some(reachable(section, key, wanted, &recipe, pot?, like)?)
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
    let (stage, at) = when?;
    Some(Later { name: name?, load, stage, at })
}

/// The target that is wanted, where boiling or a little water can bring it about.
///
/// A target that is reached already is fine; one so far behind what the plan puts into the pot that
/// no handling explains it is a slip of the pen.
fn reachable(
    section: &Section<'_>,
    key: &str,
    wanted: Wanted,
    recipe: &Recipe,
    pot: &Pot,
    like: Like<'_>,
) -> Option<Target> {
    let mix = recipe.mix();
    let ground = Ground { area_m2: pot.area_m2(), mix: &mix, soluble: recipe.soluble(), like };
    let target = match wanted.target(&ground) {
        Ok(target) => target,
        Err(missing) => {
            section.refuse(key, missing, wanted.instead());
            return None;
        }
    };
    let (all_kg, dry_kg) = (mix.contents_kg(), mix.dry_kg());
    match target.contents_kg(&mix) {
        Some(kg) if all_kg > 0.0 && kg < dry_kg / PASTE => {
            let wrong =
                format!("{wanted} would be a paste that burns, {dry_kg:.1} of {kg:.1} kg dry");
            section.refuse(key, wrong, format!("what leaves {:.1} kg or more", dry_kg / PASTE));
        }
        Some(kg) if kg <= 2.0 * all_kg || all_kg <= 0.0 => return Some(target),
        Some(kg) => {
            let wrong = format!(
                "{wanted} would be {kg:.1} kg, more than twice the {all_kg:.1} kg that the plan puts in"
            );
            section.refuse(key, wrong, format!("what makes {:.1} kg or less", 2.0 * all_kg));
        }
        None if all_kg <= 0.0 => return Some(target),
        None => {
            let wrong = format!(
                "{wanted} cannot be: the plan puts in {dry_kg:.2} kg that does not boil away"
            );
            section.refuse(key, wrong, "a target with water left in it");
        }
    }
    None
}

#[cfg(test)]
mod tests {
    use super::*;

    const KITCHEN: &str = "[site]\naltitude_m = 40\n[[pot]]\nname = \"big\"\n\
        base_diameter_m = 0.40\ntare_kg = 6.2\nlid_kg = 1.35\n";
    const GOOD: &str = "name = \"Tuesday base\"\npot = \"big\"\n\n[start]\ncontents_kg = 23.6\n\
        lid = \"off\"\n\
        composition = { water = 0.894, solids = 0.072, fat = 0.030, salt = 0.004 }\n\n\
        [[addition]]\nname = \"cream\"\nkg = 0.43\n\
        composition = { water = 0.735, solids = 0.075, fat = 0.190, salt = 0.0 }\n\n\
        [target]\ntotal_solids = 0.118\n";

    fn read(text: &str) -> Result<Plan, String> {
        let kitchen = Kitchen::parse("kitchen.toml", KITCHEN).unwrap();
        parse("batch.toml", text, &kitchen).map_err(|complaints| complaints.to_string())
    }

    fn refused(from: &str, to: &str) -> String {
        assert!(GOOD.contains(from));
        read(&GOOD.replace(from, to)).unwrap_err()
    }

    #[test]
    fn a_batch_is_understood() {
        let plan = read(GOOD).unwrap();
        assert_eq!(plan.start.contents_kg, 23.6);
        assert!(!plan.start.lid_on);
        assert_eq!(plan.additions[0].name, "cream");
        assert_eq!(plan.target, Some(Target::TotalSolids(0.118)));
    }

    #[test]
    fn a_target_may_be_left_out_or_be_a_mass() {
        let (without, _) = GOOD.split_once("[target]").unwrap();
        assert_eq!(read(without).unwrap().target, None);
        let plan = read(&GOOD.replace("total_solids = 0.118", "contents_kg = 21")).unwrap();
        assert_eq!(plan.target, Some(Target::Contents(21.0)));
    }

    #[test]
    fn a_target_that_is_reached_already_is_no_error() {
        assert!(read(&GOOD.replace("0.118", "0.09")).is_ok());
    }

    #[test]
    fn an_unknown_pot_is_refused_with_the_names_that_there_are() {
        assert_eq!(
            refused("pot = \"big\"", "pot = \"bgi\""),
            "batch.toml, line 2, pot: \"bgi\" is no pot of the kitchen file; allowed: \"big\""
        );
    }

    #[test]
    fn fractions_that_make_no_whole_are_refused() {
        let told = refused("water = 0.894", "water = 0.794");
        assert!(
            told.starts_with("batch.toml, line 7, start.composition: the parts sum to 0.9"),
            "{told}"
        );
        assert!(
            refused("fat = 0.190", "fat = -0.190").contains("line 12, addition.composition.fat")
        );
    }

    #[test]
    fn absurd_amounts_are_refused_with_what_is_allowed() {
        assert!(
            refused("23.6", "nan").contains("start.contents_kg: nan cannot be; allowed: 0 to 2000")
        );
        assert!(refused("23.6", "236").contains("236 kg do not fit into the pot \"big\""));
        assert!(refused("kg = 0.43", "kg = -1").contains("addition.kg: -1 cannot be"));
        assert!(refused("0.118", "0.0118").contains("more than twice the 24.0 kg"));
        assert!(refused("0.118", "1.18").contains("allowed: 0.01 to 0.95"));
        assert!(refused("\"off\"", "\"of\"").contains("allowed: \"off\", \"on\""));
        assert!(refused("total_solids", "contents_kg = 20\ntotal_solids").contains("two targets"));
        assert!(refused("total_solids = 0.118", "").contains("no target is given"));
    }

    fn cooks(line: &str) -> Result<Plan, String> {
        let start =
            "lid = \"on\"\ningredients = [\n  \"8 kg onions, chopped\",\n  \"6 l water\",\n";
        let (from, to) = ("lid = \"off\"\n", format!("{start}  \"{line}\",\n]\n"));
        let text = GOOD.replace("contents_kg = 23.6\n", "").replace(from, &to).replace(
            "composition = { water = 0.894, solids = 0.072, fat = 0.030, salt = 0.004 }\n",
            "",
        );
        read(&text)
    }

    #[test]
    fn a_cook_writes_ingredients_in_kitchen_measures() {
        let plan = cooks("3 tbsp salt").unwrap();
        // SR28: salt 18 g to the tablespoon, onion 89.11 % water, 1000 g water to the litre.
        assert!((plan.start.contents_kg - (8.0 + 6.0 + 0.054)).abs() < 0.012);
        let dry = 8.0 * 0.1089 + 6.0 * 0.001 + 0.054 * 0.998;
        let share = dry / plan.start.contents_kg;
        assert!((plan.start.composition.total_solids() - share).abs() < 3e-4);
        assert!(plan.start.lid_on);
    }

    #[test]
    fn a_line_that_is_not_understood_is_told_with_its_own_line() {
        let told = |line| cooks(line).unwrap_err();
        assert!(
            told("2 kg oinons")
                .starts_with("batch.toml, line 9, start.ingredients: \"oinons\" is no")
        );
        assert!(told("2 kg oinons").contains("did you mean onions"));
        assert!(told("-2 kg onions").contains("is not above zero"));
        assert!(told("2 stone onions").contains("\"stone\" is no measure"));
        assert!(told("some onions").contains("begins with no number"));
        assert!(told("2 kg").contains("names no ingredient"));
        assert!(told("3 cloves onions").contains("pieces that are medium"));
        assert!(told("200 kg onions").contains("do not fit into the pot \"big\""));
    }

    #[test]
    fn targets_come_in_the_trades_measures() {
        let plan = |line: &str| read(&GOOD.replace("total_solids = 0.118", line)).unwrap();
        // Start and cream: 24.03 kg.
        let reduced = plan("reduced_by = 0.1").target.unwrap();
        let (start, cream) = (plan("litres = 20").start, &plan("litres = 20").additions[0]);
        let dry_kg = start.contents_kg * 0.106 + cream.kg * 0.265;
        assert_eq!(
            reduced.to_string(),
            format!("{:.1} % total solids", 100.0 * dry_kg / 24.03 / 0.9)
        );
        // 16 cm in a pot 40 cm wide.
        assert_eq!(plan("dip_cm = 16").target.unwrap().to_string(), "20.1 litres are left");
        assert!(matches!(plan("brix = 7").target, Some(Target::Brix { .. })));
        assert!(matches!(plan("bostwick_cm = 14").target, Some(Target::Consistency { .. })));
    }

    #[test]
    fn a_target_that_cannot_be_is_refused_in_a_sentence() {
        let told = |line| refused("total_solids = 0.118", line);
        assert!(told("litres = 1").contains("does not boil away"));
        assert!(told("like_batch = 41").contains("how thick batch 41 was is not known here"));
        assert!(told("line_spread_cm = 9").contains("needs one that was measured"));
        assert!(told("bostwick_cm = 30").contains("allowed: 0.5 to 24 cm, where the trough ends"));
    }

    #[test]
    fn an_addition_is_held_against_the_stages() {
        let stages = "[[stage]]\nname = \"soften\"\nminutes = 45\nlid = \"on\"\n\n[[addition]]\nstage = \"softn\"\n";
        let told = refused("[[addition]]\n", stages);
        assert!(
            told.contains("\"softn\" is no stage of this batch; allowed: \"soften\""),
            "{told}"
        );
    }
}
