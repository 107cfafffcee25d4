//! Holding through service and cooling for the store, against the kitchen's rules.

use super::action::Alarm;
use super::cooling::{Cooling, FRIDGE_C};
use super::hold::{Holding, PAUSE_S, Standing};
use super::judge::Pot;
use super::setting::Learnt;

/// Heat gone for this long while the pot cools is a flame that is off for good, s.
const OFF_AFTER_S: f64 = 600.0;
/// A slope that says that the flame is on again, K/s.
const WARMS_K_S: f64 = 3e-3;
/// After blending the cook lights the flame again within this time, s.
const BLENDED_S: f64 = 1200.0;
/// From the boil to where it is held a gravy falls for this long, s.
const TURNED_DOWN_S: f64 = 2700.0;
/// So long before it is too cool to hold the cook is told that it is going cold, s.
const TOO_COOL_IN_S: f64 = 1200.0;

impl Pot {
    pub(super) const fn learnt(&self) -> Learnt {
        self.setting.learnt
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
        let hot = pot_c.is_some_and(|pot_c| pot_c >= self.setting.rules.hold.limit_c);
        if self.flame_off_s.is_some() {
            return self.cooling.step(at, pot_c);
        }
        if hot {
            // Heated through again: how it cools from now on counts anew.
            self.cooling = Cooling::new(self.setting.rules.cool, FRIDGE_C);
        }
        if let Some(holding) = &mut self.holding {
            self.hold_standing = holding.step(at, pot_c);
        }
    }

    fn notice_flame(&mut self) {
        let warms = self.warmth.short_slope_k_s().is_some_and(|slope| slope > WARMS_K_S);
        let cold = self.alarms.is_raised(Alarm::GoingCold);
        self.cold_s = if cold { self.cold_s + 1.0 } else { 0.0 };
        if self.cold_s > OFF_AFTER_S && self.is_done() {
            self.flame_off(self.now_s - OFF_AFTER_S);
        }
        let said_s = self.flame_off_s.unwrap_or(self.now_s);
        if warms && self.now_s - said_s > 120.0 && self.now_s - self.dilution_s > 300.0 {
            self.flame_off_s = None;
        }
    }

    /// The gravy was right or was served, or nobody said what it is to become: from here on it is held
    /// or stored. What is still cooked (blended with the flame off, say) is neither.
    fn is_cooked(&self) -> bool {
        self.right_s.is_some() || self.served_kg > 0.0 || self.target.is_none()
    }

    /// Cooked, and nobody serves from it any more.
    fn is_done(&self) -> bool {
        let at = self.moment(self.now_s);
        self.is_cooked() && self.service.idle_s(at).is_none_or(|idle_s| idle_s > PAUSE_S)
    }

    /// Whether a pot that falls by `slope_k_s` has no flame, or a low one, because the cook wants it
    /// so: it was blended or poured out just now, or it was right and falls to where it is held.
    pub(super) fn flame_is_meant_low(&self, slope_k_s: f64) -> bool {
        let blended =
            self.now_s - self.blended_s < BLENDED_S || self.set_aside.is_expected(self.now_s);
        let right = self.right_s.is_some_and(|right_s| self.now_s - right_s < TURNED_DOWN_S);
        let limit_c = self.setting.rules.hold.limit_c;
        let above_k = self.warmth.pot_c(self.now_s).map_or(0.0, |pot_c| pot_c - limit_c);
        blended || (right && above_k > -slope_k_s * TOO_COOL_IN_S)
    }

    pub(super) fn too_cool_to_hold(&self) -> Option<bool> {
        if self.holding.is_none() {
            return Some(false);
        }
        match self.hold_standing {
            Standing::Hot => Some(false),
            Standing::Below { .. } | Standing::TooCool => Some(true),
            Standing::NotKnown => None,
        }
    }

    pub(super) fn cooling_too_slow(&self) -> Option<bool> {
        let followed = self.flame_off_s.is_some() && self.is_cooked();
        Some(followed && self.cooling.is_too_slow(self.moment(self.now_s)))
    }

    pub(super) fn hold_words(&self) -> String {
        let limit_c = self.setting.rules.hold.limit_c;
        match self.hold_standing {
            Standing::Below { left_s } => format!(
                "below {limit_c:.0} °C: heat it, or serve it within {:.0} min, once only, or say that \
                 the flame is off and cool it; local rules come first",
                left_s / 60.0
            ),
            _ => format!(
                "below {limit_c:.0} °C and no time for that is left: heat it through again at once \
                 or throw it away; local rules come first"
            ),
        }
    }
}

#[cfg(test)]
mod tests;
