//! From a second of load to the contents.

use crate::batch::book::{Book, Deed};
use crate::batch::ledger::Ledger;

use super::action::Actions;
use super::bottom::Bottom;
use super::contents::Contents;
use super::heat;
use super::judge::Pot;
use super::settle::Verdict;

/// Seconds of rest that must follow a level before it is believed.
const PROOF_S: usize = 3;
/// A level this old is none any more, s.
const STALE_S: f64 = 20.0;

impl Pot {
    pub(super) fn weigh(&mut self, t_s: f64, actions: &mut Actions) {
        let catching = self.bottom.as_ref().is_some_and(Bottom::may_be_catching);
        if let Some(contents) = &mut self.contents {
            contents.predict(catching);
        }
        let Some(second) = self.gather.end() else { return };
        let on_top_kg = self.on_top_kg();
        let Some(contents) = &self.contents else { return self.begin(second.mean_kg) };
        let (level_kg, sd_kg) = (contents.level_kg(), contents.level_sd_kg());
        let lid_kg = if self.lid_on { self.setting.pot.lid_kg } else { 0.0 };
        let predicted_kg = level_kg + on_top_kg;
        match self.settle.second(t_s, second, predicted_kg, sd_kg, lid_kg) {
            Verdict::Rest { level_kg, sd_kg } => self.at_rest(t_s, level_kg - on_top_kg, sd_kg),
            Verdict::Disturbed => self.unproven.clear(),
            Verdict::Settled(disturbance) => self.settled(&disturbance, actions),
        }
    }

    /// What stands on the platform besides the contents: pot, lid, a spoon.
    pub(super) fn on_top_kg(&self) -> f64 {
        let lid_kg = if self.lid_on { self.setting.pot.lid_kg } else { 0.0 };
        self.setting.pot.tare_kg + lid_kg + self.spoon_kg
    }

    fn at_rest(&mut self, t_s: f64, level_kg: f64, sd_kg: f64) {
        // After a gap the levels before it are no proof of anything now.
        self.unproven.retain(|(then_s, ..)| t_s - then_s < STALE_S);
        self.unproven.push_back((t_s, level_kg, sd_kg));
        if self.unproven.len() <= PROOF_S {
            return;
        }
        let (Some(contents), Some((then_s, level_kg, sd_kg))) =
            (&mut self.contents, self.unproven.pop_front())
        else {
            return;
        };
        let before = contents.rate_kg_s();
        if contents.update(level_kg - (t_s - then_s) * before, sd_kg) {
            let state = self.heat_state();
            let learning = self.now_s - self.leak_since_s < heat::LEAK_LEARNT_S;
            if let Some(state) = state.filter(|s| s.boiling && s.lid_on && !learning) {
                self.heat.may_have_turned(before, &state);
            }
        }
        self.settle_ledger();
    }

    /// The first few seconds of load say how much is in the pot and whether the lid is on.
    fn begin(&mut self, mean_kg: f64) {
        self.first_loads.push(mean_kg);
        if self.first_loads.len() < 5 {
            return;
        }
        let mut loads = std::mem::take(&mut self.first_loads);
        loads.sort_by(f64::total_cmp);
        self.begin_at(loads[2]);
    }

    fn begin_at(&mut self, load_kg: f64) {
        let planned_kg = self.setting.plan.start.contents_kg;
        let lid_kg = self.setting.pot.lid_kg;
        let bare_kg = load_kg - self.setting.pot.tare_kg;
        let off = |lid_on: bool| (bare_kg - if lid_on { lid_kg } else { 0.0 } - planned_kg).abs();
        if off(!self.lid_on) < 0.1 * lid_kg && off(self.lid_on) > 0.8 * lid_kg {
            self.lid_on = !self.lid_on;
        }
        let contents_kg = (load_kg - self.on_top_kg()).max(0.0);
        let start = Ledger::start(contents_kg, self.setting.plan.start.composition);
        self.book = Book::new(start);
        let rate = self.warmth.true_c().and_then(|c| self.below_boil_kg_s(c)).unwrap_or(2e-4);
        self.contents = Some(Contents::new(contents_kg, 0.004, rate, 0.5 * rate + 2e-5));
    }

    /// The filter's contents are the ledger's: what is gone is water.
    pub(super) fn settle_ledger(&mut self) {
        if let Some(contents) = &self.contents {
            let kg = contents.contents_kg();
            self.book.record(self.moment(self.now_s), Deed::Set { kg });
        }
    }
}
