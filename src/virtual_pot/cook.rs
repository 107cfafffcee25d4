//! The virtual cook: a course of steps, mishaps at their own times, and a habit of stirring.
//!
//! One thing is done at a time; what is due meanwhile waits. A step waits for its [`When`]. Stirring
//! under a lid lifts it for as long as the stir lasts and puts it back: that is one stir, no lid move.

use std::collections::VecDeque;

use crate::batch::composition::Composition;
use crate::batch::plan::Plan;

use super::chance::Chance;
use super::gravy::Gravy;
use super::hands::{Doing, Hands};
use super::truth::{Deed, Truth};
use super::world::World;

/// The last of a pot is scraped out, not ladled, kg.
const LAST_KG: f64 = 1.5;

/// Something that the cook does.
#[derive(Debug, Clone, PartialEq)]
pub enum Act {
    Stir {
        secs: f64,
    },
    LidOff,
    LidOn,
    Add {
        name: &'static str,
        kg: f64,
        made_of: Composition,
        secs: f64,
        at_c: f64,
    },
    Take {
        name: &'static str,
        kg: f64,
        secs: f64,
    },
    /// This share of the pot is poured through a sieve beside the stove …
    SieveOut {
        share: f64,
        secs: f64,
    },
    /// … and what went through comes back.
    SieveBack {
        secs: f64,
    },
    Blend {
        secs: f64,
    },
    /// Useful heat of the flame from now on, W.
    Flame {
        watts: f64,
    },
    /// An ice paddle of this mass goes in, chilling with this conductance; 0 kg takes it out.
    Chill {
        w_k: f64,
        kg: f64,
    },
    /// No more stirring, or stirring again.
    Stirs(bool),
    /// From here on the pot is boiled down to the target.
    ToTarget,
    End,
}

/// What a step waits for, and how long at most, s.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum When {
    At(f64),
    After(f64),
    Boils { at_most_s: f64 },
    Soft { to: f64, at_most_s: f64 },
    Target { at_most_s: f64 },
    Below { c: f64, at_most_s: f64 },
}

#[derive(Debug, Clone, PartialEq)]
pub struct Step {
    pub when: When,
    pub act: Act,
}

/// How the cook stirs: after this share of what the bottom stands, within these bounds, s.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Habit {
    pub share: f64,
    pub soonest_s: f64,
    pub latest_s: f64,
    /// How often the spoon stays in the pot.
    pub leaves_spoon: f64,
}

#[derive(Debug, Clone)]
pub struct Cook {
    course: VecDeque<Step>,
    /// Sorted by time.
    mishaps: VecDeque<(f64, Act)>,
    habit: Habit,
    stirs: bool,
    task: Option<Task>,
    last_step_s: f64,
    last_stir_s: f64,
    jitter: f64,
    spoon_kg: f64,
    paddle_kg: f64,
    lifted: bool,
    bucket: Gravy,
    ended: bool,
    to_target: bool,
    chance: Chance,
}

#[derive(Debug, Clone)]
struct Task {
    act: Act,
    from_s: f64,
    secs: f64,
    moved_kg: f64,
    deed: usize,
}

impl Cook {
    #[must_use]
    pub fn new(course: Vec<Step>, mut mishaps: Vec<(f64, Act)>, habit: Habit, seed: u64) -> Self {
        mishaps.sort_by(|a, b| a.0.total_cmp(&b.0));
        Self {
            course: course.into(),
            mishaps: mishaps.into(),
            habit,
            stirs: true,
            task: None,
            last_step_s: 0.0,
            last_stir_s: 0.0,
            jitter: 1.0,
            spoon_kg: 0.0,
            paddle_kg: 0.0,
            lifted: false,
            bucket: Gravy::default(),
            ended: false,
            to_target: false,
            chance: Chance::new(seed, 7),
        }
    }

    /// Someone says to do this next.
    pub fn tell(&mut self, act: Act) {
        self.mishaps.push_front((0.0, act));
    }

    /// Only what the plan names happens besides the course.
    pub fn keep_to(&mut self, plan: &Plan) {
        let planned = |named: &str| plan.additions.iter().any(|addition| addition.name == named);
        self.mishaps.retain(|(_, act)| match act {
            Act::Stirs(_) => true,
            Act::Add { name, .. } => planned(name),
            _ => false,
        });
    }

    /// What the task in hand has moved so far, kg.
    #[cfg(test)]
    pub fn moved_kg(&self) -> f64 {
        self.task.as_ref().map_or(0.0, |task| task.moved_kg)
    }

    #[must_use]
    pub const fn ended(&self) -> bool {
        self.ended
    }

    /// The target counts from here on.
    #[must_use]
    pub const fn to_target(&self) -> bool {
        self.to_target
    }

    /// What lies on the platform besides pot and contents, kg.
    #[must_use]
    pub fn beside_kg(&self, world: &World, lid_kg: f64) -> f64 {
        let lid = if world.lid_on && !self.lifted { lid_kg } else { 0.0 };
        lid + self.spoon_kg + self.paddle_kg
    }

    /// The second that begins at `t_s`.
    pub fn second(&mut self, t_s: f64, world: &mut World, hands: &mut Hands, truth: &mut Truth) {
        if let Some(task) = self.task.take() {
            self.carry_on(task, t_s, world, hands, truth);
        }
        if self.task.is_none() && !self.ended {
            if let Some(act) = self.next_act(t_s, world, truth) {
                self.begin(act, t_s, world, hands, truth);
            }
        }
        world.moving = self.task.is_some();
    }

    fn next_act(&mut self, t_s: f64, world: &World, truth: &Truth) -> Option<Act> {
        if self.mishaps.front().is_some_and(|(at_s, _)| *at_s <= t_s) {
            return self.mishaps.pop_front().map(|(_, act)| act);
        }
        let since_s = t_s - self.last_step_s;
        let due = self.course.front().is_some_and(|step| match step.when {
            When::At(at_s) => at_s <= t_s,
            When::After(gap_s) => gap_s <= since_s,
            When::Boils { at_most_s } => world.flow().boil > 0.8 || at_most_s <= since_s,
            When::Soft { to, at_most_s } => world.soft >= to || at_most_s <= since_s,
            When::Target { at_most_s } => truth.target_s().is_some() || at_most_s <= since_s,
            When::Below { c, at_most_s } => world.food_c < c || at_most_s <= since_s,
        });
        if due {
            self.last_step_s = t_s;
            return self.course.pop_front().map(|step| step.act);
        }
        self.stir_due(t_s, world).then(|| Act::Stir { secs: self.chance.between(15.0, 40.0) })
    }

    fn stir_due(&self, t_s: f64, world: &World) -> bool {
        let stands_s = world.bottom.base().safe_s(world.load_on_bottom());
        let wanted_s = self.habit.share * stands_s;
        let wait_s = self.jitter * wanted_s.clamp(self.habit.soonest_s, self.habit.latest_s);
        self.stirs && t_s - self.last_stir_s >= wait_s
    }

    fn begin(
        &mut self,
        act: Act,
        t_s: f64,
        world: &mut World,
        hands: &mut Hands,
        truth: &mut Truth,
    ) {
        if matches!(act, Act::Take { kg, .. } if world.gravy.kg() < kg + LAST_KG) {
            return;
        }
        let (doing, secs) = self.effort(&act);
        self.spoon_out(&act, t_s, truth);
        self.at_once(&act, world);
        let Some(deed) = truth.begun(t_s, deed_of(&act, secs)) else { return };
        if doing != Doing::Nothing {
            hands.begin(doing);
            self.task = Some(Task { act, from_s: t_s, secs, moved_kg: 0.0, deed });
        }
    }

    /// How the hands are busy with it, and how long.
    fn effort(&mut self, act: &Act) -> (Doing, f64) {
        match act {
            Act::Stir { secs } => (Doing::Stirring, *secs),
            Act::Blend { secs } => (Doing::Blending, *secs),
            Act::LidOff | Act::LidOn => (Doing::Lidding, self.chance.between(2.0, 5.0)),
            Act::Add { secs, .. } | Act::SieveBack { secs } => (Doing::Pouring, *secs),
            Act::Take { secs, .. } | Act::SieveOut { secs, .. } => (Doing::Ladling, *secs),
            Act::Chill { .. } => (Doing::Lidding, 4.0),
            Act::Flame { .. } | Act::Stirs(_) | Act::ToTarget | Act::End => (Doing::Nothing, 0.0),
        }
    }

    /// A spoon that was left in the pot stirs again.
    fn spoon_out(&mut self, act: &Act, t_s: f64, truth: &mut Truth) {
        if self.spoon_kg > 0.0 && matches!(act, Act::Stir { .. }) {
            truth.spoon(t_s, "spoon-out", self.spoon_kg);
            self.spoon_kg = 0.0;
        }
    }

    fn at_once(&mut self, act: &Act, world: &mut World) {
        match act {
            Act::Stir { .. } => self.lifted = world.lid_on,
            Act::Flame { watts } => world.flame_w = *watts,
            Act::Stirs(on) => self.stirs = *on,
            Act::ToTarget => self.to_target = true,
            Act::End => self.ended = true,
            _ => {}
        }
    }

    fn carry_on(
        &mut self,
        mut task: Task,
        t_s: f64,
        world: &mut World,
        hands: &mut Hands,
        truth: &mut Truth,
    ) {
        let share = ((t_s - task.from_s) / task.secs).min(1.0);
        self.move_food(&mut task, share, world);
        if share < 1.0 {
            self.task = Some(task);
            return;
        }
        hands.begin(Doing::Nothing);
        let kg = self.finish(&task, t_s, world);
        truth.ended(task.deed, if kg > 0.0 { kg } else { task.moved_kg });
        if self.spoon_kg > 0.0 && matches!(task.act, Act::Stir { .. }) {
            truth.spoon(t_s, "spoon-left", self.spoon_kg);
        }
    }

    fn move_food(&mut self, task: &mut Task, share: f64, world: &mut World) {
        match &task.act {
            Act::Add { kg, made_of, at_c, .. } => {
                let now_kg = kg * share - task.moved_kg;
                world.pour_in(Gravy::new(now_kg, *made_of), *at_c);
                task.moved_kg += now_kg;
            }
            Act::Take { kg, .. } => {
                let now_kg = world.take_out(kg * share - task.moved_kg).kg();
                task.moved_kg += now_kg;
            }
            Act::SieveOut { share: part, .. } => {
                let whole_kg = world.gravy.kg() + task.moved_kg;
                let out = world.take_out(part * whole_kg * share - task.moved_kg);
                task.moved_kg += out.kg();
                self.bucket.add(out);
            }
            Act::SieveBack { .. } => {
                let now_kg = (self.bucket.kg() + task.moved_kg) * share - task.moved_kg;
                let back = self.bucket.take(now_kg);
                task.moved_kg += back.kg();
                // It lost a little heat in the bucket.
                world.pour_in(back, (world.food_c - 8.0).max(world.make.room_c));
            }
            _ => {}
        }
    }

    /// Ends a task; gives what left or came besides what was poured, kg.
    fn finish(&mut self, task: &Task, t_s: f64, world: &mut World) -> f64 {
        match &task.act {
            Act::Stir { .. } => {
                self.scraped(t_s, world);
                self.lifted = false;
                if self.chance.whether(self.habit.leaves_spoon) {
                    self.spoon_kg = self.chance.between(0.2, 0.4);
                }
            }
            Act::Blend { .. } => {
                world.blended = true;
                world.soft = world.soft.max(0.98);
                self.scraped(t_s, world);
            }
            Act::SieveOut { share, .. } => {
                // The pulp that stays in the sieve, richer in solids than what went through.
                let pulp = self.bucket.solids_kg * 0.03;
                self.bucket.solids_kg -= pulp;
                self.bucket.water_kg -= (4.0 * pulp).min(self.bucket.water_kg);
                if *share > 0.5 {
                    self.scraped(t_s, world);
                }
            }
            Act::LidOff => {
                world.lid_on = false;
                // Condensate that leaves on the lid.
                let drip_kg =
                    if world.food_c > 60.0 { self.chance.between(0.0, 0.03) } else { 0.0 };
                return world.drip_off(drip_kg);
            }
            Act::LidOn => world.lid_on = true,
            Act::Chill { w_k, kg } => {
                world.chill_w_k = *w_k;
                self.paddle_kg = *kg;
            }
            _ => {}
        }
        0.0
    }

    fn scraped(&mut self, t_s: f64, world: &mut World) {
        world.bottom.scrape();
        self.last_stir_s = t_s;
        self.jitter = self.chance.between(0.85, 1.15);
    }
}

/// What the truth says of it.
const fn deed_of(act: &Act, secs: f64) -> Deed {
    match act {
        Act::Stir { .. } => Deed::Stirred { secs },
        Act::Blend { .. } => Deed::Blended { secs },
        Act::LidOff => Deed::LidOff,
        Act::LidOn => Deed::LidOn,
        Act::Add { name, .. } => Deed::Added { name, secs },
        Act::SieveBack { .. } => Deed::Added { name: "sieved back", secs },
        Act::Take { name, .. } => Deed::Taken { name, secs },
        Act::SieveOut { .. } => Deed::Taken { name: "sieved out", secs },
        Act::Flame { watts } => Deed::Flame { watts: *watts },
        Act::Chill { .. } => Deed::Chilled,
        Act::Stirs(_) | Act::ToTarget | Act::End => Deed::Nothing,
    }
}
