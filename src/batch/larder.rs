//! The larder: every ingredient that has a name, USDA SR28's and the kitchen's own.
//!
//! The table is compiled in from `data/` (see `data/SOURCE.md`). The kitchen's own ingredients come
//! before it, so that a kitchen may say what *its* cream is.

use std::collections::BTreeMap;

use serde::Deserialize;

use super::allergen::{self, Allergen};
use super::ingredient::{Ingredient, Nutrients, SALT_FOR_SODIUM, Source, Weights};
use super::measure::US_CUP_ML;
use super::near;

const PER_100_G: &str = include_str!("data/sr28_per_100g.csv");
const WEIGHTS: &str = include_str!("data/sr28_weights.csv");
const NAMES: &str = include_str!("data/names.csv");

/// Whose cream or butter is no milk, and what it is instead.
const PLANTS: [(&str, Option<Allergen>); 8] = [
    ("coconut", None),
    ("cocoa", None),
    ("soya", Some(Allergen::Soya)),
    ("soy", Some(Allergen::Soya)),
    ("oat", Some(Allergen::Gluten)),
    ("almond", Some(Allergen::Nuts)),
    ("cashew", Some(Allergen::Nuts)),
    ("peanut", Some(Allergen::Peanuts)),
];

/// Ingredients by name.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Larder {
    ingredients: Vec<Ingredient>,
}

impl Larder {
    /// The table that comes with the program.
    #[must_use]
    pub fn bundled() -> Self {
        let names: BTreeMap<String, Named> =
            rows(NAMES).map(|row: Named| (row.ndb.clone(), row)).collect();
        let lines: Vec<Line> = rows(WEIGHTS).collect();
        let ingredients = rows(PER_100_G)
            .filter_map(|food: Food| ingredient(&food, names.get(&food.ndb)?, &lines))
            .collect();
        Self { ingredients }
    }

    /// The same with the kitchen's own before it.
    #[must_use]
    pub fn with(mut self, own: Vec<Ingredient>) -> Self {
        self.ingredients.splice(0..0, own);
        self
    }

    /// The ingredient of this name, in any case. What stands after a comma ("onions, chopped") is
    /// how it is cut, not what it is.
    #[must_use]
    pub fn find(&self, name: &str) -> Option<&Ingredient> {
        let whole = plain(name);
        let named = |ingredient: &&Ingredient| all_names(ingredient).any(|known| known == whole);
        self.ingredients.iter().find(named).or_else(|| {
            let (food, _) = name.split_once(',')?;
            self.find(food)
        })
    }

    /// What the ingredients in a name hold: "cream to finish" names cream, and that is milk; "cashew
    /// cream" names none, and is of nuts.
    #[must_use]
    pub fn named_in(&self, name: &str) -> Vec<Allergen> {
        let whole = plain(name).replace([',', '.', ';', '(', ')', '&', '/'], " ");
        let words: Vec<&str> = whole.split_whitespace().collect();
        let (mut contains, mut at) = (Vec::new(), 0);
        while at < words.len() {
            let longest = (at + 1..=words.len())
                .rev()
                .find_map(|end| Some((end, self.find(&words[at..end].join(" "))?)));
            let plant = PLANTS.iter().find(|(plant, _)| *plant == words[at]);
            match (longest, plant) {
                (Some((end, food)), _) => {
                    contains.extend(&food.contains);
                    at = end;
                }
                // What it is made into stands behind it.
                (None, Some((_, of))) => {
                    contains.extend(of);
                    at += 2;
                }
                (None, None) => at += 1,
            }
        }
        contains.sort_unstable();
        contains.dedup();
        contains
    }

    /// "did you mean …?" for a name that is not known; empty where nothing is near.
    #[must_use]
    pub fn did_you_mean(&self, name: &str) -> String {
        let food = name.split_once(',').map_or(name, |(food, _)| food);
        near::did_you_mean(&plain(food), self.ingredients.iter().flat_map(all_names))
    }

    #[must_use]
    pub fn ingredients(&self) -> &[Ingredient] {
        &self.ingredients
    }
}

fn all_names(ingredient: &Ingredient) -> impl Iterator<Item = &str> {
    std::iter::once(ingredient.name.as_str()).chain(ingredient.also.iter().map(String::as_str))
}

/// Lower case, single spaces, accents of "purée" and "crème" off.
fn plain(name: &str) -> String {
    let lower = name.to_lowercase().replace(['é', 'è', 'ê'], "e").replace(['-', '_'], " ");
    lower.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// A row of SR28's ABBREV.
#[derive(Debug, Deserialize)]
struct Food {
    #[serde(rename = "NDB_No")]
    ndb: String,
    #[serde(rename = "Water_(g)")]
    water: f64,
    #[serde(rename = "Protein_(g)")]
    protein: f64,
    #[serde(rename = "Lipid_Tot_(g)")]
    fat: f64,
    #[serde(rename = "Ash_(g)")]
    ash: f64,
    #[serde(rename = "Carbohydrt_(g)")]
    carbohydrate: f64,
    /// Blank where it was not found out.
    #[serde(rename = "Fiber_TD_(g)")]
    fibre: Option<f64>,
    #[serde(rename = "Sodium_(mg)")]
    sodium_mg: f64,
}

/// A row of SR28's WEIGHT.
#[derive(Debug, Deserialize)]
struct Line {
    ndb: String,
    seq: u32,
    amount: f64,
    desc: String,
    g: f64,
}

/// A row of the kitchen's names.
#[derive(Debug, Deserialize)]
struct Named {
    ndb: String,
    name: String,
    also: String,
    piece: String,
    cup_seq: Option<u32>,
    contains: String,
    may_contain: String,
}

/// The rows of a table that is compiled in. A test sees that none is damaged.
fn rows<T: for<'r> Deserialize<'r>>(text: &'static str) -> impl Iterator<Item = T> {
    csv::Reader::from_reader(text.as_bytes()).into_deserialize().filter_map(Result::ok)
}

fn ingredient(food: &Food, named: &Named, lines: &[Line]) -> Option<Ingredient> {
    let nutrients = Nutrients {
        water: food.water,
        protein: food.protein,
        fat: food.fat,
        carbohydrate: food.carbohydrate,
        fibre: food.fibre.unwrap_or(0.0),
        ash: food.ash,
        salt: food.sodium_mg / 1000.0 * SALT_FOR_SODIUM,
    };
    Some(Ingredient {
        name: named.name.clone(),
        also: named.also.split('|').filter(|also| !also.is_empty()).map(str::to_owned).collect(),
        source: Source::Sr28 { ndb: food.ndb.clone() },
        composition: nutrients.composition()?,
        nutrients,
        weights: weights(named, lines),
        contains: allergen::list(&named.contains),
        may_contain: allergen::list(&named.may_contain),
    })
}

fn weights(named: &Named, lines: &[Line]) -> Weights {
    let own: Vec<&Line> = lines.iter().filter(|line| line.ndb == named.ndb).collect();
    let one = |begins: &[&str], seq: Option<u32>| {
        let fits = |line: &&&Line| {
            begins.contains(&first_word(&line.desc)) && seq.is_none_or(|seq| seq == line.seq)
        };
        own.iter().find(fits).map(|line| line.g / line.amount)
    };
    let ounce_g = one(&["fl"], None);
    let mut pieces: Vec<(String, f64)> = ["medium", "large", "small", "clove", "sprig"]
        .iter()
        .filter_map(|kind| {
            let plural = format!("{kind}s");
            Some(((*kind).to_owned(), one(&[kind, &plural], None)?))
        })
        .collect();
    pieces.sort_by_key(|(kind, _)| *kind != named.piece);
    Weights {
        cup_g: one(&["cup"], named.cup_seq)
            .or_else(|| one(&["liter"], None).map(|g| g * US_CUP_ML / 1000.0))
            .or_else(|| ounce_g.map(|g| g * 8.0)),
        tablespoon_g: one(&["tbsp", "tablespoon"], None),
        teaspoon_g: one(&["tsp"], None),
        pieces,
    }
}

/// The first word of a description, without punctuation.
fn first_word(desc: &str) -> &str {
    desc.split([' ', ',']).next().unwrap_or_default()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_row_of_the_table_is_in_the_larder() {
        let larder = Larder::bundled();
        assert_eq!(larder.ingredients().len(), PER_100_G.lines().count() - 1);
        assert_eq!(rows::<Line>(WEIGHTS).count(), WEIGHTS.lines().count() - 1);
        assert_eq!(rows::<Named>(NAMES).count(), NAMES.lines().count() - 1);
    }

    #[test]
    fn no_two_ingredients_share_a_name() {
        let larder = Larder::bundled();
        let mut names: Vec<_> = larder.ingredients().iter().flat_map(all_names).collect();
        assert!(names.iter().all(|name| *name == plain(name)));
        let all = names.len();
        names.sort_unstable();
        names.dedup();
        assert_eq!(names.len(), all);
    }

    #[test]
    fn every_allergen_named_in_the_table_is_one() {
        for row in rows::<Named>(NAMES) {
            for name in format!("{}|{}", row.contains, row.may_contain).split('|') {
                assert!(name.is_empty() || allergen::Allergen::by_name(name).is_some(), "{name}");
            }
        }
    }

    // USDA SR28, file ABBREV; salt by molar mass from its sodium.
    #[test]
    fn foods_are_made_of_what_the_usda_found() {
        let larder = Larder::bundled();
        let of = |name| larder.find(name).unwrap().composition;
        assert!((of("onions").water() - 0.8911).abs() < 1e-4);
        assert!((of("light cream").fat() - 0.1910).abs() < 1e-4);
        assert!((of("light cream").salt() - 0.00183).abs() < 1e-5);
        assert!((of("salt").salt() - 0.9852).abs() < 2e-4);
        assert!((of("rapeseed oil").fat() - 1.0).abs() < 1e-12);
        assert!((of("chili powder").salt() - 0.0729).abs() < 1e-4);
        assert!((of("butter").fat() - 0.8111).abs() < 5e-4);
        assert!((of("salted butter").salt() - 0.01635).abs() < 2e-4);
        assert!((of("celery").water() - 0.9543).abs() < 2e-4);
        assert!((of("coconut milk").fat() - 0.2133).abs() < 2e-4);
    }

    #[test]
    fn names_are_found_as_a_cook_writes_them() {
        let larder = Larder::bundled();
        let ndb = |name: &str| match larder.find(name).map(|found| &found.source) {
            Some(Source::Sr28 { ndb }) => ndb.clone(),
            other => panic!("{name}: {other:?}"),
        };
        assert_eq!(ndb("Onions, chopped"), "11282");
        assert_eq!(ndb("tomato purée"), "11547");
        assert_eq!(ndb("single cream"), "01050");
        assert_eq!(ndb("Double cream"), "01053");
        assert_eq!(ndb("Red  Chilli-Powder"), "02031");
        assert_eq!(ndb("groundnut oil"), "04042");
        assert_eq!(ndb("butter ghee"), "01003");
        assert_eq!(ndb("celery, diced"), "11143");
        assert_eq!(ndb("tinned coconut milk"), "12118");
        assert_eq!(larder.find("onoins"), None);
        assert_eq!(larder.did_you_mean("onoins"), "did you mean onions or onion?");
    }

    #[test]
    fn what_holds_an_allergen_says_so() {
        let larder = Larder::bundled();
        let contains = |name: &str| allergen::words(&larder.find(name).unwrap().contains);
        assert_eq!(contains("celery"), "celery");
        assert_eq!(contains("groundnut oil"), "peanuts");
        assert_eq!((contains("butter"), contains("ghee")), ("milk".into(), "milk".into()));
    }

    #[test]
    fn a_name_tells_what_the_food_in_it_holds() {
        let larder = Larder::bundled();
        let told = |name: &str| allergen::words(&larder.named_in(name));
        for milk in
            ["cream", "Double cream", "cream to finish", "garlic butter", "Single cream, 18 %"]
        {
            assert_eq!(told(milk), "milk", "{milk}");
        }
        assert_eq!(told("celery and cream"), "milk, celery");
        assert_eq!(told("cashew cream"), "nuts");
        assert_eq!(told("groundnut oil and peanut butter"), "peanuts");
        for none in ["spice infusion", "thinning water", "coconut cream", "top up"] {
            assert_eq!(told(none), "none", "{none}");
        }
    }

    #[test]
    fn the_kitchens_own_comes_first() {
        let mut own = Larder::bundled().find("light cream").unwrap().clone();
        own.source = Source::Kitchen;
        let larder = Larder::bundled().with(vec![own]);
        assert_eq!(larder.find("cream").map(|found| found.source.clone()), Some(Source::Kitchen));
    }
}
