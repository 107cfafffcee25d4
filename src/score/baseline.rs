//! What someone would do instead: two plain ways from the load to the time of the target.
//!
//! Both take the load less the tare and, where it is on at the start, the lid, and the target mass
//! as the plan gives it at the outset, of the start and all planned additions mixed. They know
//! nothing of handling. Both work on means over one second and speak every ten.
//!
//! **Straight line.** Ordinary least squares over the last ten minutes, m(t) = a + b·t. With
//! r = −b and D = m(now) − M*, the target is T = D/r away; the 80 % interval takes
//! r ± 1.2816·se(r) with se from the residuals as if they were independent.
//!
//! **Trend filter.** The local linear trend model (level and slope both random walks: A. C. Harvey,
//! *Forecasting, Structural Time Series Models and the Kalman Filter*, 1989, ch. 2; from memory) run
//! through a Kalman filter:
//!
//! ```text
//! m(k+1) = m(k) + Δ·b(k) + level noise,   b(k+1) = b(k) + slope noise,   y(k) = m(k) + noise
//! ```
//!
//! Noise from the first minute's differences, var(y(k+1) − y(k))/2; level 1 g/√s; slope such that
//! evaporation may change by 1 kg/h in ten minutes. T = D/r, and its spread is the delta method's:
//! var T = (P₀₀ + 2·T·P₀₁ + T²·P₁₁)/r².

use std::collections::VecDeque;

use crate::batch::ledger::Ledger;
use crate::batch::plan::Plan;
use crate::batch::pot::Pot;
use crate::moment::Moment;
use crate::watch::action::{Snapshot, Spread};

use super::{EVERY_MS, Said};

/// The 90th percentile of the normal distribution.
const Z90: f64 = 1.2816;
const WINDOW_S: f64 = 600.0;
/// (kg/s)² per s.
const SLOPE_NOISE: f64 = (1.0 / 3600.0) * (1.0 / 3600.0) / 600.0;
/// kg² per s.
const LEVEL_NOISE: f64 = 1e-6;

/// What is known at the outset.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Outset {
    /// What stands on the platform besides the contents, kg.
    pub beside_kg: f64,
    /// Contents at the target, kg.
    pub target_kg: Option<f64>,
}

impl Outset {
    #[must_use]
    pub fn of(pot: &Pot, plan: &Plan) -> Self {
        let start = &plan.start;
        let mut mixed = Ledger::start(start.contents_kg, start.composition);
        plan.additions.iter().for_each(|addition| {
            mixed.add(addition.kg, addition.composition);
        });
        let target_kg = plan.target.and_then(|target| target.contents_kg(&mixed));
        let lid_kg = if start.lid_on { pot.lid_kg } else { 0.0 };
        Self { beside_kg: pot.tare_kg + lid_kg, target_kg }
    }
}

/// Means of the load over each second, kg; seconds without a reading are left out.
#[must_use]
pub fn seconds(loads: impl Iterator<Item = (Moment, f64)>) -> Vec<(f64, f64)> {
    let mut seconds: Vec<(f64, f64, f64)> = Vec::new();
    for (at, kg) in loads {
        let second = at.seconds().floor();
        match seconds.last_mut().filter(|(last, ..)| *last == second) {
            Some((_, sum, count)) => {
                *sum += kg;
                *count += 1.0;
            }
            None => seconds.push((second, kg, 1.0)),
        }
    }
    seconds.into_iter().map(|(second, sum, count)| (second + 0.5, sum / count)).collect()
}

/// The ten-minute straight line.
#[must_use]
pub fn straight_line(seconds: &[(f64, f64)], outset: &Outset) -> Said {
    let mut window: VecDeque<(f64, f64)> = VecDeque::new();
    speak(seconds, outset, |t_s, kg| {
        window.push_back((t_s, kg));
        while window.front().is_some_and(|(first, _)| *first < t_s - WINDOW_S) {
            window.pop_front();
        }
        is_due(t_s).then(|| line(&window, t_s)).flatten()
    })
}

/// The local linear trend.
#[must_use]
pub fn trend_filter(seconds: &[(f64, f64)], outset: &Outset) -> Said {
    let noise = noise(seconds);
    let mut trend: Option<Trend> = None;
    speak(seconds, outset, |t_s, kg| {
        let trend = trend.get_or_insert_with(|| Trend::at(t_s, kg, noise));
        trend.step(t_s, kg, noise);
        is_due(t_s).then(|| trend.state())
    })
}

/// Level and slope now, and what is known of them.
#[derive(Debug, Clone, Copy, PartialEq)]
struct State {
    kg: f64,
    kg_per_s: f64,
    slope_sd: f64,
    /// Variance of the level and its covariance with the slope.
    level_var: f64,
    covariance: f64,
    /// Whether the interval is the slope's alone.
    by_slope: bool,
}

/// Whether it speaks in this second.
fn is_due(t_s: f64) -> bool {
    (t_s.floor() as i64).rem_euclid(EVERY_MS / 1000) == 0
}

fn speak(
    seconds: &[(f64, f64)],
    outset: &Outset,
    mut state: impl FnMut(f64, f64) -> Option<State>,
) -> Said {
    let mut said = Said::default();
    for (t_s, kg) in seconds {
        if let (Some(state), Some(at)) =
            (state(*t_s, kg - outset.beside_kg), Moment::from_seconds(*t_s))
        {
            said.readings.push(reading(at, state, outset));
        }
    }
    said
}

fn reading(at: Moment, state: State, outset: &Outset) -> Snapshot {
    Snapshot {
        at,
        contents_kg: Some(state.kg),
        evaporation_kg_h: Some(-3600.0 * state.kg_per_s),
        target_kg: outset.target_kg,
        target_in_s: outset.target_kg.and_then(|target_kg| time_left(state, target_kg)),
        ..Snapshot::default()
    }
}

fn time_left(state: State, target_kg: f64) -> Option<Spread> {
    let over_kg = state.kg - target_kg;
    let rate = -state.kg_per_s;
    if over_kg <= 0.0 {
        return Some(Spread { p10: 0.0, p50: 0.0, p90: 0.0 });
    }
    if rate <= 0.0 {
        return None;
    }
    let p50 = over_kg / rate;
    if state.by_slope {
        let slowest = rate - Z90 * state.slope_sd;
        let p90 = if slowest > 0.0 { over_kg / slowest } else { f64::INFINITY };
        return Some(Spread { p10: over_kg / (rate + Z90 * state.slope_sd), p50, p90 });
    }
    let slope_var = state.slope_sd * state.slope_sd;
    let var = state.level_var + 2.0 * p50 * state.covariance + p50 * p50 * slope_var;
    let sd = var.max(0.0).sqrt() / rate;
    Some(Spread { p10: (p50 - Z90 * sd).max(0.0), p50, p90: p50 + Z90 * sd })
}

/// The least-squares line through the window, read off at `t_s`; `None` for fewer than 30 s.
fn line(window: &VecDeque<(f64, f64)>, t_s: f64) -> Option<State> {
    let n = window.len() as f64;
    if n < 30.0 {
        return None;
    }
    let mean_t = window.iter().map(|(t, _)| t).sum::<f64>() / n;
    let mean_kg = window.iter().map(|(_, kg)| kg).sum::<f64>() / n;
    let spread: f64 = window.iter().map(|(t, _)| (t - mean_t).powi(2)).sum();
    let slope = window.iter().map(|(t, kg)| (t - mean_t) * (kg - mean_kg)).sum::<f64>() / spread;
    let residual = |(t, kg): &(f64, f64)| (kg - mean_kg - slope * (t - mean_t)).powi(2);
    let var = window.iter().map(residual).sum::<f64>() / (n - 2.0);
    Some(State {
        kg: mean_kg + slope * (t_s - mean_t),
        kg_per_s: slope,
        slope_sd: (var / spread).sqrt(),
        level_var: 0.0,
        covariance: 0.0,
        by_slope: true,
    })
}

/// Variance of a second's mean from the first minute's differences, kg².
fn noise(seconds: &[(f64, f64)]) -> f64 {
    let first = &seconds[..seconds.len().min(60)];
    let squares: Vec<f64> = first.windows(2).map(|pair| (pair[1].1 - pair[0].1).powi(2)).collect();
    let mean = squares.iter().sum::<f64>() / squares.len().max(1) as f64;
    f64::max(mean / 2.0, 1e-8)
}

#[derive(Debug)]
struct Trend {
    at_s: f64,
    kg: f64,
    slope: f64,
    p: [f64; 3],
}

impl Trend {
    /// Slope unknown to 10 kg/h.
    fn at(t_s: f64, kg: f64, noise: f64) -> Self {
        Self { at_s: t_s, kg, slope: 0.0, p: [noise, 0.0, (10.0_f64 / 3600.0).powi(2)] }
    }

    fn step(&mut self, t_s: f64, kg: f64, noise: f64) {
        let dt = t_s - self.at_s;
        self.at_s = t_s;
        self.kg += dt * self.slope;
        let [p00, p01, p11] = self.p;
        let p00 = p00 + 2.0 * dt * p01 + dt * dt * p11 + LEVEL_NOISE * dt;
        let p01 = p01 + dt * p11;
        let p11 = p11 + SLOPE_NOISE * dt;
        let (of_level, of_slope) = (p00 / (p00 + noise), p01 / (p00 + noise));
        let surprise = kg - self.kg;
        self.kg += of_level * surprise;
        self.slope += of_slope * surprise;
        self.p = [(1.0 - of_level) * p00, (1.0 - of_level) * p01, p11 - of_slope * p01];
    }

    fn state(&self) -> State {
        let [level_var, covariance, slope_var] = self.p;
        State {
            kg: self.kg,
            kg_per_s: self.slope,
            slope_sd: slope_var.sqrt(),
            level_var,
            covariance,
            by_slope: false,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::physics::bounds;

    /// 3 kg/h from 20 kg, with a ripple of ±5 g.
    fn falling() -> Vec<(f64, f64)> {
        let load = |s: u32| {
            let ripple = if s % 2 == 0 { 0.005 } else { -0.005 };
            (f64::from(s) + 0.5, 27.0 - 3.0 * f64::from(s) / 3600.0 + ripple)
        };
        (0..1800).map(load).collect()
    }

    #[test]
    fn both_find_the_time_to_the_target_of_a_steady_pot() {
        let outset = Outset { beside_kg: 7.0, target_kg: Some(17.0) };
        for said in [straight_line(&falling(), &outset), trend_filter(&falling(), &outset)] {
            let last = said.readings.last().unwrap();
            let left = last.target_in_s.unwrap();
            let truth = 3600.0 - last.at.seconds();
            assert!((left.p50 / truth - 1.0).abs() < 0.03, "{left:?} for {truth}");
            assert!(left.p10 < left.p50 && left.p50 < left.p90);
            assert!((last.evaporation_kg_h.unwrap() - 3.0).abs() < 0.1);
        }
    }

    // The line's standard error by the handbook's bounds, the trend's by its own steady state. The ripple
    // of ±5 g is taken for white noise of 5 g.
    #[test]
    fn their_intervals_are_those_of_the_textbook() {
        let outset = Outset { beside_kg: 7.0, target_kg: Some(17.0) };
        let width = |said: &Said| {
            let left = said.readings.last().unwrap().target_in_s.unwrap();
            (left.p90 - left.p50, left.p50)
        };
        let (wide_s, p50) = width(&straight_line(&falling(), &outset));
        let line = bounds::Line::new(0.005, 600.0, 1.0).unwrap();
        let sd_s = p50 * line.slope_sd_kg_s() / (3.0 / 3600.0);
        assert!((wide_s / (1.2816 * sd_s) - 1.0).abs() < 0.02, "{wide_s} s, {sd_s} s");

        // Settled: the Riccati equation's closed form, P₁₁ = √(q (w + 2√(qR))), P₀₁ = √(qR) and P₀₀ =
        // √(R (w + 2√(qR))). The ripple changes its sign each second, so that it looks like R = 2 · 5² g².
        let (noise, rate) = (2.0 * 0.005 * 0.005, 3.0 / 3600.0);
        let cross = (SLOPE_NOISE * noise).sqrt();
        let both = LEVEL_NOISE + 2.0 * cross;
        let (level, slope) = ((noise * both).sqrt(), (SLOPE_NOISE * both).sqrt());
        // Far from the target the slope is what matters, near it the level and their covariance too.
        for target_kg in [17.0, 18.47] {
            let outset = Outset { target_kg: Some(target_kg), ..outset };
            let (wide_s, p50) = width(&trend_filter(&falling(), &outset));
            let sd_s = (level + 2.0 * p50 * cross + p50 * p50 * slope).sqrt() / rate;
            assert!((wide_s / (1.2816 * sd_s) - 1.0).abs() < 0.05, "{wide_s} s, {sd_s} s");
        }
    }

    // A pot that lost 3 kg/h and then 1 kg/h for eleven minutes: the line has forgotten the first half hour.
    #[test]
    fn the_line_looks_back_ten_minutes() {
        let mut turned = falling();
        let last_kg = turned.last().unwrap().1;
        turned.extend((0..660).map(|s| (1800.5 + f64::from(s), last_kg - f64::from(s) / 3600.0)));
        let said = straight_line(&turned, &Outset { beside_kg: 7.0, target_kg: Some(17.0) });
        let rate = said.readings.last().unwrap().evaporation_kg_h.unwrap();
        assert!((rate - 1.0).abs() < 0.01, "{rate}");
        let before = said.readings.iter().find(|now| now.at.seconds() > 2100.0).unwrap();
        let rate = before.evaporation_kg_h.unwrap();
        assert!((1.7..2.3).contains(&rate), "{rate} half way through the window");
    }

    #[test]
    fn a_pot_that_gains_weight_never_reaches_its_target() {
        let rising: Vec<_> = falling().into_iter().map(|(t, kg)| (t, 54.0 - kg)).collect();
        let outset = Outset { beside_kg: 7.0, target_kg: Some(17.0) };
        let said = straight_line(&rising, &outset);
        assert_eq!(said.readings.last().unwrap().target_in_s, None);
    }

    #[test]
    fn a_second_s_mean_is_taken_over_its_own_readings() {
        let at = |ms| Moment::from_ms(ms);
        let loads = [(at(0), 1.0), (at(900), 3.0), (at(5000), 7.0)];
        assert_eq!(seconds(loads.into_iter()), [(0.5, 2.0), (5.5, 7.0)]);
    }
}
