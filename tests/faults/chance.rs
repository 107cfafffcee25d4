//! Seeded chance, and how long the seeded tests go on.

/// The 64-bit linear congruential generator of Knuth (MMIX).
#[derive(Debug, Clone)]
pub struct Chance {
    state: u64,
}

impl Chance {
    pub fn new(seed: u64) -> Self {
        let mut chance = Self { state: seed.wrapping_mul(0x9e37_79b9_7f4a_7c15) };
        for _ in 0..4 {
            chance.uniform();
        }
        chance
    }

    /// Uniform in 0..1.
    pub fn uniform(&mut self) -> f64 {
        const BY: u64 = 6_364_136_223_846_793_005;
        self.state = self.state.wrapping_mul(BY).wrapping_add(1_442_695_040_888_963_407);
        (self.state >> 11) as f64 / (1_u64 << 53) as f64
    }

    pub fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.uniform()
    }

    /// A whole number in 0..`end`.
    pub fn below(&mut self, end: usize) -> usize {
        (self.uniform() * end as f64) as usize
    }

    pub fn whether(&mut self, likelihood: f64) -> bool {
        self.uniform() < likelihood
    }

    pub fn pick<T: Copy>(&mut self, choices: &[T]) -> T {
        choices[self.below(choices.len())]
    }

    /// Normal, by the sum of twelve uniform numbers.
    pub fn normal(&mut self) -> f64 {
        (0..12).map(|_| self.uniform()).sum::<f64>() - 6.0
    }
}

/// How much of something is asked for by the environment, and this much where nothing is.
#[expect(clippy::disallowed_methods, reason = "a long run is asked for by the environment")]
pub fn asked(name: &str, usual: u64) -> u64 {
    std::env::var(name).ok().and_then(|text| text.parse().ok()).unwrap_or(usual)
}
