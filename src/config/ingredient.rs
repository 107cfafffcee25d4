//! The kitchen's own ingredients, in its kitchen file.
//!
//! ```toml
//! [[ingredient]]
//! name = "house masala"
//! also = ["mix powder"]            # other names; may be left out
//! like = "curry powder"            # made of the same as a known one
//! tsp_g = 2.4                      # what a measure of it weighs: cup_g, tbsp_g, tsp_g, piece_g
//! contains = ["mustard"]           # of the fourteen allergens
//! may_contain = ["celery"]
//!
//! [[ingredient]]
//! name = "coconut cream"
//! per_100_g = { fat = 20.0, carbohydrate = 5.0, fibre = 1.0, protein = 2.0, salt = 0.05 }
//! cup_g = 240
//! ```
//!
//! `per_100_g` is as on a European label, carbohydrate without fibre; water is the rest where it is
//! not given.

use crate::batch::allergen::Allergen;
use crate::batch::ingredient::{Ingredient, Nutrients, Source, Weights};
use crate::batch::larder::Larder;

use super::section::Section;

pub const KEYS: &[&str] = &[
    "name",
    "also",
    "like",
    "per_100_g",
    "cup_g",
    "tbsp_g",
    "tsp_g",
    "piece_g",
    "contains",
    "may_contain",
];

const PER_100_G_KEYS: &[&str] =
    &["water", "protein", "fat", "carbohydrate", "fibre", "salt", "ash"];

/// Reads one `[[ingredient]]`.
#[must_use]
pub fn read(section: &Section<'_>, bundled: &Larder) -> Option<Ingredient> {
    let name = section.text("name");
    let also = section.texts("also");
    let known = if section.has("like") { Some(like(section, bundled)?) } else { None };
    let nutrients = nutrients(section, known);
    let weights = weights(section, known.map(|known| &known.weights));
    let contains = allergens(section, "contains", known.map(|known| &known.contains));
    let may_contain = allergens(section, "may_contain", known.map(|known| &known.may_contain));
    let nutrients = nutrients?;
    Some(Ingredient {
        name: name?.to_lowercase(),
        also: also?.into_iter().map(|name| name.to_lowercase()).collect(),
        source: Source::Kitchen,
        composition: nutrients.composition()?,
        nutrients,
        weights: weights?,
        contains: contains?,
        may_contain: may_contain?,
    })
}

fn like<'l>(section: &Section<'_>, bundled: &'l Larder) -> Option<&'l Ingredient> {
    let name = section.text("like")?;
    let known = bundled.find(&name);
    if known.is_none() {
        let wrong = format!("\"{name}\" is no ingredient that is known");
        section.refuse("like", wrong, bundled.did_you_mean(&name));
    }
    known
}

fn nutrients(section: &Section<'_>, known: Option<&Ingredient>) -> Option<Nutrients> {
    match (section.has("per_100_g"), known) {
        (true, None) => per_100_g(section),
        (false, Some(known)) => Some(known.nutrients),
        (both, _) => {
            let wrong = if both { "both are given" } else { "what it is made of is missing" };
            section.refuse("per_100_g", wrong, "one of like and per_100_g");
            None
        }
    }
}

fn per_100_g(section: &Section<'_>) -> Option<Nutrients> {
    let parts = section.table("per_100_g", PER_100_G_KEYS)?;
    let gram = |key| parts.number_or(key, 0.0, 0.0..=100.0, "g");
    let (protein, fat, carbohydrate) = (gram("protein"), gram("fat"), gram("carbohydrate"));
    let (fibre, salt, ash) = (gram("fibre"), gram("salt"), gram("ash"));
    let (protein, fat, carbohydrate) = (protein?, fat?, carbohydrate?);
    let (fibre, salt) = (fibre?, salt?);
    let ash = ash?.max(salt);
    let dry = protein + fat + carbohydrate + fibre + ash;
    let water = parts.number_or("water", (100.0 - dry).max(0.0), 0.0..=100.0, "g")?;
    if (water + dry - 100.0).abs() > 2.0 {
        let wrong = format!("the parts sum to {:.1} g", water + dry);
        section.refuse("per_100_g", wrong, "98 to 102 g, or without water up to 102 g");
        return None;
    }
    let carbohydrate = carbohydrate + fibre;
    Some(Nutrients { water, protein, fat, carbohydrate, fibre, ash, salt })
}

fn weights(section: &Section<'_>, known: Option<&Weights>) -> Option<Weights> {
    let gram = |key, known: Option<f64>| {
        if section.has(key) {
            section.number(key, 0.01..=5000.0, "g").map(Some)
        } else {
            Some(known)
        }
    };
    let known = known.cloned().unwrap_or_default();
    let (cup_g, tablespoon_g) = (gram("cup_g", known.cup_g), gram("tbsp_g", known.tablespoon_g));
    let teaspoon_g = gram("tsp_g", known.teaspoon_g);
    let pieces = match gram("piece_g", None)? {
        Some(g) => vec![("piece".to_owned(), g)],
        None => known.pieces,
    };
    Some(Weights { cup_g: cup_g?, tablespoon_g: tablespoon_g?, teaspoon_g: teaspoon_g?, pieces })
}

/// Allergens under this key; those of the known ingredient where the key is left out.
pub fn allergens(
    section: &Section<'_>,
    key: &str,
    known: Option<&Vec<Allergen>>,
) -> Option<Vec<Allergen>> {
    if !section.has(key) {
        return Some(known.cloned().unwrap_or_default());
    }
    let names = section.texts(key)?;
    let found: Option<Vec<_>> = names.iter().map(|name| Allergen::by_name(name)).collect();
    if found.is_none() {
        let strange = names.iter().find(|name| Allergen::by_name(name).is_none());
        let wrong = format!("\"{}\" is none of the fourteen", strange.map_or("", String::as_str));
        section.refuse(key, wrong, Allergen::names().collect::<Vec<_>>().join(", "));
    }
    found
}
