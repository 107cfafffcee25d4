//! What a hand did to the pot.

use crate::batch::book::Deed;
use crate::batch::composition::Composition;
use crate::batch::reckoning;

use super::action::{Action, Actions, POURED_BACK, What};
use super::bottom::Bottom;
use super::chill::Chill;
use super::handling::{self, Before, LidMove, Shaking};
use super::heat;
use super::judge::Pot;
use super::puffs::Puffs;
use super::set_aside::{LADLE_KG, LARGE_SHARE};
use super::settle::Disturbance;

/// Below this share of the pot's own weight the pot itself was taken away.
const LIFTED: f64 = 0.6;
/// What is moved takes along dry matter that is known to this share only: lumps, fat on top, what
/// sticks to sieve and blender (judgement).
const MOVED_DOUBT: f64 = 0.015;
/// A step that nobody planned and that is smaller than this is steam or splashes: water, kg.
const LEAST_KG: f64 = 0.1;
/// An addition that cools the pot, as a share of the contents.
const COOLING_SHARE: f64 = 0.03;

impl Pot {
    /// The load is at rest again.
    pub(super) fn settled(&mut self, disturbance: &Disturbance, actions: &mut Actions) {
        let level_kg = disturbance.level_kg - self.on_top_kg();
        if disturbance.level_kg < LIFTED * self.setting.pot.tare_kg {
            self.settle.open_at(disturbance.began_s);
            return;
        }
        let Some(contents) = &self.contents else { return };
        let step_kg = level_kg - contents.level_kg();
        let sd_kg = contents.level_sd_kg().hypot(disturbance.level_sd_kg);
        let planned: Vec<f64> = self.remaining.iter().map(|a| a.kg).collect();
        let before = Before {
            lid_on: self.lid_on,
            lid_kg: self.setting.pot.lid_kg,
            spoon_kg: self.spoon_kg,
            blind: std::mem::take(&mut self.blind),
            cooling: self.flame_off_s.is_some() && !self.set_aside.is_expected(self.now_s),
        };
        let verdict = handling::judge(disturbance, step_kg, sd_kg, &before, &planned);
        let before = actions.len();
        self.apply(disturbance, level_kg, &verdict, sd_kg, actions);
        // Told in the order in which it happened: a pour may end what the blender began.
        actions[before..].sort_by_key(|action| match action {
            Action::Happened(happening) => happening.at.ms(),
            _ => i64::MAX,
        });
    }

    fn apply(
        &mut self,
        disturbance: &Disturbance,
        level_kg: f64,
        verdict: &handling::Verdict,
        sd_kg: f64,
        actions: &mut Actions,
    ) {
        let foreign_kg = self.move_lid(verdict, disturbance, actions) + verdict.spoon_kg;
        self.spoon_kg += verdict.spoon_kg;
        let level_kg = level_kg - foreign_kg;
        let level_sd_kg = disturbance.level_sd_kg;
        if verdict.food_kg == 0.0 {
            let boils = self.warmth.is_boiling() && verdict.shaking != Shaking::None;
            if let Some(contents) = &mut self.contents {
                let puff_kg = self.puffs.puff_kg();
                if boils && verdict.spoon_kg == 0.0 {
                    let fell_kg = contents.level_kg() - level_kg;
                    self.puffs.stirred(disturbance.began_s, fell_kg, sd_kg);
                }
                contents.stirred(if boils { puff_kg } else { 0.0 });
                contents.held(level_kg, level_sd_kg);
            }
        } else {
            self.food_moved(disturbance, level_kg, sd_kg, actions);
        }
        let emptied = verdict.food_kg.abs() > LARGE_SHARE * self.ledger().contents_kg();
        if emptied {
            // Whoever pours a pot out and back sees its bottom.
            self.bottom.as_mut().into_iter().for_each(Bottom::stirred);
        } else {
            self.shaken(disturbance, verdict.shaking, actions);
        }
        if verdict.food_kg != 0.0 || verdict.lid.is_some() || verdict.shaking != Shaking::None {
            self.handled_s = self.now_s;
        }
        self.settle_ledger();
    }

    /// Returns what the lid's move did to the load, kg.
    fn move_lid(
        &mut self,
        verdict: &handling::Verdict,
        disturbance: &Disturbance,
        actions: &mut Actions,
    ) -> f64 {
        let Some(lid) = verdict.lid else { return 0.0 };
        let on = lid == LidMove::PutOn;
        self.lid_on = on;
        self.happened(if on { What::LidOn } else { What::LidOff }, disturbance.began_s, actions);
        self.rate_for_lid(on);
        if on { self.setting.pot.lid_kg } else { -self.setting.pot.lid_kg }
    }

    pub(super) fn rate_for_lid(&mut self, on: bool) {
        self.puffs = Puffs::default();
        if let Some(state) = self.heat_state().filter(|state| state.boiling && !on) {
            self.heat.learn_leak(&heat::State { lid_on: true, ..state });
        }
        if self.warmth.is_boiling() && self.heat.watts().is_some() {
            return self.foretell_boil();
        }
        if let Some(contents) = &mut self.contents {
            let by = if on { heat::LEAK } else { 1.0 / heat::LEAK };
            let rate = contents.rate_kg_s() * by;
            contents.set_rate(rate, 0.4 * rate + 1e-5);
        }
    }

    fn food_moved(
        &mut self,
        disturbance: &Disturbance,
        level_kg: f64,
        sd_kg: f64,
        actions: &mut Actions,
    ) {
        let Some(contents) = &mut self.contents else { return };
        let (kg, _) = contents.stepped(level_kg, disturbance.level_sd_kg);
        self.moved_var += (MOVED_DOUBT * kg).powi(2);
        let planned = reckoning::recognise(&self.remaining, kg, sd_kg);
        if planned.is_some() || kg > LEAST_KG {
            self.added((kg, sd_kg), planned, disturbance.moved_s, actions);
        } else if kg < -LEAST_KG {
            self.taken((-kg, sd_kg), disturbance.moved_s, actions);
        }
        if kg > COOLING_SHARE * self.ledger().contents_kg().max(0.1) {
            self.warmth.forget();
            self.dilution_s = self.now_s;
        }
    }

    fn taken(&mut self, (kg, sd_kg): (f64, f64), began_s: f64, actions: &mut Actions) {
        let sieved = kg > LARGE_SHARE * self.ledger().contents_kg();
        if let Some(of) = self.ledger().composition() {
            self.set_aside.pour_out(kg, of, self.ledger().contents_kg(), self.now_s);
        }
        self.book.record(self.moment(began_s), Deed::Taken { kg });
        self.happened(What::Taken { kg, sd_kg }, began_s, actions);
        if !sieved && !self.waits_for_additions() && kg < LADLE_KG {
            self.service.serve(self.moment(self.now_s), kg);
            self.served_kg += kg;
            self.begin_holding();
        }
    }

    fn added(
        &mut self,
        (kg, sd_kg): (f64, f64),
        planned: Option<usize>,
        began_s: f64,
        actions: &mut Actions,
    ) {
        let in_kg = self.ledger().contents_kg();
        let back = self.set_aside.pour_back(kg, planned.is_some(), in_kg, self.now_s);
        let (of, name, what) = if let Some(of) = back {
            (of, Some(POURED_BACK.to_owned()), What::PouredBack { kg, sd_kg })
        } else {
            let planned = planned.map(|turn| self.remaining.remove(turn));
            let of = planned.as_ref().map_or(Composition::WATER, |planned| planned.composition);
            let name = planned.map(|planned| planned.name);
            (of, name.clone(), What::Added { kg, sd_kg, name })
        };
        self.book.record(self.moment(began_s), Deed::Added { kg, of, name });
        let contents_kg = self.ledger().contents_kg();
        self.chill = self
            .warmth
            .pot_c(self.now_s)
            .and_then(|pot_c| Chill::new(self.chill, self.now_s, pot_c, (kg, contents_kg)));
        self.happened(what, began_s, actions);
        self.keep_promise(kg, actions);
    }

    /// The scale shows nothing any more: a stir that was going on ends where it was seen last.
    pub(super) fn lose_sight(&mut self, since_s: f64, actions: &mut Actions) {
        self.blind = true;
        if let Some(so_far) = self.settle.cut_short(since_s) {
            self.shaken(&so_far, handling::shaking(&so_far), actions);
        }
        self.settle.open_at(since_s);
    }

    fn shaken(&mut self, disturbance: &Disturbance, shaking: Shaking, actions: &mut Actions) {
        let for_s = disturbance.shaken_s;
        let (what, bottom): (What, fn(&mut Bottom)) = match shaking {
            Shaking::None => return,
            Shaking::Stirred => (What::Stirred { for_s }, Bottom::stirred),
            Shaking::Blended => (What::Blended { for_s }, Bottom::blended),
        };
        if shaking == Shaking::Blended {
            self.blended_s = self.now_s;
        }
        self.chill = None;
        self.habit.stirred(self.now_s);
        self.happened(what, disturbance.began_s, actions);
        self.bottom.as_mut().into_iter().for_each(bottom);
    }
}

#[cfg(test)]
mod tests;
