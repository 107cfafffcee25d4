//! Steam that stirs let go.
//!
//! Under a layer the metal is hotter than the boil; a stir scrapes it bare and that heat boils off
//! within seconds. The rate between stirs does not show it, the way to the target does:
//!
//! ```text
//! r̄ = r + Σ pᵢ/(t_n − t_0)
//! ```
//!
//! p fall of the level over a stir below what the rate explains, kg; t_0 the first stir and t_n the
//! last. A single p is known to the noise of two levels; their mean over n stirs to that over √n, and
//! it is believed as a share n/(n + [`DOUBT`]).
//!
//! How large a puff may be is learnt as well, since the level must not be held to lie where it did
//! before the stir, nor doubted more than this pot asks for: with σ the noise of p and k = [`DOUBT`]
//!
//! ```text
//! P² = (k P₀² + Σ (pᵢ² − σᵢ²)) / (k + n)
//! ```

/// A puff before any was seen, kg: 3 kg of steel, 12 K above the boil (judgement).
const FIRST_KG: f64 = 0.008;
/// No puff is held to be surer than this, kg.
const LEAST_KG: f64 = 0.002;
/// Stirs whose worth the prior "none" has (judgement).
const DOUBT: f64 = 2.0;
/// Standard deviation of a single puff as it is seen, kg.
const SEEN_SD_KG: f64 = 0.010;
/// A fall beyond this at a stir was no steam, kg.
const MOST_KG: f64 = 0.12;

/// What stirs let go since the pot last changed.
#[derive(Debug, Clone, Copy, Default)]
pub struct Puffs {
    first_s: Option<f64>,
    last_s: f64,
    stirs: f64,
    sum_kg: f64,
    /// Σ (p² − σ²), kg².
    sum_kg2: f64,
}

impl Puffs {
    /// A stir at `at_s` after which the level lay `fell_kg` ± `sd_kg` below what was predicted.
    pub fn stirred(&mut self, at_s: f64, fell_kg: f64, sd_kg: f64) {
        if self.first_s.is_none() {
            self.first_s = Some(at_s);
        } else if fell_kg.abs() < MOST_KG {
            self.sum_kg += fell_kg;
            self.sum_kg2 += fell_kg.powi(2) - sd_kg.powi(2);
            self.stirs += 1.0;
        }
        self.last_s = at_s;
    }

    /// P, what the next stir may let go, kg.
    #[must_use]
    pub fn puff_kg(&self) -> f64 {
        let mean = (DOUBT * FIRST_KG * FIRST_KG + self.sum_kg2) / (DOUBT + self.stirs);
        mean.max(LEAST_KG * LEAST_KG).sqrt()
    }

    /// What they add to the rate, kg/s, and its standard deviation.
    #[must_use]
    pub fn rate_kg_s(&self) -> (f64, f64) {
        let Some(first_s) = self.first_s.filter(|_| self.stirs > 0.0) else { return (0.0, 0.0) };
        let (n, span_s) = (self.stirs, self.last_s - first_s);
        let believed = n / (n + DOUBT);
        let rate = believed * (self.sum_kg / span_s).max(0.0);
        (rate, believed * SEEN_SD_KG * n.sqrt() / span_s)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn stirs_that_let_steam_go_bring_the_target_nearer() {
        let mut puffs = Puffs::default();
        (0..9).for_each(|i| puffs.stirred(400.0 * f64::from(i), 0.020, 0.005));
        let (rate, sd) = puffs.rate_kg_s();
        assert!((rate - 0.8 * 0.020 / 400.0).abs() < 1e-9 && sd < 0.3 * rate);
    }

    #[test]
    fn one_stir_says_nothing_yet() {
        let mut puffs = Puffs::default();
        puffs.stirred(100.0, 0.05, 0.005);
        assert_eq!(puffs.rate_kg_s(), (0.0, 0.0));
    }

    #[test]
    fn a_spoon_taken_out_is_no_steam() {
        let mut puffs = Puffs::default();
        puffs.stirred(100.0, 0.0, 0.005);
        puffs.stirred(500.0, 0.3, 0.005);
        assert_eq!(puffs.rate_kg_s().0, 0.0);
    }

    #[test]
    fn a_pot_whose_stirs_let_nothing_go_is_doubted_less_at_the_next() {
        let (mut quiet, mut lively) = (Puffs::default(), Puffs::default());
        for i in 0..9 {
            let noise_kg = if i % 2 == 0 { 0.005 } else { -0.005 };
            quiet.stirred(400.0 * f64::from(i), noise_kg, 0.005);
            lively.stirred(400.0 * f64::from(i), 0.030 + noise_kg, 0.005);
        }
        assert!(quiet.puff_kg() < 0.008 && (0.025..0.032).contains(&lively.puff_kg()));
        assert!((Puffs::default().puff_kg() - 0.008).abs() < 1e-9);
    }
}
