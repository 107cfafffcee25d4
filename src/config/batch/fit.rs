//! Whether a batch can be cooked in its pot in the size that is meant, and how it sits there.
//!
//! A batch file may be written for any pot: `dekchi plan` scales it. Cooked as it is written it may come
//! up to the rim, or stand so shallow that it boils down faster and catches sooner than the usual times
//! allow for.

use crate::batch::outlook::{self, NoPlan, Outlook, Size};
use crate::batch::plan::Target;
use crate::batch::pot::Pot;
use crate::batch::recipe::{Load, Recipe};
use crate::batch::wanted::{Ground, Wanted};
use crate::config::kitchen::Kitchen;
use crate::config::section::Section;

use super::{Batch, Like, START_KEYS, holds_kg, target};

/// Less than this share of what a pot takes is a small batch in a large pot (judgement).
const SMALL: f64 = 0.25;
/// Shallower than this is small where the pot's height is not known, cm (judgement).
const SHALLOW_CM: f64 = 5.0;

/// Where and in which size it is to be cooked.
#[derive(Clone, Copy)]
pub struct To<'t> {
    pub kitchen: &'t Kitchen,
    pub pot: &'t Pot,
    pub size: Size,
    pub like: Like<'t>,
}

impl To<'_> {
    fn outlook(&self, recipe: &Recipe) -> Option<Result<Outlook, NoPlan>> {
        let recipe = moved(recipe.clone(), self);
        let (boil_c, latent_j_kg) = self.kitchen.site.boil()?;
        let stove = self.kitchen.stove(&self.pot.name);
        let place = outlook::Kitchen { pot: self.pot, stove, boil_c, latent_j_kg };
        let target = |recipe: &Recipe| self::target(recipe, self.pot, self.like);
        Some(outlook::outlook(&recipe, self.size, &place, &target))
    }
}

/// The recipe for this pot. A dip depth was written for the pot that the batch names; what an earlier
/// batch was is put down in figures.
#[must_use]
pub fn moved(recipe: Recipe, to: &To<'_>) -> Recipe {
    let To { kitchen, pot, like, .. } = to;
    let from_m2 = kitchen.pot(&recipe.pot).map_or(pot.area_m2(), Pot::area_m2);
    let wanted = recipe.wanted.map(|w| w.moved(from_m2 / pot.area_m2()).looked_up(like));
    Recipe { pot: pot.name.clone(), wanted, ..recipe }
}

/// The target that a recipe's wish comes to in a pot.
#[must_use]
pub fn target(recipe: &Recipe, pot: &Pot, like: Like<'_>) -> Option<Target> {
    let mix = recipe.mix();
    let ground = Ground { area_m2: pot.area_m2(), mix: &mix, soluble: recipe.soluble(), like };
    recipe.wanted?.target(&ground).ok()
}

/// Complains of what cannot be brought about there.
pub fn mind(root: &Section<'_>, batch: &Batch, to: &To<'_>) {
    let asked = root.table_or_none("target", target::KEYS);
    let asked = asked.and_then(|section| Some((target::read(&section)?.0, section)));
    if let Some((key, section)) = &asked {
        if !fits_the_rim(key, section, &moved(batch.recipe.clone(), to), to.pot) {
            return;
        }
    }
    match (to.outlook(&batch.recipe), &asked) {
        (Some(Err(no @ NoPlan::TooThinAlready { .. })), Some((key, section))) => {
            section.refuse(key, no.to_string(), no.instead());
        }
        (Some(Err(NoPlan::PotTooSmall { asked_l, .. })), _) if to.size == Size::AsWritten => {
            over_the_rim(root, batch, to.pot, asked_l);
        }
        _ => {}
    }
}

/// Whether what is to be left in the pot has room in it.
fn fits_the_rim(key: &str, section: &Section<'_>, recipe: &Recipe, pot: &Pot) -> bool {
    let Some(height_m) = pot.height_m else { return true };
    let (high_cm, brim_l) = (100.0 * height_m, 1000.0 * height_m * pot.area_m2());
    let name = &pot.name;
    let (wrong, most) = match recipe.wanted {
        Some(Wanted::DipCm(cm)) if cm > high_cm => (
            format!("{cm:.1} cm is deeper than the pot \"{name}\", which is {high_cm:.0} cm high"),
            format!("0.5 to {high_cm:.0} cm"),
        ),
        Some(Wanted::Litres(litres)) if litres > brim_l => (
            format!("{litres:.1} l do not fit into the pot \"{name}\""),
            format!("0.05 to {brim_l:.1} l"),
        ),
        Some(Wanted::ContentsKg(kg)) if kg > holds_kg(pot) => (
            format!("{kg:.1} kg do not fit into the pot \"{name}\""),
            format!("0.05 to {:.1} kg", holds_kg(pot)),
        ),
        _ => return true,
    };
    section.refuse(key, wrong, most);
    false
}

/// As it is written more comes together than the pot holds to its rim.
fn over_the_rim(root: &Section<'_>, batch: &Batch, pot: &Pot, asked_l: f64) {
    let Some(brim_l) = pot.height_m.map(|height_m| 1000.0 * height_m * pot.area_m2()) else {
        return;
    };
    if asked_l <= brim_l {
        return;
    }
    let Some(start) = root.table("start", START_KEYS) else { return };
    let key = match batch.recipe.start {
        Load::Measured(_) => "ingredients",
        Load::Stated { .. } => "contents_kg",
    };
    let wrong = format!(
        "with what is added later {asked_l:.1} l come together, and the pot \"{}\" is full to the rim",
        pot.name
    );
    start.refuse(key, wrong, format!("{brim_l:.1} l at the fullest; dekchi plan scales it"));
}

/// What is to be said of a batch that is cooked as it is written in a pot of another size; each a
/// sentence.
#[must_use]
pub fn words(recipe: &Recipe, kitchen: &Kitchen, pot: &Pot) -> Vec<String> {
    let to = To { kitchen, pot, size: Size::AsWritten, like: &|_| None };
    let name = &pot.name;
    let fullest_l = match to.outlook(recipe) {
        Some(Err(no @ NoPlan::PotTooSmall { .. })) => {
            return vec![format!("as it is written {no}; dekchi plan scales it")];
        }
        Some(Ok(outlook)) => outlook.course.fullest_l(),
        _ => return Vec::new(),
    };
    let deep_cm = fullest_l / pot.area_m2() / 10.0;
    let is_small = match outlook::room(pot) {
        Some(room) => fullest_l < SMALL * room.boiling_l,
        None => deep_cm < SHALLOW_CM,
    };
    if !is_small {
        return Vec::new();
    }
    let takes =
        outlook::room(pot).map(|room| format!(" of the {:.1} l that it takes", room.boiling_l));
    vec![format!(
        "as it is written {fullest_l:.1} l{} come into the pot \"{name}\", {deep_cm:.1} cm deep at the \
         fullest: so shallow it boils down faster and catches sooner than usual; dekchi plan scales it",
        takes.unwrap_or_default()
    )]
}

#[cfg(test)]
mod tests;
