//! The course of a batch: what is in the pot when, how long each stage takes, what boils off.
//!
//! Heat Q reaches the food, W. It first brings the contents and what was added cold to the boil (a
//! debt of m c (T_b − T₀), J), then boils off water:
//!
//! ```text
//! minutes given     evaporated = e (Q t − debt)/h_fg
//! until the boil    t = debt/Q
//! until the target  t = (debt + (M − M*) h_fg/e)/Q       M* contents at the target, kg
//! ```
//!
//! e is 1 with the lid off and [`LID_LEAK`] with it on. Losses of the pot are in the stove's
//! efficiency. Where the flame is not known, neither are the times that hang on it.
//!
//! Times are spread by drawing the course many times over from a fixed seed: the flame's share that
//! reaches the food, how dry the vegetables were, and the cook's minutes each vary about the usual.

use super::ledger::Ledger;
use super::plan::Target;
use super::recipe::{Later, Load, Recipe, Stage, Until};
use super::spread::Dice;
use super::stove::Stove;
use super::target;
use crate::physics::food::Proximate;

/// Share of the steam that gets away under a lid: a guess; a lid that fits returns nearly all.
pub const LID_LEAK: f64 = 0.15;
/// What goes in cold, °C.
pub const COLD_C: f64 = 15.0;
/// Relative standard deviation of the vegetables' own solids from delivery to delivery (onions run
/// from 7 to 15 %, from memory).
pub const SOLIDS_SD: f64 = 0.10;
/// Relative standard deviation of a stage's usual minutes.
pub const MINUTES_SD: f64 = 0.12;

const DRAWS: usize = 400;

/// Where it is cooked.
#[derive(Debug, Clone, Copy)]
pub struct Place<'p> {
    pub boil_c: f64,
    pub latent_j_kg: f64,
    pub stove: Option<&'p Stove>,
}

/// One stage as it went.
#[derive(Debug, Clone, PartialEq)]
pub struct Step {
    pub name: String,
    /// `None` where the flame is not known.
    pub minutes: Option<f64>,
    pub evaporated_kg: f64,
    /// At its end.
    pub contents_kg: f64,
    /// The most that was in the pot during it, litres hot.
    pub fullest_l: f64,
    pub blends: bool,
}

/// One addition as it went.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Poured {
    pub at_min: Option<f64>,
    /// In the pot before it, litres hot.
    pub before_l: f64,
}

/// A batch from the first flame to the last stage.
#[derive(Debug, Clone, PartialEq)]
pub struct Course {
    pub steps: Vec<Step>,
    /// In the order of the recipe's additions.
    pub poured: Vec<Poured>,
    pub start: Ledger,
    /// When the gravy was right, before what is added after that.
    pub right: Ledger,
    pub finish: Ledger,
    pub minutes: Option<f64>,
    /// Gas burnt, J net.
    pub burnt_j: Option<f64>,
}

impl Course {
    /// All water that boiled off, kg.
    #[must_use]
    pub fn evaporated_kg(&self) -> f64 {
        self.steps.iter().map(|step| step.evaporated_kg).sum()
    }

    /// The most that is ever in the pot, litres hot.
    #[must_use]
    pub fn fullest_l(&self) -> f64 {
        let start_l = target::litres(&self.start).unwrap_or(0.0);
        self.steps.iter().map(|step| step.fullest_l).fold(start_l, f64::max)
    }

    /// The most that is in the pot while it is blended hot, litres; `None` where it is not.
    #[must_use]
    pub fn fullest_blending_l(&self) -> Option<f64> {
        let blending = self.steps.iter().filter(|step| step.blends);
        blending.map(|step| step.fullest_l).reduce(f64::max)
    }
}

/// How a batch may differ from the usual; 1 is usual.
#[derive(Debug, Clone, PartialEq)]
struct Luck {
    heat: f64,
    solids: f64,
    minutes: Vec<f64>,
}

/// The course that is expected.
#[must_use]
pub fn expected(recipe: &Recipe, target: Option<&Target>, place: &Place<'_>) -> Course {
    let stages = stages_of(recipe);
    let luck = Luck { heat: 1.0, solids: 1.0, minutes: vec![1.0; stages.len()] };
    Pot::new(recipe, &stages, target, place, &luck).cook()
}

/// The courses of many such batches, always the same ones.
#[must_use]
pub fn drawn(recipe: &Recipe, target: Option<&Target>, place: &Place<'_>) -> Vec<Course> {
    let stages = stages_of(recipe);
    let mut dice = Dice(0x6465_6b63_6869);
    let heat_sd = place.stove.map_or(0.0, |stove| stove.efficiency_sd / stove.efficiency);
    (0..DRAWS)
        .map(|_| {
            let luck = Luck {
                heat: (heat_sd * dice.normal()).exp(),
                solids: (SOLIDS_SD * dice.normal()).exp(),
                minutes: stages.iter().map(|_| (MINUTES_SD * dice.normal()).exp()).collect(),
            };
            Pot::new(recipe, &stages, target, place, &luck).cook()
        })
        .collect()
}

/// The recipe's stages, or, where it has none, to the boil and then down to the target.
#[must_use]
pub fn stages_of(recipe: &Recipe) -> Vec<Stage> {
    if !recipe.stages.is_empty() {
        return recipe.stages.clone();
    }
    let stage = |name: &str, until, lid_on| Stage {
        name: name.to_owned(),
        until,
        lid_on,
        flame: 1.0,
        blends: false,
    };
    vec![stage("to the boil", Until::Boil, recipe.lid_on), stage("boil down", Until::Target, false)]
}

/// The pot while a course is reckoned.
struct Pot<'c> {
    recipe: &'c Recipe,
    stages: &'c [Stage],
    target: Option<&'c Target>,
    place: &'c Place<'c>,
    luck: &'c Luck,
    ledger: Ledger,
    right: Option<Ledger>,
    debt_j: f64,
    minutes: Option<f64>,
    burnt_j: Option<f64>,
    poured: Vec<Poured>,
}

impl<'c> Pot<'c> {
    fn new(
        recipe: &'c Recipe,
        stages: &'c [Stage],
        target: Option<&'c Target>,
        place: &'c Place<'c>,
        luck: &'c Luck,
    ) -> Self {
        let nowhere = Poured { at_min: None, before_l: 0.0 };
        let mut pot = Self {
            recipe,
            stages,
            target,
            place,
            luck,
            ledger: Ledger::default(),
            right: None,
            debt_j: 0.0,
            minutes: Some(0.0),
            burnt_j: place.stove.map(|_| 0.0),
            poured: vec![nowhere; recipe.later.len()],
        };
        pot.put_in(&recipe.start);
        pot
    }

    fn cook(mut self) -> Course {
        let start = self.ledger;
        let steps = (0..self.stages.len()).map(|n| self.stage(n)).collect();
        Course {
            steps,
            poured: self.poured,
            start,
            right: self.right.unwrap_or(self.ledger),
            finish: self.ledger,
            minutes: self.minutes,
            burnt_j: self.burnt_j,
        }
    }

    fn stage(&mut self, n: usize) -> Step {
        let stage = &self.stages[n];
        let before_kg = self.ledger.contents_kg();
        let mut added_kg = 0.0;
        let mut fullest_l = self.litres();
        let mut took_min = Some(0.0);
        for (from, to) in [(0.0, 0.5), (0.5, 1.0)] {
            added_kg += self.pour(n, from);
            fullest_l = fullest_l.max(self.litres());
            let part_min = self.heat(stage, self.luck.minutes[n], to - from, to >= 1.0);
            took_min = took_min.zip(part_min).map(|(a, b)| a + b);
        }
        let evaporated_kg = before_kg + added_kg - self.ledger.contents_kg();
        if self.recipe.target_stage().unwrap_or(self.stages.len() - 1) == n {
            self.right = Some(self.ledger);
        }
        self.pour(n, 1.0);
        Step {
            name: stage.name.clone(),
            minutes: took_min,
            evaporated_kg,
            contents_kg: self.ledger.contents_kg(),
            fullest_l: fullest_l.max(self.litres()),
            blends: stage.blends,
        }
    }

    /// Heats for `share` of the stage and says how long that took, min.
    fn heat(&mut self, stage: &Stage, luck: f64, share: f64, is_last: bool) -> Option<f64> {
        let escapes = if stage.lid_on { LID_LEAK } else { 1.0 };
        let flame = |stove: &Stove| stove.flame_w * stage.flame;
        let burns_w = self.place.stove.map(flame);
        let heat_w = self.place.stove.map(|stove| stove.heat_w() * stage.flame * self.luck.heat);
        let seconds = match stage.until {
            Until::Minutes(minutes) => Some(60.0 * minutes * luck * share),
            _ if !is_last => Some(0.0),
            Until::Boil => heat_w.and_then(|w| time_s(self.debt_j, w)),
            Until::Target => {
                let need_j = self.debt_j + self.excess_kg() * self.place.latent_j_kg / escapes;
                heat_w.and_then(|w| time_s(need_j, w))
            }
        };
        match (seconds, heat_w, stage.until) {
            (Some(s), Some(w), _) => self.warm(w * s, escapes),
            // Without a known flame what is asked for still comes about, who knows when.
            (_, _, Until::Target) if is_last => {
                self.ledger.evaporate(self.excess_kg());
            }
            _ => {}
        }
        let burnt_j = seconds.zip(burns_w).map(|(s, w)| s * w);
        self.burnt_j = self.burnt_j.zip(burnt_j).map(|(a, b)| a + b);
        let minutes = seconds.map(|s| s / 60.0);
        self.minutes = self.minutes.zip(minutes).map(|(a, b)| a + b);
        minutes
    }

    fn warm(&mut self, heat_j: f64, escapes: f64) {
        let paid_j = heat_j.min(self.debt_j);
        self.debt_j -= paid_j;
        self.ledger.evaporate(escapes * (heat_j - paid_j) / self.place.latent_j_kg);
    }

    /// Water that still has to go until the target, kg.
    fn excess_kg(&self) -> f64 {
        let target_kg = self.target.and_then(|target| target.contents_kg(&self.ledger));
        target_kg.map_or(0.0, |kg| (self.ledger.contents_kg() - kg).max(0.0))
    }

    /// Pours in what is meant for this point of the stage; says how much, kg.
    fn pour(&mut self, stage: usize, at: f64) -> f64 {
        let recipe = self.recipe;
        let stages = self.stages.len();
        let due = |later: &Later| match later.stage {
            Some(meant) => meant == stage && later.at == at,
            // Where no stage is named it goes in before the last stage begins.
            None => stage + 1 == stages && at == 0.0,
        };
        let before_kg = self.ledger.contents_kg();
        for (n, later) in recipe.later.iter().enumerate().filter(|(_, later)| due(later)) {
            self.poured[n] = Poured { at_min: self.minutes, before_l: self.litres() };
            self.put_in(&later.load);
        }
        self.ledger.contents_kg() - before_kg
    }

    fn put_in(&mut self, load: &Load) {
        let mut food = load.ledger();
        let solids_kg = food.solids_kg() * (self.luck.solids - 1.0);
        food.make_drier(solids_kg);
        self.debt_j += warming_j(&food, self.place.boil_c);
        self.ledger.put_in(&food);
    }

    fn litres(&self) -> f64 {
        target::litres(&self.ledger).unwrap_or(0.0)
    }
}

/// Heat that brings food from [`COLD_C`] to the boil, J.
fn warming_j(food: &Ledger, boil_c: f64) -> f64 {
    let proximate = food
        .composition()
        .and_then(|of| Proximate::from_balance(of.water(), of.solids(), of.fat(), of.salt()));
    let middle_c = (COLD_C + boil_c) / 2.0;
    let j_kg_k = proximate.and_then(|of| of.heat_capacity_j_kg_k(middle_c)).unwrap_or(0.0);
    food.contents_kg() * j_kg_k * (boil_c - COLD_C)
}

fn time_s(need_j: f64, heat_w: f64) -> Option<f64> {
    (heat_w > 0.0).then(|| need_j / heat_w)
}

#[cfg(test)]
mod tests;
