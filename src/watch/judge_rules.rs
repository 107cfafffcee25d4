//! Holding through service and cooling for the store, against the kitchen's rules.

use crate::batch::book::Book;

use super::action::Alarm;
use super::hold::{Holding, Standing};
use super::judge::Pot;
use super::setting::Learnt;

/// Heat gone for this long while the pot cools is a flame that is off for good, s.
const OFF_AFTER_S: f64 = 600.0;
/// A slope that says that the flame is on again, K/s.
const WARMS_K_S: f64 = 3e-3;

impl Pot {
    pub(super) const fn learnt(&self) -> Learnt {
        self.setting.learnt
    }

    pub(super) const fn book(&self) -> &Book {
        &self.book
    }

    /// The gravy is ready or is being served: from now on it is held.
    pub(super) fn begin_holding(&mut self) {
        let rule = self.setting.rules.hold;
        self.holding.get_or_insert_with(|| Holding::new(rule));
    }

    /// The flame is off for good: the gravy is cooled, not held.
    pub(super) fn flame_off(&mut self, since_s: f64) {
        self.flame_off_s.get_or_insert(since_s);
        self.holding = None;
        self.heat.off();
    }

    pub(super) fn follow_rules(&mut self) {
        let at = self.moment(self.now_s);
        let pot_c = self.warmth.pot_c(self.now_s).filter(|_| self.probe.fault().is_none());
        self.notice_flame();
        if self.flame_off_s.is_some() {
            self.cooling.step(at, pot_c);
        } else if let Some(holding) = &mut self.holding {
            self.hold_standing = holding.step(at, pot_c);
        }
    }

    fn notice_flame(&mut self) {
        let warms = self.warmth.short_slope_k_s().is_some_and(|slope| slope > WARMS_K_S);
        let cold = self.alarms.is_raised(Alarm::GoingCold);
        self.cold_s = if cold { self.cold_s + 1.0 } else { 0.0 };
        if self.cold_s > OFF_AFTER_S {
            self.flame_off(self.now_s - OFF_AFTER_S);
        }
        let said_s = self.flame_off_s.unwrap_or(self.now_s);
        if warms && self.now_s - said_s > 120.0 && self.now_s - self.dilution_s > 300.0 {
            self.flame_off_s = None;
        }
    }

    pub(super) fn too_cool_to_hold(&self) -> Option<bool> {
        self.holding.as_ref()?;
        match self.hold_standing {
            Standing::Hot => Some(false),
            Standing::Below { .. } | Standing::TooCool => Some(true),
            Standing::NotKnown => None,
        }
    }

    pub(super) fn cooling_too_slow(&self) -> Option<bool> {
        self.flame_off_s.map(|_| self.cooling.is_too_slow(self.moment(self.now_s)))
    }

    pub(super) fn hold_words(&self) -> String {
        let limit_c = self.setting.rules.hold.limit_c;
        match self.hold_standing {
            Standing::Below { left_s } => format!(
                "below {limit_c:.0} °C: heat it, or serve it within {:.0} min, once only; local \
                 rules come first",
                left_s / 60.0
            ),
            _ => format!(
                "below {limit_c:.0} °C and no time for that is left: heat it through again at once \
                 or throw it away; local rules come first"
            ),
        }
    }
}
