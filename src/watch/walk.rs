//! How restlessly the platform drifts.
//!
//! Platforms differ by ten times in how far they wander while they warm and creep, and a slope can be
//! believed only as far as that allows. The drift's fast part is a random walk of q kg²/s. At rest
//! the means A₁, A₂, A₃ of three minutes on end tell it without the rate of loss, which cancels:
//!
//! ```text
//! D = A₁ − 2A₂ + A₃,    var D = q h + 6 R/n
//! ```
//!
//! h the length of a mean, 60 s; R the variance of a second's level and n the seconds in a mean; the
//! walk's share is the integral of the squared weights of its steps, 3 · h/3. q is held to be one of
//! [`GRID`], all as likely beforehand, and weighed by Bayes' rule with Student's t for the likelihood
//! ([`FREEDOM`]), so that a flame that is turned in the middle of three minutes does not pass for a
//! restless platform. Minutes are used up to three times, so that each D counts for [`WORTH`] of one.
//!
//! Assumed: the grid, from 1 to 9 g in a minute (platforms of the trade's size, judgement; OIML R 60
//! allows a class C3 cell of 60 kg about 15 g of creep in half an hour: `physics::weighing`). Learnt: the weights.

/// Variances that the walk may gain, kg²/s.
const GRID: [f64; 6] = [2e-8, 5e-8, 1.2e-7, 2.8e-7, 6.5e-7, 1.5e-6];
const FREEDOM: f64 = 5.0;
/// Worth of a D whose minutes are used thrice.
const WORTH: f64 = 0.6;
/// Length of a mean, s.
const MEAN_S: f64 = 60.0;

/// What is known of the platform's walk.
#[derive(Debug, Clone)]
pub struct Walk {
    log_weights: [f64; GRID.len()],
    kg2_s: f64,
    sum_kg: f64,
    seconds: u32,
    before: [Option<f64>; 2],
}

impl Default for Walk {
    fn default() -> Self {
        let log_weights = [0.0; GRID.len()];
        let kg2_s = middle(&log_weights);
        Self { log_weights, kg2_s, sum_kg: 0.0, seconds: 0, before: [None; 2] }
    }
}

impl Walk {
    /// Takes in the level of a second at rest, of variance `variance` kg².
    pub fn take(&mut self, level_kg: f64, variance: f64) {
        self.sum_kg += level_kg;
        self.seconds += 1;
        let n = f64::from(self.seconds);
        if n < MEAN_S {
            return;
        }
        let mean_kg = self.sum_kg / n;
        if let [Some(first_kg), Some(second_kg)] = self.before {
            self.weigh(first_kg - 2.0 * second_kg + mean_kg, 6.0 * variance / n);
        }
        self.before = [self.before[1], Some(mean_kg)];
        (self.sum_kg, self.seconds) = (0.0, 0);
    }

    /// The load was touched: minutes before and after do not belong together.
    pub const fn interrupted(&mut self) {
        (self.sum_kg, self.seconds, self.before) = (0.0, 0, [None; 2]);
    }

    /// Variance that the drift gains, kg²/s: the geometric mean over what is still possible.
    #[must_use]
    pub const fn kg2_s(&self) -> f64 {
        self.kg2_s
    }

    fn weigh(&mut self, d_kg: f64, noise: f64) {
        for (q, log) in GRID.iter().zip(&mut self.log_weights) {
            let variance = q * MEAN_S + noise;
            let far = d_kg * d_kg / (FREEDOM * variance);
            *log -= WORTH * (0.5 * (FREEDOM + 1.0) * far.ln_1p() + 0.5 * variance.ln());
        }
        self.kg2_s = middle(&self.log_weights);
    }
}

fn middle(log_weights: &[f64; GRID.len()]) -> f64 {
    let most = log_weights.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let weights = log_weights.map(|log| (log - most).exp());
    let sum: f64 = GRID.iter().zip(&weights).map(|(q, weight)| q.ln() * weight).sum();
    (sum / weights.iter().sum::<f64>()).exp()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Steps of a coin, so that a walk of `g2_s` g²/s and a noise of `noise_g` are what they claim.
    fn watched(g2_s: f64, noise_g: f64, minutes: u32, turn: bool) -> Walk {
        let mut walk = Walk::default();
        let mut state: u32 = 12_345;
        let mut coin = || {
            state ^= state << 13;
            state ^= state >> 17;
            state ^= state << 5;
            if state % 2 == 0 { 1.0 } else { -1.0 }
        };
        let mut kg = 20.0;
        for s in 0..60 * minutes {
            let rate_kg_h = if turn && s > 30 * minutes { 1.0 } else { 3.0 };
            kg += 1e-3 * g2_s.sqrt() * coin() - rate_kg_h / 3600.0;
            walk.take(kg + 1e-3 * noise_g * coin(), 1e-6 * noise_g * noise_g);
        }
        walk
    }

    fn g2_s(walk: &Walk) -> f64 {
        walk.kg2_s() * 1e6
    }

    #[test]
    fn a_restless_platform_and_a_quiet_one_are_told_apart_within_an_hour() {
        let restless = g2_s(&watched(0.65, 4.0, 60, false));
        let quiet = g2_s(&watched(0.02, 4.0, 60, false));
        assert!((0.35..1.2).contains(&restless), "{restless}");
        assert!(quiet < 0.06, "{quiet}");
    }

    #[test]
    fn the_noise_of_a_hard_boil_is_not_taken_for_drift() {
        let quiet = g2_s(&watched(0.05, 20.0, 90, false));
        assert!(quiet < 0.15, "{quiet}");
    }

    #[test]
    fn a_flame_turned_down_does_not_make_the_platform_restless() {
        let quiet = g2_s(&watched(0.05, 4.0, 60, true));
        assert!(quiet < 0.15, "{quiet}");
    }

    #[test]
    fn a_pot_that_is_touched_every_other_minute_tells_nothing() {
        let mut walk = Walk::default();
        for s in 0..3600 {
            if s % 120 == 0 {
                walk.interrupted();
            }
            walk.take(20.0 + 0.1 * f64::from(s % 7), 1e-6);
        }
        assert!((walk.kg2_s() - Walk::default().kg2_s()).abs() < 1e-12);
    }
}
