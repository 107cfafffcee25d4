//! How a still surface in this kitchen compares with the handbook's.
//!
//! ```text
//! r = s r_h(T)
//! ```
//!
//! r loss of an open pot below the boil, kg/s; r_h the handbook's at its temperature
//! (`physics::evaporation`) for clean water; s the pot's own share, k_pot there, for its draught, its
//! lumps and its oil: [`FIRST`] ± [`DOUBT`] before anything is seen, as published rates differ. It is kept as it was known best, and when the pot is below the boil again it is believed but for
//! [`AGAIN`]: what was blended or thinned meanwhile is another surface. A pot within [`NEAR_K`] of its
//! boiling point may simmer: it tells nothing.

/// s of a gravy before it was seen, less than that of clean water: floating oil and a skin cover part
/// of it (judgement; no published factor was found).
const FIRST: f64 = 0.9;
/// Doubt about s before it was seen, as a share of it.
const DOUBT: f64 = 0.4;
/// Doubt about s from one time to the next, as a share of it (judgement).
const AGAIN: f64 = 0.10;
/// A pot this far below its boiling point does not simmer, K.
const NEAR_K: f64 = 3.0;
/// Shares beyond these are no still surface's.
const LIKELY: (f64, f64) = (0.3, 3.0);

/// s, and the doubt about it as a share of itself.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Still {
    share: f64,
    doubt: f64,
}

impl Default for Still {
    fn default() -> Self {
        Self { share: FIRST, doubt: DOUBT }
    }
}

impl Still {
    #[must_use]
    pub const fn share(&self) -> f64 {
        self.share
    }

    #[must_use]
    pub const fn doubt(&self) -> f64 {
        self.doubt
    }

    /// An open pot `below_k` under its boiling point loses `rate` ± `sd` where `expected` was expected by
    /// what is known of it, all kg/s.
    pub fn learn(&mut self, below_k: f64, (rate, sd): (f64, f64), expected: f64) {
        let doubt = (sd / rate.max(1e-7)).hypot(AGAIN);
        if below_k > NEAR_K && doubt < self.doubt && expected > 1e-6 {
            let share = self.share * rate / expected;
            *self = Self { share: share.clamp(LIKELY.0, LIKELY.1), doubt };
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_draughty_kitchen_is_known_again_at_the_next_hold() {
        let mut still = Still::default();
        let expected = |still: Still| 2e-4 * still.share();
        still.learn(8.0, (4e-4, 2e-4), expected(still));
        assert_eq!(still, Still::default());
        still.learn(8.0, (4e-4, 2e-5), expected(still));
        assert!((still.share() - 2.0).abs() < 1e-9 && still.doubt() < 0.12);
        still.learn(8.0, (2e-4, 6e-5), expected(still));
        assert!((still.share() - 2.0).abs() < 1e-9);
    }

    #[test]
    fn a_pot_that_may_simmer_tells_nothing_of_a_still_surface() {
        let mut still = Still::default();
        still.learn(2.0, (8e-4, 1e-5), 2e-4);
        assert_eq!(still, Still::default());
    }
}
