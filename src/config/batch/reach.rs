//! Whether what is asked of the gravy can be had from what goes in.

use crate::batch::plan::Target;
use crate::batch::pot::Pot;
use crate::batch::recipe::Recipe;
use crate::batch::wanted::{Ground, Wanted};
use crate::config::section::Section;

use super::Like;

/// Dry matter from which a gravy is a paste that burns whatever one does, as a share.
const PASTE: f64 = 0.45;

/// The target that is wanted, where boiling or a little water can bring it about.
///
/// A target that is reached already is fine; one so far behind what the plan puts into the pot that
/// no handling explains it is a slip of the pen.
pub fn reachable(
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
