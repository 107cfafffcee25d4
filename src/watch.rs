//! The judgement: what is going on in the pot.
//!
//! Pure. Time comes with every event; what is to be done about it goes out as actions. The daemon,
//! the demo, `replay`, the tests and the fault simulations all drive [`Watch::step`], so a recording
//! replayed gives the same actions, byte for byte.
//!
//! Samples are gathered into seconds; at the end of each second the pot is judged once:
//!
//! ```text
//! senses ─▶ second ─▶ settle ─▶ contents (filter) ─▶ forecast ─▶ alarms
//!              │         └────▶ handling ─▶ ledger        ▲
//!              └─▶ warmth ─▶ heat ──────────▶ bottom ─────┘
//! ```

pub mod action;
pub mod alarm;
mod base;
pub mod bottom;
pub mod chill;
pub mod contents;
pub mod cooling;
pub mod event;
pub mod forecast;
pub mod habit;
pub mod handling;
pub mod heat;
pub mod hold;
pub mod immersion;
mod judge;
mod judge_alarms;
mod judge_bottom;
mod judge_handling;
mod judge_putting_right;
mod judge_rules;
mod judge_show;
mod judge_weighing;
mod judge_words;
pub mod named;
pub mod not_understood;
pub mod note;
mod puffs;
pub mod second;
pub mod senses;
pub mod set_aside;
pub mod setting;
pub mod settle;
pub mod standing;
pub mod still;
mod trace;
#[cfg(test)]
mod trial;
pub mod urgency;
pub mod walk;
pub mod warmth;
pub mod words;

use crate::batch::book::Book;
use crate::moment::Moment;

use action::{Action, Actions};
use event::{CookSays, Event};
use judge::Pot;
use setting::{Learnt, Setting};
use words::NotUnderstood;

/// The longest silence that is lived through second by second, s.
const LONGEST_S: i64 = 200_000;
/// When nothing at all was told for this long, not even that time went by, it was the board that slept
/// or was off, and no sensor is to blame, s.
const ASLEEP_S: i64 = 5;

/// One pot, watched.
#[derive(Debug, Clone)]
pub struct Watch {
    pot: Pot,
    began: Option<Moment>,
    latest: Moment,
    /// The second that is being gathered, counted from the beginning.
    second: i64,
    show_every_ms: i64,
    next_show_ms: i64,
}

impl Watch {
    #[must_use]
    pub fn new(setting: Setting) -> Self {
        let show_every_ms = setting.show_every_ms.max(100);
        Self {
            pot: Pot::new(setting),
            began: None,
            latest: Moment::default(),
            second: 0,
            show_every_ms,
            next_show_ms: 0,
        }
    }

    /// Takes in one event and says what it leads to.
    ///
    /// Moments must not decrease; one that does is taken as the latest moment seen.
    pub fn step(&mut self, event: Event, at: Moment) -> Actions {
        let began = *self.began.get_or_insert(at);
        self.latest = if at > self.latest || self.began == Some(at) { at } else { self.latest };
        let since_ms = self.latest.ms() - began.ms();
        let mut actions = Actions::new();
        self.pot.set_origin(began);
        if since_ms / 1000 > self.second {
            self.catch_up(since_ms / 1000, &mut actions);
        }
        self.show(began, since_ms, &mut actions);
        self.pot.take(event, since_ms as f64 / 1000.0, &mut actions);
        actions
    }

    /// What is learnt of this pot so far: to be kept for its next batch.
    #[must_use]
    pub const fn learnt(&self) -> Learnt {
        self.pot.learnt()
    }

    /// Why something that the cook says means nothing here: an addition that never went in, or a name
    /// that nobody knows. `None` where it can be taken.
    #[must_use]
    pub fn refuses(&self, says: &CookSays) -> Option<NotUnderstood> {
        self.pot.refuses(says)
    }

    /// The balance with its history.
    #[must_use]
    pub const fn book(&self) -> &Book {
        self.pot.book()
    }

    /// Ends every second before `until`.
    fn catch_up(&mut self, until: i64, actions: &mut Actions) {
        if until - self.second > LONGEST_S {
            self.second = until - LONGEST_S;
        }
        if until - self.second > ASLEEP_S {
            self.pot.excuse_sensors(until as f64);
        }
        while self.second < until {
            self.second += 1;
            self.pot.end_second(self.second as f64, actions);
        }
    }

    fn show(&mut self, began: Moment, since_ms: i64, actions: &mut Actions) {
        if since_ms < self.next_show_ms {
            return;
        }
        let due_ms = since_ms - since_ms % self.show_every_ms;
        self.next_show_ms = due_ms + self.show_every_ms;
        actions.push(Action::Show(Box::new(self.pot.snapshot(began.plus_ms(due_ms)))));
    }
}
