//! The label of a box of gravy: what it is, when it was made, by when it is used, its allergens.
//!
//! How long it keeps is the kitchen's own rule: with cream (or any milk) it is used the day it is
//! made; frozen, one to two months is common practice, no source. The law asks that allergens stand
//! out (Regulation (EU) 1169/2011, Art. 21).

use super::allergen::Allergen;
use super::recipe::Recipe;
use super::rules::Rules;

/// Where a box is kept.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Store {
    Chilled,
    Frozen,
}

/// How many days the kitchen keeps a batch.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Keeps {
    pub chilled_days: i64,
    pub frozen_days: i64,
}

/// What a label says, but for the dates.
#[derive(Debug, Clone, PartialEq)]
pub struct Label {
    pub name: String,
    pub contains: Vec<Allergen>,
    /// Whether all that it contains is told; else nobody may read that it contains nothing more.
    pub all_told: bool,
    pub may_contain: Vec<Allergen>,
    /// Days from the day it was made to the day by which it is used.
    pub keeps_days: i64,
    /// Why so many.
    pub why: &'static str,
    /// How to keep it and how to heat it again.
    pub keep: String,
}

impl Label {
    #[must_use]
    pub fn new(recipe: &Recipe, store: Store, keeps: Keeps, rules: &Rules) -> Self {
        let (keeps_days, why) = match (store, recipe.has_cream()) {
            (Store::Frozen, _) => (keeps.frozen_days, "frozen: the kitchen's rule"),
            (Store::Chilled, true) => (0, "with cream: today"),
            (Store::Chilled, false) => (keeps.chilled_days, "chilled: the kitchen's rule"),
        };
        Self {
            name: recipe.name.clone(),
            may_contain: recipe.may_contain(),
            contains: recipe.contains(),
            all_told: recipe.tells_allergens(),
            keeps_days,
            why,
            keep: keep(store, rules),
        }
    }
}

fn keep(store: Store, rules: &Rules) -> String {
    let cold = match store {
        Store::Chilled => format!("Keep at {} °C or colder.", rules.chill.limit_c),
        Store::Frozen => "Keep at −18 °C or colder; thaw in the fridge.".to_owned(),
    };
    let time = match rules.reheat.for_s {
        s if s > 0.0 => format!(" for {s} s"),
        _ => String::new(),
    };
    format!("{cold} Heat once only, all of it to {} °C{time}.", rules.reheat.to_c)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::batch::composition::Composition;
    use crate::batch::larder::Larder;
    use crate::batch::recipe::{Later, Load};

    fn label(contains: &[Allergen], store: Store) -> Label {
        of(&recipe(Some(contains.to_vec()), &[]), store)
    }

    fn of(recipe: &Recipe, store: Store) -> Label {
        let keeps = Keeps { chilled_days: 2, frozen_days: 45 };
        Label::new(recipe, store, keeps, &Rules::by_name("scotland").unwrap())
    }

    /// By composition only, with additions of these names.
    fn recipe(allergens: Option<Vec<Allergen>>, additions: &[&str]) -> Recipe {
        let stated = || Load::Stated { kg: 1.0, composition: Composition::WATER };
        let later = |name: &&str| Later {
            name: (*name).to_owned(),
            load: stated(),
            stage: None,
            at: 0.0,
            contains: Larder::bundled().named_in(name),
        };
        Recipe {
            name: "base".into(),
            pot: "big".into(),
            lid_on: true,
            start: stated(),
            stages: vec![],
            later: additions.iter().map(later).collect(),
            wanted: None,
            portion_l: None,
            allergens,
        }
    }

    #[test]
    fn cream_by_composition_only_is_cream_all_the_same() {
        for name in ["cream", "Double cream, 48 %"] {
            let label = of(&recipe(None, &["spice infusion", name]), Store::Chilled);
            assert_eq!((label.keeps_days, label.why), (0, "with cream: today"));
        }
        assert_eq!(of(&recipe(None, &["spice infusion"]), Store::Chilled).keeps_days, 2);
    }

    #[test]
    fn a_batch_by_composition_only_does_not_tell_its_allergens() {
        assert!(!of(&recipe(None, &[]), Store::Chilled).all_told);
        assert!(of(&recipe(Some(vec![]), &[]), Store::Chilled).all_told);
        let mut measured = recipe(None, &["cream"]);
        measured.start = Load::Measured(vec![]);
        assert!(!of(&measured, Store::Chilled).all_told, "the cream is not known");
        measured.later.clear();
        assert!(of(&measured, Store::Chilled).all_told);
    }

    #[test]
    fn cream_by_composition_only_is_milk_on_the_label_and_the_rest_is_not_known() {
        for name in ["cream", "Double cream, 48 %", "cream to finish"] {
            let label = of(&recipe(None, &["spice infusion", name]), Store::Chilled);
            assert_eq!((label.contains, label.all_told), (vec![Allergen::Milk], false), "{name}");
        }
        // From the packets: none. What is added by a name that says milk is milk all the same.
        assert_eq!(
            of(&recipe(Some(vec![]), &["cream"]), Store::Chilled).contains,
            [Allergen::Milk]
        );
    }

    #[test]
    fn gravy_with_cream_is_used_the_day_it_is_made() {
        assert_eq!(label(&[Allergen::Milk], Store::Chilled).keeps_days, 0);
        assert_eq!(label(&[], Store::Chilled).keeps_days, 2);
        assert_eq!(label(&[Allergen::Milk], Store::Frozen).keeps_days, 45);
    }

    // SSI 2006/3 Sch. 4: heated again to 82 °C.
    #[test]
    fn a_label_says_how_hot_the_rules_want_it_again() {
        let label = label(&[], Store::Chilled);
        assert_eq!(label.keep, "Keep at 8 °C or colder. Heat once only, all of it to 82 °C.");
    }
}
