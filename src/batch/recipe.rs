//! A batch as the cook writes it: ingredients in kitchen measures, stages in the kitchen's own words.
//!
//! From it comes the [`Plan`] that the judgement works with: kilograms and mass fractions. A recipe
//! may also state those outright; both forms can stand in one batch.

use super::allergen::Allergen;
use super::composition::Composition;
use super::ingredient::{Ingredient, Nutrients};
use super::ledger::Ledger;
use super::measure::Amount;
use super::plan::{Plan, PlannedAddition, PlannedStage, Start, Target};
use super::wanted::Wanted;

/// One line of what to weigh out.
#[derive(Debug, Clone, PartialEq)]
pub struct Item {
    /// As the cook wrote it, such as "onions, chopped".
    pub name: String,
    pub amount: Amount,
    pub ingredient: Ingredient,
    pub kg: f64,
}

/// What goes in at one time.
#[derive(Debug, Clone, PartialEq)]
pub enum Load {
    /// Ingredients by measure.
    Measured(Vec<Item>),
    /// Kilograms and mass fractions.
    Stated { kg: f64, composition: Composition },
}

impl Load {
    #[must_use]
    pub fn kg(&self) -> f64 {
        match self {
            Self::Measured(items) => items.iter().map(|item| item.kg).sum(),
            Self::Stated { kg, .. } => *kg,
        }
    }

    #[must_use]
    pub fn ledger(&self) -> Ledger {
        match self {
            Self::Measured(items) => {
                let mut ledger = Ledger::default();
                for item in items {
                    ledger.add(item.kg, item.ingredient.composition);
                }
                ledger
            }
            Self::Stated { kg, composition } => Ledger::start(*kg, *composition),
        }
    }

    /// Of all together; `None` where there is nothing.
    #[must_use]
    pub fn composition(&self) -> Option<Composition> {
        self.ledger().composition()
    }

    /// Water and nothing else, litres at 1 kg each: what is drawn from the tap.
    #[must_use]
    pub fn tap_water_l(&self) -> f64 {
        let is_water = |of: &Composition| of.water() > 0.998;
        match self {
            Self::Measured(items) => {
                let water = items.iter().filter(|item| is_water(&item.ingredient.composition));
                water.map(|item| item.kg).sum()
            }
            Self::Stated { kg, composition } if is_water(composition) => *kg,
            Self::Stated { .. } => 0.0,
        }
    }

    #[must_use]
    pub fn items(&self) -> &[Item] {
        match self {
            Self::Measured(items) => items,
            Self::Stated { .. } => &[],
        }
    }

    fn scale(&mut self, factor: f64) {
        match self {
            Self::Measured(items) => {
                for item in items {
                    item.kg *= factor;
                    item.amount.number *= factor;
                }
            }
            Self::Stated { kg, .. } => *kg *= factor,
        }
    }
}

/// How a stage ends.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Until {
    /// After its usual time, min.
    Minutes(f64),
    Boil,
    /// When the gravy is right.
    Target,
}

/// A stage in the kitchen's own words.
#[derive(Debug, Clone, PartialEq)]
pub struct Stage {
    pub name: String,
    pub until: Until,
    pub lid_on: bool,
    /// Share of the pot's usual flame, 0 to 1.
    pub flame: f64,
    /// Whether the gravy is blended hot in this stage.
    pub blends: bool,
}

/// What is added later.
#[derive(Debug, Clone, PartialEq)]
pub struct Later {
    pub name: String,
    pub load: Load,
    /// In which stage; `None` where that is not said.
    pub stage: Option<usize>,
    /// How far into the stage, 0 to 1.
    pub at: f64,
    /// What its name says that it holds; of what is measured the ingredients say it.
    pub contains: Vec<Allergen>,
}

/// A batch as the cook means it.
#[derive(Debug, Clone, PartialEq)]
pub struct Recipe {
    pub name: String,
    pub pot: String,
    pub lid_on: bool,
    pub start: Load,
    pub stages: Vec<Stage>,
    pub later: Vec<Later>,
    pub wanted: Option<Wanted>,
    /// A portion, litres.
    pub portion_l: Option<f64>,
    /// Beyond what the ingredients are known to hold, from the packets; `None` where the batch file
    /// does not say.
    pub allergens: Option<Vec<Allergen>>,
}

/// Soluble share of the solids that are neither fat nor salt where ingredients are not known:
/// protein, carbohydrate without fibre, and ash of an onion and tomato base by USDA SR28.
pub const BASE_SOLUBLE: f64 = 0.82;

impl Recipe {
    /// The same for a pot `factor` times as full. What is asked of the gravy is scaled with it
    /// where it is an amount.
    #[must_use]
    pub fn scaled(mut self, factor: f64) -> Self {
        self.start.scale(factor);
        for later in &mut self.later {
            later.load.scale(factor);
        }
        self.wanted = self.wanted.map(|wanted| wanted.scaled(factor));
        self
    }

    /// The plan that is judged by. `target` is what [`Self::wanted`] came to.
    ///
    /// `None` where nothing goes in at the start or in an addition.
    #[must_use]
    pub fn plan(&self, target: Option<Target>) -> Option<Plan> {
        let start = Start {
            contents_kg: self.start.kg(),
            lid_on: self.lid_on,
            composition: self.start.composition()?,
        };
        let addition = |later: &Later| {
            let composition = later.load.composition()?;
            Some(PlannedAddition { name: later.name.clone(), kg: later.load.kg(), composition })
        };
        let additions = self.later.iter().map(addition).collect::<Option<_>>()?;
        let stages =
            self.stages.iter().enumerate().map(|(n, stage)| self.stage(n, stage)).collect();
        let (name, pot) = (self.name.clone(), self.pot.clone());
        Some(Plan { name, pot, start, additions, target, stages })
    }

    fn stage(&self, n: usize, stage: &Stage) -> PlannedStage {
        let opens = |later: &&Later| later.stage == Some(n) && later.at == 0.0;
        PlannedStage {
            name: stage.name.clone(),
            until: stage.until,
            flame: stage.flame,
            blends: stage.blends,
            opens_with: self.later.iter().find(opens).map(|later| later.name.clone()),
        }
    }

    /// Everything that goes in until the gravy is right, nothing boiled off.
    #[must_use]
    pub fn mix(&self) -> Ledger {
        let mut mix = self.start.ledger();
        for later in self.later.iter().filter(|later| self.is_before_target(later)) {
            mix.put_in(&later.load.ledger());
        }
        mix
    }

    /// Soluble share of the solids that are neither fat nor salt, of what goes in until the gravy
    /// is right.
    #[must_use]
    pub fn soluble(&self) -> f64 {
        let mut sum = Nutrients::default();
        let later = self.later.iter().filter(|later| self.is_before_target(later));
        for load in std::iter::once(&self.start).chain(later.map(|later| &later.load)) {
            let stated = matches!(load, Load::Stated { .. });
            if stated && load.ledger().solids_kg() > 0.0 {
                return BASE_SOLUBLE;
            }
            for item in load.items() {
                sum.put_in(item.kg, &item.ingredient.nutrients);
            }
        }
        let solids = sum.protein + sum.carbohydrate + sum.ash - sum.salt;
        if solids > 0.0 { (sum.soluble() - sum.salt) / solids } else { BASE_SOLUBLE }
    }

    /// The stage that ends when the gravy is right: the one that says so, else the last.
    #[must_use]
    pub fn target_stage(&self) -> Option<usize> {
        let says_so = self.stages.iter().position(|stage| stage.until == Until::Target);
        says_so.or_else(|| self.stages.len().checked_sub(1))
    }

    /// Allergens that it holds, in the order of the law's list.
    #[must_use]
    pub fn contains(&self) -> Vec<Allergen> {
        sorted(
            self.items()
                .flat_map(|item| &item.ingredient.contains)
                .chain(self.later.iter().flat_map(|later| &later.contains))
                .chain(self.allergens.iter().flatten()),
        )
    }

    /// Whether all that it holds is told: by the batch file, or by ingredients that are known.
    #[must_use]
    pub fn tells_allergens(&self) -> bool {
        let is_measured = |load: &Load| matches!(load, Load::Measured(_));
        self.allergens.is_some() || self.loads().all(is_measured)
    }

    /// Whether it keeps as cream does: it holds milk, or an addition is called cream.
    #[must_use]
    pub fn has_cream(&self) -> bool {
        let is_cream = |later: &Later| later.name.to_lowercase().contains("cream");
        self.contains().contains(&Allergen::Milk) || self.later.iter().any(is_cream)
    }

    /// Allergens to look for on the packets of its ingredients.
    #[must_use]
    pub fn may_contain(&self) -> Vec<Allergen> {
        let contains = self.contains();
        let mut may = sorted(self.items().flat_map(|item| &item.ingredient.may_contain));
        may.retain(|allergen| !contains.contains(allergen));
        may
    }

    /// Every line that is weighed out.
    pub fn items(&self) -> impl Iterator<Item = &Item> {
        self.loads().flat_map(Load::items)
    }

    fn loads(&self) -> impl Iterator<Item = &Load> {
        std::iter::once(&self.start).chain(self.later.iter().map(|later| &later.load))
    }

    fn is_before_target(&self, later: &Later) -> bool {
        match (later.stage, self.target_stage()) {
            (Some(stage), Some(target)) => stage < target || (stage == target && later.at < 1.0),
            _ => true,
        }
    }
}

fn sorted<'a>(allergens: impl Iterator<Item = &'a Allergen>) -> Vec<Allergen> {
    let mut sorted: Vec<_> = allergens.copied().collect();
    sorted.sort_unstable();
    sorted.dedup();
    sorted
}
