//! What the cook says to the pot, and what it changes.
//!
//! A correction makes the balance anew from the start, as if the right thing had gone in, and is told
//! as something that happened ([`What::Corrected`]): what was seen at first stays in the record. The
//! scale has the last word on how much is in the pot.
//!
//! Of what goes in just now the scale knows only when the pot is at rest again. A word that comes
//! sooner is a promise: it is kept by the addition that is seen within [`PROMISE_S`]. What was
//! *added* and is not seen by then (a spoon of salt, or while the scale was silent) is put down on the
//! cook's word alone; more than [`UNSEEN_KG`] the scale would have seen.

use crate::batch::book::{Book, Deed};
use crate::batch::composition::Composition;
use crate::batch::plan::Target;

use super::action::{Actions, Alarm, What};
use super::bottom::Bottom;
use super::event::CookSays;
use super::judge::Pot;
use super::judge_putting_right::Undo;
use super::named::Known;
use super::words::NotUnderstood;

/// How long a word waits for the scale to see what it speaks of, s.
const PROMISE_S: f64 = 120.0;
/// What was added this long ago may still be spoken of as added, s.
const LATELY_S: f64 = 600.0;
/// What went in and was not seen cannot weigh more, kg.
const UNSEEN_KG: f64 = 0.25;
/// What is said to be added is what was seen where the two are within this factor.
const ALIKE: f64 = 1.6;

/// What the cook said of something that the scale has not seen yet.
#[derive(Debug, Clone)]
pub(super) struct Promise {
    kg: Option<f64>,
    name: Option<String>,
    since_s: f64,
    /// Whether it is surely another than the last addition.
    another: bool,
}

impl Pot {
    /// What the cook says is believed before what was seen.
    pub(super) fn hear(&mut self, says: &CookSays, t_s: f64, actions: &mut Actions) {
        self.now_s = self.now_s.max(t_s);
        match says {
            CookSays::Stirred => {
                self.undo = Some(self.before_the_bottom());
                self.bottom.as_mut().into_iter().for_each(Bottom::stirred);
                self.happened(What::Stirred { for_s: 0.0 }, t_s, actions);
            }
            CookSays::BottomClean => self.verdict(false),
            CookSays::ItCaught => self.verdict(true),
            CookSays::LidOn | CookSays::LidOff => {
                self.undo = Some(Undo::Lid(self.lid_on));
                self.say_lid(*says == CookSays::LidOn, t_s, actions);
            }
            CookSays::RightNow => {
                self.undo = Some(Undo::Target(self.target));
                self.target = self.ledger().total_solids().map(Target::TotalSolids);
            }
            CookSays::FlameOff => {
                let (off_s, holding) = (self.flame_off_s, self.holding);
                self.undo = Some(Undo::Flame { off_s, holding });
                self.flame_off(t_s);
            }
            CookSays::ThatWas { kg, name } => self.that_was(*kg, name.as_deref(), actions),
            CookSays::Was { which, kg, name } => self.was(which, *kg, name.as_deref(), actions),
            CookSays::Added { kg, name } => self.say_added(*kg, name.as_deref(), actions),
            CookSays::Nothing { which } => self.nothing(which.as_deref(), actions),
            CookSays::TakeBack => self.take_back(actions),
            CookSays::Acknowledge(alarm) => self.acknowledge(*alarm, actions),
            CookSays::Shelve { alarm, for_s } => self.shelve(*alarm, *for_s, actions),
        }
    }

    /// Why something that was said means nothing here.
    pub(super) fn refuses(&self, says: &CookSays) -> Option<NotUnderstood> {
        self.with_names(|known| known.check(says).err())
    }

    pub(super) fn with_names<T>(&self, tell: impl FnOnce(&Known<'_>) -> T) -> T {
        let went_in: Vec<Option<&str>> = self.book.additions().map(|(_, name)| name).collect();
        let planned: Vec<&str> =
            self.setting.plan.additions.iter().map(|a| a.name.as_str()).collect();
        let standing: Vec<Alarm> =
            Alarm::ALL.into_iter().filter(|alarm| self.alarms.is_raised(*alarm)).collect();
        let larder = &self.setting.larder;
        tell(&Known {
            went_in: &went_in,
            planned: &planned,
            larder,
            standing: &standing,
            spoken: self.undo.is_some(),
        })
    }

    /// The last addition was something else, or another amount of it; while a hand is on the pot,
    /// what is seen next.
    fn that_was(&mut self, kg: Option<f64>, name: Option<&str>, actions: &mut Actions) {
        let last = self.book.additions().count().checked_sub(1);
        match last.filter(|_| !self.settle.is_disturbed()) {
            Some(last) => self.correct(last, kg, name, actions),
            None => self.promise_that(kg, name, false, actions),
        }
    }

    fn was(&mut self, which: &str, kg: Option<f64>, name: Option<&str>, actions: &mut Actions) {
        let turn = self.with_names(|known| known.which(which));
        turn.into_iter().for_each(|turn| self.correct(turn, kg, name, actions));
    }

    /// Something went in just now: what the scale saw lately, where that fits, or what it sees next.
    fn say_added(&mut self, kg: f64, name: Option<&str>, actions: &mut Actions) {
        let lately = self.moment((self.now_s - LATELY_S).max(0.0));
        let whole = name.and_then(|name| self.with_names(|known| known.name(name)));
        let last = self.book.entries().iter().rev().find_map(|entry| match &entry.deed {
            Deed::Added { kg: seen_kg, name: seen, .. } => Some((entry, *seen_kg, seen.as_deref())),
            _ => None,
        });
        let fits = last.is_some_and(|(entry, seen_kg, seen)| {
            let new = entry.at >= lately && entry.was.is_none();
            new && alike(seen_kg, kg) && (seen.is_none() || seen == whole.as_deref())
        });
        if fits && !self.settle.is_disturbed() {
            return self.that_was(Some(kg), name, actions);
        }
        self.promise_that(Some(kg), name, true, actions);
    }

    fn promise_that(
        &mut self,
        kg: Option<f64>,
        name: Option<&str>,
        another: bool,
        actions: &mut Actions,
    ) {
        self.give_up_promise(actions);
        let name = name.map(str::to_owned);
        self.promise = Some(Promise { kg, name, since_s: self.now_s, another });
        self.undo = Some(Undo::Promise);
    }

    /// An addition of `kg` was just put down: is it what the cook spoke of?
    pub(super) fn keep_promise(&mut self, kg: f64, actions: &mut Actions) {
        let fits = |p: &Promise| !p.another || p.kg.is_none_or(|said_kg| alike(said_kg, kg));
        let Some(promise) = self.promise.take_if(|promise| fits(promise)) else { return };
        let last = self.book.additions().count().saturating_sub(1);
        self.correct(last, promise.kg, promise.name.as_deref(), actions);
    }

    /// A word that waited long enough is taken as it was said.
    pub(super) fn mind_promise(&mut self, actions: &mut Actions) {
        let Some(promise) = &self.promise else { return };
        let waited = self.now_s - promise.since_s > PROMISE_S;
        if waited && !self.settle.is_disturbed() && self.scale.fault().is_none() {
            self.give_up_promise(actions);
        }
    }

    fn give_up_promise(&mut self, actions: &mut Actions) {
        let Some(Promise { kg, name, since_s, another }) = self.promise.take() else { return };
        let last = self.book.additions().count().checked_sub(1).filter(|_| !another);
        match (last, kg) {
            (Some(last), _) => self.correct(last, kg, name.as_deref(), actions),
            (None, Some(kg)) if kg <= UNSEEN_KG || self.scale.fault().is_some() => {
                self.put_down(kg, name.as_deref(), since_s, actions);
            }
            (None, _) => {}
        }
    }

    /// An addition on the cook's word alone.
    fn put_down(&mut self, kg: f64, name: Option<&str>, since_s: f64, actions: &mut Actions) {
        let what = name.and_then(|name| self.made_of(name));
        let of = what.as_ref().map_or(Composition::WATER, |(_, of)| *of);
        let name = what.map(|(name, _)| name);
        let turn = self.book.additions().count();
        self.book.record(self.moment(since_s), Deed::Added { kg, of, name: name.clone() });
        self.unseen.push(turn);
        self.undo = Some(Undo::PutDown(turn));
        self.follow_plan();
        self.happened(What::Added { kg, sd_kg: 0.0, name }, since_s, actions);
        self.settle_ledger();
    }

    /// The whole name of something and what it is made of: by the plan, else by the larder.
    pub(super) fn made_of(&self, name: &str) -> Option<(String, Composition)> {
        let whole = self.with_names(|known| known.name(name))?;
        let mut planned = self.setting.plan.additions.iter();
        let of = planned
            .find(|a| a.name == whole)
            .map(|a| a.composition)
            .or_else(|| Some(self.setting.larder.find(&whole)?.composition))?;
        Some((whole, of))
    }

    fn verdict(&mut self, caught: bool) {
        self.undo = Some(self.before_the_bottom());
        let Some(bottom) = &mut self.bottom else { return };
        let learnt = &mut self.setting.learnt;
        learnt.bottom_log_scale =
            Bottom::learn(learnt.bottom_log_scale, learnt.bottom_verdicts, bottom.index(), caught);
        learnt.bottom_verdicts += 1;
        bottom.stirred();
    }

    /// The lid is where the cook says, whatever the scale made of it.
    pub(super) fn say_lid(&mut self, on: bool, t_s: f64, actions: &mut Actions) {
        if self.lid_on == on {
            return;
        }
        self.lid_on = on;
        self.happened(if on { What::LidOn } else { What::LidOff }, t_s, actions);
        self.rate_for_lid(on);
    }

    pub(super) const fn book(&self) -> &Book {
        &self.book
    }
}

fn alike(a_kg: f64, b_kg: f64) -> bool {
    (a_kg / b_kg).max(b_kg / a_kg) <= ALIKE
}

#[cfg(test)]
mod tests;
