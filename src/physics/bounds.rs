//! How well a falling weight can be known: the bounds no estimator passes.
//!
//! **A straight line through white noise** σ, N samples Δt apart (Kay 1993, ch. 3):
//!
//! ```text
//! var(slope)  = 12 σ²/[N (N² − 1) Δt²]
//! var(level)  = 2 σ² (2N − 1)/[N (N + 1)]      at the last sample
//! cov         = 6 σ²/[N (N + 1) Δt]
//! ```
//!
//! Time to a target d kg away at r kg/s is t* = d/r, with
//! var(t*) ≈ (σ_m² + t*² σ_r² + 2 t* cov)/r² (both errors push the same way). The mass itself does not
//! enter, only σ and how far there is to go.
//!
//! **Correlated noise**, first-order with time constant τ_c: φ = e^(−Δt/τ_c) and every standard
//! deviation grows by √[(1 + φ)/(1 − φ)]. Fan and boil make 10 Hz no better than 1 Hz.
//!
//! **A slope that wanders** by a random walk of intensity q (kg²/s³), measured with R = σ²Δt (kg²·s):
//! the local linear trend's steady state is
//!
//! ```text
//! var(slope) = √2 q^¾ R^¼     var(level) = √2 q^¼ R^¾     time constant √2 (R/q)^¼
//! ```
//!
//! **A level that wanders** by a random walk of intensity w (kg²/s), as a warming platform's does, looks
//! like what boils off. Its increments are independent, so the best slope over T is that from end to
//! end, and no other reading helps (Cramér–Rao for Brownian motion with drift):
//!
//! ```text
//! var(slope) = w/T
//! var(t*)    = (w E + t*² w/T)/r²      E time since the level was last known truly, s
//! ```
//!
//! However quiet the samples are: only what else shows the drift (the platform's temperature) gets below.

use super::{finite, positive, within};

/// A record of weight: its white noise, its number of samples, and their spacing.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Line {
    noise_kg: f64,
    samples: f64,
    spacing_s: f64,
}

impl Line {
    /// Noise 0 to 100 kg, 3 to 10⁹ samples, spacing 1 ms to 1 h; `None` else.
    #[must_use]
    pub fn new(noise_kg: f64, samples: f64, spacing_s: f64) -> Option<Self> {
        Some(Self {
            noise_kg: within(noise_kg, 0.0..=100.0)?,
            samples: within(samples, 3.0..=1e9)?,
            spacing_s: within(spacing_s, 1e-3..=3600.0)?,
        })
    }

    /// Standard deviation of the slope, kg/s.
    #[must_use]
    pub fn slope_sd_kg_s(&self) -> f64 {
        let n = self.samples;
        self.noise_kg * (12.0 / (n * (n * n - 1.0))).sqrt() / self.spacing_s
    }

    /// Standard deviation of the level at the last sample, kg.
    #[must_use]
    pub fn level_sd_kg(&self) -> f64 {
        let n = self.samples;
        self.noise_kg * (2.0 * (2.0 * n - 1.0) / (n * (n + 1.0))).sqrt()
    }

    /// Covariance of slope and last level, kg²/s.
    #[must_use]
    pub fn covariance_kg2_s(&self) -> f64 {
        6.0 * self.noise_kg.powi(2) / (self.samples * (self.samples + 1.0) * self.spacing_s)
    }

    /// Standard deviation of the time to lose `to_go_kg` at `rate_kg_s`, s. To go 0 to 1000 kg, rate
    /// 1e-9 to 1 kg/s.
    #[must_use]
    pub fn time_to_target_sd_s(&self, to_go_kg: f64, rate_kg_s: f64) -> Option<f64> {
        let rate = within(rate_kg_s, 1e-9..=1.0)?;
        let time = within(to_go_kg, 0.0..=1000.0)? / rate;
        let spread = self.level_sd_kg().powi(2)
            + (time * self.slope_sd_kg_s()).powi(2)
            + 2.0 * time * self.covariance_kg2_s();
        finite(spread.sqrt() / rate)
    }
}

/// How much larger every standard deviation is under noise of time constant `correlation_s`, at
/// least 1. Spacing 1 ms to 1 h, correlation 0 (white) to 1e6 s.
#[must_use]
pub fn correlation_inflation(spacing_s: f64, correlation_s: f64) -> Option<f64> {
    let spacing = within(spacing_s, 1e-3..=3600.0)?;
    let phi = (-spacing / within(correlation_s, 0.0..=1e6)?).exp();
    finite(((1.0 + phi) / (1.0 - phi)).sqrt())
}

/// A platform whose level wanders by a random walk.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Wandering {
    kg2_s: f64,
}

impl Wandering {
    /// By so much in so long, one standard deviation: 0 to 100 kg, above 0 s; `None` else.
    #[must_use]
    pub fn by_kg_in_s(walked_kg: f64, seconds: f64) -> Option<Self> {
        let kg2_s = finite(within(walked_kg, 0.0..=100.0)?.powi(2) / positive(seconds)?)?;
        Some(Self { kg2_s })
    }

    /// Standard deviation of what it walks in a time, kg. 0 to 1e9 s.
    #[must_use]
    pub fn walked_kg(&self, seconds: f64) -> Option<f64> {
        finite((self.kg2_s * within(seconds, 0.0..=1e9)?).sqrt())
    }

    /// The least standard deviation of a slope from `window_s`, kg/s. Above 0 s.
    #[must_use]
    pub fn slope_sd_kg_s(&self, window_s: f64) -> Option<f64> {
        finite((self.kg2_s / positive(window_s)?).sqrt())
    }

    /// The least standard deviation of the time to lose `to_go_kg` at `rate_kg_s`, s, its slope from
    /// `window_s` and its level last known truly `since_s` ago. To go 0 to 1000 kg, rate 1e-9 to 1 kg/s.
    #[must_use]
    pub fn time_to_target_sd_s(
        &self,
        to_go_kg: f64,
        rate_kg_s: f64,
        window_s: f64,
        since_s: f64,
    ) -> Option<f64> {
        let rate = within(rate_kg_s, 1e-9..=1.0)?;
        let time = within(to_go_kg, 0.0..=1000.0)? / rate;
        let by_slope_kg = time * self.slope_sd_kg_s(window_s)?;
        finite(self.walked_kg(since_s)?.hypot(by_slope_kg) / rate)
    }
}

/// The local linear trend's best, once settled.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Trend {
    pub slope_sd_kg_s: f64,
    pub level_sd_kg: f64,
    pub time_constant_s: f64,
}

/// Steady state of the local linear trend. `wander` is the intensity q of the slope's random walk,
/// kg²/s³, and `noise` is R = σ²Δt, kg²·s; both above 0.
#[must_use]
pub fn settled_trend(wander_kg2_s3: f64, noise_kg2_s: f64) -> Option<Trend> {
    let (q, r) = (positive(wander_kg2_s3)?, positive(noise_kg2_s)?);
    let root = std::f64::consts::SQRT_2;
    Some(Trend {
        slope_sd_kg_s: positive((root * q.powf(0.75) * r.powf(0.25)).sqrt())?,
        level_sd_kg: positive((root * q.powf(0.25) * r.powf(0.75)).sqrt())?,
        time_constant_s: positive(root * (r / q).powf(0.25))?,
    })
}

#[cfg(test)]
mod tests {
    use super::super::trial::{any_number, fair, near};
    use super::*;
    use proptest::prelude::*;

    const KG_H: f64 = 1.0 / 3600.0;

    // CRLB worked in numpy; white noise at 10 Hz, 1.5 kg/h: slope sd kg/h and sd of the time to lose
    // 1, 3 and 6 kg, s.
    #[test]
    fn slope_and_time_to_target_at_ten_hertz() {
        let rows = [
            (0.005, 2.0, 0.0150, [25.0, 73.0, 145.0]),
            (0.005, 5.0, 0.0038, [6.4, 18.5, 36.7]),
            (0.005, 15.0, 0.000_73, [1.4, 3.7, 7.2]),
            (0.020, 2.0, 0.0600, [98.0, 290.0, 578.0]),
            (0.020, 5.0, 0.0152, [26.0, 74.0, 147.0]),
            (0.020, 15.0, 0.0029, [5.6, 15.0, 29.0]),
        ];
        for (noise, minutes, slope, times) in rows {
            let line = Line::new(noise, minutes * 600.0, 0.1).unwrap();
            near(Some(line.slope_sd_kg_s() / KG_H), slope, 0.015 * slope + 1e-5);
            for (kg, s) in [1.0, 3.0, 6.0].into_iter().zip(times) {
                near(line.time_to_target_sd_s(kg, 1.5 * KG_H), s, 0.02 * s + 0.3);
            }
        }
    }

    // A second way: the normal equations of least squares, inverted for 50 samples.
    #[test]
    fn the_line_agrees_with_least_squares() {
        let (n, dt, sigma) = (50, 0.7, 0.004);
        let times: Vec<f64> = (0..n).map(|i| f64::from(i - (n - 1)) * dt).collect();
        let (s0, s1) = (f64::from(n), times.iter().sum::<f64>());
        let s2 = times.iter().map(|t| t * t).sum::<f64>();
        let det = s0 * s2 - s1 * s1;
        let line = Line::new(sigma, s0, dt).unwrap();
        near(Some(line.slope_sd_kg_s()), sigma * (s0 / det).sqrt(), 1e-12);
        near(Some(line.level_sd_kg()), sigma * (s2 / det).sqrt(), 1e-12);
        near(Some(line.covariance_kg2_s()), -sigma * sigma * s1 / det, 1e-15);
        // The same matrix carried on to 20 g, 200 g and 1 kg at 1.5 kg/h, worked in numpy.
        for (kg, s) in [(0.02, 8.8607), (0.2, 66.830), (1.0, 324.87)] {
            near(line.time_to_target_sd_s(kg, 1.5 * KG_H), s, 1e-4 * s);
        }
    }

    // A restless platform, 7 g in a minute, worked by hand: 38 g in half an hour; at 2 kg/h the slope
    // of ten minutes is known to 133 g/h (6.6 %), to 3 % only after 49 minutes. An hour after it was
    // last known truly, five minutes before the target: 97 s by the level, 20 s by the slope.
    #[test]
    fn what_a_restless_platform_forbids() {
        let restless = Wandering::by_kg_in_s(0.007, 60.0).unwrap();
        near(restless.walked_kg(1800.0), 0.0383, 0.0001);
        near(restless.slope_sd_kg_s(600.0).map(|sd| sd / KG_H), 0.1328, 0.0001);
        near(restless.slope_sd_kg_s(49.0 * 60.0).map(|sd| sd / KG_H), 0.060, 0.0001);
        let usual = Wandering::by_kg_in_s(0.007 / 3.0, 60.0).unwrap();
        near(usual.slope_sd_kg_s(600.0).map(|sd| sd / (2.0 * KG_H)), 0.0221, 0.0001);
        let last = restless.time_to_target_sd_s(2.0 / 12.0, 2.0 * KG_H, 600.0, 3600.0);
        near(last, 97.6_f64.hypot(19.9), 0.3);
    }

    // A second way: generalised least squares over 60 readings of the walk, whose covariance is
    // w·min(tᵢ, tⱼ). With C⁻¹ tridiagonal, 1/(tᵀ C⁻¹ t) falls out of the increments' own variances.
    #[test]
    fn no_reading_between_the_ends_helps_against_a_walk() {
        let (w, dt, n) = (0.007_f64.powi(2) / 60.0, 10.0, 60_usize);
        let mut covariance: Vec<Vec<f64>> =
            (1..=n).map(|i| (1..=n).map(|j| w * dt * i.min(j) as f64).collect()).collect();
        let times: Vec<f64> = (1..=n).map(|i| dt * i as f64).collect();
        let weights = solved(&mut covariance, times.clone());
        let information: f64 = weights.iter().zip(&times).map(|(a, b)| a * b).sum();
        let bound = Wandering::by_kg_in_s(0.007, 60.0).unwrap().slope_sd_kg_s(dt * n as f64);
        near(bound, information.powf(-0.5), 1e-9);
    }

    /// x of A x = b by Gauss's elimination, A symmetric and positive.
    fn solved(a: &mut [Vec<f64>], mut b: Vec<f64>) -> Vec<f64> {
        let n = b.len();
        for pivot in 0..n {
            for row in pivot + 1..n {
                let factor = a[row][pivot] / a[pivot][pivot];
                let above = a[pivot].clone();
                a[row].iter_mut().zip(&above).for_each(|(x, y)| *x -= factor * y);
                b[row] -= factor * b[pivot];
            }
        }
        for row in (0..n).rev() {
            let known: f64 = (row + 1..n).map(|column| a[row][column] * b[column]).sum();
            b[row] = (b[row] - known) / a[row][row];
        }
        b
    }

    #[test]
    fn slow_noise_eats_the_benefit_of_many_samples() {
        for (tau, factor) in [(1.0, 4.47), (5.0, 10.0), (20.0, 20.0)] {
            near(correlation_inflation(0.1, tau), factor, 0.01);
        }
        near(correlation_inflation(0.1, 0.0), 1.0, 1e-12);
    }

    // scipy 1.17.1 solve_discrete_are: slope wandering 0.2 or 0.05 kg/h in 10 min, 10 Hz (levels and
    // times of the last two rows by the square root of 2 and by 2).
    #[test]
    fn a_wandering_slope_has_a_floor() {
        let rows = [
            (0.2, 0.005, 0.0499, 0.37e-3, 37.0),
            (0.2, 0.020, 0.0705, 1.03e-3, 75.0),
            (0.05, 0.005, 0.0176, 0.26e-3, 75.0),
            (0.05, 0.020, 0.0249, 0.73e-3, 149.0),
        ];
        for (wander, noise, slope, level, tau) in rows {
            let trend =
                settled_trend((wander * KG_H).powi(2) / 600.0, noise * noise * 0.1).unwrap();
            near(Some(trend.slope_sd_kg_s / KG_H), slope, 0.001 * slope + 1e-4);
            near(Some(trend.level_sd_kg), level, 0.02 * level);
            near(Some(trend.time_constant_s), tau, 0.5);
        }
    }

    // A second way: the discrete filter's own covariance, run until it settles.
    #[test]
    fn the_floor_agrees_with_a_filter_run_to_rest() {
        let (dt, sigma) = (0.1, 0.005);
        let q = (0.2 * KG_H).powi(2) / 600.0;
        let (mut a, mut b, mut c) = (1.0_f64, 0.0_f64, 1e-3_f64);
        for _ in 0..50_000 {
            a += 2.0 * dt * b + dt * dt * c + q * dt.powi(3) / 3.0;
            b += dt * c + q * dt * dt / 2.0;
            c += q * dt;
            let gain = (a / (a + sigma * sigma), b / (a + sigma * sigma));
            c -= gain.1 * b;
            b -= gain.0 * b;
            a -= gain.0 * a;
        }
        let trend = settled_trend(q, sigma * sigma * dt).unwrap();
        near(Some(trend.slope_sd_kg_s), c.sqrt(), 0.005 * c.sqrt());
        near(Some(trend.level_sd_kg), a.sqrt(), 0.005 * a.sqrt());
    }

    proptest! {
        #[test]
        fn every_answer_is_a_number_or_none(
            a in any_number(), b in any_number(), c in any_number(), d in any_number(),
        ) {
            for line in [Line::new(a, b, c), Line::new(0.01, b.abs() + 3.0, 0.1)].into_iter().flatten() {
                prop_assert!(line.slope_sd_kg_s().is_finite() && line.level_sd_kg().is_finite());
                prop_assert!(line.covariance_kg2_s().is_finite());
                prop_assert!(fair(line.time_to_target_sd_s(d, a)));
            }
            for walk in [Wandering::by_kg_in_s(a, b), Wandering::by_kg_in_s(0.01, 60.0)] {
                let Some(walk) = walk else { continue };
                prop_assert!(fair(walk.walked_kg(c)) && fair(walk.slope_sd_kg_s(d)));
                prop_assert!(fair(walk.time_to_target_sd_s(a, b, c, d)));
                prop_assert!(fair(walk.time_to_target_sd_s(1.0, 1e-3, c, d)));
            }
            prop_assert!(fair(correlation_inflation(a, b)) && fair(correlation_inflation(0.1, b)));
            let settled = settled_trend(a, b);
            prop_assert!(settled.is_none_or(|t| t.slope_sd_kg_s.is_finite() && t.level_sd_kg > 0.0));
        }
    }
}
