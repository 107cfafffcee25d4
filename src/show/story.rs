//! What a drawing needs to know of a batch, gathered from the judgement's actions as they come.
//!
//! Bounded however long the batch: traces thin themselves ([`Trace`]), and of happenings and spans
//! the latest [`HAPPENINGS`] and [`SPANS`] are kept. The same actions give the same story.

mod additions;
mod spans;
mod stages;
mod tally;

use std::collections::VecDeque;

use crate::batch::plan::{Plan, PlannedStage, Target};
use crate::batch::pot::Pot;
use crate::moment::Moment;
use crate::watch::action::{
    Action, Alarm, AlarmState, Happening, Lid, Notice, POURED_BACK, Sensor, Snapshot, Spread, What,
};
use crate::watch::event::CookSays;
use crate::watch::setting::Setting;

use super::trace::Trace;

pub use additions::Addition;
pub use spans::{SPANS, Spans};
pub use stages::Stage;
pub use tally::Tally;

/// Happenings kept: a ladle every minute of a working day.
pub const HAPPENINGS: usize = 600;

/// The catch index at which a bottom is as likely to have caught as not.
const AS_LIKELY_AS_NOT: f64 = 1.0;

/// Whether the bottom has as likely caught as not; `None` where nothing is known of it.
#[must_use]
pub fn may_have_caught(now: &Snapshot) -> Option<bool> {
    now.catch_index.map(|index| index >= AS_LIKELY_AS_NOT)
}

/// A batch as it went so far.
#[derive(Debug, Clone, PartialEq)]
pub struct Story {
    /// Name of the batch.
    pub batch: String,
    pub pot: Pot,
    pub target: Option<Target>,
    /// The stages that are meant, in order; none where the batch names none.
    pub planned: Vec<PlannedStage>,
    /// Contents, kg.
    pub contents: Trace,
    /// The probe, °C.
    pub probe: Trace,
    /// Catch index of the bottom.
    pub catch: Trace,
    /// Heat that the contents take up, W.
    pub heat: Trace,
    /// Contents at which the target is reached, kg, until it was first reached.
    pub aim: Trace,
    pub happenings: VecDeque<Happening>,
    /// What the cook said.
    pub words: VecDeque<Word>,
    /// While the lid was on.
    pub lid_on: Spans,
    /// While it boiled.
    pub boiling: Spans,
    /// While the bottom needed a stir.
    pub stir_due: Spans,
    /// While the bottom was as likely to have caught as not, or likelier.
    pub may_have_caught: Spans,
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

impl Story {
    #[must_use]
    pub fn of(setting: &Setting) -> Self {
        Self::meant(&setting.plan, &setting.plan.name, setting.pot.clone())
    }

    /// A batch of this name that is cooked by a plan.
    #[must_use]
    pub fn meant(plan: &Plan, batch: &str, pot: Pot) -> Self {
        Self { planned: plan.stages.clone(), ..Self::new(batch, pot, plan.target) }
    }

    #[must_use]
    pub fn new(batch: &str, pot: Pot, target: Option<Target>) -> Self {
        Self {
            batch: batch.to_owned(),
            pot,
            target,
            planned: Vec::new(),
            contents: Trace::default(),
            probe: Trace::default(),
            catch: Trace::default(),
            heat: Trace::default(),
            aim: Trace::default(),
            happenings: VecDeque::new(),
            words: VecDeque::new(),
            lid_on: Spans::default(),
            boiling: Spans::default(),
            stir_due: Spans::default(),
            may_have_caught: Spans::default(),
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
        self.may_have_caught.take(at, may_have_caught(now));
        if self.reached.is_none() {
            self.aim.take(at, now.target_kg);
        }
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
        if let What::Corrected { kg, ago_s, .. } = happening.what {
            let was = self.addition_at(happening.at, ago_s);
            let (was_kg, back) =
                was.map_or((kg, false), |was| (was.kg, was.name == Some(POURED_BACK)));
            self.tally.corrected(was_kg, back, kg);
        }
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
        if (notice.alarm, notice.state) == (Alarm::TargetReached, AlarmState::Raised) {
            self.reached.get_or_insert(notice.at);
        }
        self.notices.retain(|told| told.alarm != notice.alarm);
        self.notices.push(notice.clone());
    }

    /// Contents at which the target was reached, or, where it was not, at which it would be now, kg.
    #[must_use]
    pub fn aimed_kg(&self) -> Option<f64> {
        match self.reached {
            Some(_) => self.aim.last().map(|(_, kg)| kg),
            None => self.now.as_ref()?.target_kg,
        }
    }

    /// The last words of the alerts that are raised, acknowledged ones too.
    pub fn raised(&self) -> impl Iterator<Item = &Notice> {
        self.notices
            .iter()
            .filter(|n| matches!(n.state, AlarmState::Raised | AlarmState::Acknowledged))
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

#[cfg(test)]
mod tests;
