//! Chance from a seed: the same on every machine.
//!
//! PCG-XSH-RR 64/32 (O'Neill 2014, "PCG: A Family of Simple Fast Space-Efficient Statistically Good
//! Algorithms for Random Number Generation", HMC-CS-2014-0905; constants from memory, checked
//! against the reference output in the tests). Normal numbers by Box and Muller (1958). Each use has
//! a stream of its own, so that reading the scale more seldom does not change what the cook does.

/// One stream of chance.
#[derive(Debug, Clone)]
pub struct Chance {
    state: u64,
    step: u64,
    spare: Option<f64>,
}

impl Chance {
    #[must_use]
    pub const fn new(seed: u64, stream: u64) -> Self {
        let step = (stream << 1) | 1;
        let state = step.wrapping_add(seed).wrapping_mul(MULTIPLIER).wrapping_add(step);
        Self { state, step, spare: None }
    }

    const fn next_u32(&mut self) -> u32 {
        let old = self.state;
        self.state = old.wrapping_mul(MULTIPLIER).wrapping_add(self.step);
        let mixed = (((old >> 18) ^ old) >> 27) as u32;
        mixed.rotate_right((old >> 59) as u32)
    }

    /// Even in 0..1, with 53 bits; never 1.
    pub fn uniform(&mut self) -> f64 {
        let high = u64::from(self.next_u32() >> 5);
        let low = u64::from(self.next_u32() >> 6);
        ((high << 26) | low) as f64 / (1_u64 << 53) as f64
    }

    /// Even between `low` and `high`.
    pub fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.uniform()
    }

    /// Even in the logarithm between `low` and `high`, both above zero.
    pub fn between_log(&mut self, low: f64, high: f64) -> f64 {
        self.between(low.ln(), high.ln()).exp()
    }

    /// Normal with mean 0 and standard deviation 1.
    pub fn normal(&mut self) -> f64 {
        if let Some(spare) = self.spare.take() {
            return spare;
        }
        let radius = (-2.0 * (1.0 - self.uniform()).ln()).sqrt();
        let (sine, cosine) = (std::f64::consts::TAU * self.uniform()).sin_cos();
        self.spare = Some(radius * sine);
        radius * cosine
    }

    /// Log-normal about `median` with `ln_sd` as the standard deviation of its logarithm.
    pub fn about(&mut self, median: f64, ln_sd: f64) -> f64 {
        median * (ln_sd * self.normal()).exp()
    }

    /// True with probability `p`.
    pub fn whether(&mut self, p: f64) -> bool {
        self.uniform() < p
    }

    /// One of `choices`, which must not be empty.
    pub fn pick<T: Copy>(&mut self, choices: &[T]) -> T {
        let place = (self.uniform() * choices.len() as f64) as usize;
        choices[place.min(choices.len() - 1)]
    }
}

const MULTIPLIER: u64 = 6_364_136_223_846_793_005;

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_stream_is_the_published_one() {
        // pcg32-demo of the reference library, seed 42, stream 54 (from memory).
        let mut chance = Chance::new(42, 54);
        let drawn: Vec<u32> = (0..6).map(|_| chance.next_u32()).collect();
        let published =
            [0xa15c_02b7, 0x7b47_f409, 0xba1d_3330, 0x83d2_f293, 0xbfa4_784b, 0xcbed_606e];
        assert_eq!(drawn, published);
    }

    #[test]
    fn normal_numbers_have_the_moments_of_the_normal() {
        let mut chance = Chance::new(1, 1);
        let n = 200_000;
        let drawn: Vec<f64> = (0..n).map(|_| chance.normal()).collect();
        let moment = |p: i32| drawn.iter().map(|x| x.powi(p)).sum::<f64>() / f64::from(n);
        // Four standard errors of each moment's mean.
        assert!(moment(1).abs() < 4.0 / f64::from(n).sqrt());
        assert!((moment(2) - 1.0).abs() < 4.0 * (2.0 / f64::from(n)).sqrt());
        assert!((moment(4) - 3.0).abs() < 4.0 * (96.0 / f64::from(n)).sqrt());
    }

    #[test]
    fn streams_of_one_seed_differ() {
        assert_ne!(Chance::new(7, 1).uniform(), Chance::new(7, 2).uniform());
    }
}
