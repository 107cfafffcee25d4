//! The fourteen allergens that must be told to the eater.
//!
//! Regulation (EU) 1169/2011, Annex II, which is law in Great Britain as retained and in Northern
//! Ireland as it stands. What is in a packet is on the packet: the list here only reminds.

/// Name for a file and words for a label.
const NAMES: [(Allergen, &str, &str); 14] = [
    (Allergen::Gluten, "gluten", "cereals containing gluten"),
    (Allergen::Crustaceans, "crustaceans", "crustaceans"),
    (Allergen::Eggs, "eggs", "eggs"),
    (Allergen::Fish, "fish", "fish"),
    (Allergen::Peanuts, "peanuts", "peanuts"),
    (Allergen::Soya, "soya", "soya"),
    (Allergen::Milk, "milk", "milk"),
    (Allergen::Nuts, "nuts", "nuts"),
    (Allergen::Celery, "celery", "celery"),
    (Allergen::Mustard, "mustard", "mustard"),
    (Allergen::Sesame, "sesame", "sesame"),
    (Allergen::Sulphites, "sulphites", "sulphur dioxide and sulphites"),
    (Allergen::Lupin, "lupin", "lupin"),
    (Allergen::Molluscs, "molluscs", "molluscs"),
];

#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Allergen {
    Gluten,
    Crustaceans,
    Eggs,
    Fish,
    Peanuts,
    Soya,
    Milk,
    Nuts,
    Celery,
    Mustard,
    Sesame,
    Sulphites,
    Lupin,
    Molluscs,
}

impl Allergen {
    /// The allergen of this name in a file, such as `milk`.
    #[must_use]
    pub fn by_name(name: &str) -> Option<Self> {
        let name = name.trim().to_lowercase();
        let found = NAMES.iter().find(|(_, short, words)| *short == name || *words == name);
        found.map(|(allergen, ..)| *allergen)
    }

    /// As a label says it.
    #[must_use]
    pub fn words(self) -> &'static str {
        NAMES.iter().find(|(allergen, ..)| *allergen == self).map_or("", |(_, _, words)| words)
    }

    /// All names that a file may use.
    pub fn names() -> impl Iterator<Item = &'static str> {
        NAMES.iter().map(|(_, short, _)| *short)
    }
}

/// Names of allergens set apart by `|`; unknown names are left out.
#[must_use]
pub fn list(names: &str) -> Vec<Allergen> {
    names.split('|').filter_map(Allergen::by_name).collect()
}

/// Allergens as a list to be read; "none" where there are none.
#[must_use]
pub fn words(allergens: &[Allergen]) -> String {
    let words: Vec<_> = allergens.iter().map(|allergen| allergen.words()).collect();
    if words.is_empty() { "none".to_owned() } else { words.join(", ") }
}

/// What a batch contains: the allergens that are known, and what is to be said beside them where the
/// batch file does not tell all.
#[must_use]
pub fn told(contains: &[Allergen], all_told: bool) -> (String, &'static str) {
    match (contains, all_told) {
        (_, true) => (words(contains), ""),
        ([], false) => (String::new(), "not known, the batch file names no allergens"),
        (_, false) => {
            (words(contains), "; the rest is not known, the batch file names no allergens")
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    // Regulation (EU) 1169/2011, Annex II lists fourteen.
    #[test]
    fn there_are_fourteen_and_each_has_its_own_name() {
        let names: std::collections::BTreeSet<_> = Allergen::names().collect();
        assert_eq!(names.len(), 14);
        for name in names {
            assert!(!Allergen::by_name(name).unwrap().words().is_empty());
        }
    }

    #[test]
    fn milk_is_milk_in_any_case() {
        assert_eq!(list("Milk| mustard|chalk"), [Allergen::Milk, Allergen::Mustard]);
        assert_eq!(words(&[]), "none");
    }
}
