//! What the bottom of the pot is told of the rest of it.

use super::bottom::{self, Bottom};
use super::judge::Pot;

/// How long a base probe's reading is used, s.
const KEEP_S: f64 = 30.0;
/// The lid off for so long, the loss shows what the flame does, s.
const SEEN_S: f64 = 300.0;

impl Pot {
    pub(super) fn follow_bottom(&mut self, t_s: f64) {
        let pot_c = self.warmth.pot_c(t_s);
        if self.bottom.is_none() && (pot_c.is_some() || t_s > 60.0) {
            self.bottom = Some(self.begin_bottom(pot_c));
        }
        let state = self.bottom_state(t_s);
        if let Some(bottom) = &mut self.bottom {
            bottom.second(&state);
        }
    }

    fn begin_bottom(&self, pot_c: Option<f64>) -> Bottom {
        let bottom = Bottom::new(pot_c, self.setting.learnt.bottom_log_scale);
        let plan = &self.setting.plan;
        let boiled_down = plan.target.is_some() && plan.additions.is_empty();
        let cooked = pot_c.is_some_and(|c| c > bottom::COOKED_C);
        if cooked && boiled_down { bottom.begun_blended() } else { bottom }
    }

    pub(super) fn bottom_state(&self, t_s: f64) -> bottom::State {
        let area_m2 = self.setting.pot.area_m2();
        let lately = t_s - self.leak_since_s < SEEN_S;
        bottom::State {
            // With the probe gone the worst is assumed: that the pot boils on.
            pot_c: self.warmth.pot_c(t_s).unwrap_or_else(|| self.warmth.boil_c()),
            flux: self.heat.watts().map(|w| w / area_m2),
            total_solids: self.ledger().total_solids().unwrap_or(0.1),
            base_c: self.base.filter(|(then_s, _)| t_s - then_s < KEEP_S).map(|(_, c)| c),
            hidden: self.warmth.is_boiling() && (self.lid_on || lately),
        }
    }
}
