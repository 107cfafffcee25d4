//! Food as a batch file writes it: ingredients in kitchen measures, or kilograms and mass fractions.

use std::ops::RangeInclusive;

use crate::batch::composition::{Composition, SUM_TOLERANCE};
use crate::batch::larder::Larder;
use crate::batch::measure::{self, Amount, UNDERSTOOD, Unit};
use crate::batch::recipe::{Item, Load};
use crate::config::section::Section;

const PARTS: &[&str] = &["water", "solids", "fat", "salt"];

/// The food that a section names. Its mass stands under `kg_key` unless it is written as
/// `ingredients`.
#[must_use]
pub fn read(
    section: &Section<'_>,
    kg_key: &str,
    kg: RangeInclusive<f64>,
    larder: &Larder,
) -> Option<Load> {
    if !section.has("ingredients") {
        let kg = section.number(kg_key, kg, "kg");
        let composition = composition(section);
        return Some(Load::Stated { kg: kg?, composition: composition? });
    }
    for key in [kg_key, "composition"].into_iter().filter(|key| section.has(key)) {
        section.refuse(key, "stands beside ingredients", "one of the two");
    }
    ingredients(section, *kg.end(), larder)
}

fn ingredients(section: &Section<'_>, most_kg: f64, larder: &Larder) -> Option<Load> {
    let lines = section.lines("ingredients")?;
    if lines.is_empty() {
        section.refuse("ingredients", "is empty", "lines such as \"8 kg onions\"");
    }
    let items: Vec<_> = lines
        .into_iter()
        .map(|(line, place)| {
            item(&line, larder).map_err(|(wrong, allowed)| {
                section.refuse_at(place, "ingredients", wrong, allowed);
            })
        })
        .collect();
    let items: Result<Vec<Item>, ()> = items.into_iter().collect();
    let sum_kg: f64 = items.iter().flatten().map(|item| item.kg).sum();
    if !(0.0..=most_kg).contains(&sum_kg) {
        section.refuse(
            "ingredients",
            format!("weigh {sum_kg:.0} kg"),
            format!("at most {most_kg} kg"),
        );
        return None;
    }
    items.ok().filter(|items| !items.is_empty()).map(Load::Measured)
}

/// "8 kg onions, chopped"; else what is wrong and what is allowed.
fn item(line: &str, larder: &Larder) -> Result<Item, (String, String)> {
    let (amount, name) = measure::measured(line)
        .map_err(|why| (format!("\"{line}\" {why}"), UNDERSTOOD.to_owned()))?;
    if name.is_empty() {
        return Err((format!("\"{line}\" names no ingredient"), "such as \"8 kg onions\"".into()));
    }
    let Some(ingredient) = larder.find(&name) else { return Err(unknown(&amount, &name, larder)) };
    let kg =
        ingredient.kg(&amount).map_err(|no| (format!("\"{line}\" has no weight"), no.instead))?;
    Ok(Item { name, amount, ingredient: ingredient.clone(), kg })
}

/// A name that is not known; where no measure was said and its first words are a wrong one of a known
/// ingredient, that.
fn unknown(amount: &Amount, name: &str, larder: &Larder) -> (String, String) {
    let unmeasured = amount.unit == Unit::Piece && amount.piece.is_none();
    let words: Vec<&str> = name.split(' ').collect();
    let tail_known =
        (1..words.len().min(3)).find(|&n| larder.find(&words[n..].join(" ")).is_some());
    if let Some(n) = tail_known.filter(|_| unmeasured) {
        let wrong = format!("\"{}\" is no measure that is known", words[..n].join(" "));
        return (wrong, UNDERSTOOD.to_owned());
    }
    let near = larder.did_you_mean(name);
    let own = "an ingredient that is known, or one of the kitchen file's own [[ingredient]]";
    let allowed = if near.is_empty() { own.to_owned() } else { format!("{own}: {near}") };
    (format!("\"{name}\" is no ingredient that is known"), allowed)
}

/// Mass fractions; fat and salt may be left out where there are none.
fn composition(section: &Section<'_>) -> Option<Composition> {
    let parts = section.table("composition", PARTS)?;
    let water = parts.number("water", 0.0..=1.0, "");
    let solids = parts.number("solids", 0.0..=1.0, "");
    let fat = parts.number_or("fat", 0.0, 0.0..=1.0, "");
    let salt = parts.number_or("salt", 0.0, 0.0..=1.0, "");
    let (water, solids, fat, salt) = (water?, solids?, fat?, salt?);
    let composition = Composition::new(water, solids, fat, salt);
    if composition.is_none() {
        let wrong = format!("the parts sum to {:.4}", water + solids + fat + salt);
        section.refuse("composition", wrong, format!("1, or off by up to {SUM_TOLERANCE}"));
    }
    composition
}
