//! What was put down wrongly is put right: an addition that was something else, one that was none, a
//! word that should not have been said.
//!
//! Where nothing went in although the scale saw something, it either stands on the platform still (a
//! paddle, a pan: then it is no food and weighs no more as such), or it was taken away again, and what
//! was then told as ladled out was none either.
//!
//! Taken back is the last word that changed anything. What a word did to the bottom is undone by
//! letting the time since go by again without it; what it did to the heat is learnt anew.

use crate::batch::book::{Book, Deed};
use crate::batch::plan::Target;
use crate::moment::Moment;

use super::action::{Actions, What};
use super::bottom::Bottom;
use super::hold::Holding;
use super::judge::Pot;
use super::setting::Learnt;

/// What was put down and what was taken away are the same thing within this, kg or a share of it.
const SAME: (f64, f64) = (0.06, 0.05);
/// What is known of a level that the cook speaks of, kg.
const LEVEL_SD_KG: f64 = 0.01;
/// A bottom is not reckoned back further than this, s.
const LONGEST_S: f64 = 3600.0;

/// How the last word is taken back.
#[derive(Debug, Clone)]
pub(super) enum Undo {
    /// It waits, or waited in vain: it is dropped.
    Promise,
    /// The deeds as they stood before.
    Deeds(Box<Book>),
    /// An addition on the word alone, by its turn.
    PutDown(usize),
    Target(Option<Target>),
    Lid(bool),
    Flame {
        off_s: Option<f64>,
        holding: Option<Holding>,
    },
    Bottom {
        bottom: Box<Option<Bottom>>,
        learnt: Learnt,
        at_s: f64,
    },
}

impl Pot {
    pub(super) fn before_the_bottom(&self) -> Undo {
        let (bottom, learnt) = (Box::new(self.bottom.clone()), self.setting.learnt);
        Undo::Bottom { bottom, learnt, at_s: self.now_s }
    }

    /// Makes an addition, by its turn, `kg` and what `name` is.
    pub(super) fn correct(
        &mut self,
        turn: usize,
        kg: Option<f64>,
        name: Option<&str>,
        actions: &mut Actions,
    ) {
        let what = name.and_then(|name| self.made_of(name));
        let then = self.book.clone();
        if self.book.correct(turn, kg, what) {
            self.put_right(then, actions);
        }
    }

    /// Nothing went in: the last addition that did, or the one that is meant, was none.
    pub(super) fn nothing(&mut self, which: Option<&str>, actions: &mut Actions) {
        if which.is_none() && self.promise.take().is_some() {
            return;
        }
        let weighs: Vec<bool> = self.book.additions().map(|(kg, _)| kg > 0.0).collect();
        let turn = match which {
            Some(which) => self.with_names(|known| known.which(which)),
            None => weighs.iter().rposition(|weighs| *weighs),
        };
        let Some((turn, (at, seen_kg))) = turn.and_then(|turn| Some((turn, self.seen(turn)?)))
        else {
            return;
        };
        let then = self.book.clone();
        if !self.book.strike(turn) {
            return;
        }
        let within_kg = SAME.0.max(SAME.1 * seen_kg);
        if seen_kg > 0.0 {
            match self.book.strike_taking(at, seen_kg, within_kg) {
                Some(taken_kg) => self.served_kg = (self.served_kg - taken_kg).max(0.0),
                None => {
                    self.stood.push((turn, seen_kg));
                    self.is_no_food(seen_kg);
                }
            }
        }
        self.put_right(then, actions);
    }

    /// As if the last word had not been said.
    pub(super) fn take_back(&mut self, actions: &mut Actions) {
        self.promise = None;
        match self.undo.take() {
            None | Some(Undo::Promise) => {}
            Some(Undo::Deeds(as_it_was)) => {
                let then = self.book.clone();
                self.book.as_they_stood_in(&as_it_was);
                self.put_right(then, actions);
            }
            Some(Undo::PutDown(turn)) => {
                let then = self.book.clone();
                self.book.strike(turn);
                self.put_right(then, actions);
            }
            Some(Undo::Target(target)) => self.target = target,
            Some(Undo::Lid(on)) => self.say_lid(on, self.now_s, actions),
            Some(Undo::Flame { off_s, holding }) => {
                (self.flame_off_s, self.holding) = (off_s, holding);
            }
            Some(Undo::Bottom { bottom, learnt, at_s }) => {
                (self.bottom, self.setting.learnt) = (*bottom, learnt);
                let state = self.bottom_state(self.now_s);
                let missed_s = (self.now_s - at_s).clamp(0.0, LONGEST_S) as usize;
                if let Some(bottom) = &mut self.bottom {
                    (0..missed_s).for_each(|_| bottom.second(&state));
                }
            }
        }
        self.undo = None;
    }

    /// The deeds were changed: what is to come, what stands on the platform and what is told follow.
    fn put_right(&mut self, then: Book, actions: &mut Actions) {
        self.follow_plan();
        self.tell_put_right(&then, actions);
        self.undo = Some(Undo::Deeds(Box::new(then)));
        self.settle_ledger();
    }

    fn tell_put_right(&mut self, then: &Book, actions: &mut Actions) {
        let now: Vec<_> = additions(&self.book).collect();
        for (turn, (was, is)) in additions(then).zip(now).enumerate() {
            let (at, kg, name) = is.clone();
            if was == is {
                continue;
            }
            if was.1 <= 0.0 && kg > 0.0 {
                self.is_food_after_all(turn);
            }
            let ago_s = self.moment(self.now_s) - at;
            self.happened(What::Corrected { kg, name, ago_s }, self.now_s, actions);
        }
    }

    /// What of the plan is still to come: all that no addition is called by.
    pub(super) fn follow_plan(&mut self) {
        let mut named: Vec<&str> = self.book.additions().filter_map(|(_, name)| name).collect();
        let comes = |planned: &str| {
            let place = named.iter().position(|name| name.eq_ignore_ascii_case(planned));
            place.map(|place| named.swap_remove(place)).is_none()
        };
        let mut comes = comes;
        self.remaining = self.setting.plan.additions.clone();
        self.remaining.retain(|planned| comes(&planned.name));
    }

    /// When an addition was put down and what the scale saw of it, kg.
    fn seen(&self, turn: usize) -> Option<(Moment, f64)> {
        let is_addition = |deed: &Deed| matches!(deed, Deed::Added { .. });
        let entry =
            self.book.entries().iter().filter(|entry| is_addition(&entry.deed)).nth(turn)?;
        match entry.was.as_ref().unwrap_or(&entry.deed) {
            Deed::Added { kg, .. } if !self.unseen.contains(&turn) => Some((entry.at, *kg)),
            _ => Some((entry.at, 0.0)),
        }
    }

    /// `kg` of what the scale shows is none of the contents; of less where it is negative.
    fn is_no_food(&mut self, kg: f64) {
        self.spoon_kg += kg;
        self.unproven.clear();
        if let Some(contents) = &mut self.contents {
            let level_kg = contents.level_kg() - kg;
            contents.stepped(level_kg, LEVEL_SD_KG);
        }
    }

    /// What stood on the platform by the cook's word is food, where it stands there still.
    fn is_food_after_all(&mut self, turn: usize) {
        let place = self.stood.iter().position(|(stood, _)| *stood == turn);
        let Some((_, kg)) = place.map(|place| self.stood.swap_remove(place)) else { return };
        if self.spoon_kg > kg - SAME.0 {
            self.is_no_food(-kg);
        }
    }
}

/// When, how much and what was added, as it stands in a book.
fn additions(book: &Book) -> impl Iterator<Item = (Moment, f64, Option<String>)> {
    book.entries().iter().filter_map(|entry| match &entry.deed {
        Deed::Added { kg, name, .. } => Some((entry.at, *kg, name.clone())),
        _ => None,
    })
}

#[cfg(test)]
mod tests;
