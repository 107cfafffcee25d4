//! The flame under a pot: `flame_kw`, `gas` and `efficiency` of a `[[pot]]`.

use crate::batch::stove::{Gas, Stove};

use super::section::Section;

/// Reads the pot's flame: the outer `None` where something is wrong, the inner where no flame is given.
#[must_use]
pub fn read(section: &Section<'_>) -> Option<Option<Stove>> {
    if !section.has("flame_kw") {
        let strays = ["gas", "efficiency"].into_iter().filter(|key| section.has(key));
        strays
            .for_each(|key| section.refuse(key, "says nothing without flame_kw", "with flame_kw"));
        return Some(None);
    }
    let flame_kw = section.number("flame_kw", 0.2..=60.0, "kW");
    let gas = section.choice("gas", &Gas::NAMES);
    let efficiency = section.number_or_none("efficiency", 0.1..=0.9, "");
    Some(Some(Stove::new(1000.0 * flame_kw?, gas?, efficiency)))
}
