//! Families of batches: what is drawn from a seed before the flame is lit.
//!
//! | family | what happens |
//! |---|---|
//! | `reduce` | blended gravy boiled down to its target, with the mishaps of a kitchen |
//! | `whole` | the Harbour Lane Kitchen's cook from raw vegetables to service |
//! | `tended` | stirred well inside what the bottom stands |
//! | `neglect` | stirring stops, and sooner or later the bottom catches |
//! | `day` | a finished pot through service, hold and cooling |

use crate::batch::composition::Composition;
use crate::batch::plan::{Plan, PlannedAddition, Start, Target};
use crate::batch::pot::{Pot, Site};

use super::chance::Chance;
use super::cook::{Act, Cook, Habit, Step, When};
use super::fault::{self, Spell};
use super::gravy::Gravy;
use super::rig::Fit;
use super::world::{Make, World};
use super::{day, reduce, stirring, whole};

#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Kind {
    Reduce,
    Whole,
    Tended,
    Neglect,
    Day,
}

impl Kind {
    pub const ALL: [Self; 5] = [Self::Reduce, Self::Whole, Self::Tended, Self::Neglect, Self::Day];

    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Reduce => "reduce",
            Self::Whole => "whole",
            Self::Tended => "tended",
            Self::Neglect => "neglect",
            Self::Day => "day",
        }
    }

    #[must_use]
    pub fn by_name(name: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|kind| kind.name() == name)
    }
}

/// Everything that a seed decides.
#[derive(Debug, Clone)]
pub struct Scene {
    pub site: Site,
    pub pot: Pot,
    pub plan: Plan,
    pub world: World,
    pub cook: Cook,
    pub fit: Fit,
    pub spells: Vec<Spell>,
    /// True mass of pot and what always stands there, kg: the file rounds it.
    pub tare_kg: f64,
    pub longest_s: i64,
}

/// A kitchen before its batch.
pub(super) struct Kitchen {
    pub seed: u64,
    pub chance: Chance,
    pub site: Site,
    pub pot: Pot,
    pub make: Make,
    pub tare_kg: f64,
    pub full_kg: f64,
    pub made_of: Composition,
}

/// What a family decides on top of the kitchen.
pub(super) struct Script {
    pub start_c: f64,
    pub flame_w: f64,
    pub lid_on: bool,
    pub soft: f64,
    pub blended: bool,
    pub course: Vec<Step>,
    pub mishaps: Vec<(f64, Act)>,
    pub additions: Vec<PlannedAddition>,
    pub target: Option<f64>,
    pub habit: Habit,
    /// Expected and greatest length, s.
    pub about_s: f64,
    pub longest_s: f64,
}

pub(super) const fn step(when: When, act: Act) -> Step {
    Step { when, act }
}

impl Kitchen {
    fn draw(seed: u64) -> Self {
        let mut chance = Chance::new(seed, 1);
        let base_diameter_m = (chance.between(0.28, 0.50) * 100.0).round() / 100.0;
        let depth_m = chance.between(0.10, 0.235);
        let altitude_m = (chance.pick(&[0.0, 0.0, 200.0, 700.0, 1600.0, 2400.0])
            + chance.between(0.0, 200.0))
        .round();
        let big = (base_diameter_m - 0.28) / 0.22;
        let metal_kg = 3.0 + 7.0 * big + chance.between(-0.4, 0.8);
        let tare_kg = metal_kg + chance.pick(&[0.0, 0.0, 0.35, 0.9]);
        let make = Make::draw(&mut chance, base_diameter_m, metal_kg, altitude_m);
        let lid_kg = 0.6 + 1.5 * big + chance.between(0.0, 0.3);
        let full_kg = (1000.0 * make.area_m2() * depth_m).clamp(6.0, 45.0);
        Self {
            seed,
            site: Site { altitude_m, pressure: None },
            pot: Pot {
                name: "pot".to_owned(),
                base_diameter_m,
                tare_kg: (tare_kg * 100.0).round() / 100.0,
                lid_kg: (lid_kg * 200.0).round() / 200.0,
                height_m: None,
            },
            made_of: base_gravy(&mut chance),
            chance,
            make,
            tare_kg,
            full_kg,
        }
    }

    /// Useful heat for this flux, within what kitchen stoves put into such a pot, W.
    pub(super) fn heat_w(&self, flux_w_m2: f64) -> f64 {
        (flux_w_m2 * self.make.area_m2()).clamp(1500.0, 8000.0)
    }

    /// Heat that a pot of `kg` at the boil loses apart from steam, about, W.
    pub(super) fn losses_w(&self, kg: f64, lid_on: bool) -> f64 {
        let over_k = 97.0 - self.make.room_c;
        let rim_m = std::f64::consts::PI * self.make.base_diameter_m;
        let wall = self.make.wall_w_m2k * rim_m * kg / 1000.0 / self.make.area_m2();
        let head_m2 = self.make.area_m2() + 0.1 * rim_m;
        let top = if lid_on {
            self.make.lid_w_m2k * head_m2
        } else {
            self.make.surface_w_m2k * self.make.area_m2()
        };
        (wall + top) * over_k
    }
}

/// Onions, water, tomato, carrot, pepper, oil and salt, in a kitchen's spread.
fn base_gravy(chance: &mut Chance) -> Composition {
    let fat = chance.between(0.012, 0.055);
    let salt = chance.between(0.002, 0.008);
    let solids = chance.between(0.050, 0.095);
    let round = |x: f64| (x * 1e6).round() / 1e6;
    let (fat, salt, solids) = (round(fat), round(salt), round(solids));
    Composition::new(1.0 - fat - salt - solids, solids, fat, salt).unwrap_or(Composition::WATER)
}

impl Scene {
    #[must_use]
    pub fn draw(kind: Kind, seed: u64) -> Self {
        let mut kitchen = Kitchen::draw(seed ^ ((kind as u64 + 1) << 40));
        let script = match kind {
            Kind::Reduce => reduce::script(&mut kitchen),
            Kind::Whole => whole::script(&mut kitchen),
            Kind::Tended => stirring::tended(&mut kitchen),
            Kind::Neglect => stirring::neglect(&mut kitchen),
            Kind::Day => day::script(&mut kitchen),
        };
        Self::set(kind, seed, kitchen, script)
    }

    fn set(kind: Kind, seed: u64, mut kitchen: Kitchen, script: Script) -> Self {
        let contents_kg = (kitchen.full_kg * 1e4).round() / 1e4;
        let gravy = Gravy::new(contents_kg, kitchen.made_of);
        let mut world = World::new(kitchen.make, gravy, script.start_c, kitchen.seed);
        world.lid_on = script.lid_on;
        world.soft = script.soft;
        world.blended = script.blended;
        world.settle_flame(script.flame_w);
        let fit = Fit::draw(&mut kitchen.chance);
        let spells = fault::draw(&mut kitchen.chance, script.about_s as i64);
        let start = Start { contents_kg, lid_on: script.lid_on, composition: kitchen.made_of };
        Self {
            site: kitchen.site,
            plan: Plan {
                name: format!("{}-{seed}", kind.name()),
                pot: kitchen.pot.name.clone(),
                start,
                additions: script.additions,
                target: script.target.map(Target::TotalSolids),
                stages: Vec::new(),
            },
            pot: kitchen.pot,
            cook: Cook::new(script.course, script.mishaps, script.habit, kitchen.seed),
            world,
            fit,
            spells,
            tare_kg: kitchen.tare_kg,
            longest_s: script.longest_s as i64,
        }
    }
}
