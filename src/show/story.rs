//! What a drawing needs to know of a batch, gathered from the judgement's actions as they come.
//!
//! Bounded however long the batch: traces thin themselves ([`Trace`]), and of happenings and spans
//! the latest [`HAPPENINGS`] and [`SPANS`] are kept. The same actions give the same story.

use std::collections::VecDeque;

use crate::batch::plan::Target;
use crate::batch::pot::Pot;
use crate::moment::Moment;
use crate::watch::action::{
    Action, Alarm, AlarmState, Happening, Lid, Notice, Sensor, Snapshot, Spread, What,
};
use crate::watch::event::CookSays;
use crate::watch::setting::Setting;

use super::trace::Trace;

/// Happenings kept: a ladle every minute of a working day.
pub const HAPPENINGS: usize = 600;

/// Spans kept of each kind.
pub const SPANS: usize = 200;

/// A batch as it went so far.
#[derive(Debug, Clone, PartialEq)]
pub struct Story {
    /// Name of the batch.
    pub batch: String,
    pub pot: Pot,
    pub target: Option<Target>,
    /// Contents, kg.
    pub contents: Trace,
    /// The probe, °C.
    pub probe: Trace,
    /// Catch index of the bottom.
    pub catch: Trace,
    /// Heat that the contents take up, W.
    pub heat: Trace,
    pub happenings: VecDeque<Happening>,
    /// What the cook said.
    pub words: VecDeque<Word>,
    /// While the lid was on.
    pub lid_on: Spans,
    /// While it boiled.
    pub boiling: Spans,
    /// While the bottom needed a stir.
    pub stir_due: Spans,
    /// The pot as it was last seen.
    pub now: Option<Snapshot>,
    /// The alerts' last words, one an alert.
    pub notices: Vec<Notice>,
    /// The first time at the boil that the target could be foreseen, and what was foreseen, s from
    /// then. Before the boil a forecast only guesses at what the flame will give.
    pub first_forecast: Option<(Moment, Spread)>,
    /// When the target was first reached.
    pub reached: Option<Moment>,
    /// When the first action came.
    pub began: Option<Moment>,
    pub tally: Tally,
}

/// Something that the cook said.
#[derive(Debug, Clone, PartialEq)]
pub struct Word {
    pub at: Moment,
    pub says: CookSays,
    /// Who said it, or through what it came.
    pub by: String,
}

/// Sums over the whole batch, which thinning does not touch.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Tally {
    pub added_kg: f64,
    pub taken_kg: f64,
    pub stirs: u32,
    /// The longest time without a stir, s, from the first snapshot on.
    pub longest_gap_s: f64,
    pub last_stir: Option<Moment>,
    pub worst_catch: Option<f64>,
    pub first_boil: Option<Moment>,
    pub last_addition: Option<Moment>,
    /// Evaporation, kg, summed over the time that it was known.
    pub evaporated_kg: f64,
    /// Heat taken up, J, summed over the time that it was known.
    pub heat_j: f64,
    /// For how long heat was known, s.
    pub heat_s: f64,
    /// Evaporation while it boiled, kg, and for how long that was known, s.
    pub boiled_off_kg: f64,
    pub boiled_s: f64,
}

impl Story {
    #[must_use]
    pub fn of(setting: &Setting) -> Self {
        Self::new(&setting.plan.name, setting.pot.clone(), setting.plan.target)
    }

    #[must_use]
    pub fn new(batch: &str, pot: Pot, target: Option<Target>) -> Self {
        Self {
            batch: batch.to_owned(),
            pot,
            target,
            contents: Trace::default(),
            probe: Trace::default(),
            catch: Trace::default(),
            heat: Trace::default(),
            happenings: VecDeque::new(),
            words: VecDeque::new(),
            lid_on: Spans::default(),
            boiling: Spans::default(),
            stir_due: Spans::default(),
            now: None,
            notices: Vec::new(),
            first_forecast: None,
            reached: None,
            began: None,
            tally: Tally::default(),
        }
    }

    /// Takes in what the judgement said.
    pub fn take(&mut self, action: &Action) {
        match action {
            Action::Show(snapshot) => self.show(snapshot),
            Action::Happened(happening) => self.happened(happening),
            Action::Tell(notice) => self.tell(notice),
        }
    }

    fn show(&mut self, now: &Snapshot) {
        let before = self.now.as_ref().map_or(now.at, |before| before.at);
        let now = &Snapshot { at: now.at.max(before), ..drawable(now) };
        let at = now.at;
        self.began.get_or_insert(at);
        self.contents.take(at, now.contents_kg);
        self.probe.take(at, now.pot_c);
        self.catch.take(at, now.catch_index);
        self.heat.take(at, now.heat_w);
        self.lid_on.take(at, now.lid.map(|lid| lid == Lid::On));
        self.boiling.take(at, now.boiling);
        let due = [Alarm::StirDue, Alarm::Catching].iter().any(|a| now.raised.contains(a));
        self.stir_due.take(at, Some(due));
        if let Some(spread) = now.target_in_s {
            if self.first_forecast.is_none() && spread.p50 > 0.0 && now.boiling == Some(true) {
                self.first_forecast = Some((at, spread));
            }
            // A base that is thicker than its target before it is thinned has not reached it.
            let foreseen = self.first_forecast.is_some();
            if self.reached.is_none() && foreseen && spread.p50 <= 0.0 {
                self.reached = Some(at);
            }
        }
        if let Some(before) = self.now.take() {
            self.tally.between(&before, now);
        }
        self.tally.gap(self.began, at);
        self.now = Some(now.clone());
    }

    fn happened(&mut self, happening: &Happening) {
        self.began.get_or_insert(happening.at);
        self.tally.count(happening, self.began);
        if self.happenings.len() == HAPPENINGS {
            self.happenings.pop_front();
        }
        self.happenings.push_back(happening.clone());
    }

    /// Takes in what the cook said; the latest [`HAPPENINGS`] words are kept.
    pub fn hear(&mut self, word: Word) {
        self.began.get_or_insert(word.at);
        if self.words.len() == HAPPENINGS {
            self.words.pop_front();
        }
        self.words.push_back(word);
    }

    fn tell(&mut self, notice: &Notice) {
        self.notices.retain(|told| told.alarm != notice.alarm);
        self.notices.push(notice.clone());
    }

    /// The last words of the alerts that are raised, acknowledged ones too.
    pub fn raised(&self) -> impl Iterator<Item = &Notice> {
        self.notices
            .iter()
            .filter(|n| matches!(n.state, AlarmState::Raised | AlarmState::Acknowledged))
    }

    /// What the pot was doing, in order.
    #[must_use]
    pub fn stages(&self) -> Vec<Stage> {
        let Some((began, end)) = self.extent_s() else { return vec![] };
        let stage = |from_s, to_s, name, short| Stage { from_s, to_s, name, short };
        let mut stages = Vec::new();
        let boiled = self.boiling.seconds().next().is_some();
        let (mut at, mut name, mut short) =
            if boiled { (began, "heating", "heat") } else { (began, "below the boil", "") };
        for (from, to) in self.boiling.seconds().filter(|(from, to)| to - from >= 120.0) {
            stages.push(stage(at, from, name, short));
            stages.push(stage(from, to, "at the boil", "boil"));
            (at, name, short) = (to, "off the boil", "off");
        }
        stages.push(stage(at, end, name, short));
        stages.retain(|stage| stage.to_s - stage.from_s > 60.0);
        stages
    }

    /// Whether the last that was heard of the probe is that it was taken out.
    #[must_use]
    pub fn probe_is_out(&self) -> bool {
        let heard = |h: &&Happening| match h.what {
            What::ProbeOut | What::ProbeIn => true,
            What::SensorFault { sensor, .. } | What::SensorBack { sensor } => {
                sensor == Sensor::Probe
            }
            _ => false,
        };
        self.happenings.iter().rev().find(heard).is_some_and(|h| h.what == What::ProbeOut)
    }

    /// How fast the probe rose over the last minutes, °C a minute.
    #[must_use]
    pub fn warming_c_min(&self) -> Option<f64> {
        const OVER_S: f64 = 300.0;
        let (t, c) = self.probe.last()?;
        let before = self.probe.at(t - OVER_S)?;
        Some((c - before) / (OVER_S / 60.0))
    }

    /// From the first action to the last snapshot, s; `None` before the first snapshot.
    #[must_use]
    pub fn extent_s(&self) -> Option<(f64, f64)> {
        let began = self.began?.seconds();
        let end = self.now.as_ref()?.at.seconds();
        Some((began, end.max(began)))
    }
}

/// What no kitchen's pot can be is taken as not known, so that a scale stays a scale.
fn drawable(now: &Snapshot) -> Snapshot {
    let within = |value: Option<f64>, low: f64, high: f64| {
        value.filter(|value| (low..=high).contains(value))
    };
    Snapshot {
        pot_c: within(now.pot_c, -100.0, 1000.0),
        boil_c: within(now.boil_c, 0.0, 200.0),
        contents_kg: within(now.contents_kg, -100.0, 600.0),
        target_kg: within(now.target_kg, 0.0, 600.0),
        catch_index: within(now.catch_index, 0.0, 1e6),
        heat_w: within(now.heat_w, -1e6, 1e6),
        evaporation_kg_h: within(now.evaporation_kg_h, -1000.0, 1000.0),
        total_solids: within(now.total_solids, 0.0, 1.0),
        target_in_s: now
            .target_in_s
            .filter(|s| [s.p10, s.p50, s.p90].iter().all(|t| (0.0..=1e8).contains(t))),
        ..now.clone()
    }
}

/// A part of the batch with a name.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Stage {
    pub from_s: f64,
    pub to_s: f64,
    pub name: &'static str,
    pub short: &'static str,
}

impl Tally {
    fn count(&mut self, happening: &Happening, began: Option<Moment>) {
        match &happening.what {
            What::Added { kg, .. } => {
                self.added_kg += kg;
                self.last_addition = Some(happening.at);
            }
            What::Taken { kg, .. } => self.taken_kg += kg,
            What::Stirred { .. } | What::Blended { .. } => {
                self.gap(began, happening.at);
                self.stirs += 1;
                self.last_stir = Some(happening.at);
            }
            What::Boil => {
                self.first_boil.get_or_insert(happening.at);
            }
            _ => {}
        }
    }

    fn gap(&mut self, began: Option<Moment>, at: Moment) {
        if let Some(since) = self.last_stir.or(began) {
            self.longest_gap_s = self.longest_gap_s.max(at - since);
        }
    }

    /// Adds what went on between two snapshots, as the earlier one saw it.
    fn between(&mut self, before: &Snapshot, now: &Snapshot) {
        let dt = (now.at - before.at).max(0.0);
        if let Some(kg_h) = before.evaporation_kg_h {
            self.evaporated_kg += kg_h * dt / 3600.0;
            if before.boiling == Some(true) {
                self.boiled_off_kg += kg_h * dt / 3600.0;
                self.boiled_s += dt;
            }
        }
        if let Some(w) = before.heat_w {
            self.heat_j += w * dt;
            self.heat_s += dt;
        }
        if let Some(index) = now.catch_index {
            self.worst_catch = Some(self.worst_catch.map_or(index, |worst| worst.max(index)));
        }
    }
}

/// When something that is so or is not so was so.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Spans {
    spans: VecDeque<(Moment, Moment)>,
    open: bool,
}

impl Spans {
    /// Not known is taken as not so.
    pub fn take(&mut self, at: Moment, so: Option<bool>) {
        if let (true, Some(last)) = (self.open, self.spans.back_mut()) {
            last.1 = at;
        }
        let so = so == Some(true);
        if so && !self.open {
            if self.spans.len() == SPANS {
                self.spans.pop_front();
            }
            self.spans.push_back((at, at));
        }
        self.open = so;
    }

    /// From and to, s, in order.
    pub fn seconds(&self) -> impl Iterator<Item = (f64, f64)> + '_ {
        self.spans.iter().map(|(from, to)| (from.seconds(), to.seconds()))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn pot() -> Pot {
        Pot {
            name: "big".into(),
            base_diameter_m: 0.4,
            tare_kg: 6.2,
            lid_kg: 1.3,
            height_m: Some(0.3),
        }
    }

    fn show(t_s: f64, contents_kg: f64) -> Action {
        Action::Show(Box::new(Snapshot {
            at: Moment::from_seconds(t_s).unwrap(),
            contents_kg: Some(contents_kg),
            evaporation_kg_h: Some(3.6),
            catch_index: Some(0.2),
            ..Snapshot::default()
        }))
    }

    fn happened(t_s: f64, what: What) -> Action {
        let at = Moment::from_seconds(t_s).unwrap();
        Action::Happened(Happening { at, seen: at, what })
    }

    #[test]
    fn the_longest_time_without_a_stir_counts_from_the_start_and_to_now() {
        let mut story = Story::new("a", pot(), None);
        story.take(&show(0.0, 20.0));
        story.take(&happened(600.0, What::Stirred { for_s: 20.0 }));
        story.take(&show(900.0, 20.0));
        assert_eq!(story.tally.longest_gap_s, 600.0);
        story.take(&show(2000.0, 20.0));
        assert_eq!(story.tally.longest_gap_s, 1400.0);
        assert_eq!(story.tally.stirs, 1);
    }

    #[test]
    fn evaporation_is_summed_over_time() {
        let mut story = Story::new("a", pot(), None);
        for t in 0..=10 {
            story.take(&show(f64::from(t) * 100.0, 20.0));
        }
        assert!((story.tally.evaporated_kg - 1.0).abs() < 1e-9);
    }

    #[test]
    fn a_day_of_ladling_stays_bounded_and_its_sum_is_whole() {
        let mut story = Story::new("a", pot(), None);
        for t in 0..5000 {
            story.take(&happened(f64::from(t), What::Taken { kg: 0.5, sd_kg: 0.01 }));
        }
        assert_eq!(story.happenings.len(), HAPPENINGS);
        assert!((story.tally.taken_kg - 2500.0).abs() < 1e-6);
    }

    #[test]
    fn a_lid_that_is_not_known_is_not_drawn_as_on() {
        let mut spans = Spans::default();
        for (t, on) in [(0, Some(true)), (10, Some(true)), (20, None), (30, Some(true)), (40, None)]
        {
            spans.take(Moment::from_ms(t * 1000), on);
        }
        assert_eq!(spans.seconds().collect::<Vec<_>>(), [(0.0, 20.0), (30.0, 40.0)]);
    }
}
