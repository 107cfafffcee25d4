//! What each alert is for: its cause, what the cook can do, how urgent that is.
//!
//! After IEC 62682 / ISA-18.2 (from memory): an alert without something to do is no alert, and its
//! priority follows from how bad it is to do nothing and from how long there is to do it. The times
//! are judgement, no source; they are the time in which the remedy still helps.

use super::action::{Alarm, Notice};

/// How urgent an alert is. The words are those of IEC 62682.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Priority {
    /// Good to know: nothing is lost where it is missed.
    Low,
    /// The batch suffers where nobody comes.
    Medium,
    /// Danger: to a hand, to the kitchen, to those who eat.
    High,
}

impl Priority {
    pub const ALL: [Self; 3] = [Self::Low, Self::Medium, Self::High];

    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Low => "low",
            Self::Medium => "medium",
            Self::High => "high",
        }
    }

    /// The longest that an alert of this priority can be silenced at once, s.
    #[must_use]
    pub const fn longest_shelf_s(self) -> f64 {
        match self {
            Self::Low => 7200.0,
            Self::Medium => 1800.0,
            Self::High => 300.0,
        }
    }
}

/// Why an alert is there at all.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Urgency {
    pub priority: Priority,
    /// Time in which the cook's answer still helps, s.
    pub act_within_s: f64,
    pub cause: &'static str,
    pub action: &'static str,
}

/// The table of alerts.
#[must_use]
pub const fn of(alarm: Alarm) -> Urgency {
    use Priority::{High, Low, Medium};
    let (priority, act_within_s, cause, action) = match alarm {
        Alarm::StirDue => {
            (Medium, 300.0, "the bottom was not scraped for long", "stir and scrape the bottom")
        }
        Alarm::Catching => {
            (High, 60.0, "the bottom is likely to be catching", "stir at once, down to the bottom")
        }
        Alarm::TargetNear => {
            (Low, 600.0, "the gravy is nearly as thick as it should be", "taste it, stay with it")
        }
        Alarm::TargetReached => (
            Medium,
            300.0,
            "the gravy is as thick as it should be",
            "taste it, then turn the flame down",
        ),
        Alarm::RunningDry => {
            (High, 600.0, "little water is left", "add water or turn the flame off")
        }
        Alarm::BoilingOver => {
            (High, 60.0, "it boils hard under the lid", "turn the flame down, mind the steam")
        }
        Alarm::GoingCold => (
            High,
            120.0,
            "the pot loses heat with nobody at it",
            "look at the flame; where gas may be escaping light nothing, turn it off and air the room",
        ),
        Alarm::TooCoolToHold => {
            (High, 900.0, "it is too cool to be held for service", "heat it through")
        }
        Alarm::CoolingTooSlow => (
            High,
            1800.0,
            "it will not be cold in the time that the rule gives",
            "shallower trays, or iced water and a stir",
        ),
        Alarm::ProbeFault => {
            (Medium, 600.0, "the probe cannot be read", "look at the probe and its plug")
        }
        Alarm::ScaleFault => {
            (Medium, 600.0, "the scale cannot be read", "look at the platform and its cable")
        }
    };
    Urgency { priority, act_within_s, cause, action }
}

/// The alerts that say all that this one says, and more: while one of them stands this one does not.
#[must_use]
pub const fn said_by(alarm: Alarm) -> &'static [Alarm] {
    match alarm {
        Alarm::StirDue => &[Alarm::Catching],
        Alarm::TargetNear => &[Alarm::TargetReached],
        _ => &[],
    }
}

impl Notice {
    #[must_use]
    pub const fn priority(&self) -> Priority {
        of(self.alarm).priority
    }

    /// Time in which the cook's answer still helps, s.
    #[must_use]
    pub const fn act_within_s(&self) -> f64 {
        of(self.alarm).act_within_s
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_alert_has_a_cause_something_to_do_and_a_time_for_it() {
        for alarm in Alarm::ALL {
            let urgency = of(alarm);
            assert!(!urgency.cause.is_empty() && !urgency.action.is_empty(), "{alarm:?}");
            assert!(urgency.act_within_s >= 60.0, "{alarm:?}");
        }
    }

    #[test]
    fn what_may_hurt_someone_is_of_high_priority() {
        for alarm in [Alarm::BoilingOver, Alarm::GoingCold, Alarm::RunningDry, Alarm::TooCoolToHold]
        {
            assert_eq!(of(alarm).priority, Priority::High);
        }
    }

    #[test]
    fn danger_cannot_be_silenced_for_longer_than_anything_else() {
        let longest: Vec<f64> = Priority::ALL.into_iter().map(Priority::longest_shelf_s).collect();
        assert!(longest.windows(2).all(|pair| pair[0] > pair[1]));
    }

    #[test]
    fn what_says_more_is_at_least_as_urgent() {
        for alarm in Alarm::ALL {
            assert!(said_by(alarm).iter().all(|more| of(*more).priority >= of(alarm).priority));
        }
    }

    /// Judged from the last to the first, what says more comes before what it takes the place of.
    #[test]
    fn what_says_more_stands_further_down_the_list() {
        for alarm in Alarm::ALL {
            assert!(said_by(alarm).iter().all(|more| *more as usize > alarm as usize));
        }
    }
}
