//! A simulated pot, cook and rig for the demo and the tests.
//!
//! ```text
//! seed ─▶ family ─▶ cook ─▶ world ─▶ rig ─▶ samples      what dekchi gets to see
//!                     └──────┴─────▶ truth               what it is judged by
//! ```
//!
//! One second after the other: the cook does what is due, the world goes on, the rig reads it. The
//! physics is an assembly of its own and shares no code with the judgement, so that the two cannot be
//! wrong alike. The same kind and seed give the same batch everywhere; the load's rate changes only
//! how often it is read, never what happens.

mod bottom;
mod chance;
mod cook;
mod day;
mod family;
mod fault;
mod gravy;
mod hands;
pub mod recording;
mod reduce;
mod rig;
mod sensors;
mod steam;
mod stirring;
#[cfg(test)]
mod tests;
mod truth;
mod whole;
mod world;

use std::collections::VecDeque;

use crate::batch::plan::{Plan, Target};
use crate::batch::pot::{Pot, Site};
use crate::moment::Moment;

pub use cook::Act;
pub use family::Kind;
pub use sensors::Sample;
pub use truth::{Happened, Truth};

use cook::Cook;
use family::Scene;
use hands::Hands;
use sensors::{Seen, Sensors};
use world::World;

/// A batch that is cooked as it is read: an iterator over its samples, in order of time.
#[derive(Debug, Clone)]
pub struct VirtualPot {
    pub site: Site,
    pub pot: Pot,
    pub plan: Plan,
    t_s: i64,
    longest_s: i64,
    tare_kg: f64,
    world: World,
    cook: Cook,
    hands: Hands,
    sensors: Sensors,
    truth: Truth,
    ready: VecDeque<(Moment, Sample)>,
}

impl VirtualPot {
    #[must_use]
    pub fn new(kind: Kind, seed: u64) -> Self {
        let scene = Scene::draw(kind, seed);
        let on_platform_kg = scene.world.gravy.kg() + scene.tare_kg;
        let truth = Truth {
            step_s: truth::STEP_S,
            target_total_solids: scene.plan.target.and_then(total_solids),
            boil_c: scene.world.boil_c(),
            ..Truth::default()
        };
        let food_c = scene.world.food_c;
        Self {
            t_s: 0,
            longest_s: scene.longest_s,
            tare_kg: scene.tare_kg,
            hands: Hands::new(seed),
            sensors: Sensors::new(scene.fit, scene.spells, on_platform_kg, food_c, seed),
            site: scene.site,
            pot: scene.pot,
            plan: scene.plan,
            world: scene.world,
            cook: scene.cook,
            truth,
            ready: VecDeque::new(),
        }
    }

    /// The same batch with the load read this often, Hz: 1 for tests by the hundred.
    #[must_use]
    pub fn with_load_hz(mut self, hz: u8) -> Self {
        self.sensors.fit.load_hz = f64::from(hz.clamp(1, 80));
        self
    }

    /// The same batch with sensors that never fail.
    #[must_use]
    pub fn without_faults(mut self) -> Self {
        self.sensors.spells.clear();
        self
    }

    /// The same batch with a cook to whom nothing happens that the plan does not foresee: no turned
    /// flame, no water, ladle or lid meanwhile.
    #[must_use]
    pub fn without_mishaps(mut self) -> Self {
        self.cook.keep_to(&self.plan);
        self
    }

    /// What truly happened so far.
    #[must_use]
    pub const fn truth(&self) -> &Truth {
        &self.truth
    }

    /// The cook is told to do this next.
    pub fn tell(&mut self, act: Act) {
        self.cook.tell(act);
    }

    fn over(&self) -> bool {
        self.t_s >= self.longest_s || self.cook.ended()
    }

    /// The second that begins now.
    fn second(&mut self) {
        let t_s = self.t_s;
        self.truth.note(t_s, &self.world, self.cook.to_target());
        let before_kg = self.on_platform_kg();
        self.cook.second(t_s as f64, &mut self.world, &mut self.hands, &mut self.truth);
        self.world.second();
        let after_kg = self.on_platform_kg();
        self.sensors.note_spells(t_s, &mut self.truth);
        let seen = Seen { t_s, before_kg, after_kg };
        self.sensors.second(seen, &self.world, &mut self.hands, &mut self.ready);
        self.t_s += 1;
    }

    fn on_platform_kg(&self) -> f64 {
        self.tare_kg + self.world.gravy.kg() + self.cook.beside_kg(&self.world, self.pot.lid_kg)
    }
}

impl Iterator for VirtualPot {
    type Item = (Moment, Sample);

    fn next(&mut self) -> Option<Self::Item> {
        while self.ready.is_empty() && !self.over() {
            self.second();
        }
        self.ready.pop_front()
    }
}

const fn total_solids(target: Target) -> Option<f64> {
    match target {
        Target::TotalSolids(share) | Target::Consistency { total_solids: share, .. } => Some(share),
        Target::Contents(_) | Target::Litres(_) | Target::Brix { .. } => None,
    }
}
