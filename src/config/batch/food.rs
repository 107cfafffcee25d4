//! Food as a batch file writes it: how much, and what it is made of.

use std::ops::RangeInclusive;

use crate::batch::composition::{Composition, SUM_TOLERANCE};
use crate::config::section::Section;

const PARTS: &[&str] = &["water", "solids", "fat", "salt"];

/// An amount of something.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Food {
    pub kg: f64,
    pub composition: Composition,
}

/// The food that a section names; its mass stands under `kg_key`.
#[must_use]
pub fn read(section: &Section<'_>, kg_key: &str, kg: RangeInclusive<f64>) -> Option<Food> {
    let kg = section.number(kg_key, kg, "kg");
    let composition = composition(section);
    Some(Food { kg: kg?, composition: composition? })
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
