//! Is the load at rest?
//!
//! A still pot shows the rig's noise, a boiling one several times more, a hand, a spoon or a blender
//! far more again. A second is *calm* when its spread is what rest has shown so far and its mean is
//! where the contents are predicted. The first second that is not calm opens a *disturbance*; it
//! ends when the last few seconds agree with one another again, at whatever level. A noise that has
//! grown for good (the boil) is told from a hand by its level: bubbles shake about a level that
//! stays where it was.
//!
//! | symbol | meaning |
//! |---|---|
//! | σ_w | spread of the samples within a second at rest, kg (learnt) |
//! | σ_m | standard deviation of a second's mean at rest, kg (learnt) |
//! | φ | correlation of a second's mean with the next one's (learnt) |
//! | s | the step: level after less level predicted, kg |
//!
//! σ_m and φ come from differences, which a wrong prediction does not spoil: half the mean square of
//! xᵢ − xᵢ₋₁ is σ_m²(1 − φ), of xᵢ − xᵢ₋₅ nearly σ_m². Averages of such noise are worse than white
//! noise's by (1 + φ)/(1 − φ) in variance, which is what the filter is given.
//!
//! Assumptions, from no source: limits below in units of σ are chosen for about one false
//! disturbance a day in Gaussian noise; a hand shakes a pot by more than [`SHAKEN_KG`].

use std::collections::VecDeque;

use super::second::{ENOUGH, Second};
use super::trace::{Change, Trace};

/// Seconds that must agree before the load is at rest again.
const AGREE: usize = 4;
/// The same where every second has a spread of its own to go by.
const AGREE_SURE: usize = 3;
/// Seconds after which a lasting louder noise about the old level is taken as the new rest.
const LOUDER: usize = 12;
/// Three seconds that differ from the three before by so many σ_m are still on their way.
const ON_ITS_WAY: f64 = 3.0;
/// More than the hardest boil takes away in three seconds, kg: 19 kg an hour.
const BOILED_OFF_KG: f64 = 0.016;
/// A dip of this share of the lid's weight is the lid in somebody's hand.
const LIFTED: f64 = 0.65;
/// A spread that no simmer makes but a hand does, kg.
pub const SHAKEN_KG: f64 = 0.08;
/// Seconds between two means that are nearly independent.
const APART: usize = 5;
/// A rig this noisy never shows the same mean four times running, kg.
const FLICKERS_KG: f64 = 0.001;
/// The least σ_w that is believed: half of a 1 g display step and a little.
const LEAST_KG: f64 = 0.0007;

/// What a second of load was.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Verdict {
    /// At rest, at this level.
    Rest { level_kg: f64, sd_kg: f64 },
    /// Not at rest.
    Disturbed,
    /// At rest again after a disturbance.
    Settled(Disturbance),
}

/// A disturbance from its beginning to the rest after it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Disturbance {
    pub began_s: f64,
    /// When the rest after it began.
    pub ended_s: f64,
    /// Level at the new rest, kg.
    pub level_kg: f64,
    /// Standard error of that level, kg.
    pub level_sd_kg: f64,
    /// Seconds in which a hand or a blender shook the pot.
    pub shaken_s: f64,
    /// Mean spread of the shaken seconds, kg.
    pub force_kg: f64,
    /// Seconds in which the level lay as much lower as a lifted lid makes it.
    pub lid_lifted_s: f64,
    /// When the level changed, which in a long disturbance is later than its beginning.
    pub moved_s: f64,
    /// How long the level was on its way to the new one as a pour is, else 0, s.
    pub poured_s: f64,
}

#[derive(Debug, Clone, Default)]
struct Open {
    began_s: f64,
    before_kg: f64,
    shaken: u32,
    loud: bool,
    force_sum_kg: f64,
    lifted: u32,
    last: VecDeque<(f64, Second)>,
    trace: Trace,
}

/// Follows the load from rest to rest.
#[derive(Debug, Clone)]
pub struct Settle {
    within_kg: f64,
    mean_kg: f64,
    next_kg: f64,
    learnt: u32,
    surprises: VecDeque<f64>,
    open: Option<Open>,
}

impl Default for Settle {
    fn default() -> Self {
        Self {
            within_kg: 0.02,
            mean_kg: 0.008,
            next_kg: 0.007,
            learnt: 0,
            surprises: VecDeque::with_capacity(APART + 1),
            open: None,
        }
    }
}

impl Settle {
    /// Judges the second that ended at `at_s`, given the level predicted for it.
    ///
    /// `lid_kg` is the dip that a lifted lid would make, 0 where there is none to lift.
    pub fn second(
        &mut self,
        at_s: f64,
        second: Second,
        predicted_kg: f64,
        predicted_sd_kg: f64,
        lid_kg: f64,
    ) -> Verdict {
        if self.open.is_none() {
            if self.calm(second, predicted_kg, predicted_sd_kg) {
                self.learn(second, second.mean_kg - predicted_kg);
                return Verdict::Rest { level_kg: second.mean_kg, sd_kg: self.averaging_sd_kg() };
            }
            self.open = Some(Open::new(at_s - 1.0));
            self.surprises.clear();
        }
        self.disturbed(at_s, second, predicted_kg, lid_kg)
    }

    /// Forgets what is going on: the scale failed or the pot was taken away.
    pub fn open_at(&mut self, at_s: f64) {
        if self.open.is_none() {
            self.open = Some(Open::new(at_s));
        }
    }

    /// Whether a disturbance is open.
    #[must_use]
    pub const fn is_disturbed(&self) -> bool {
        self.open.is_some()
    }

    /// Seconds in which the open disturbance shook the pot.
    #[must_use]
    pub fn shaken_s(&self) -> f64 {
        self.open.as_ref().map_or(0.0, |open| f64::from(open.shaken))
    }

    /// The load is lost from sight at `at_s`: the disturbance so far, whose shaking is told then and not
    /// again.
    pub fn cut_short(&mut self, at_s: f64) -> Option<Disturbance> {
        let mean_kg = self.mean_kg;
        let open = self.open.as_mut()?;
        let so_far = open.close(at_s, AGREE, mean_kg);
        (open.shaken, open.force_sum_kg) = (0, 0.0);
        Some(so_far)
    }

    /// σ_w, kg.
    #[must_use]
    pub const fn within_kg(&self) -> f64 {
        self.within_kg
    }

    /// σ_m, kg.
    #[must_use]
    pub const fn mean_sd_kg(&self) -> f64 {
        self.mean_kg
    }

    fn calm(&self, second: Second, predicted_kg: f64, predicted_sd_kg: f64) -> bool {
        let room_kg = 5.0 * self.mean_kg.hypot(predicted_sd_kg) + 0.008;
        second.spread_kg <= self.loud_kg() && (second.mean_kg - predicted_kg).abs() <= room_kg
    }

    /// The largest spread that still is rest, kg.
    fn loud_kg(&self) -> f64 {
        let sure = if self.learnt < 8 { 2.0 } else { 1.0 };
        sure * 2.8 * self.within_kg + 0.004
    }

    /// Standard deviation of one second's mean as averaging sees it: σ_m √((1 + φ)/(1 − φ)), kg.
    fn averaging_sd_kg(&self) -> f64 {
        let phi = (1.0 - (self.next_kg / self.mean_kg).powi(2)).clamp(0.0, 0.9);
        self.mean_kg * ((1.0 + phi) / (1.0 - phi)).sqrt()
    }

    /// Follows σ_w, σ_m and φ quickly at first and then over a minute, down faster than up: a pot
    /// that has come off the boil is quiet at once.
    fn learn(&mut self, second: Second, surprise_kg: f64) {
        self.learnt = (self.learnt + 1).min(60);
        let quieter = second.spread_kg < 0.7 * self.within_kg;
        let gain = 1.0 / f64::from(self.learnt.clamp(4, if quieter { 8 } else { 60 }));
        follow(&mut self.within_kg, gain, second.spread_kg * second.spread_kg);
        if let Some(last) = self.surprises.back() {
            follow(&mut self.next_kg, gain, 0.5 * (surprise_kg - last).powi(2));
        }
        if self.surprises.len() == APART {
            let first = self.surprises.pop_front().unwrap_or(surprise_kg);
            follow(&mut self.mean_kg, gain, 0.5 * (surprise_kg - first).powi(2));
        }
        self.surprises.push_back(surprise_kg);
    }

    fn disturbed(&mut self, at_s: f64, second: Second, predicted_kg: f64, lid_kg: f64) -> Verdict {
        let (loud_kg, mean_kg, within_kg) = (self.loud_kg(), self.mean_kg, self.within_kg);
        let Some(open) = self.open.as_mut() else { return Verdict::Disturbed };
        open.take(at_s, second, predicted_kg, lid_kg);
        open.loud |= second.spread_kg > loud_kg;
        let quiet = open.agrees(loud_kg, mean_kg);
        let louder = !quiet && open.is_louder_rest(predicted_kg);
        if !(quiet || louder) {
            return Verdict::Disturbed;
        }
        let window = if quiet { open.agree() } else { LOUDER };
        let disturbance = open.close(at_s, window, if quiet { mean_kg } else { within_kg });
        if louder {
            self.within_kg = open.middle_spread_kg();
            self.mean_kg = self.mean_kg.max(open.mean_sd_kg());
        }
        self.open = None;
        Verdict::Settled(disturbance)
    }
}

impl Open {
    fn new(began_s: f64) -> Self {
        Self { began_s, before_kg: f64::NAN, ..Self::default() }
    }

    fn take(&mut self, at_s: f64, second: Second, predicted_kg: f64, lid_kg: f64) {
        if self.before_kg.is_nan() {
            self.before_kg = predicted_kg;
        }
        let shake_kg = self.shake_kg(second);
        if shake_kg > SHAKEN_KG {
            self.shaken += 1;
            self.force_sum_kg += shake_kg;
        }
        let dip_kg = predicted_kg - second.mean_kg;
        if lid_kg > 0.0 && dip_kg > LIFTED * lid_kg {
            self.lifted += 1;
        }
        self.trace.take(at_s, second.mean_kg);
        self.last.push_back((at_s, second));
        if self.last.len() > LOUDER {
            self.last.pop_front();
        }
    }

    /// A second's spread without what a steady pour makes of it: a ramp over one second has a
    /// standard deviation of its rise over √12.
    fn shake_kg(&self, second: Second) -> f64 {
        let rise_kg = self.last.back().map_or(0.0, |(_, last)| second.mean_kg - last.mean_kg);
        let pour = rise_kg * rise_kg / 12.0;
        (second.spread_kg * second.spread_kg - 1.5 * pour).max(0.0).sqrt()
    }

    fn recent(&self, n: usize) -> impl Iterator<Item = &Second> {
        self.last.iter().rev().take(n).map(|(_, second)| second)
    }

    /// The last seconds have rest's own spread and agree in level.
    fn agrees(&self, loud_kg: f64, mean_sd_kg: f64) -> bool {
        let agree = self.agree();
        if self.last.len() < agree || self.recent(agree).any(|s| s.spread_kg > loud_kg) {
            return false;
        }
        let (low, high) = range(self.recent(agree).map(|s| s.mean_kg));
        let frozen = high == low && mean_sd_kg > FLICKERS_KG;
        !frozen && high - low <= 5.0 * mean_sd_kg + 0.006 && !self.is_on_its_way(mean_sd_kg)
    }

    /// A thin stream in or out is as quiet as rest, and three seconds of it agree: the level creeps.
    fn is_on_its_way(&self, mean_sd_kg: f64) -> bool {
        let n = self.agree();
        // Once a second the level of a hard boil lags as far; only a spread tells a stream from it.
        if self.loud || n > AGREE_SURE {
            return false;
        }
        let sum = |seconds: &[&Second]| seconds.iter().map(|s| s.mean_kg).sum::<f64>();
        let recent: Vec<&Second> = self.recent(2 * n).collect();
        let (Some(now), Some(before)) = (recent.get(..n), recent.get(n..2 * n)) else {
            return true;
        };
        (sum(now) - sum(before)).abs() / n as f64
            > (ON_ITS_WAY * mean_sd_kg + 0.004).max(BOILED_OFF_KG)
    }

    /// Seconds that must agree.
    fn agree(&self) -> usize {
        let sure = self.recent(AGREE_SURE).all(|s| s.samples >= ENOUGH);
        if sure { AGREE_SURE } else { AGREE }
    }

    /// A louder noise that has lasted, about the level that was predicted.
    fn is_louder_rest(&self, predicted_kg: f64) -> bool {
        if self.last.len() < LOUDER || self.recent(LOUDER).any(|s| s.spread_kg > 2.0 * SHAKEN_KG) {
            return false;
        }
        let middle_kg = self.middle_spread_kg();
        let even = self.recent(LOUDER).all(|s| s.spread_kg < 2.5 * middle_kg + 0.004);
        let level_kg = self.level_kg(LOUDER);
        even && self.mean_sd_kg() <= 0.03 && (level_kg - predicted_kg).abs() <= 0.08
    }

    fn middle_spread_kg(&self) -> f64 {
        let mut spreads: Vec<f64> = self.recent(LOUDER).map(|s| s.spread_kg).collect();
        spreads.sort_by(f64::total_cmp);
        spreads.get(spreads.len() / 2).copied().unwrap_or(0.0)
    }

    fn level_kg(&self, n: usize) -> f64 {
        let n = n.min(self.last.len()).max(1);
        self.recent(n).map(|s| s.mean_kg).sum::<f64>() / n as f64
    }

    fn mean_sd_kg(&self) -> f64 {
        let level_kg = self.level_kg(LOUDER);
        let n = self.last.len().max(2);
        let squares: f64 = self.recent(LOUDER).map(|s| (s.mean_kg - level_kg).powi(2)).sum();
        (squares / (n - 1) as f64).sqrt()
    }

    fn close(&self, at_s: f64, window: usize, mean_sd_kg: f64) -> Disturbance {
        let level_kg = self.level_kg(window);
        let Change { at_s: moved_s, poured_s } =
            self.trace.change(self.began_s, self.before_kg, level_kg);
        Disturbance {
            began_s: self.began_s,
            ended_s: at_s - window as f64,
            level_kg,
            level_sd_kg: mean_sd_kg / (window as f64).sqrt(),
            shaken_s: f64::from(self.shaken),
            force_kg: self.force_sum_kg / f64::from(self.shaken.max(1)),
            lid_lifted_s: f64::from(self.lifted),
            moved_s,
            poured_s,
        }
    }
}

/// Moves a root mean square towards a new square.
fn follow(rms: &mut f64, gain: f64, square: f64) {
    let now = *rms * *rms;
    *rms = (now + gain * (square - now)).sqrt().max(LEAST_KG);
}

fn range(values: impl Iterator<Item = f64>) -> (f64, f64) {
    values.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), v| (low.min(v), high.max(v)))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Steps that are seen while the level goes from 14 kg by `by_kg` within `over_s`.
    fn steps(by_kg: f64, over_s: f64) -> Vec<f64> {
        let (mut settle, mut believed_kg, mut steps) = (Settle::default(), 14.0, Vec::new());
        for (s, t) in (0..240).map(|s| (s, f64::from(s))) {
            let noise_kg = 0.007 * [0.3, -1.2, 0.9, -0.1, 1.4, -0.8, -0.5][s as usize % 7];
            let mean_kg = 14.0 + by_kg * ((t - 150.0) / over_s).clamp(0.0, 1.0) + noise_kg;
            let second = Second { mean_kg, spread_kg: 0.013, samples: 10 };
            if let Verdict::Settled(there) = settle.second(t, second, believed_kg, 0.002, 1.0) {
                steps.push(there.level_kg - believed_kg);
                believed_kg = there.level_kg;
            }
        }
        steps
    }

    #[test]
    fn what_runs_out_in_a_thin_stream_is_one_step_and_no_staircase() {
        for over_s in [2.0, 5.0, 12.0, 20.0] {
            let steps = steps(-0.25, over_s);
            assert!(steps.len() == 1 && (steps[0] + 0.25).abs() < 0.02, "{over_s} s: {steps:?}");
        }
    }
}
