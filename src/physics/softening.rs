//! How soft the vegetables are: kinetics as a band, and the cook value.
//!
//! Loss of firmness is taken as first order, or first order towards a part that never softens
//! (fractional conversion):
//!
//! ```text
//! F = F∞ + (1 − F∞) e^(−kt)          F firmness, raw = 1
//! k(T) = k₁₀₀ exp[−E_a/R (1/T − 1/373.15 K)]
//! z = ln 10 · R T²/E_a               K for a tenfold rate
//! ```
//!
//! **What is known**: published carrots, per minute at 100 °C ([`PUBLISHED`], from the table of Lee
//! 2017, Food Eng Prog 21(4):303). They differ by ×4. Onion, tomato and pepper: nothing found that
//! could be read. **What is assumed**: a base is soft somewhere between the quickest and the slowest
//! of the published roots. So "soft" is a band, and the cook confirms it.
//!
//! **What it leaves out**: a stay at 50 to 70 °C firms carrots (pectin methylesterase) and acid slows
//! softening; both make the band late, not early.
//!
//! **Cook value** C = ∫ 10^((T − 100)/33) dt, min at 100 °C (Mansfield 1962, from memory). z = 33 K
//! is that of quality at large; softening's own z is 17 to 24 K, so this clock is optimistic below
//! 95 °C.

use super::arrhenius::{rate_ratio, tenfold_ratio};
use super::{finite, positive, within};

const KELVIN_PER_TENFOLD_COOKING: f64 = 33.0;

/// First-order kinetics of softening.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Kinetics {
    pub food: &'static str,
    pub source: &'static str,
    /// Rate at 100 °C, 1/min.
    pub rate_100_per_min: f64,
    /// Activation energy, J/mol.
    pub activation_j_mol: f64,
}

/// What was published and could be read, all through Lee 2017 table 1.
pub const PUBLISHED: [Kinetics; 8] = [
    carrot("Mansfield 1974", 0.126, 159.0),
    carrot("Vu 2004, fractional conversion", 0.222, 117.6),
    carrot("as listed, 152 kJ/mol", 0.296, 152.0),
    carrot("Paulus and Saguy 1980, slowest", 0.047, 92.0),
    carrot("Verlinden 1996", 0.381, 143.0),
    Kinetics { food: "beet", ..carrot("as listed", 0.115, 142.0) },
    Kinetics { food: "cabbage", ..carrot("as listed", 0.146, 71.0) },
    Kinetics { food: "broccoli", ..carrot("as listed", 0.217, 54.0) },
];

/// The edges of the band: the slowest and the quickest published carrot near the boil.
pub const SLOWEST: Kinetics = PUBLISHED[3];
pub const QUICKEST: Kinetics = PUBLISHED[4];

const fn carrot(source: &'static str, rate_100_per_min: f64, activation_kj_mol: f64) -> Kinetics {
    let activation_j_mol = 1e3 * activation_kj_mol;
    Kinetics { food: "carrot", source, rate_100_per_min, activation_j_mol }
}

impl Kinetics {
    /// Rate at `t_c`, 1/min. 20 to 130 °C.
    #[must_use]
    pub fn rate_per_min(&self, t_c: f64) -> Option<f64> {
        Some(self.rate_100_per_min * rate_ratio(self.activation_j_mol, t_c, 100.0)?)
    }

    /// Minutes at `t_c` until `share` (0 to below 1) of the change is done.
    #[must_use]
    pub fn minutes_to(&self, share: f64, t_c: f64) -> Option<f64> {
        let share = within(share, 0.0..=0.999_999)?;
        finite(-(1.0 - share).ln() / self.rate_per_min(t_c)?)
    }
}

/// Minutes at `t_c` to 90 % of the change, by the quickest and the slowest published carrot. 20 to
/// 130 °C.
#[must_use]
pub fn soft_by_min(t_c: f64) -> Option<(f64, f64)> {
    let ninety = |kinetics: &Kinetics| kinetics.minutes_to(0.9, t_c);
    let (a, b) = (ninety(&QUICKEST)?, ninety(&SLOWEST)?);
    Some((a.min(b), a.max(b)))
}

/// How far softening has come, as progress of the change 0 to 1, low and high edge of the band.
/// Keeps ∫ k dt of both edges; feed it time at temperature.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Softening {
    slow: f64,
    quick: f64,
}

impl Softening {
    /// After a further `minutes` at `t_c`; below 20 °C nothing happens, above 130 °C it is taken as
    /// 130. Time that is not a finite positive number changes nothing.
    pub fn hold(&mut self, t_c: f64, minutes: f64) {
        let (Some(minutes), false) = (positive(minutes), t_c.is_nan()) else { return };
        let t = t_c.min(130.0);
        self.slow += minutes * SLOWEST.rate_per_min(t).unwrap_or(0.0);
        self.quick += minutes * QUICKEST.rate_per_min(t).unwrap_or(0.0);
    }

    /// Progress by the slowest and by the quickest of the band, each 0 to 1.
    #[must_use]
    pub fn progress(&self) -> (f64, f64) {
        let done = |exposure: f64| 1.0 - (-exposure).exp();
        let (a, b) = (done(self.slow), done(self.quick));
        (a.min(b), a.max(b))
    }
}

/// How fast the cook value grows at `t_c`, minutes at 100 °C per minute. 0 to 150 °C.
#[must_use]
pub fn cook_value_rate(t_c: f64) -> Option<f64> {
    tenfold_ratio(within(t_c, 0.0..=150.0)?, 100.0, KELVIN_PER_TENFOLD_COOKING)
}

#[cfg(test)]
mod tests {
    use super::super::arrhenius::z_k;
    use super::super::trial::{any_number, fair, near};
    use super::*;
    use proptest::prelude::*;

    // Lee 2017 table 1, worked independently in Python: minutes to 90 % at 100, 98, 95, 90 °C.
    #[test]
    fn published_carrots_soften_in_ten_minutes_to_two_hours() {
        let rows =
            [(PUBLISHED[0], [18.0, 24.0, 37.0, 75.0]), (PUBLISHED[1], [10.0, 13.0, 17.0, 29.0])];
        for (kinetics, minutes) in rows {
            for (t, wanted) in [100.0, 98.0, 95.0, 90.0].into_iter().zip(minutes) {
                near(kinetics.minutes_to(0.9, t), wanted, 0.6);
            }
        }
    }

    // The same table's rates and activation energies typed anew: minutes to 90 % at 100 and at 90 °C.
    #[test]
    fn every_published_root_as_the_table_has_it() {
        let rows = [
            (18.27, 74.94),
            (10.37, 29.46),
            (7.78, 29.98),
            (48.99, 110.85),
            (6.04, 21.50),
            (20.02, 70.61),
            (15.77, 29.62),
            (10.61, 17.14),
        ];
        for (kinetics, (at_100, at_90)) in PUBLISHED.iter().zip(rows) {
            near(kinetics.minutes_to(0.9, 100.0), at_100, 0.006);
            near(kinetics.minutes_to(0.9, 90.0), at_90, 0.006);
        }
        let (quick, slow) = soft_by_min(100.0).unwrap();
        near(Some(quick), 6.04, 0.006);
        near(Some(slow), 48.99, 0.006);
    }

    #[test]
    fn above_130_degrees_nothing_is_known_and_130_is_taken() {
        let held = |t| {
            let mut pot = Softening::default();
            pot.hold(t, 0.02);
            pot.progress()
        };
        assert_eq!(held(150.0), held(130.0));
        assert!(held(129.0).1 < held(130.0).1);
    }

    #[test]
    fn the_band_is_wide_and_ordered() {
        let (quick, slow) = soft_by_min(98.0).unwrap();
        assert!(quick < 10.0 && slow > 45.0, "{quick} to {slow} min");
        let altitude = PUBLISHED[0].minutes_to(0.9, 96.6).unwrap();
        let ratio = altitude / PUBLISHED[0].minutes_to(0.9, 99.97).unwrap();
        assert!((1.4..1.65).contains(&ratio), "1000 m costs ×{ratio}");
    }

    // Mansfield's clock: 20 min at 100 °C is 23.0, 28.3 and 40.2 min at 98, 95 and 90 °C.
    #[test]
    fn the_cook_value_by_hand() {
        for (t, rate) in [(100.0, 1.0), (98.0, 0.870), (95.0, 0.705), (90.0, 0.498)] {
            near(cook_value_rate(t), rate, 0.0005);
        }
        near(cook_value_rate(95.0).map(|r| 20.0 / r), 28.3, 0.1);
    }

    #[test]
    fn softening_has_a_z_of_17_to_24_kelvin() {
        near(z_k(159e3, 100.0), 16.8, 0.1);
        near(z_k(117.6e3, 100.0), 22.7, 0.1);
    }

    #[test]
    fn time_at_temperature_adds_up() {
        let mut pot = Softening::default();
        pot.hold(98.0, 20.0);
        pot.hold(f64::NAN, 20.0);
        pot.hold(98.0, f64::INFINITY);
        pot.hold(-5.0, 20.0);
        let (slow, quick) = pot.progress();
        near(Some(quick), 1.0 - (-20.0 * QUICKEST.rate_per_min(98.0).unwrap()).exp(), 1e-9);
        near(Some(slow), 1.0 - (-20.0 * SLOWEST.rate_per_min(98.0).unwrap()).exp(), 1e-9);
    }

    proptest! {
        #[test]
        fn every_answer_is_a_number_or_none(a in any_number(), b in any_number()) {
            prop_assert!(fair(cook_value_rate(a)));
            prop_assert!(fair(SLOWEST.minutes_to(a, b)) && fair(QUICKEST.minutes_to(a, b)));
            prop_assert!(soft_by_min(a).is_none_or(|(x, y)| x.is_finite() && x <= y && y.is_finite()));
            let mut pot = Softening::default();
            pot.hold(a, b);
            let (slow, quick) = pot.progress();
            prop_assert!((0.0..=1.0).contains(&slow) && slow <= quick && quick <= 1.0);
        }
    }
}
