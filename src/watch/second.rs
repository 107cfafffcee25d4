//! One second of load: what is left of it after taking the middle.
//!
//! Samples come at 1 to 80 a second. All judgement runs on one value a second: the mean without its
//! lowest and highest sample (one knock or spike then moves nothing), and the *spread*, the sample
//! standard deviation, which tells a still platform from a shaken one. Where fewer than
//! [`ENOUGH`] samples came, the spread is that of the last few seconds' means.

/// Samples in a second that make a spread of their own.
pub const ENOUGH: u32 = 4;
/// Means that make a spread where seconds have too few samples.
const RECENT: usize = 5;

/// What one second of samples said.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Second {
    pub mean_kg: f64,
    pub spread_kg: f64,
    pub samples: u32,
}

/// Gathers samples until their second is over.
#[derive(Debug, Clone, Default)]
pub struct Gather {
    first_kg: f64,
    sum: f64,
    squares: f64,
    low: f64,
    high: f64,
    samples: u32,
    recent: [f64; RECENT],
    recent_len: usize,
}

impl Gather {
    pub fn take(&mut self, load_kg: f64) {
        if self.samples == 0 {
            self.first_kg = load_kg;
            (self.sum, self.squares, self.low, self.high) = (0.0, 0.0, 0.0, 0.0);
        }
        let x = load_kg - self.first_kg;
        self.sum += x;
        self.squares += x * x;
        self.low = self.low.min(x);
        self.high = self.high.max(x);
        self.samples += 1;
    }

    /// Ends the second; `None` where no sample came.
    pub fn end(&mut self) -> Option<Second> {
        let n = self.samples;
        self.samples = 0;
        if n == 0 {
            return None;
        }
        let mean_kg = self.first_kg + self.middle(n);
        self.remember(mean_kg);
        let spread_kg = if n >= ENOUGH { self.spread(n) } else { self.recent_spread() };
        Some(Second { mean_kg, spread_kg, samples: n })
    }

    fn middle(&self, n: u32) -> f64 {
        if n > ENOUGH {
            (self.sum - self.low - self.high) / f64::from(n - 2)
        } else {
            self.sum / f64::from(n)
        }
    }

    fn spread(&self, n: u32) -> f64 {
        let n = f64::from(n);
        ((self.squares - self.sum * self.sum / n) / (n - 1.0)).max(0.0).sqrt()
    }

    fn remember(&mut self, mean_kg: f64) {
        self.recent.rotate_left(1);
        self.recent[RECENT - 1] = mean_kg;
        self.recent_len = (self.recent_len + 1).min(RECENT);
    }

    fn recent_spread(&self) -> f64 {
        let kept = &self.recent[RECENT - self.recent_len..];
        if kept.len() < 2 {
            return 0.0;
        }
        let mean = kept.iter().sum::<f64>() / kept.len() as f64;
        let squares: f64 = kept.iter().map(|x| (x - mean) * (x - mean)).sum();
        (squares / (kept.len() - 1) as f64).sqrt()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_spike_in_a_second_moves_the_middle_by_nothing() {
        let mut gather = Gather::default();
        for kg in [20.0, 20.0, 20.0, 27.0, 20.0, 20.0, 20.0, 20.0, 20.0, 20.0] {
            gather.take(kg);
        }
        assert_eq!(gather.end().unwrap().mean_kg, 20.0);
    }

    #[test]
    fn the_spread_is_the_sample_standard_deviation() {
        let mut gather = Gather::default();
        for kg in [1.0, 2.0, 3.0, 4.0] {
            gather.take(kg);
        }
        assert!((gather.end().unwrap().spread_kg - (5.0f64 / 3.0).sqrt()).abs() < 1e-12);
    }

    #[test]
    fn a_second_without_samples_is_nothing() {
        assert_eq!(Gather::default().end(), None);
    }
}
