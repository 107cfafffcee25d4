//! From the world to samples: rates, troubles, order of arrival.

use std::collections::VecDeque;

use crate::moment::Moment;
use crate::quantity::{Celsius, Kilograms};
use crate::reading::{Fault, Reading};

use super::chance::Chance;
use super::fault::{POWER_ON_C, RAIL_KG, Spell, Trouble};
use super::hands::Hands;
use super::rig::{Fit, Platform, Probe, Strain};
use super::truth::{Happened, Truth};
use super::world::World;

/// One reading, as it arrives.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Sample {
    /// Everything that stands on the platform.
    Load(Reading<Kilograms>),
    /// The probe in the food.
    Probe(Reading<Celsius>),
    /// The second probe at the pot's base.
    Base(Reading<Celsius>),
    /// The load cells.
    Platform(Reading<Celsius>),
}

/// The second that the rig reads, and what stood on the platform at its ends.
#[derive(Debug, Clone, Copy)]
pub struct Seen {
    pub t_s: i64,
    pub before_kg: f64,
    pub after_kg: f64,
}

#[derive(Debug, Clone)]
pub struct Sensors {
    pub fit: Fit,
    pub spells: Vec<Spell>,
    platform: Platform,
    probe: Probe,
    base: Probe,
    /// Last readings, for a sensor that is stuck.
    load_kg: f64,
    probe_c: f64,
    /// Samples that are on their way, and when they arrive.
    late: Option<(i64, Sample)>,
    chance: Chance,
}

type Ready = VecDeque<(Moment, Sample)>;

impl Sensors {
    #[must_use]
    pub fn new(fit: Fit, spells: Vec<Spell>, load_kg: f64, food_c: f64, seed: u64) -> Self {
        Self {
            platform: Platform::new(fit, load_kg, seed),
            probe: Probe::food(&fit, food_c, seed),
            base: Probe::base(&fit, food_c, seed),
            fit,
            spells,
            load_kg,
            probe_c: food_c,
            late: None,
            chance: Chance::new(seed, 8),
        }
    }

    fn has(&self, trouble: Trouble, t_s: i64) -> bool {
        self.spells.iter().any(|spell| spell.trouble == trouble && spell.on(t_s))
    }

    /// Troubles that begin or end now, told to the truth.
    pub fn note_spells(&self, t_s: i64, truth: &mut Truth) {
        for spell in &self.spells {
            let Some((sensor, begins, ends)) = told(spell.trouble) else { continue };
            let what = match t_s {
                t if t == spell.from_s => begins,
                t if t == spell.to_s => ends,
                _ => continue,
            };
            truth.events.push(Happened { sensor: Some(sensor), ..Happened::plain(t_s, what) });
        }
    }

    /// Reads one second of the world.
    pub fn second(&mut self, seen: Seen, world: &World, hands: &mut Hands, ready: &mut Ready) {
        let start = ready.len();
        self.temperatures(seen.t_s, world, ready);
        self.loads(seen, world, hands, ready);
        ready.make_contiguous()[start..].sort_by_key(|(at, _)| *at);
        if self.has(Trouble::Gap, seen.t_s) {
            ready.truncate(start);
        } else if self.has(Trouble::Disorder, seen.t_s) {
            self.disorder(start, ready);
        }
    }

    fn temperatures(&mut self, t_s: i64, world: &World, ready: &mut Ready) {
        let at = Moment::from_ms(1000 * t_s);
        let food_c = world.food_c - self.fit.probe_place * world.layers_k;
        let out = self.has(Trouble::ProbeOut, t_s);
        self.probe.feel(if out { world.make.room_c + 8.0 } else { food_c });
        self.base.feel(world.metal_c());
        let (probe_c, base_c) = (self.probe.read_c(), self.base.read_c());
        if t_s % self.fit.probe_every_s == 0 {
            ready.push_back((at, Sample::Probe(self.probe_says(probe_c, t_s))));
        }
        if self.fit.has_base_probe {
            ready.push_back((at, Sample::Base(celsius(base_c))));
        }
        if self.fit.has_platform_probe && t_s % 10 == 0 {
            let platform_c = self.platform.read_c(world.make.room_c);
            ready.push_back((at, Sample::Platform(celsius(platform_c))));
        }
    }

    fn probe_says(&mut self, true_c: f64, t_s: i64) -> Reading<Celsius> {
        if self.has(Trouble::ProbeAbsent, t_s) {
            return Err(Fault::Absent);
        }
        if self.has(Trouble::ProbePowerOn, t_s) {
            return celsius(POWER_ON_C);
        }
        if !self.has(Trouble::ProbeStuck, t_s) {
            self.probe_c = true_c;
        }
        celsius(self.probe_c)
    }

    fn loads(&mut self, seen: Seen, world: &World, hands: &mut Hands, ready: &mut Ready) {
        let many = self.fit.load_hz.round() as i64;
        let dt_s = 1.0 / many as f64;
        let strain = Strain { boil: world.flow().boil, flame_w: world.flame_w };
        for place in 0..many {
            let share = place as f64 * dt_s;
            let true_kg = seen.before_kg + share * (seen.after_kg - seen.before_kg);
            let pressed_kg = true_kg + hands.force_kg(dt_s);
            let read_kg = self.platform.read_kg(pressed_kg, strain, dt_s);
            let at = Moment::from_ms(1000 * seen.t_s + (1000 * place) / many);
            ready.push_back((at, Sample::Load(self.scale_says(read_kg, seen.t_s))));
        }
    }

    fn scale_says(&mut self, read_kg: f64, t_s: i64) -> Reading<Kilograms> {
        if self.has(Trouble::ScaleAbsent, t_s) {
            return Err(Fault::Absent);
        }
        if self.has(Trouble::ScaleSaturated, t_s) {
            return kilograms(RAIL_KG);
        }
        if !self.has(Trouble::ScaleStuck, t_s) {
            self.load_kg = read_kg.min(RAIL_KG);
        }
        kilograms(self.load_kg)
    }

    /// Some samples come a second or more late, some twice.
    fn disorder(&mut self, start: usize, ready: &mut Ready) {
        let fresh: Vec<_> = ready.drain(start..).collect();
        for (at, sample) in fresh {
            if let Some((due_ms, held)) = self.late.take_if(|(due_ms, _)| *due_ms <= at.ms()) {
                let _ = due_ms;
                ready.push_back((at, held));
            }
            if self.late.is_none() && self.chance.whether(0.02) {
                self.late = Some((at.ms() + (4000.0 * self.chance.uniform()) as i64, sample));
                continue;
            }
            ready.push_back((at, sample));
            if self.chance.whether(0.01) {
                ready.push_back((at, sample));
            }
        }
    }
}

fn celsius(c: f64) -> Reading<Celsius> {
    Celsius::new(c).ok_or(Fault::OutOfRange)
}

fn kilograms(kg: f64) -> Reading<Kilograms> {
    Kilograms::new(kg).ok_or(Fault::OutOfRange)
}

/// Sensor, and the names of the beginning and the end of its trouble.
const fn told(trouble: Trouble) -> Option<(&'static str, &'static str, &'static str)> {
    match trouble {
        Trouble::ProbeOut => Some(("probe", "probe-out", "probe-in")),
        Trouble::ProbePowerOn | Trouble::ProbeStuck | Trouble::ProbeAbsent => {
            Some(("probe", "sensor-fault", "sensor-back"))
        }
        Trouble::ScaleSaturated | Trouble::ScaleStuck | Trouble::ScaleAbsent => {
            Some(("scale", "sensor-fault", "sensor-back"))
        }
        Trouble::Gap | Trouble::Disorder => None,
    }
}
