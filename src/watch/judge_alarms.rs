//! Which alerts stand, second by second, and what they say.

use super::action::{Action, Actions, Alarm, AlarmState, Notice};
use super::bottom::{self, Bottom};
use super::cooling::WHAT_HELPS;
use super::heat;
use super::judge::Pot;
use super::standing;

/// Time before the target at which the cook is told, s.
const NEAR_S: f64 = 600.0;
/// Time before dryness at which the cook is told, s.
const DRY_S: f64 = 1800.0;
/// Total solids at which a gravy is a paste that burns whatever one does.
const DRY_SOLIDS: f64 = 0.5;
/// Without a hand on the pot for this long nobody is there, s.
const ALONE_S: f64 = 150.0;
/// A cook who had a hand on the pot so lately is not reminded to stir it, s: judgement, no source.
const AT_HAND_S: f64 = 60.0;
/// Shaking for this long is a stir under way, s.
const STIRRING_S: f64 = 5.0;
/// A slope that no flame makes, K/s: 0.09 K a minute downwards.
const FALLING_K_S: f64 = -1.5e-3;
/// Latent heat near the boil, J/kg (IAPWS-IF97 at 97 °C).
const LATENT_J_KG: f64 = 2.264e6;
/// Flux under a lid that may lift it, W/m²: judgement, no source.
const HARD_FLUX: f64 = 28_000.0;

impl Pot {
    pub(super) fn judge_alarms(&mut self, actions: &mut Actions) {
        // The alert that says more is judged before the one that it takes the place of.
        for alarm in Alarm::ALL.into_iter().rev() {
            let condition = self.condition(alarm);
            if let Some(state) = self.alarms.second(alarm, condition, self.now_s) {
                self.tell(alarm, state, actions);
            }
        }
    }

    fn tell(&self, alarm: Alarm, state: AlarmState, actions: &mut Actions) {
        let why = match state {
            AlarmState::Cleared => String::new(),
            _ => self.why(alarm),
        };
        let at = self.moment(self.now_s);
        actions.push(Action::Tell(Notice { at, alarm, state, why }));
    }

    /// The cook has seen an alert.
    pub(super) fn acknowledge(&mut self, alarm: Alarm, actions: &mut Actions) {
        if let Some(state) = self.alarms.acknowledge(alarm) {
            self.tell(alarm, state, actions);
        }
    }

    /// The cook silences an alert for a time.
    pub(super) fn shelve(&mut self, alarm: Alarm, for_s: f64, actions: &mut Actions) {
        if let Some(for_s) = self.alarms.shelve(alarm, for_s, self.now_s) {
            let why = format!("silent for {:.0} min; {}", for_s / 60.0, self.why(alarm));
            let (at, state) = (self.moment(self.now_s), AlarmState::Shelved);
            actions.push(Action::Tell(Notice { at, alarm, state, why }));
        }
    }

    fn condition(&mut self, alarm: Alarm) -> Option<bool> {
        match alarm {
            // The cook is at it.
            Alarm::StirDue | Alarm::Catching if self.settle.shaken_s() > STIRRING_S => Some(false),
            Alarm::StirDue => self.stir_due(),
            Alarm::Catching => Some(self.bottom.as_ref()?.is_catching()),
            Alarm::TargetNear => self.target_near(),
            Alarm::TargetReached => self.target_reached(),
            Alarm::RunningDry => self.running_dry(),
            Alarm::BoilingOver => self.boiling_over(),
            Alarm::GoingCold => self.going_cold(),
            Alarm::TooCoolToHold => self.too_cool_to_hold(),
            Alarm::CoolingTooSlow => self.cooling_too_slow(),
            Alarm::ProbeFault => Some(self.probe.fault().is_some()),
            Alarm::ScaleFault => Some(self.scale.fault().is_some()),
        }
    }

    /// The bottom asks for a stir, and nobody is at it or about to come.
    fn stir_due(&self) -> Option<bool> {
        let bottom = self.bottom.as_ref()?;
        if !bottom.is_due() || self.alarms.is_raised(Alarm::StirDue) {
            return Some(bottom.is_due());
        }
        let flux = self.heat.watts().map(|watts| watts / self.setting.pot.area_m2());
        // Whoever lifts the lid or pours something in has the spoon next.
        let at_hand = self.now_s - self.handled_s < AT_HAND_S;
        // By the trade's own clock it is due whatever the habit.
        let by_dose = bottom.index() > bottom::DUE;
        let comes = by_dose && self.habit.comes(self.now_s, flux, bottom.index());
        Some(!at_hand && !comes)
    }

    /// Ladled out in service: what is right now or soon is no news any more.
    fn is_in_service(&self) -> bool {
        let at = self.moment(self.now_s);
        self.is_served() || (self.service.is_under_way(at) && !self.warmth.is_boiling())
    }

    fn to_target_s(&self) -> Option<f64> {
        let contents = self.contents.as_ref()?;
        let rate = contents.rate_kg_s();
        (rate > 1e-6).then_some((contents.contents_kg() - self.target_kg()?) / rate)
    }

    fn target_near(&self) -> Option<bool> {
        let to_target_s = self.to_target_s()?;
        let band_s = if self.alarms.is_raised(Alarm::TargetNear) { 1.3 * NEAR_S } else { NEAR_S };
        let near = to_target_s > 0.0 && to_target_s < band_s;
        Some(near && self.was_above && !self.waits_for_additions() && !self.is_in_service())
    }

    fn target_reached(&mut self) -> Option<bool> {
        let (contents_kg, target_kg) = (self.contents.as_ref()?.contents_kg(), self.target_kg()?);
        self.was_above |= contents_kg > target_kg * 1.003 && !self.waits_for_additions();
        let band = if self.alarms.is_raised(Alarm::TargetReached) { 1.01 } else { 1.0 };
        let reached = contents_kg <= target_kg * band && !self.waits_for_additions();
        if self.alarms.is_raised(Alarm::TargetReached) {
            self.right_s.get_or_insert(self.now_s);
            self.begin_holding();
        }
        Some(reached && !self.is_in_service())
    }

    /// Before the water left is as much as the dry matter.
    fn running_dry(&self) -> Option<bool> {
        let contents = self.contents.as_ref()?;
        let dry_kg = self.ledger().dry_kg() / DRY_SOLIDS;
        let to_go_kg = contents.contents_kg() - dry_kg;
        let rate = contents.rate_kg_s();
        Some(to_go_kg <= 0.0 || to_go_kg / rate.max(1e-9) < DRY_S)
    }

    fn boiling_over(&self) -> Option<bool> {
        let flux = self.heat.watts()? / self.setting.pot.area_m2();
        Some(self.warmth.is_boiling() && self.lid_on && flux > HARD_FLUX)
    }

    /// The heat is gone while nobody has a hand on the pot.
    fn going_cold(&mut self) -> Option<bool> {
        if self.probe.fault().is_some() || self.flame_off_s.is_some() {
            return Some(false).filter(|_| self.flame_off_s.is_some());
        }
        let (watts, state) = (self.heat.watts()?, self.heat_state()?);
        let slope = self.warmth.short_slope_k_s()?;
        let falling = slope < FALLING_K_S;
        let warming_w = state.contents_kg * heat::heat_capacity(&state) * slope;
        let left_w = warming_w + state.rate_kg_s * LATENT_J_KG + self.heat.loss_w(&state);
        let meant = self.flame_is_meant_low(slope);
        if !falling || meant {
            let gain = if watts > self.flame_before_w { 0.02 } else { 0.003 };
            self.flame_before_w += gain * (watts - self.flame_before_w);
        }
        if left_w > 0.5 * self.flame_before_w {
            self.cold_told = false;
        }
        let raised = self.alarms.is_raised(Alarm::GoingCold);
        let nothing_w = if raised { 0.35 } else { 0.15 } * self.flame_before_w;
        // So much may seem to be left of no flame at all.
        let unsure_w = heat::LOSS_DOUBT * self.heat.loss_w(&state);
        let gone = falling && !meant && left_w < nothing_w + unsure_w;
        let chilled = self.chill.is_some_and(|chill| chill.explains(self.now_s, state.pot_c));
        let alone = self.now_s - self.handled_s > ALONE_S && !self.settle.is_disturbed();
        self.cold_told |= raised;
        Some(gone && state.pot_c > 60.0 && (raised || (alone && !chilled && !self.cold_told)))
    }

    fn why(&self, alarm: Alarm) -> String {
        let since_s = self.bottom.as_ref().map_or(0.0, Bottom::since_s);
        match alarm {
            Alarm::StirDue => standing::stir_due(since_s),
            Alarm::Catching => standing::catching(since_s),
            Alarm::TargetNear => standing::target_near(self.to_target_s().unwrap_or(0.0)),
            Alarm::TargetReached => {
                "the gravy is right: taste it, then turn the flame down".to_owned()
            }
            Alarm::RunningDry => "little water is left: add water or turn the flame off".to_owned(),
            Alarm::BoilingOver => {
                "boiling hard under the lid, it may lift: turn the flame down, mind the steam"
                    .to_owned()
            }
            Alarm::GoingCold => {
                "the pot is losing heat: look whether the flame is out; if gas may \
                be escaping, do not light it, turn the gas off and air the room"
                    .to_owned()
            }
            Alarm::TooCoolToHold => self.hold_words(),
            Alarm::CoolingTooSlow => format!("cooling too slowly: {WHAT_HELPS}"),
            Alarm::ProbeFault => fault_words("the probe", self.probe.fault().map(|f| f.words())),
            Alarm::ScaleFault => fault_words("the scale", self.scale.fault().map(|f| f.words())),
        }
    }
}

fn fault_words(sensor: &str, why: Option<&str>) -> String {
    format!("{sensor} {}", why.unwrap_or("failed"))
}
