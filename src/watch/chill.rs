//! A fall in temperature that something cold explains, so that it is no flame that went out.
//!
//! What was poured in lies where it fell until it is stirred in: the probe falls for minutes. A share
//! w of the contents that came in at T_cold takes a pot at T₀ down by at most
//!
//! ```text
//! ΔT = w (T₀ − T_cold)
//! ```
//!
//! (mixing of equal heat capacities; water's is higher than a gravy's by a tenth at most). A fall that
//! goes further, or longer than [`MIXES_S`], needs another cause, and so does one after a stir.

/// The coldest that is poured in: tap water in winter, °C (judgement, no source).
const COLD_C: f64 = 10.0;
/// What lies cold in a pot on a flame has mixed without a spoon by then, s (judgement, no source).
const MIXES_S: f64 = 600.0;
/// A share of the contents that is too small to be felt.
const LEAST_SHARE: f64 = 0.01;

/// What was poured in last.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Chill {
    at_s: f64,
    before_c: f64,
    share: f64,
}

impl Chill {
    /// `kg` came to a pot at `pot_c` that then held `contents_kg`, after what was `before`; `None`
    /// where it cannot be felt.
    #[must_use]
    pub fn new(
        before: Option<Self>,
        now_s: f64,
        pot_c: f64,
        (kg, contents_kg): (f64, f64),
    ) -> Option<Self> {
        let before = before.filter(|chill| now_s - chill.at_s < MIXES_S);
        let share = kg / contents_kg.max(kg);
        let all = share + before.map_or(0.0, |chill| chill.share);
        let before_c = before.map_or(pot_c, |chill| chill.before_c.max(pot_c));
        (all > LEAST_SHARE).then_some(Self { at_s: now_s, before_c, share: all.min(1.0) })
    }

    /// Whether a pot at `pot_c` is no colder than that makes it.
    #[must_use]
    pub fn explains(&self, now_s: f64, pot_c: f64) -> bool {
        let fell_k = self.before_c - pot_c;
        now_s - self.at_s < MIXES_S && fell_k < self.share * (self.before_c - COLD_C)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    // 0.37 kg into 8.3 kg at 97.5 °C: 4.3 % of 87.5 K is 3.7 K.
    #[test]
    fn a_cold_infusion_explains_its_share_of_the_fall_and_no_more() {
        let chill = Chill::new(None, 0.0, 97.5, (0.37, 8.67)).unwrap();
        assert!(chill.explains(240.0, 94.0));
        assert!(!chill.explains(240.0, 93.5));
        assert!(!chill.explains(601.0, 97.0), "by then it has mixed");
    }

    #[test]
    fn two_pours_add_up_and_a_pinch_of_salt_is_not_felt() {
        let first = Chill::new(None, 0.0, 97.5, (0.37, 8.67));
        let second = Chill::new(first, 60.0, 96.0, (0.37, 9.04)).unwrap();
        assert!(second.explains(240.0, 91.0));
        assert_eq!(Chill::new(None, 0.0, 97.5, (0.05, 8.4)), None);
    }
}
