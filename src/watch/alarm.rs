//! Alerts: raised and cleared, without flapping.
//!
//! After IEC 62682 / ISA-18.2 (from memory): a condition must hold for its *on-delay* before the
//! alert is raised and be gone for its *off-delay* before it is cleared, and its limits have a band
//! between them. An unknown condition changes nothing: what cannot be seen neither raises nor
//! clears.

use super::action::Alarm;

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
        Alarm::ProbeFault | Alarm::ScaleFault => (0.0, 0.0),
    };
    Delays { on_s, off_s }
}

/// One alert's state.
#[derive(Debug, Clone, Copy, Default)]
struct Latch {
    raised: bool,
    held_s: f64,
}

/// All alerts of one pot.
#[derive(Debug, Clone, Default)]
pub struct Alarms {
    latches: [Latch; Alarm::ALL.len()],
}

impl Alarms {
    /// One second of a condition, `None` where it is not known. Returns the new state where it
    /// changed.
    pub fn second(&mut self, alarm: Alarm, condition: Option<bool>) -> Option<bool> {
        let latch = &mut self.latches[alarm as usize];
        let Some(condition) = condition else { return None };
        if condition == latch.raised {
            latch.held_s = 0.0;
            return None;
        }
        latch.held_s += 1.0;
        let delays = delays(alarm);
        let needed_s = if condition { delays.on_s } else { delays.off_s };
        if latch.held_s <= needed_s {
            return None;
        }
        *latch = Latch { raised: condition, held_s: 0.0 };
        Some(condition)
    }

    #[must_use]
    pub fn is_raised(&self, alarm: Alarm) -> bool {
        self.latches[alarm as usize].raised
    }

    /// The alerts that are raised.
    #[must_use]
    pub fn raised(&self) -> Vec<Alarm> {
        Alarm::ALL.into_iter().filter(|alarm| self.is_raised(*alarm)).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_alert_does_not_flap_on_a_condition_that_does() {
        let mut alarms = Alarms::default();
        let changes = (0..600)
            .filter(|i| alarms.second(Alarm::TargetNear, Some(i % 20 < 10)).is_some())
            .count();
        assert_eq!(changes, 0);
    }

    #[test]
    fn what_cannot_be_seen_neither_raises_nor_clears() {
        let mut alarms = Alarms::default();
        let raised = (0..10).find_map(|_| alarms.second(Alarm::StirDue, Some(true)));
        assert_eq!(raised, Some(true));
        assert!(alarms.is_raised(Alarm::StirDue));
        assert!((0..600).all(|_| alarms.second(Alarm::StirDue, None).is_none()));
        assert!(alarms.is_raised(Alarm::StirDue));
    }
}
