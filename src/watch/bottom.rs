//! Will the bottom catch?
//!
//! **Physics.** Soft solids settle into a still layer on the base. Heat has to pass it by conduction,
//! so the metal under it is hotter than the boil by q δ/k, and what lies there browns with the
//! *dose*
//!
//! ```text
//! T_w = T + ΔT_b + q δ/k             wall under the layer, °C
//! δ   = δ_∞ s g (1 − e^(−x))         layer after it was last scraped, m
//! x   = ∫ q/(q_ref τ) dt             steam that formed at the base since then
//! D   = ∫ 10^((T_w − 120)/z) dt      catch dose, s at 120 °C
//! ```
//!
//! q heat flux through the base, W/m²; k = 0.55 W/m K, a wet purée (Choi–Okos); z = 25 K, from the
//! activation energy of browning onions, 121–139 kJ/mol (Rapusas & Driscoll 1995); ΔT_b = 5 K over a
//! boiling film (Rohsenow 1952, 16 kW/m²). The steam that forms at the base leaves there what was
//! dissolved and stirred up in it, so the layer grows with the heat that went through, not with time
//! alone. A base probe shows what the layer adds: its rise over what it read after the last stir,
//! when the metal was clean, is q δ/k, whatever the probe's own offset and the metal between.
//!
//! **Assumption.** How the layer grows nobody has measured: τ = 150 s (judgement), and δ_∞ such that a
//! raw pot, brought to the boil in 25 minutes and never stirred, stands for 49 minutes, the middle of
//! the trade's 40 to 60 (common practice, no source; held to it by a test): 1.25 mm, half of it once
//! the pot is blended, for want of lumps. s is how soft the vegetables are, 0 to 1; g how thick, TS
//! over 0.11. A stir takes nine tenths of the dose away, the blender all of it. Softening is first
//! order, 0.03 a minute at 98 °C with z = 20 K, so that 60 to 90 minutes make nine tenths (the trade's
//! own times: common practice, no source; a quarter slower than the slowest published carrot, 0.040:
//! `physics::softening`). That a wall must first be some 10 K above the boil to dry (`physics::film`)
//! is left out: the dose below it is small.
//! How soft a pot was before the watching began nobody says. One that starts hot with a target ahead
//! and nothing more to be added is taken for blended: gravy that is boiled down. Any other that starts
//! hot may be anything:
//! the dose is kept for every such beginning and D is their mean, as likely as each is. The cook's own
//! habit then tells: who stirs every 5 to 10 minutes has a soft pot before him, who stirs every 15 to
//! 20 has not (common practice, no source).
//!
//! **The prior.** D is counted in units of D_50, the dose at which a wholly soft pot over 16 kW/m²
//! (2 kW under 0.4 m) has been left [`REFERENCE_S`] s: the middle of the trade's "every 5 to 10
//! minutes", √(5 × 10) = 7.1 (common practice, no source). So the *catch index* D/D_50 is 1 where the
//! bottom is as likely as not to have caught.
//!
//! A stir is *due* at [`DUE`], or when the trade's own clock says so, whichever is first: 15 to 20
//! minutes for a raw pot, 5 to 10 for a soft one, longer over a gentle flame (common practice, no
//! source). The dose rests on a heat that is only partly seen; the clock does not. Pots whose ln D_50
//! spreads by [`PRIOR_SD`] catch below a quarter once in twenty-five.
//!
//! **Learnt.** ln D_50 is shifted by the cook's verdicts for this pot and stove: caught below 1 moves
//! it down, clean above it up, by the posterior mean of a normal prior with standard deviation
//! [`PRIOR_SD`] (how far pots and stoves differ). A stir at a high index of which nobody says anything
//! is half a verdict that it was clean, for this batch only.

use super::base::Base;

const K_LAYER: f64 = 0.55;
const Z_K: f64 = 25.0;
const REFERENCE_C: f64 = 120.0;
const FILM_K: f64 = 5.0;
const LAYER_M: f64 = 1.25e-3;
const LAYER_TAU_S: f64 = 150.0;
const STIR_LEAVES: f64 = 0.1;
const TYPICAL_SOLIDS: f64 = 0.11;
/// The flux and the time of the trade's rule.
pub const REFERENCE_FLUX: f64 = 16_000.0;
pub const REFERENCE_S: f64 = 424.0;
/// Standard deviation of ln D_50 between pots and stoves.
pub const PRIOR_SD: f64 = 0.8;
/// D_50 before anything is learnt, s at 120 °C: the dose of [`REFERENCE_S`] at [`REFERENCE_FLUX`],
/// 98 °C, wholly soft (held to that by a test).
const DOSE_50: f64 = 1092.0;
/// Index at which the cook is asked to stir within the next minutes: about half the time to 1.
pub const DUE: f64 = 0.25;
/// Index at which the pot must be stirred at once: the reminder has stood for long by then, and seven
/// pots in eight would have caught, e^(1.15 σ) with σ = [`PRIOR_SD`]; and the same under a lid at the
/// boil, where a flame turned by 40 % is not seen: σ = 1.3.
const AT_ONCE: (f64, f64) = (2.5, 4.4);
/// Sooner after a stir than this no bottom is told to catch, whatever the flame, unless a probe under
/// it says so, s: the trade stirs every 5 minutes at the most (common practice, no source).
const SOONEST_S: f64 = 180.0;
/// Between these a crust grows: pots differ by [`PRIOR_SD`], and a whole crust grows no more.
const CRUSTS: (f64, f64) = (1.0, 5.0);
/// Beyond this the dose is what it is, °C.
const HOTTEST_C: f64 = 250.0;
/// A stir at a higher index than this tells something by what is not said.
const SILENCE_SAYS: f64 = 0.6;
/// What blending leaves of the layer.
const SMOOTH: f64 = 0.5;
/// The trade's clock: a stir every so often for a raw pot and for a soft one, s.
const CLOCK_S: (f64, f64) = (1050.0, 410.0);
/// The clock runs in a pot hotter than this, °C.
const SIMMER_C: f64 = 85.0;
/// A bottom cooler than this does not catch, °C.
const COOL_C: f64 = 75.0;
/// A pot that starts warmer than this was cooked before, °C.
pub const COOKED_C: f64 = 75.0;
const SOFTEN_98_PER_S: f64 = 0.03 / 60.0;
const SOFTEN_Z_K: f64 = 20.0;
/// Softness that a hot start may have, and how likely each is: nothing is known, so all alike.
const STARTS: [f64; 5] = [0.0, 0.25, 0.5, 0.75, 1.0];
const HOT: [f64; 5] = [0.2; 5];

/// What the bottom stands in this second.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct State {
    pub pot_c: f64,
    /// Heat flux through the base, W/m².
    pub flux: Option<f64>,
    pub total_solids: f64,
    /// Temperature under the base, °C, where it is measured.
    pub base_c: Option<f64>,
    /// Whether a lid hides what the flame does now.
    pub hidden: bool,
}

/// The bottom of one pot.
#[derive(Debug, Clone)]
pub struct Bottom {
    /// D for each of [`STARTS`].
    doses: [f64; 5],
    since_s: f64,
    /// x, how far the layer has grown.
    steamed: f64,
    cooked: f64,
    starts: [f64; 5],
    whole: bool,
    stirs: u32,
    dose_50: f64,
    base: Base,
    /// q δ/k as a base probe shows it, K.
    measured_k: Option<f64>,
    last: Option<State>,
}

impl Bottom {
    /// A pot that starts at `start_c`; `log_scale` is what was learnt of it.
    #[must_use]
    pub fn new(start_c: Option<f64>, log_scale: f64) -> Self {
        let hot = start_c.is_none_or(|c| c > COOKED_C);
        Self {
            doses: [0.0; 5],
            since_s: 0.0,
            steamed: 0.0,
            cooked: 0.0,
            starts: if hot { HOT } else { [1.0, 0.0, 0.0, 0.0, 0.0] },
            whole: true,
            stirs: 0,
            dose_50: DOSE_50 * log_scale.exp(),
            base: Base::default(),
            measured_k: None,
            last: None,
        }
    }

    /// The pot was blended before the watching began.
    #[must_use]
    pub fn begun_blended(mut self) -> Self {
        self.blended();
        self
    }

    /// One second goes by.
    pub fn second(&mut self, state: &State) {
        self.since_s += 1.0;
        let rate = SOFTEN_98_PER_S * 10f64.powf((state.pot_c - 98.0) / SOFTEN_Z_K);
        self.cooked += rate;
        self.steamed += growth_per_s(state);
        let excess_k = state.base_c.map(|base_c| base_c - state.pot_c);
        self.measured_k = self.base.second(self.since_s, excess_k, flux(state));
        for (turn, start) in STARTS.into_iter().enumerate() {
            self.doses[turn] += dose_rate(state, self.layer_k(state, start, self.steamed));
        }
        self.last = Some(*state);
    }

    /// The bottom was scraped. A cook who finds it caught says so: a stir without a word is half a
    /// verdict that it was clean, for this batch.
    pub fn stirred(&mut self) {
        self.learn_habit();
        if self.index() > SILENCE_SAYS {
            let shift = Self::learn(0.0, 0, self.index(), false);
            self.dose_50 *= (0.5 * shift).exp();
        }
        self.doses.iter_mut().for_each(|dose| *dose *= STIR_LEAVES);
        self.since_s = 0.0;
        self.steamed = 0.0;
        self.stirs += 1;
    }

    /// The pot was blended: smooth and scraped.
    pub fn blended(&mut self) {
        self.doses = [0.0; 5];
        self.since_s = 0.0;
        self.steamed = 0.0;
        self.whole = false;
    }

    /// 0 for a bottom just scraped, 1 where it is as likely as not to have caught.
    #[must_use]
    pub fn index(&self) -> f64 {
        self.mean(|turn, _| self.doses[turn]) / self.dose_50
    }

    /// Whether the pot must be stirred at once.
    #[must_use]
    pub fn is_catching(&self) -> bool {
        let credible = self.since_s > SOONEST_S || self.measured_k.is_some();
        let hidden = self.last.is_some_and(|state| state.hidden) && self.measured_k.is_none();
        credible && self.index() > if hidden { AT_ONCE.1 } else { AT_ONCE.0 }
    }

    /// Whether a crust may be growing now, which changes the heat that comes through the base.
    #[must_use]
    pub fn may_be_catching(&self) -> bool {
        (CRUSTS.0..CRUSTS.1).contains(&self.index())
    }

    #[must_use]
    pub const fn since_s(&self) -> f64 {
        self.since_s
    }

    /// How soft the vegetables are, 0 to 1.
    #[must_use]
    pub fn softness(&self) -> f64 {
        if !self.whole {
            return 1.0;
        }
        self.mean(|_, start| self.soft(start))
    }

    /// Softness now of vegetables that began as soft as `start`.
    fn soft(&self, start: f64) -> f64 {
        1.0 - (-self.cooked).exp() * (1.0 - start)
    }

    /// The mean over the beginnings.
    fn mean(&self, of: impl Fn(usize, f64) -> f64) -> f64 {
        let each = self.starts.iter().zip(STARTS).enumerate();
        each.map(|(turn, (p, start))| p * of(turn, start)).sum()
    }

    /// s of a pot that began as soft as `start`, and half of it for a blended pot.
    fn settles(&self, start: f64) -> f64 {
        if self.whole { self.soft(start) } else { SMOOTH }
    }

    /// q δ/k when so much has steamed, K: what the base shows, carried on as the layer grows, or the
    /// model's.
    fn layer_k(&self, state: &State, start: f64, steamed: f64) -> f64 {
        match self.measured_k {
            Some(k) => k * grown(steamed) / grown(self.steamed).max(0.05),
            None => layer_k(state, self.settles(start), steamed),
        }
    }

    /// Whether the cook should stir within the next minutes.
    #[must_use]
    pub fn is_due(&self) -> bool {
        self.index() > DUE || self.clock_s().is_some_and(|left_s| left_s <= 0.0)
    }

    /// Seconds until the cook must stir, as things stand; `None` where nothing catches.
    #[must_use]
    pub fn stir_within_s(&self) -> Option<f64> {
        let clock_s = self.clock_s().map(|left_s| left_s.max(0.0));
        [clock_s, self.dose_due_in_s()].into_iter().flatten().reduce(f64::min)
    }

    /// What is left on the trade's own clock, s; may be negative.
    fn clock_s(&self) -> Option<f64> {
        let state = self.last.filter(|state| state.pot_c > SIMMER_C)?;
        let (raw_s, soft_s) = CLOCK_S;
        let every_s = (raw_s.ln() + self.softness() * (soft_s.ln() - raw_s.ln())).exp();
        let gentle = (REFERENCE_FLUX / flux(&state).max(1.0)).clamp(0.85, 1.6);
        Some(every_s * gentle - self.since_s)
    }

    fn dose_due_in_s(&self) -> Option<f64> {
        let state = self.last?;
        let room = (DUE - self.index()) * self.dose_50;
        let mut gathered = 0.0;
        for step in 0..240 {
            if gathered >= room {
                return Some(f64::from(step) * 30.0);
            }
            let then = self.steamed + (15.0 + 30.0 * f64::from(step)) * growth_per_s(&state);
            let rate = |start| dose_rate(&state, self.layer_k(&state, start, then));
            gathered += 30.0 * self.mean(|_, start| rate(start));
        }
        None
    }

    /// ln D_50's shift after the cook's verdict on the bottom at an index of `index`, given the
    /// shift so far and how many verdicts it rests on.
    #[must_use]
    pub fn learn(log_scale: f64, verdicts: u32, index: f64, caught: bool) -> f64 {
        // A verdict at ln(index) says that this pot's own threshold lies below it (caught) or
        // above: the mean of a normal cut there moves by the inverse Mills ratio (probit model).
        let sd = PRIOR_SD / f64::from(verdicts + 1).sqrt();
        let x = index.max(1e-3).ln() / PRIOR_SD.hypot(0.25);
        let (density, below) = (density(x), cumulative(x));
        let mills =
            if caught { -density / below.max(1e-6) } else { density / (1.0 - below).max(1e-6) };
        (log_scale + sd * sd / PRIOR_SD.hypot(0.25) * mills).clamp(-1.5, 1.5)
    }

    /// What the time since the last stir says about a pot that started hot.
    fn learn_habit(&mut self) {
        if self.stirs == 0 && self.since_s < 600.0 {
            return;
        }
        let gap = self.since_s.max(60.0).ln();
        let soft = STARTS.map(|start| self.soft(start));
        for (p, soft) in self.starts.iter_mut().zip(soft) {
            let usual = CLOCK_S.0.ln() + soft * (CLOCK_S.1.ln() - CLOCK_S.0.ln());
            let z = (gap - usual) / 0.35;
            *p *= (-0.5 * z * z).exp().max(1e-3);
        }
        let all: f64 = self.starts.iter().sum();
        self.starts.iter_mut().for_each(|p| *p /= all);
    }
}

/// Dose gathered in one second under a layer that adds `layer_k`, s at 120 °C.
fn dose_rate(state: &State, layer_k: f64) -> f64 {
    if state.pot_c < COOL_C {
        return 0.0;
    }
    let film_k = FILM_K * (flux(state) / REFERENCE_FLUX).cbrt().min(2.0);
    let wall_c = state.pot_c + film_k + layer_k;
    10f64.powf((wall_c.min(HOTTEST_C) - REFERENCE_C) / Z_K)
}

/// q δ/k by the model, K.
fn layer_k(state: &State, settles: f64, steamed: f64) -> f64 {
    let thick = (state.total_solids / TYPICAL_SOLIDS).clamp(0.5, 2.5);
    flux(state) * LAYER_M * settles * thick * grown(steamed) / K_LAYER
}

/// How much of the layer has grown.
fn grown(steamed: f64) -> f64 {
    1.0 - (-steamed).exp()
}

/// How far the layer grows in a second.
fn growth_per_s(state: &State) -> f64 {
    flux(state) / REFERENCE_FLUX / LAYER_TAU_S
}

/// Heat flux through the base, W/m²: the usual one where it is not known.
fn flux(state: &State) -> f64 {
    state.flux.unwrap_or(REFERENCE_FLUX).clamp(0.0, 80_000.0)
}

fn density(x: f64) -> f64 {
    (-0.5 * x * x).exp() / std::f64::consts::TAU.sqrt()
}

/// Normal distribution function by the logistic approximation of Bowling et al. 2009, ±1.4e-4.
fn cumulative(x: f64) -> f64 {
    1.0 / (1.0 + (-(0.07056 * x * x * x + 1.5976 * x)).exp())
}

#[cfg(test)]
mod tests;
