//! Alerts: raised, acknowledged, shelved and cleared, without flapping.
//!
//! ```text
//!            condition for on-delay            acknowledged
//!   clear ───────────────────────────▶ raised ─────────────▶ acknowledged
//!     ▲ ▲                               │  │ shelved              │ shelved
//!     │ └──── no condition, off-delay ──┘  ▼                      ▼
//!     └───────────── no condition ─────── shelved, for a stated time ──▶ raised again
//! ```
//!
//! After IEC 62682 / ISA-18.2 (from memory): a condition must hold for its *on-delay* before the
//! alert is raised and be gone for its *off-delay* before it is cleared, and its limits have a band
//! between them. An unknown condition changes nothing: what cannot be seen neither raises nor
//! clears. A shelf always ends, whatever is known by then: either the alert is raised again or it is
//! cleared. An alert whose whole message another one says does not stand beside it
//! ([`urgency::said_by`]).

use super::action::{Alarm, AlarmState};
use super::urgency::{self, Priority};

/// Nobody means less than this by "not now", s.
const SHORTEST_SHELF_S: f64 = 60.0;

/// Delays of one alert, s.
#[derive(Debug, Clone, Copy)]
pub struct Delays {
    pub on_s: f64,
    pub off_s: f64,
}

/// The delays of each alert.
#[must_use]
pub const fn delays(alarm: Alarm) -> Delays {
    let (on_s, off_s) = match alarm {
        Alarm::StirDue => (5.0, 2.0),
        Alarm::Catching => (2.0, 2.0),
        Alarm::TargetNear => (30.0, 60.0),
        Alarm::TargetReached => (30.0, 120.0),
        Alarm::RunningDry | Alarm::TooCoolToHold | Alarm::CoolingTooSlow => (60.0, 120.0),
        Alarm::BoilingOver => (45.0, 60.0),
        Alarm::GoingCold => (45.0, 60.0),
        // A loose plug comes and goes.
        Alarm::ProbeFault | Alarm::ScaleFault => (2.0, 20.0),
    };
    Delays { on_s, off_s }
}

/// What the cook made of an alert.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
enum Heed {
    #[default]
    None,
    Acknowledged,
    ShelvedUntil(f64),
}

/// An alert that was cleared is not raised again before this, s: a hand at the pot quiets it for a
/// moment without having mended its cause. Who has just stirred is not reminded sooner than the trade
/// stirs a soft pot, every 5 to 10 minutes (common practice, no source); [`Alarm::Catching`] does not
/// wait for that.
const fn return_s(alarm: Alarm) -> f64 {
    match (alarm, urgency::of(alarm).priority) {
        (Alarm::StirDue, _) => 300.0,
        (_, Priority::High) => 15.0,
        (_, Priority::Medium | Priority::Low) => 60.0,
    }
}

/// One alert's state.
#[derive(Debug, Clone, Copy, Default)]
struct Latch {
    stands: bool,
    held_s: f64,
    /// Since it was last cleared; `None` where it never was.
    rested_s: Option<f64>,
    heed: Heed,
}

impl Latch {
    /// One second of a condition; whether it now stands, where that changed.
    fn second(&mut self, condition: bool, delays: Delays) -> Option<bool> {
        if condition == self.stands {
            self.held_s = 0.0;
            return None;
        }
        self.held_s += 1.0;
        if self.held_s <= if condition { delays.on_s } else { delays.off_s } {
            return None;
        }
        self.stands = condition;
        self.held_s = 0.0;
        self.rested_s = (!condition).then_some(0.0);
        Some(condition)
    }

    /// Whether it was cleared less than so long ago.
    fn rests(&mut self, return_s: f64) -> bool {
        self.rested_s = self.rested_s.map(|s| s + 1.0);
        self.rested_s.is_some_and(|s| s <= return_s)
    }

    /// The state to be told at `now_s`, where it changed. On the shelf nothing is told.
    fn told(&mut self, turn: Option<bool>, now_s: f64) -> Option<AlarmState> {
        let tell = match self.heed {
            Heed::ShelvedUntil(until_s) if now_s < until_s => None,
            Heed::ShelvedUntil(_) => Some(self.stands),
            _ => turn,
        };
        let stands = tell?;
        let rested_s = if stands { self.rested_s } else { Some(0.0) };
        *self = Self { held_s: 0.0, heed: Heed::None, rested_s, ..*self };
        Some(if stands { AlarmState::Raised } else { AlarmState::Cleared })
    }
}

/// All alerts of one pot.
#[derive(Debug, Clone, Default)]
pub struct Alarms {
    latches: [Latch; Alarm::ALL.len()],
}

impl Alarms {
    /// The second of a condition that ends at `now_s`, `None` where it is not known. Returns the new
    /// state where it changed.
    pub fn second(
        &mut self,
        alarm: Alarm,
        condition: Option<bool>,
        now_s: f64,
    ) -> Option<AlarmState> {
        let said_already = urgency::said_by(alarm).iter().any(|more| self.is_raised(*more));
        let latch = &mut self.latches[alarm as usize];
        let rests = latch.rests(return_s(alarm));
        let turn = match condition {
            Some(true) if rests => None,
            _ if said_already => latch.second(false, Delays { on_s: 0.0, off_s: 0.0 }),
            Some(condition) => latch.second(condition, delays(alarm)),
            None => None,
        };
        latch.told(turn, now_s)
    }

    /// The cook has seen it. `None` where there is nothing to be seen, or it was seen already.
    pub fn acknowledge(&mut self, alarm: Alarm) -> Option<AlarmState> {
        let latch = &mut self.latches[alarm as usize];
        if !latch.stands || latch.heed != Heed::None {
            return None;
        }
        latch.heed = Heed::Acknowledged;
        Some(AlarmState::Acknowledged)
    }

    /// The cook silences it at `now_s`; returns for how long, s: never for longer than its priority
    /// allows. `None` where it does not stand.
    pub fn shelve(&mut self, alarm: Alarm, for_s: f64, now_s: f64) -> Option<f64> {
        let latch = &mut self.latches[alarm as usize];
        if !latch.stands || for_s.is_nan() {
            return None;
        }
        let longest_s = urgency::of(alarm).priority.longest_shelf_s();
        let for_s = for_s.clamp(SHORTEST_SHELF_S, longest_s);
        latch.heed = Heed::ShelvedUntil(now_s + for_s);
        Some(for_s)
    }

    /// Whether it stands, whatever the cook made of it.
    #[must_use]
    pub fn is_raised(&self, alarm: Alarm) -> bool {
        self.latches[alarm as usize].stands
    }

    /// The alerts that stand and are not shelved.
    #[must_use]
    pub fn raised(&self) -> Vec<Alarm> {
        let shows = |alarm: &Alarm| {
            let latch = &self.latches[*alarm as usize];
            latch.stands && !matches!(latch.heed, Heed::ShelvedUntil(_))
        };
        Alarm::ALL.into_iter().filter(shows).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    const STIR: Alarm = Alarm::StirDue;

    /// Holds a condition for so many seconds from `from_s`; what was told.
    fn hold(
        alarms: &mut Alarms,
        alarm: Alarm,
        condition: Option<bool>,
        from_s: u32,
        for_s: u32,
    ) -> Vec<AlarmState> {
        (from_s..from_s + for_s)
            .filter_map(|t| alarms.second(alarm, condition, f64::from(t)))
            .collect()
    }

    fn raised(alarm: Alarm) -> Alarms {
        let mut alarms = Alarms::default();
        assert_eq!(hold(&mut alarms, alarm, Some(true), 0, 100), [AlarmState::Raised]);
        alarms
    }

    #[test]
    fn an_alert_does_not_flap_on_a_condition_that_does() {
        let mut alarms = Alarms::default();
        let changes = (0..600)
            .filter(|i| {
                alarms.second(Alarm::TargetNear, Some(i % 20 < 10), f64::from(*i)).is_some()
            })
            .count();
        assert_eq!(changes, 0);
    }

    #[test]
    fn a_hand_that_quiets_an_alert_without_mending_it_does_not_make_it_flap() {
        let mut alarms = raised(STIR);
        assert_eq!(hold(&mut alarms, STIR, Some(false), 100, 10), [AlarmState::Cleared]);
        assert!(hold(&mut alarms, STIR, Some(true), 110, 290).is_empty());
        assert_eq!(hold(&mut alarms, STIR, Some(true), 400, 20), [AlarmState::Raised]);
    }

    #[test]
    fn a_catching_pot_waits_for_no_reminders_rest() {
        let mut alarms = raised(STIR);
        assert_eq!(hold(&mut alarms, STIR, Some(false), 100, 10), [AlarmState::Cleared]);
        assert_eq!(hold(&mut alarms, Alarm::Catching, Some(true), 110, 5), [AlarmState::Raised]);
    }

    #[test]
    fn what_cannot_be_seen_neither_raises_nor_clears() {
        let mut alarms = raised(STIR);
        assert!(hold(&mut alarms, STIR, None, 100, 600).is_empty());
        assert!(alarms.is_raised(STIR));
    }

    #[test]
    fn what_was_seen_is_told_once_and_stands_until_its_cause_is_gone() {
        let mut alarms = raised(STIR);
        assert_eq!(alarms.acknowledge(STIR), Some(AlarmState::Acknowledged));
        assert_eq!(alarms.acknowledge(STIR), None);
        assert_eq!(alarms.raised(), [STIR]);
        assert!(hold(&mut alarms, STIR, Some(true), 100, 600).is_empty());
        assert_eq!(hold(&mut alarms, STIR, Some(false), 700, 60), [AlarmState::Cleared]);
        assert_eq!(hold(&mut alarms, STIR, Some(true), 760, 310), [AlarmState::Raised]);
    }

    #[test]
    fn what_does_not_stand_can_be_neither_seen_nor_shelved() {
        let mut alarms = Alarms::default();
        assert_eq!(alarms.acknowledge(STIR), None);
        assert_eq!(alarms.shelve(STIR, 600.0, 0.0), None);
    }

    #[test]
    fn a_shelf_is_silent_and_then_the_alert_is_back() {
        let mut alarms = raised(STIR);
        assert_eq!(alarms.shelve(STIR, 600.0, 100.0), Some(600.0));
        assert!(alarms.raised().is_empty());
        assert!(hold(&mut alarms, STIR, Some(true), 100, 600).is_empty());
        assert_eq!(hold(&mut alarms, STIR, Some(true), 700, 1), [AlarmState::Raised]);
    }

    #[test]
    fn a_shelf_ends_although_nothing_is_known_any_more() {
        let mut alarms = raised(Alarm::BoilingOver);
        assert_eq!(alarms.shelve(Alarm::BoilingOver, f64::INFINITY, 100.0), Some(300.0));
        let told = hold(&mut alarms, Alarm::BoilingOver, None, 100, 1000);
        assert_eq!(told, [AlarmState::Raised]);
    }

    #[test]
    fn what_was_mended_on_the_shelf_is_cleared_at_its_end() {
        let mut alarms = raised(STIR);
        alarms.shelve(STIR, 120.0, 100.0);
        assert!(hold(&mut alarms, STIR, Some(false), 100, 120).is_empty());
        assert_eq!(hold(&mut alarms, STIR, Some(false), 220, 5), [AlarmState::Cleared]);
    }

    #[test]
    fn a_catching_pot_is_one_alert_and_not_two() {
        let mut alarms = raised(STIR);
        assert_eq!(hold(&mut alarms, Alarm::Catching, Some(true), 100, 10), [AlarmState::Raised]);
        assert_eq!(hold(&mut alarms, STIR, Some(true), 110, 60), [AlarmState::Cleared]);
        assert_eq!(alarms.raised(), [Alarm::Catching]);
    }

    /// What may happen to an alert in a second.
    #[derive(Debug, Clone)]
    enum Turn {
        Condition(Option<bool>, u32),
        Acknowledge,
        Shelve(f64),
    }

    fn turn() -> impl Strategy<Value = Turn> {
        let condition = prop_oneof![Just(None), Just(Some(true)), Just(Some(false))];
        prop_oneof![
            6 => (condition, 1_u32..400).prop_map(|(c, s)| Turn::Condition(c, s)),
            1 => Just(Turn::Acknowledge),
            1 => (-10.0..1e5).prop_map(Turn::Shelve),
        ]
    }

    proptest! {
        #[test]
        fn an_alert_is_never_lost_never_told_twice_and_always_comes_off_the_shelf(
            turns in proptest::collection::vec(turn(), 1..60),
            which in 0..Alarm::ALL.len(),
        ) {
            let alarm = Alarm::ALL[which];
            let mut alarms = Alarms::default();
            let mut told = vec![(0.0, AlarmState::Cleared)];
            let mut now_s = 0.0;
            for turn in turns {
                match turn {
                    Turn::Condition(condition, for_s) => for _ in 0..for_s {
                        now_s += 1.0;
                        let news = alarms.second(alarm, condition, now_s);
                        told.extend(news.map(|state| (now_s, state)));
                    },
                    Turn::Acknowledge =>
                        told.extend(alarms.acknowledge(alarm).map(|state| (now_s, state))),
                    Turn::Shelve(for_s) => told.extend(
                        alarms.shelve(alarm, for_s, now_s).map(|_| (now_s, AlarmState::Shelved))),
                }
            }
            for pair in told.windows(2) {
                let ((_, before), (_, after)) = (pair[0], pair[1]);
                prop_assert!(before != after || after == AlarmState::Shelved, "told twice: {told:?}");
                let follows = match after {
                    AlarmState::Acknowledged => before == AlarmState::Raised,
                    AlarmState::Shelved => before != AlarmState::Cleared,
                    AlarmState::Raised => before != AlarmState::Acknowledged,
                    AlarmState::Cleared => true,
                };
                prop_assert!(follows, "{told:?}");
            }
            let delay_s = delays(alarm).off_s;
            let quick = told.windows(2).find(|p| p[0].1 == AlarmState::Raised
                && p[1].1 == AlarmState::Cleared && p[1].0 - p[0].0 <= delay_s);
            prop_assert!(quick.is_none(), "{told:?}");
            let back = told[1..].windows(2).find(|p| p[0].1 == AlarmState::Cleared
                && p[1].0 - p[0].0 <= return_s(alarm));
            prop_assert!(back.is_none(), "{told:?}");
            // Whatever came before: a condition that holds is told, after the longest shelf at most.
            let longest_s = 7200 + delays(alarm).on_s as u32 + 2;
            for _ in 0..longest_s {
                now_s += 1.0;
                let news = alarms.second(alarm, Some(true), now_s);
                told.extend(news.map(|state| (now_s, state)));
            }
            let last = told.last().map(|(_, state)| *state);
            prop_assert!(matches!(last, Some(AlarmState::Raised | AlarmState::Acknowledged)));
        }
    }
}
