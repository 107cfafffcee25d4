//! An ingredient: what it is made of and what a measure of it weighs.
//!
//! A food table gives grams per 100 g. For the pot's balance
//!
//! - *salt* is the table's sodium as sodium chloride: × 58.443/22.990 = 2.542 (molar masses; food
//!   labels round this to 2.5);
//! - *fat* and *water* are the table's own;
//! - *solids* are the rest: protein, carbohydrate with its fibre, and ash less the salt.
//!
//! What a refractometer sees is in [`Nutrients::soluble`].

use super::allergen::Allergen;
use super::composition::Composition;
use super::measure::{Amount, Kind, US_CUP_ML, Unit};
use crate::physics::food::Proximate;

/// Sodium chloride for sodium, by molar mass.
pub const SALT_FOR_SODIUM: f64 = 58.443 / 22.990;

/// The spoons that the USDA's weights are for, ml: 1/16 and 1/48 of its cup.
const US_TABLESPOON_ML: f64 = US_CUP_ML / 16.0;
const US_TEASPOON_ML: f64 = US_CUP_ML / 48.0;

/// Grams in 100 g of a food.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Nutrients {
    pub water: f64,
    pub protein: f64,
    pub fat: f64,
    /// Fibre included.
    pub carbohydrate: f64,
    pub fibre: f64,
    /// Salt included.
    pub ash: f64,
    /// All sodium as sodium chloride.
    pub salt: f64,
}

impl Nutrients {
    /// `None` where the parts make no whole.
    #[must_use]
    pub fn composition(&self) -> Option<Composition> {
        let solids = self.protein + self.carbohydrate + (self.ash - self.salt).max(0.0);
        Composition::of_masses(self.water, solids, self.fat, self.salt)
    }

    /// For heat capacity and density; `None` where the parts make no whole.
    #[must_use]
    pub fn proximate(&self) -> Option<Proximate> {
        let Self { water, protein, fat, carbohydrate, fibre, ash, .. } = *self;
        Proximate::from_table(water, protein, fat, carbohydrate, fibre, ash)
    }

    /// Grams in 100 g that a refractometer sees: all dry matter but fat and fibre. Starch and
    /// protein that the boil has set are filtered out too, so this is an upper estimate.
    #[must_use]
    pub const fn soluble(&self) -> f64 {
        self.protein + (self.carbohydrate - self.fibre) + self.ash
    }

    /// Adds `share` of another food's grams to these.
    pub fn put_in(&mut self, share: f64, other: &Self) {
        self.water += share * other.water;
        self.protein += share * other.protein;
        self.fat += share * other.fat;
        self.carbohydrate += share * other.carbohydrate;
        self.fibre += share * other.fibre;
        self.ash += share * other.ash;
        self.salt += share * other.salt;
    }
}

/// Where the figures are from.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Source {
    /// USDA SR28, by its five-digit NDB number.
    Sr28 { ndb: String },
    /// The kitchen's own file.
    Kitchen,
}

/// What measures of an ingredient weigh, g; `None` and absent where nobody has weighed one.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Weights {
    /// US cup, 236.6 ml.
    pub cup_g: Option<f64>,
    pub tablespoon_g: Option<f64>,
    pub teaspoon_g: Option<f64>,
    /// One piece by its size or kind, the usual one first.
    pub pieces: Vec<(String, f64)>,
}

#[derive(Debug, Clone, PartialEq)]
pub struct Ingredient {
    pub name: String,
    pub also: Vec<String>,
    pub source: Source,
    pub nutrients: Nutrients,
    pub composition: Composition,
    pub weights: Weights,
    pub contains: Vec<Allergen>,
    /// To look for on the packet.
    pub may_contain: Vec<Allergen>,
}

/// Why an amount of an ingredient has no mass.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NoWeight {
    /// One clear sentence's end: what can be said instead.
    pub instead: String,
}

impl Ingredient {
    /// What `amount` of it weighs, kg.
    pub fn kg(&self, amount: &Amount) -> Result<f64, NoWeight> {
        match amount.unit.kind() {
            Kind::Mass(g) => Ok(amount.number * g / 1000.0),
            Kind::Volume(ml) => {
                let g = self.grams_in(amount.unit, ml).ok_or_else(|| self.no_volume())?;
                Ok(amount.number * g / 1000.0)
            }
            Kind::Count => {
                let g = self.piece_g(amount.piece.as_deref()).ok_or_else(|| self.no_piece())?;
                Ok(amount.number * g / 1000.0)
            }
        }
    }

    /// kg in a litre of it as it is measured out; `None` where nobody has weighed a measure.
    #[must_use]
    pub fn kg_per_l(&self) -> Option<f64> {
        let Weights { cup_g, tablespoon_g, teaspoon_g, .. } = self.weights;
        let spoons = [(tablespoon_g, US_TABLESPOON_ML), (teaspoon_g, US_TEASPOON_ML)];
        cup_g.map(|g| g / US_CUP_ML).or_else(|| spoons.iter().find_map(|(g, ml)| Some((*g)? / ml)))
    }

    fn grams_in(&self, unit: Unit, ml: f64) -> Option<f64> {
        let own = match unit {
            Unit::UsCup => self.weights.cup_g,
            Unit::Tablespoon => self.weights.tablespoon_g,
            Unit::Teaspoon => self.weights.teaspoon_g,
            _ => None,
        };
        own.or_else(|| Some(self.kg_per_l()? * ml))
    }

    fn piece_g(&self, kind: Option<&str>) -> Option<f64> {
        let mut pieces = self.weights.pieces.iter();
        let piece = match kind {
            Some(kind) => pieces.find(|(name, _)| name == kind),
            None => pieces.next(),
        };
        piece.map(|(_, g)| *g)
    }

    fn no_volume(&self) -> NoWeight {
        NoWeight { instead: "a weight in kg or g: nobody has weighed a measure of it".to_owned() }
    }

    fn no_piece(&self) -> NoWeight {
        let kinds: Vec<_> = self.weights.pieces.iter().map(|(kind, _)| kind.as_str()).collect();
        let instead = match kinds.as_slice() {
            [] => "a weight in kg or g: nobody has weighed a piece of it".to_owned(),
            kinds => format!("pieces that are {}", kinds.join(", ")),
        };
        NoWeight { instead }
    }
}

#[cfg(test)]
mod tests {
    use crate::batch::larder::Larder;
    use crate::batch::measure::Amount;

    fn kg(text: &str, name: &str) -> f64 {
        let larder = Larder::bundled();
        larder.find(name).unwrap().kg(&Amount::parse(text).unwrap()).unwrap()
    }

    // USDA SR28, file WEIGHT.
    #[test]
    fn spoons_cups_and_pieces_weigh_what_the_usda_weighed() {
        let weighed = [
            ("1 tsp", "salt", 6.0),
            ("1 tbsp", "salt", 18.0),
            ("1 cup", "salt", 292.0),
            ("1 tsp", "sunflower oil", 4.5),
            ("1 cup", "rapeseed oil", 218.0),
            ("1 tbsp", "light cream", 15.0),
            ("1 cup", "light cream", 240.0),
            ("1 cup", "whipping cream", 238.0),
            ("1 tbsp", "tomato paste", 16.0),
            ("1 cup", "tomato puree", 250.0),
            ("1 cup", "onion", 160.0),
            ("1", "onion", 110.0),
            ("1 large", "onion", 150.0),
            ("1", "carrot", 61.0),
            ("1", "green pepper", 119.0),
            ("10 cloves", "garlic", 30.0),
            ("1 tsp", "turmeric", 3.0),
            ("1 tsp", "curry powder", 2.0),
            ("9 sprigs", "coriander leaf", 20.0),
        ];
        for (text, name, g) in weighed {
            assert!((kg(text, name) * 1000.0 - g).abs() < 1e-9, "{text} {name}");
        }
    }

    #[test]
    fn volumes_go_by_the_weighed_measures() {
        // SR28: a litre of tap water is 1000 g.
        assert!((kg("1 l", "water") - 1.0).abs() < 1e-9);
        // 125 ml of light cream by its 240 g cup.
        assert!((kg("125 ml", "cream") - 0.1268).abs() < 0.0001);
        assert!((kg("1 pint", "oil") - 0.568_261_25 * 218.0 / 236.588_236_5).abs() < 1e-9);
    }

    // A raw tomato reads 4 to 5 °Bx, an onion 7 to 10 (from memory); 21 CFR 155.191 asks 24.0 % soluble
    // solids of tomato paste, which this estimate falls short of by a twentieth.
    #[test]
    fn a_refractometer_sees_about_what_is_neither_fat_nor_fibre() {
        let larder = Larder::bundled();
        let brix = |name: &str| {
            let of = larder.find(name).unwrap().nutrients;
            100.0 * of.soluble() / (of.soluble() + of.water)
        };
        assert!((4.0..5.0).contains(&brix("tomato")));
        assert!((7.0..10.0).contains(&brix("onion")));
        assert!((24.0 * 0.93..24.0 * 1.07).contains(&brix("tomato paste")));
    }

    #[test]
    fn what_nobody_has_weighed_is_asked_for_in_kilograms() {
        let larder = Larder::bundled();
        let onion = larder.find("onion").unwrap();
        let told = onion.kg(&Amount::parse("3 cloves").unwrap()).unwrap_err();
        assert!(told.instead.contains("medium"), "{}", told.instead);
        let oil = larder.find("oil").unwrap();
        assert!(oil.kg(&Amount::parse("2").unwrap()).is_err());
    }
}
