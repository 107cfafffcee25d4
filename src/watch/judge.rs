//! One pot's state, and the second-by-second judgement of it.

use std::collections::VecDeque;

use crate::batch::book::Book;
use crate::batch::composition::Composition;
use crate::batch::ledger::Ledger;
use crate::batch::plan::{PlannedAddition, Target};
use crate::moment::Moment;
use crate::physics::{air, evaporation, water};
use crate::quantity::Pascals;

use super::action::{Action, Actions, Happening, Sensor, What};
use super::alarm::Alarms;
use super::bottom::Bottom;
use super::chill::Chill;
use super::contents::Contents;
use super::cooling::{Cooling, FRIDGE_C};
use super::event::Event;
use super::habit::Habit;
use super::heat::{self, Heat};
use super::hold::{self, Holding, Service};
use super::immersion::{Immersion, Place};
use super::judge_putting_right::Undo;
use super::judge_words::Promise;
use super::puffs::Puffs;
use super::second::Gather;
use super::senses::{ProbeSense, ScaleSense, Turn};
use super::set_aside::SetAside;
use super::setting::Setting;
use super::settle::Settle;
use super::still::Still;
use super::warmth::{Change, Warmth};

/// A pot that lost less than this, as a share of what a still surface loses, did not boil before.
const STILL_SHARE: f64 = 1.1;
/// This near the boil a pot may boil without the probe showing it, K.
const EXPECT_K: f64 = 2.5;
/// A slope that says that the pot is on its way to the boil, K/s.
const WARMING_K_S: f64 = 1.5e-3;
/// Something cold that went in may pull the temperature down for this long, s.
const COLD_WATER_S: f64 = 240.0;
/// A probe put back warms for this long before it shows how the pot does, s.
const PROBE_WARMS_S: f64 = 90.0;
/// A stir's mixing shows at the probe for this long, s.
const MIXED_S: f64 = 60.0;

/// Everything that is known of one pot.
#[derive(Debug, Clone)]
pub(super) struct Pot {
    pub(super) setting: Setting,
    origin: Moment,
    pub(super) gather: Gather,
    pub(super) probe: ProbeSense,
    pub(super) scale: ScaleSense,
    pub(super) settle: Settle,
    pub(super) warmth: Warmth,
    pub(super) contents: Option<Contents>,
    pub(super) heat: Heat,
    pub(super) puffs: Puffs,
    pub(super) bottom: Option<Bottom>,
    pub(super) book: Book,
    pub(super) remaining: Vec<PlannedAddition>,
    pub(super) target: Option<Target>,
    pub(super) lid_on: bool,
    pub(super) spoon_kg: f64,
    /// Whether the scale failed since the load was last at rest.
    pub(super) blind: bool,
    /// When the lid last moved or the boil began: since then its leak is being learnt.
    pub(super) leak_since_s: f64,
    still: Still,
    pub(super) alarms: Alarms,
    pub(super) handled_s: f64,
    pub(super) dilution_s: f64,
    /// What was poured in cold and is not stirred in yet.
    pub(super) chill: Option<Chill>,
    pub(super) habit: Habit,
    /// Whether the contents have been above the target since it began to count.
    pub(super) was_above: bool,
    /// What was poured out to be blended or sieved, and is expected back.
    pub(super) set_aside: SetAside,
    /// Variance that moved food brings to the target's contents, kg².
    pub(super) moved_var: f64,
    /// Whether the loss of heat has been told and the pot has not warmed since.
    pub(super) cold_told: bool,
    /// When the flame went off for good, by the cook's word or long enough cooling, s.
    pub(super) flame_off_s: Option<f64>,
    pub(super) cold_s: f64,
    pub(super) holding: Option<Holding>,
    pub(super) hold_standing: hold::Standing,
    pub(super) cooling: Cooling,
    pub(super) service: Service,
    pub(super) served_kg: f64,
    /// When it was blended last, s.
    pub(super) blended_s: f64,
    /// When the gravy was first right, s.
    pub(super) right_s: Option<f64>,
    /// What the cook spoke of and the scale has not seen yet.
    pub(super) promise: Option<Promise>,
    /// How the last word is taken back.
    pub(super) undo: Option<Undo>,
    /// Additions that the scale did not see, by their turns.
    pub(super) unseen: Vec<usize>,
    /// What was put down as an addition and stands on the platform instead: its turn and kg.
    pub(super) stood: Vec<(usize, f64)>,
    immersion: Immersion,
    /// When the probe was put back into the pot, s.
    probe_in_s: f64,
    pub(super) flame_before_w: f64,
    pub(super) first_loads: Vec<f64>,
    /// Levels at rest that are not yet believed: the last seconds before a hand comes are its own.
    pub(super) unproven: VecDeque<(f64, f64, f64)>,
    probe_now: Option<f64>,
    pub(super) base: Option<(f64, f64)>,
    pub(super) now_s: f64,
}

impl Pot {
    pub(super) fn new(setting: Setting) -> Self {
        let by_height = || air::pressure_at_altitude_pa(setting.site.altitude_m);
        let boil_c = setting
            .site
            .pressure
            .map(Pascals::get)
            .or_else(by_height)
            .and_then(water::boiling_point_c)
            .unwrap_or(100.0);
        let start = setting.plan.start;
        Self {
            origin: Moment::default(),
            gather: Gather::default(),
            probe: ProbeSense::default(),
            scale: ScaleSense::default(),
            settle: Settle::default(),
            warmth: Warmth::new(boil_c),
            contents: None,
            heat: Heat::new(setting.pot.area_m2(), setting.pot.base_diameter_m),
            puffs: Puffs::default(),
            bottom: None,
            book: Book::new(Ledger::start(start.contents_kg, start.composition)),
            remaining: setting.plan.additions.clone(),
            target: setting.plan.target,
            lid_on: start.lid_on,
            spoon_kg: 0.0,
            blind: false,
            leak_since_s: 0.0,
            still: Still::default(),
            alarms: Alarms::default(),
            handled_s: f64::NEG_INFINITY,
            dilution_s: f64::NEG_INFINITY,
            chill: None,
            habit: Habit::default(),
            was_above: false,
            set_aside: SetAside::default(),
            moved_var: 0.0,
            cold_told: false,
            flame_off_s: None,
            cold_s: 0.0,
            holding: None,
            hold_standing: hold::Standing::NotKnown,
            cooling: Cooling::new(setting.rules.cool, FRIDGE_C),
            service: Service::default(),
            served_kg: 0.0,
            blended_s: f64::NEG_INFINITY,
            right_s: None,
            promise: None,
            undo: None,
            unseen: Vec::new(),
            stood: Vec::new(),
            immersion: Immersion::default(),
            probe_in_s: f64::NEG_INFINITY,
            flame_before_w: 0.0,
            first_loads: Vec::new(),
            unproven: VecDeque::new(),
            probe_now: None,
            base: None,
            now_s: 0.0,
            setting,
        }
    }

    pub(super) const fn set_origin(&mut self, origin: Moment) {
        self.origin = origin;
    }

    /// The moment `t_s` after the beginning.
    pub(super) fn moment(&self, t_s: f64) -> Moment {
        self.origin.plus_ms((t_s * 1000.0).round() as i64)
    }

    /// Takes an event into the second that is being gathered.
    pub(super) fn take(&mut self, event: Event, t_s: f64, actions: &mut Actions) {
        match event {
            Event::Load(load) => {
                let (kg, turn) = self.scale.take(load.map(|kg| kg.get()), t_s);
                kg.into_iter().for_each(|kg| self.gather.take(kg));
                self.tell_turn(Sensor::Scale, turn, t_s, actions);
            }
            Event::Probe(probe) => {
                let (c, turn) = self.probe.take(probe.map(|c| c.get()), t_s);
                self.probe_now = c.or(self.probe_now);
                self.tell_turn(Sensor::Probe, turn, t_s, actions);
            }
            Event::Base(base) => self.base = base.ok().map(|c| (t_s, c.get())).or(self.base),
            Event::Air(air) => {
                let boil_c = air.ok().and_then(|pa| water::boiling_point_c(pa.get()));
                boil_c.into_iter().for_each(|c| self.warmth.set_water_boil_c(c));
            }
            Event::Cook(says) => self.hear(&says, t_s, actions),
            Event::Platform(_) | Event::Tick => {}
        }
    }

    /// Nothing could be heard until `t_s`, through no fault of the sensors.
    pub(super) fn excuse_sensors(&mut self, t_s: f64) {
        self.probe.excuse(t_s);
        self.scale.excuse(t_s);
    }

    /// Judges the second that ends at `t_s`.
    pub(super) fn end_second(&mut self, t_s: f64, actions: &mut Actions) {
        self.now_s = t_s;
        let turns =
            [(Sensor::Scale, self.scale.second(t_s)), (Sensor::Probe, self.probe.second(t_s))];
        for (sensor, turn) in turns {
            self.tell_turn(sensor, turn, t_s, actions);
        }
        self.feel_warmth(t_s, actions);
        self.weigh(t_s, actions);
        self.mind_promise(actions);
        self.follow_heat();
        self.follow_bottom(t_s);
        self.follow_rules();
        self.judge_alarms(actions);
    }

    pub(super) fn happened(&self, what: What, began_s: f64, actions: &mut Actions) {
        let (at, seen) = (self.moment(began_s), self.moment(self.now_s.max(began_s)));
        actions.push(Action::Happened(Happening { at, seen, what }));
    }

    /// The balance as it stands.
    pub(super) const fn ledger(&self) -> &Ledger {
        self.book.now()
    }

    fn tell_turn(&mut self, sensor: Sensor, turn: Option<Turn>, t_s: f64, actions: &mut Actions) {
        self.now_s = self.now_s.max(t_s);
        match turn {
            Some(Turn::Failed { since_s, why }) => {
                if sensor == Sensor::Scale {
                    self.lose_sight(since_s, actions);
                }
                self.happened(What::SensorFault { sensor, why: why.words() }, since_s, actions);
            }
            Some(Turn::Back) => self.happened(What::SensorBack { sensor }, t_s, actions),
            None => {}
        }
    }

    fn feel_warmth(&mut self, t_s: f64, actions: &mut Actions) {
        let Some(c) = self.probe_now.take() else { return };
        let cooled = t_s - self.dilution_s < COLD_WATER_S || self.settle.is_disturbed();
        match self.immersion.second(t_s, c, cooled) {
            Place::In => {}
            Place::Out => return,
            Place::CameOut { since_s, pot_c } => {
                self.warmth.restore(pot_c);
                return self.happened(What::ProbeOut, since_s, actions);
            }
            Place::WentIn => {
                self.probe_in_s = t_s;
                self.happened(What::ProbeIn, t_s, actions);
            }
        }
        if t_s - self.probe_in_s < PROBE_WARMS_S {
            return self.warmth.restore(c);
        }
        let before_c = self.warmth.true_c();
        let handled = self.settle.is_disturbed() || t_s - self.handled_s < MIXED_S;
        let simmers = self.simmers();
        match self.warmth.take(t_s, c, handled, simmers) {
            Some(Change::Boil) => {
                self.happened(What::Boil, t_s - 20.0, actions);
                self.puffs = Puffs::default();
                self.foretell_boil();
            }
            Some(Change::OffBoil) => {
                self.happened(What::OffBoil, t_s - 10.0, actions);
                self.foretell_below_boil();
            }
            None => self.warm_surface(before_c),
        }
    }

    /// Below the boil the surface's vapour pressure carries the rate with it.
    fn warm_surface(&mut self, before_c: Option<f64>) {
        let (Some(before_c), Some(after_c)) = (before_c, self.warmth.true_c()) else { return };
        if self.warmth.is_boiling() {
            return;
        }
        self.expect_boil(after_c);
        self.learn_still(after_c);
        let (before, after) = (self.below_boil_kg_s(before_c), self.below_boil_kg_s(after_c));
        if let (Some(before), Some(after), Some(contents)) = (before, after, &mut self.contents) {
            if before > 1e-7 {
                contents.scale_rate((after / before).clamp(0.9, 1.1));
            }
        }
    }

    /// Whether more leaves than a still surface loses: it boils, if gently.
    fn simmers(&self) -> bool {
        let still = self.warmth.true_c().and_then(|c| self.below_boil_kg_s(c));
        let rate = self.contents.as_ref().map(Contents::rate_kg_s);
        still.zip(rate).is_some_and(|(still, rate)| rate > STILL_SHARE * still)
    }

    /// Near the boil the rate may jump any moment: the filter is made ready to follow.
    fn expect_boil(&mut self, c: f64) {
        let warming = self.warmth.short_slope_k_s().is_some_and(|slope| slope > WARMING_K_S);
        if !warming || c < self.warmth.boil_c() - EXPECT_K {
            return;
        }
        let rate = self.heat_state().and_then(|state| self.heat.boil_rate(&state));
        if let (Some((rate, _)), Some(contents)) = (rate, &mut self.contents) {
            contents.loosen(0.5 * (rate - contents.rate_kg_s()).max(0.0));
        }
    }

    /// Loss below the boil at `c` °C, kg/s, by the handbook.
    pub(super) fn below_boil_kg_s(&self, c: f64) -> Option<f64> {
        let area_m2 = self.setting.pot.area_m2();
        let surface_c = c.min(self.warmth.boil_c() - 1.0);
        let room = &evaporation::Room::KITCHEN;
        let open = evaporation::below_boil_kg_s(area_m2, surface_c, room, self.still.share())?;
        Some(if self.lid_on { heat::LEAK * open } else { open })
    }

    fn learn_still(&mut self, c: f64) {
        let Some(contents) = self.contents.as_ref().filter(|_| !self.lid_on) else { return };
        let rate = (contents.rate_kg_s(), contents.rate_sd_kg_s());
        if let Some(expected) = self.below_boil_kg_s(c) {
            self.still.learn(self.warmth.boil_c() - c, rate, expected);
        }
    }

    pub(super) fn foretell_boil(&mut self) {
        self.leak_since_s = self.now_s;
        let (state, simmers) = (self.heat_state(), self.simmers());
        let (Some(state), Some(contents)) = (state, &mut self.contents) else { return };
        if let Some((rate, sd)) = self.heat.boil_rate(&state) {
            contents.set_rate(rate, sd);
        } else if !simmers {
            let rate = contents.rate_kg_s() * 2.0;
            contents.set_rate(rate, 0.7 * rate + 1e-4);
        }
    }

    pub(super) fn foretell_below_boil(&mut self) {
        let rate = self.warmth.true_c().and_then(|c| self.below_boil_kg_s(c));
        if let (Some(rate), Some(contents)) = (rate, &mut self.contents) {
            if contents.rate_kg_s() < STILL_SHARE * rate {
                contents.loosen_once(0.1 * rate);
                return;
            }
            contents.set_rate(rate, self.still.doubt() * rate + 1e-5);
        }
    }

    pub(super) fn heat_state(&self) -> Option<heat::State> {
        let contents = self.contents.as_ref()?;
        Some(heat::State {
            contents_kg: contents.contents_kg(),
            composition: self.ledger().composition().unwrap_or(Composition::WATER),
            pot_c: self.warmth.true_c()?,
            slope_k_s: self.warmth.slope_k_s(),
            rate_kg_s: contents.rate_kg_s(),
            rate_sd_kg_s: contents.rate_sd_kg_s(),
            boiling: self.warmth.is_boiling(),
            lid_on: self.lid_on,
            boil_c: self.warmth.boil_c(),
            near_boil_k: self.warmth.near_boil_k(),
        })
    }

    fn follow_heat(&mut self) {
        if self.probe.fault().is_some() || self.now_s - self.dilution_s < 60.0 {
            return;
        }
        if let Some(state) = self.heat_state() {
            self.heat.second(&state);
        }
    }
}
