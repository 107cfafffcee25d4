//! The batch file: what the cook means to do.
//!
//! ```toml
//! name = "Tuesday base"
//! pot = "big"                  # a pot of the kitchen file
//!
//! [start]
//! contents_kg = 23.6           # what is in the pot when the watching begins
//! lid = "off"                  # or "on"
//! composition = { water = 0.894, solids = 0.072, fat = 0.030, salt = 0.004 }
//!
//! [[addition]]                 # in order; each may come early, late or never
//! name = "cream"
//! kg = 0.43
//! composition = { water = 0.735, solids = 0.075, fat = 0.190, salt = 0.0 }
//!
//! [target]                     # may be left out
//! total_solids = 0.118         # dry matter as a fraction of the contents; or contents_kg = 21.0
//! ```
//!
//! How food is written (`contents_kg` or `kg`, with `composition`) is read in [`food`] alone.

pub mod food;

use std::f64::consts::FRAC_PI_4;
use std::path::Path;

use crate::batch::plan::{Plan, PlannedAddition, Start, Target};
use crate::batch::pot::Pot;

use super::complaint::Complaints;
use super::file::{self, File};
use super::kitchen::Kitchen;
use super::section::Section;
use food::Food;

/// The keys and tables of a batch file.
pub const KEYS: &[&str] = &["name", "pot", "start", "addition", "target"];

const START_KEYS: &[&str] = &["contents_kg", "lid", "composition"];
const ADDITION_KEYS: &[&str] = &["name", "kg", "composition"];
const TARGET_KEYS: &[&str] = &["total_solids", "contents_kg"];

/// The most that a pot holds, kg.
const MOST_KG: f64 = 2000.0;

/// Reads and checks the file at `path`.
pub fn read(path: &Path, kitchen: &Kitchen) -> Result<Plan, Complaints> {
    parse(&path.display().to_string(), &file::text(path)?, kitchen)
}

/// Checks a batch file's text. `name` is what complaints call the file.
pub fn parse(name: &str, text: &str, kitchen: &Kitchen) -> Result<Plan, Complaints> {
    let file = File::parse(name, text)?;
    let plan = plan(&file.root(KEYS), kitchen);
    file.finish(plan)
}

fn plan(root: &Section<'_>, kitchen: &Kitchen) -> Option<Plan> {
    let name = root.text("name");
    let pot = pot(root, kitchen);
    let start = root.table("start", START_KEYS).and_then(|section| start(&section, pot));
    let sections = root.tables("addition", ADDITION_KEYS);
    let additions = sections.map(|sections| sections.iter().map(addition).collect::<Vec<_>>());
    let section = root.table_or_none("target", TARGET_KEYS);
    let target = section.as_ref().and_then(target);
    let plan = Plan {
        name: name?,
        pot: pot?.name.clone(),
        start: start?,
        additions: additions?.into_iter().collect::<Option<_>>()?,
        target,
    };
    if let Some(section) = &section {
        refuse_slip_of_the_pen(section, &plan);
    }
    Some(plan)
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

fn start(section: &Section<'_>, pot: Option<&Pot>) -> Option<Start> {
    let lid_on = section.choice("lid", &[("off", false), ("on", true)]);
    let Food { kg, composition } = food::read(section, "contents_kg", 0.0..=MOST_KG)?;
    if let Some(pot) = pot.filter(|pot| kg > holds_kg(pot)) {
        let wrong = format!("{kg} kg do not fit into the pot \"{}\"", pot.name);
        section.refuse("contents_kg", wrong, format!("0 to {:.0} kg", holds_kg(pot)));
    }
    Some(Start { contents_kg: kg, lid_on: lid_on?, composition })
}

/// The most that can be meant to be in the pot, kg: as water up to its rim, or, where its height is
/// not known, twice as high as wide.
fn holds_kg(pot: &Pot) -> f64 {
    let height_m = pot.height_m.unwrap_or(2.0 * pot.base_diameter_m);
    FRAC_PI_4 * pot.base_diameter_m.powi(2) * height_m * 1000.0
}

fn addition(section: &Section<'_>) -> Option<PlannedAddition> {
    let name = section.text("name");
    let Food { kg, composition } = food::read(section, "kg", 0.001..=MOST_KG)?;
    Some(PlannedAddition { name: name?, kg, composition })
}

fn target(section: &Section<'_>) -> Option<Target> {
    match (section.has("total_solids"), section.has("contents_kg")) {
        (true, false) => section.number("total_solids", 0.01..=0.95, "").map(Target::TotalSolids),
        (false, true) => section.number("contents_kg", 0.05..=MOST_KG, "kg").map(Target::Contents),
        (both, _) => {
            let wrong = if both { "two targets are given" } else { "no target is given" };
            section.refuse("total_solids", wrong, "one of total_solids and contents_kg");
            None
        }
    }
}

/// A target that is reached already is fine; one so far behind what the plan puts into the pot that
/// no handling explains it is a slip of the pen.
fn refuse_slip_of_the_pen(section: &Section<'_>, plan: &Plan) {
    let Start { contents_kg, composition, .. } = plan.start;
    let all_kg: f64 = contents_kg + plan.additions.iter().map(|a| a.kg).sum::<f64>();
    let dry_kg: f64 = contents_kg * composition.total_solids()
        + plan.additions.iter().map(|a| a.kg * a.composition.total_solids()).sum::<f64>();
    let mixed = dry_kg / all_kg.max(1e-9);
    match plan.target {
        Some(Target::TotalSolids(target)) if target < 0.5 * mixed => {
            let wrong = format!("{target} is less than half of the {mixed:.3} that the plan mixes");
            section.refuse("total_solids", wrong, format!("{:.3} or more", 0.5 * mixed));
        }
        Some(Target::Contents(target)) if target > 2.0 * all_kg => {
            let wrong = format!("{target} kg is more than twice what the plan puts in");
            section.refuse("contents_kg", wrong, format!("up to {:.1} kg", 2.0 * all_kg));
        }
        _ => {}
    }
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
        assert!(refused("0.118", "0.0118").contains("less than half"));
        assert!(refused("0.118", "1.18").contains("allowed: 0.01 to 0.95"));
        assert!(refused("\"off\"", "\"of\"").contains("allowed: \"off\", \"on\""));
        assert!(refused("total_solids", "contents_kg = 20\ntotal_solids").contains("two targets"));
        assert!(refused("total_solids = 0.118", "").contains("no target is given"));
    }
}
