//! The filter: contents, drift and evaporation.
//!
//! The load less tare and lid is y = m + d + v, with m the contents, d the platform's drift (its
//! slow change as it warms and creeps, an Ornstein–Uhlenbeck process) and v noise. Water leaves at
//! the rate r:
//!
//! ```text
//! dm = −r dt                      mass is conserved: no process noise of its own
//! dd = −d/τ_d dt + √q dW
//! dr = s_r dW                     heat is steady but for turns of the flame and a crust that grows
//! y  = m + d + v,   v ~ N(0, R)
//! ```
//!
//! A Kalman filter (Kalman 1960) keeps the three together, so that the doubt about the contents
//! grows with what the platform may have drifted, and a slope is believed only as far as drift
//! cannot explain it. R is the variance of a second's mean as averaging sees it, correlation and all.
//!
//! What is put in or taken out changes m by what the load shows: [`Contents::stepped`]. A turned
//! flame is found by comparing the level with what it was predicted to be one and four minutes
//! before; then the old slope is forgotten at once.
//!
//! q differs from platform to platform and is learnt ([`super::walk`]); τ_d = 180 min. With the middle
//! of its prior the drift is 3 g in a minute and 18 g in half an hour.

use std::collections::VecDeque;

use super::walk::Walk;

/// A drift is forgotten over this time, s.
const DRIFT_TAU_S: f64 = 10_800.0;
/// How far the rate wanders in ten minutes, as a share of itself.
const WANDER: f64 = 0.010;
/// How far it goes while a crust grows on the base, which lets less heat through.
const CRUST: f64 = 0.09;
/// A break in slope is believed beyond this many standard deviations.
const BREAK_SD: f64 = 5.2;
/// Without rest for longer than this the load was touched, s.
const GAP_S: f64 = 3.0;
/// Length of a block of the slope's watch, s.
const BLOCK_S: u32 = 10;
/// How far back a level is held against: one, two and four minutes, s.
const BACK_S: [f64; 3] = [60.0, 120.0, 240.0];
/// Blocks that are remembered.
const KEPT: usize = 40;

/// m, d and r with their covariance.
#[derive(Debug, Clone)]
pub struct Contents {
    m: f64,
    d: f64,
    r: f64,
    mm: f64,
    md: f64,
    mr: f64,
    dd: f64,
    dr: f64,
    rr: f64,
    block: Block,
    /// Seconds predicted so far.
    age_s: f64,
    past: VecDeque<(f64, f64)>,
    walk: Walk,
    /// When the load was last seen at rest, in the seconds of `age_s`.
    seen_s: f64,
}

#[derive(Debug, Clone, Copy, Default)]
struct Block {
    sum: f64,
    n: u32,
}

impl Contents {
    /// Starts at `contents_kg` ± `sd_kg`, losing `rate_kg_s` ± `rate_sd_kg_s`.
    #[must_use]
    pub fn new(contents_kg: f64, sd_kg: f64, rate_kg_s: f64, rate_sd_kg_s: f64) -> Self {
        Self {
            m: contents_kg,
            d: 0.0,
            r: rate_kg_s,
            mm: sd_kg * sd_kg,
            md: 0.0,
            mr: 0.0,
            dd: 0.004 * 0.004,
            dr: 0.0,
            rr: rate_sd_kg_s * rate_sd_kg_s,
            block: Block::default(),
            age_s: 0.0,
            past: VecDeque::with_capacity(KEPT + 1),
            walk: Walk::default(),
            seen_s: 0.0,
        }
    }

    #[must_use]
    pub const fn contents_kg(&self) -> f64 {
        self.m
    }

    #[must_use]
    pub fn sd_kg(&self) -> f64 {
        self.mm.max(0.0).sqrt()
    }

    /// Evaporation, kg/s, never negative.
    #[must_use]
    pub fn rate_kg_s(&self) -> f64 {
        self.r.max(0.0)
    }

    #[must_use]
    pub fn rate_sd_kg_s(&self) -> f64 {
        self.rr.max(0.0).sqrt()
    }

    /// Covariance of contents and rate, kg²/s.
    #[must_use]
    pub const fn covariance(&self) -> f64 {
        self.mr
    }

    /// The load above tare and lid that is expected now, kg.
    #[must_use]
    pub fn level_kg(&self) -> f64 {
        self.m + self.d
    }

    #[must_use]
    pub fn level_sd_kg(&self) -> f64 {
        (self.mm + self.dd + 2.0 * self.md).max(0.0).sqrt()
    }

    /// One second goes by; `catching` while the bottom may be catching.
    pub fn predict(&mut self, catching: bool) {
        let keep = 1.0 - 1.0 / DRIFT_TAU_S;
        let share = if catching { CRUST } else { WANDER };
        let wander = (share * self.r.max(1e-5)).powi(2) / 600.0;
        self.age_s += 1.0;
        self.m -= self.r.max(0.0);
        self.d *= keep;
        self.mm += self.rr - 2.0 * self.mr;
        self.md = keep * (self.md - self.dr);
        self.mr -= self.rr;
        self.dd = keep * keep * self.dd + self.walk.kg2_s();
        self.dr *= keep;
        self.rr += wander;
        if self.m < 0.0 {
            self.m = 0.0;
        }
    }

    /// Takes in the level of a second at rest; returns true where the slope broke.
    pub fn update(&mut self, level_kg: f64, mean_sd_kg: f64) -> bool {
        let variance = mean_sd_kg * mean_sd_kg;
        let gap = self.age_s > self.seen_s + GAP_S;
        if gap {
            self.block = Block::default();
        }
        self.correct(level_kg, variance);
        let broke = self.watch_slope(level_kg, mean_sd_kg);
        if broke || gap {
            self.walk.interrupted();
        }
        self.seen_s = self.age_s;
        self.walk.take(level_kg, variance);
        broke
    }

    /// The contents changed by what the load shows: `level_kg` ± `sd_kg` at rest again.
    ///
    /// Returns the step and its standard deviation, kg.
    pub fn stepped(&mut self, level_kg: f64, sd_kg: f64) -> (f64, f64) {
        let step_kg = (level_kg - self.level_kg()).max(-self.m);
        let step_sd_kg = self.level_sd_kg().hypot(sd_kg);
        self.m += step_kg;
        // Nobody takes more than there was: the rest was standing on the platform, not in the pot.
        self.d = level_kg - self.m;
        // The step is known only as well as both levels: what was known of m + d is spent on it.
        self.mm = self.dd + sd_kg * sd_kg;
        self.md = -self.dd;
        self.mr = -self.dr;
        self.block = Block::default();
        self.past.iter_mut().for_each(|(_, level)| *level += step_kg);
        (step_kg, step_sd_kg)
    }

    /// A stir let steam go at once, up to about `sd_kg`: sooner than the platform can drift.
    pub fn stirred(&mut self, sd_kg: f64) {
        self.mm += sd_kg * sd_kg;
    }

    /// The load changed by something that is not food: a level shift that leaves the contents.
    pub fn held(&mut self, level_kg: f64, sd_kg: f64) {
        self.correct(level_kg, sd_kg * sd_kg);
        self.block = Block::default();
    }

    /// The rate is another one now: `rate_kg_s` ± `sd_kg_s`.
    pub fn set_rate(&mut self, rate_kg_s: f64, sd_kg_s: f64) {
        self.r = rate_kg_s.max(0.0);
        self.rr = sd_kg_s * sd_kg_s;
        self.mr = 0.0;
        self.dr = 0.0;
        self.forget_slope_watch();
    }

    /// The rate may be changing: it is believed less, by `sd_kg_s` after a minute.
    pub fn loosen(&mut self, sd_kg_s: f64) {
        let most = sd_kg_s * sd_kg_s;
        self.rr = self.rr.max((self.rr + most / 60.0).min(most));
    }

    /// The rate is what it was, but for `sd_kg_s` more of doubt.
    pub fn loosen_once(&mut self, sd_kg_s: f64) {
        self.rr += sd_kg_s * sd_kg_s;
        self.forget_slope_watch();
    }

    /// The rate changes in proportion: the surface warms or cools.
    pub fn scale_rate(&mut self, by: f64) {
        self.r *= by;
        self.rr *= by * by;
        self.mr *= by;
        self.dr *= by;
    }

    fn correct(&mut self, level_kg: f64, variance: f64) {
        let (hm, hd, hr) = (self.mm + self.md, self.md + self.dd, self.mr + self.dr);
        let s = hm + hd + variance.max(1e-10);
        let surprise = level_kg - self.level_kg();
        let (km, kd, kr) = (hm / s, hd / s, hr / s);
        self.m = (self.m + km * surprise).max(0.0);
        self.d += kd * surprise;
        self.r += kr * surprise;
        self.mm -= km * hm;
        self.md -= km * hd;
        self.mr -= km * hr;
        self.dd -= kd * hd;
        self.dr -= kd * hr;
        self.rr = (self.rr - kr * hr).max(1e-16);
    }

    fn forget_slope_watch(&mut self) {
        self.past.clear();
        self.block = Block::default();
    }

    fn watch_slope(&mut self, level_kg: f64, mean_sd_kg: f64) -> bool {
        self.block.sum += level_kg;
        self.block.n += 1;
        if self.block.n < BLOCK_S {
            return false;
        }
        let mean_kg = self.block.sum / f64::from(self.block.n);
        self.block = Block::default();
        let at_s = self.age_s - 0.5 * f64::from(BLOCK_S);
        let broke = BACK_S.iter().any(|&back_s| self.breaks(at_s, mean_kg, back_s, mean_sd_kg));
        self.past.push_front((at_s, mean_kg));
        self.past.truncate(KEPT);
        broke
    }

    /// Holds a block's mean against one at least `back_s` before, carried on at the rate believed.
    fn breaks(&mut self, at_s: f64, mean_kg: f64, back_s: f64, mean_sd_kg: f64) -> bool {
        let then = self.past.iter().find(|(then_s, _)| at_s - then_s >= back_s);
        let Some(&(then_s, then_kg)) = then else { return false };
        let span_s = at_s - then_s;
        let off_kg = mean_kg - (then_kg - self.rate_kg_s() * span_s);
        let noise = 2.0 * mean_sd_kg * mean_sd_kg / f64::from(BLOCK_S);
        let drift = self.walk.kg2_s() * span_s;
        let sd_kg = (noise + drift + span_s * span_s * self.rr).sqrt();
        if off_kg.abs() <= BREAK_SD * sd_kg {
            return false;
        }
        let fresh = (self.r - off_kg / span_s).max(0.0);
        let sd = (noise + drift).sqrt() / span_s + 0.5 * (fresh - self.r).abs();
        // What the level lags behind is what the old rate took away and the pot did not lose.
        let since_s = 0.5 * f64::from(BLOCK_S);
        self.m = (self.m + mean_kg - fresh * since_s - self.level_kg()).max(0.0);
        self.mm += noise + (since_s * sd).powi(2);
        self.set_rate(fresh, sd);
        true
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const PER_HOUR: f64 = 3600.0;

    fn boil_down(contents: &mut Contents, from_kg: f64, rate_kg_h: f64, seconds: u32) -> f64 {
        let mut kg = from_kg;
        for i in 0..seconds {
            kg -= rate_kg_h / PER_HOUR;
            let wiggle = if i % 2 == 0 { 0.003 } else { -0.003 };
            contents.predict(false);
            contents.update(kg + wiggle, 0.003);
        }
        kg
    }

    #[test]
    fn a_steady_boil_is_found_to_a_few_per_cent_in_twenty_minutes() {
        let mut contents = Contents::new(20.0, 0.01, 0.0, 3.0 / PER_HOUR);
        boil_down(&mut contents, 20.0, 3.0, 1200);
        assert!((contents.rate_kg_s() * PER_HOUR - 3.0).abs() < 0.09);
    }

    /// Boils with a crust that takes a sixth of the heat away within ten minutes, as it is told or not.
    fn off_after_a_crust(catching: bool) -> f64 {
        let mut contents = Contents::new(20.0, 0.01, 3.0 / PER_HOUR, 0.3 / PER_HOUR);
        let mut kg = boil_down(&mut contents, 20.0, 3.0, 1800);
        for i in 0..900 {
            let rate = 3.0 - 0.5 * (f64::from(i) / 600.0).min(1.0);
            kg -= rate / PER_HOUR;
            contents.predict(catching);
            contents.update(kg + if i % 2 == 0 { 0.003 } else { -0.003 }, 0.003);
        }
        (contents.rate_kg_s() * PER_HOUR - 2.5).abs()
    }

    #[test]
    fn a_crust_that_grows_on_the_base_is_followed() {
        let (told, untold) = (off_after_a_crust(true), off_after_a_crust(false));
        assert!(told < 0.1 && told < 0.5 * untold, "{told} {untold}");
    }

    #[test]
    fn a_flame_turned_down_is_noticed_within_two_minutes() {
        let mut contents = Contents::new(20.0, 0.01, 3.0 / PER_HOUR, 0.3 / PER_HOUR);
        let kg = boil_down(&mut contents, 20.0, 3.0, 1200);
        boil_down(&mut contents, kg, 1.0, 120);
        assert!((contents.rate_kg_s() * PER_HOUR - 1.0).abs() < 0.4);
    }

    #[test]
    fn doubt_about_the_contents_grows_while_only_drift_can_be_seen() {
        let mut contents = Contents::new(20.0, 0.002, 1.0 / PER_HOUR, 0.05 / PER_HOUR);
        let before = contents.sd_kg();
        boil_down(&mut contents, 20.0, 1.0, 3600);
        assert!(contents.sd_kg() > 2.0 * before && contents.sd_kg() < 0.1);
    }

    #[test]
    fn an_addition_leaves_the_rate_as_it_was() {
        let mut contents = Contents::new(20.0, 0.01, 2.0 / PER_HOUR, 0.02 / PER_HOUR);
        let kg = boil_down(&mut contents, 20.0, 2.0, 600);
        let rate = contents.rate_kg_s();
        contents.predict(false);
        let (step_kg, _) = contents.stepped(kg + 1.5, 0.002);
        assert!((step_kg - 1.5).abs() < 0.01);
        assert!((contents.rate_kg_s() - rate).abs() < 1e-9);
        assert!((contents.contents_kg() - kg - 1.5).abs() < 0.03);
    }
}
