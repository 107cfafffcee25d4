//! Heat into the pot.
//!
//! ```text
//! Q = m c dT/dt + r h_fg + L,    L = U A_w (T − T_room)
//! ```
//!
//! with m the contents, kg; c their heat capacity, J/kg K (Choi–Okos, by composition); r the
//! evaporation, kg/s; h_fg latent heat, J/kg; L what the wetted wall and rim lose, W. Below the boil
//! Q follows from the warming; at the open boil from what leaves; under a lid at the boil most steam
//! comes back, so Q is the last one known, changed only as the leak past the lid changes.
//!
//! How much leaves past a lid nobody can say beforehand: a tight lid that sheds its heat returns most
//! of the steam, one that rattles returns next to none. The prior is 0.20 ± 0.04 of the open rate (five
//! lidded recordings of three pots by others show 0.18 to 0.24; twice their spread is allowed for); a
//! slope that contradicts it within the first quarter of an hour is the lid's, later the flame's: then
//! Q − L goes as the leak does, once that is known to a quarter again. What a lid let past when it
//! was lifted is what it lets past when it is put back, but for how it sits.
//!
//! Assumptions: U = 17 ± 6 W/m² K of wetted wall and surface (free convection and radiation of bare
//! steel give 11, from memory; the dry wall above and the rim are a fin to it; an electric pot of
//! about 0.1 m² was measured to lose 33 to 100 W at 86 °C); room 25 °C. L is some 20 % of Q, so Q is
//! known to about 8 %. What Q − L is needs no U: that is what boils water away.

use crate::batch::composition::Composition;
use crate::physics::food::Proximate;
use crate::physics::water;

const U_W_M2_K: f64 = 17.0;
/// Doubt about U, and so about L, as a share of it.
pub const LOSS_DOUBT: f64 = 0.35;
const ROOM_C: f64 = 25.0;
/// Share of the vapour that leaves past a lid, before this pot has shown its own.
pub const LEAK: f64 = 0.20;
/// Doubt about [`LEAK`], as a share of itself.
pub const LEAK_DOUBT: f64 = 0.20;
/// A lid that was lifted and put back sits a little otherwise: doubt about its leak, as a share.
const RESEATED: f64 = 0.15;
/// A lid's leak is learnt for this long; then a new rate is the flame's doing, s.
pub const LEAK_LEARNT_S: f64 = 900.0;
/// A leak is known when its standard deviation is below this share of it.
const LEAK_KNOWN: f64 = 0.25;
/// Doubt about Q from warming, as a share of itself.
const DOUBT: f64 = 0.08;
/// Time over which Q is smoothed, s.
const SMOOTH_S: f64 = 45.0;

/// What a second of the pot was, as far as heat goes.
#[derive(Debug, Clone, Copy)]
pub struct State {
    pub contents_kg: f64,
    pub composition: Composition,
    pub pot_c: f64,
    /// dT/dt, K/s, where it is known.
    pub slope_k_s: Option<f64>,
    pub rate_kg_s: f64,
    pub rate_sd_kg_s: f64,
    pub boiling: bool,
    pub lid_on: bool,
    /// Boiling point of the contents, °C.
    pub boil_c: f64,
    /// This near it a slope that flattens says that the boil begins, not that the flame is down, K.
    pub near_boil_k: f64,
}

/// Q with its doubt.
#[derive(Debug, Clone)]
pub struct Heat {
    area_m2: f64,
    diameter_m: f64,
    watts: Option<f64>,
    /// Leak, kg/s, and net heat, W, before a flame may have been turned under the lid.
    before: Option<(f64, f64)>,
    /// Share of the open rate that leaves past this lid, and the doubt about it as a share of itself.
    leak: (f64, f64),
}

impl Heat {
    #[must_use]
    pub const fn new(area_m2: f64, diameter_m: f64) -> Self {
        Self { area_m2, diameter_m, watts: None, before: None, leak: (LEAK, LEAK_DOUBT) }
    }

    /// Heat into the contents, W.
    #[must_use]
    pub const fn watts(&self) -> Option<f64> {
        self.watts
    }

    /// Follows a second of the pot.
    pub fn second(&mut self, state: &State) {
        if state.boiling && state.lid_on {
            return self.follow_leak(state);
        }
        self.before = None;
        let Some(now_w) = self.now_w(state, state.slope_k_s) else { return };
        let watts = self.watts.get_or_insert(now_w.max(0.0));
        *watts += ((now_w - *watts) / SMOOTH_S).max(-*watts);
    }

    /// The flame is off.
    pub const fn off(&mut self) {
        self.watts = Some(0.0);
    }

    /// Heat by this second's balance alone, W; `None` where the boil hides it.
    #[must_use]
    pub fn now_w(&self, state: &State, slope_k_s: Option<f64>) -> Option<f64> {
        let warming_w = if state.boiling {
            0.0
        } else {
            let slope = slope_k_s?;
            let begins = state.pot_c > state.boil_c - state.near_boil_k && slope > -3e-4;
            if begins {
                return None;
            }
            state.contents_kg * heat_capacity(state) * slope
        };
        Some(warming_w + state.rate_kg_s * latent(state.pot_c) + self.loss_w(state))
    }

    /// The flame may have been turned under a lid: the leak was `from_kg_s` until now.
    pub fn may_have_turned(&mut self, from_kg_s: f64, state: &State) {
        let loss_w = self.loss_w(state);
        if let (None, Some(watts)) = (self.before, self.watts) {
            self.before = Some((from_kg_s.max(1e-6), (watts - loss_w).max(0.0)));
        }
    }

    /// Under a lid the net heat goes as the leak does, once that is known again.
    fn follow_leak(&mut self, state: &State) {
        // More cannot leave than the heat makes: a lid returns steam, it makes none.
        let surely_kg_s = (state.rate_kg_s - 2.0 * state.rate_sd_kg_s).max(0.0);
        let least_w = self.loss_w(state) + surely_kg_s * latent(state.pot_c);
        self.watts = self.watts.map(|watts| watts.max(least_w));
        let Some((from_kg_s, net_w)) = self.before else { return };
        if state.rate_sd_kg_s < LEAK_KNOWN * state.rate_kg_s {
            let by = (state.rate_kg_s / from_kg_s).clamp(0.2, 5.0);
            self.watts = Some(self.loss_w(state) + net_w * by);
        }
    }

    /// The lid comes off a boiling pot: what left past it is known now, for when it is put back.
    pub fn learn_leak(&mut self, state: &State) {
        let Some(open_kg_s) = self.open_rate(state).filter(|open| *open > 1e-5) else { return };
        let doubt = (state.rate_sd_kg_s / state.rate_kg_s.max(1e-7)).hypot(RESEATED);
        if doubt < LEAK_DOUBT {
            self.leak = ((state.rate_kg_s / open_kg_s).clamp(0.02, 1.0), doubt);
        }
    }

    fn open_rate(&self, state: &State) -> Option<f64> {
        Some((self.watts? - self.loss_w(state)).max(0.0) / latent(state.pot_c))
    }

    /// Evaporation that this heat makes at the boil, kg/s, and its standard deviation.
    #[must_use]
    pub fn boil_rate(&self, state: &State) -> Option<(f64, f64)> {
        let open = self.open_rate(state)?;
        let (share, doubt) = if state.lid_on { self.leak } else { (1.0, DOUBT * 1.5) };
        let rate = share * open;
        Some((rate, (doubt * rate).max(2e-5)))
    }

    /// What the wall loses, W.
    #[must_use]
    pub fn loss_w(&self, state: &State) -> f64 {
        let depth_m = state.contents_kg / 1000.0 / self.area_m2;
        let wetted_m2 = self.area_m2 + std::f64::consts::PI * self.diameter_m * depth_m;
        U_W_M2_K * wetted_m2 * (state.pot_c - ROOM_C).max(0.0)
    }

    /// Seconds until the pot boils, where it is warming.
    #[must_use]
    pub fn boil_in_s(&self, state: &State, boil_c: f64) -> Option<f64> {
        let slope = state.slope_k_s.filter(|s| *s > 2e-4)?;
        Some(((boil_c - state.pot_c) / slope).max(0.0))
    }
}

/// Heat capacity of the contents, J/kg K.
#[must_use]
pub fn heat_capacity(state: &State) -> f64 {
    let c = &state.composition;
    Proximate::from_balance(c.water(), c.solids(), c.fat(), c.salt())
        .and_then(|food| food.heat_capacity_j_kg_k(state.pot_c))
        .unwrap_or(3900.0)
}

/// Latent heat at `c` °C, J/kg.
fn latent(c: f64) -> f64 {
    water::latent_heat_j_kg(c).unwrap_or(2.26e6)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn state(boiling: bool, lid_on: bool) -> State {
        let composition = Composition::new(0.89, 0.076, 0.03, 0.004).unwrap();
        State {
            contents_kg: 23.0,
            composition,
            pot_c: 99.0,
            slope_k_s: Some(0.0),
            rate_kg_s: 3.0 / 3600.0,
            rate_sd_kg_s: 0.06 / 3600.0,
            boiling,
            lid_on,
            boil_c: 99.5,
            near_boil_k: 1.5,
        }
    }

    #[test]
    fn what_leaves_an_open_boil_is_the_heat_less_the_loss() {
        let mut heat = Heat::new(0.1257, 0.4);
        for _ in 0..600 {
            heat.second(&state(true, false));
        }
        let (rate, _) = heat.boil_rate(&state(true, false)).unwrap();
        assert!((rate * 3600.0 - 3.0).abs() < 0.01);
        assert!(heat.watts().unwrap() > 1880.0);
    }

    #[test]
    fn a_slope_that_broke_under_a_lid_and_went_back_leaves_the_heat_as_it_was() {
        let mut heat = Heat::new(0.1257, 0.4);
        heat.second(&state(true, false));
        let (lidded, before_w) = (state(true, true), heat.watts().unwrap());
        let leak = |kg_h: f64, sd: f64| State {
            rate_kg_s: kg_h / 3600.0,
            rate_sd_kg_s: sd / 3600.0,
            ..lidded
        };
        heat.may_have_turned(0.4 / 3600.0, &lidded);
        heat.second(&leak(1.5, 0.7));
        assert_eq!(heat.watts(), Some(before_w));
        heat.second(&leak(0.4, 0.05));
        assert!((heat.watts().unwrap() - before_w).abs() < 1e-6);
        heat.second(&leak(0.8, 0.1));
        assert!(heat.watts().unwrap() > 1.6 * before_w);
    }

    #[test]
    fn a_lid_that_was_lifted_leaks_as_before_when_it_is_put_back() {
        let mut heat = Heat::new(0.1257, 0.4);
        heat.second(&state(true, false));
        let lidded = state(true, true);
        let (unknown, _) = heat.boil_rate(&lidded).unwrap();
        assert!((unknown - LEAK * 3.0 / 3600.0).abs() < 1e-6);
        let rate_kg_s = 0.36 / 3600.0;
        heat.learn_leak(&State { rate_kg_s, rate_sd_kg_s: 0.5 * rate_kg_s, ..lidded });
        assert!((heat.boil_rate(&lidded).unwrap().0 - unknown).abs() < 1e-9);
        heat.learn_leak(&State { rate_kg_s, rate_sd_kg_s: 0.1 * rate_kg_s, ..lidded });
        assert!((heat.boil_rate(&lidded).unwrap().0 - rate_kg_s).abs() < 1e-7);
    }

    #[test]
    fn under_a_lid_the_heat_last_known_stands() {
        let mut heat = Heat::new(0.1257, 0.4);
        heat.second(&state(true, false));
        let before = heat.watts();
        heat.second(&State { rate_kg_s: 0.4 / 3600.0, ..state(true, true) });
        assert_eq!(heat.watts(), before);
    }
}
