//! Cooling for the store: will it be cold in the time that the rule gives?
//!
//! Food cools towards its surroundings T_e nearly as
//!
//! ```text
//! log₁₀(T − T_e) = log₁₀(T₀ − T_e) − s t        s the slope, per hour
//! ```
//!
//! so two readings some time apart foretell the rest (the two-point method of Schaffner and others;
//! Hedeen, Schaffner and Brown 2022 tried it on kitchens' foods). Here s is the least-squares slope
//! of the last [`WINDOW_S`], and it is used once it spans [`LEAST_S`] and [`LEAST_FALL_K`]. A slope
//! of the middle of deep, unstirred food begins too flat and is then told too slow: that errs on
//! the safe side. Cooling down to within [`NEAR_K`] of the surroundings is never foretold.
//!
//! A stretch of the rule runs from the moment at which the food falls below its upper temperature.

use std::collections::VecDeque;

use crate::batch::rules::{Cool, Stretch};
use crate::moment::Moment;

/// How far back the slope looks, s.
pub const WINDOW_S: f64 = 1200.0;
/// The least time that a slope needs, s.
pub const LEAST_S: f64 = 480.0;
/// The least fall that a slope needs, K.
pub const LEAST_FALL_K: f64 = 1.0;
/// The least distance from the surroundings at which a slope still means something, K.
pub const NEAR_K: f64 = 1.0;

/// What food is taken to cool towards where nobody says, °C: a fridge. In a warm room the slope then
/// looks flat and is told too slow, as it is; in iced water it looks steep enough.
pub const FRIDGE_C: f64 = 3.0;

/// Readings are kept this far apart, ms.
const EVERY_MS: i64 = 30_000;

/// What can be done where cooling is too slow.
pub const WHAT_HELPS: &str =
    "pour it into shallow trays or small boxes, or stand it in iced water and stir";

/// How one stretch of the rule stands.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Standing {
    /// Still hotter than where the stretch begins.
    NotBegun,
    /// Under way, and too early to tell.
    TooEarly { left_s: f64 },
    /// It will be in time, with this much to spare, s.
    InTime { left_s: f64, spare_s: f64 },
    /// It will be late by this much, s; `None` where it will not get there at all in these
    /// surroundings.
    TooSlow { left_s: f64, late_s: Option<f64> },
    /// Done, in this time, s.
    Met { took_s: f64 },
    /// The time is over.
    Missed,
}

#[derive(Debug, Clone, Copy, PartialEq)]
struct Run {
    stretch: Stretch,
    began: Option<Moment>,
    ended: Option<Moment>,
}

/// Follows one batch from the flame to the cold.
#[derive(Debug, Clone, PartialEq)]
pub struct Cooling {
    surroundings_c: f64,
    runs: Vec<Run>,
    readings: VecDeque<(Moment, f64)>,
}

impl Cooling {
    /// `surroundings_c` is what the food stands in; [`FRIDGE_C`] where that is not known.
    #[must_use]
    pub fn new(rule: Cool, surroundings_c: f64) -> Self {
        let run = |stretch: &Stretch| Run { stretch: *stretch, began: None, ended: None };
        let runs = rule.stretches.iter().map(run).collect();
        Self { surroundings_c, runs, readings: VecDeque::new() }
    }

    /// Takes in a reading; without one the clock of the rule runs on all the same.
    pub fn step(&mut self, at: Moment, food_c: Option<f64>) {
        let Some(food_c) = food_c else { return };
        for run in &mut self.runs {
            if food_c < run.stretch.from_c {
                run.began.get_or_insert(at);
            }
            if food_c <= run.stretch.to_c {
                run.ended.get_or_insert(at);
            }
        }
        let due = self.readings.back().is_none_or(|(last, _)| at.ms() - last.ms() >= EVERY_MS);
        if due {
            self.readings.push_back((at, food_c));
        }
        while self.readings.front().is_some_and(|(first, _)| at - *first > WINDOW_S) {
            self.readings.pop_front();
        }
    }

    /// Each stretch of the rule and how it stands at this moment.
    #[must_use]
    pub fn standings(&self, at: Moment) -> Vec<(Stretch, Standing)> {
        self.runs.iter().map(|run| (run.stretch, self.standing(run, at))).collect()
    }

    /// Whether any stretch is missed or will be.
    #[must_use]
    pub fn is_too_slow(&self, at: Moment) -> bool {
        let slow = |(_, standing): (Stretch, Standing)| {
            matches!(standing, Standing::TooSlow { .. } | Standing::Missed)
        };
        self.standings(at).into_iter().any(slow)
    }

    fn standing(&self, run: &Run, at: Moment) -> Standing {
        let Some(began) = run.began else { return Standing::NotBegun };
        if let Some(ended) = run.ended {
            let took_s = ended - began;
            let in_time = took_s <= run.stretch.within_s;
            return if in_time { Standing::Met { took_s } } else { Standing::Missed };
        }
        let left_s = run.stretch.within_s - (at - began);
        if left_s <= 0.0 {
            return Standing::Missed;
        }
        match self.needs_s(run.stretch.to_c, at) {
            Need::Unknown => Standing::TooEarly { left_s },
            Need::Never => Standing::TooSlow { left_s, late_s: None },
            Need::Seconds(s) if s > left_s => {
                Standing::TooSlow { left_s, late_s: Some(s - left_s) }
            }
            Need::Seconds(s) => Standing::InTime { left_s, spare_s: left_s - s },
        }
    }

    /// How long from `at` until the food is at `to_c`.
    fn needs_s(&self, to_c: f64, at: Moment) -> Need {
        if to_c - self.surroundings_c < NEAR_K {
            return Need::Never;
        }
        let Some((level, slope_per_s)) = self.fit(at) else { return Need::Unknown };
        if slope_per_s >= 0.0 {
            return Need::Never;
        }
        Need::Seconds((((to_c - self.surroundings_c).ln() - level) / slope_per_s).max(0.0))
    }

    /// ln(T − T_e) at `at` and its slope per second.
    fn fit(&self, at: Moment) -> Option<(f64, f64)> {
        let points: Vec<(f64, f64)> = self
            .readings
            .iter()
            .filter(|(_, c)| c - self.surroundings_c > NEAR_K)
            .map(|(when, c)| (*when - at, (c - self.surroundings_c).ln()))
            .collect();
        let (first, last) = (self.readings.front()?, self.readings.back()?);
        let fell_k = first.1 - last.1;
        let steady = (last.0 - first.0) >= LEAST_S && (fell_k >= LEAST_FALL_K || last.1 < 30.0);
        if !steady || points.len() < 5 {
            return None;
        }
        let n = points.len() as f64;
        let mean_t = points.iter().map(|(t, _)| t).sum::<f64>() / n;
        let mean_y = points.iter().map(|(_, y)| y).sum::<f64>() / n;
        let tt: f64 = points.iter().map(|(t, _)| (t - mean_t).powi(2)).sum();
        let ty: f64 = points.iter().map(|(t, y)| (t - mean_t) * (y - mean_y)).sum();
        let slope = ty / tt;
        Some((mean_y - slope * mean_t, slope))
    }
}

enum Need {
    Unknown,
    Never,
    Seconds(f64),
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::batch::rules::Rules;

    /// A minute-by-minute fall from 90 °C with this time constant, watched until `until_min`.
    fn watched(rules: &str, tau_min: f64, surroundings_c: f64, until_min: i64) -> Cooling {
        let mut cooling = Cooling::new(Rules::by_name(rules).unwrap().cool, surroundings_c);
        for minute in 0..=until_min {
            let c = surroundings_c + (90.0 - surroundings_c) * (-minute as f64 / tau_min).exp();
            cooling.step(Moment::from_ms(minute * 60_000), Some(c));
        }
        cooling
    }

    fn at(minute: i64) -> Moment {
        Moment::from_ms(minute * 60_000)
    }

    // Needed for the FDA Food Code in a 3 °C fridge: 0.2386 per hour, a time constant of 109 min;
    // for 63 to 8 °C in 90 min 0.7195 per hour, 36 min (worked apart from this code).
    #[test]
    fn the_slope_that_the_rule_needs_parts_too_slow_from_in_time() {
        // Twenty minutes into each fall past the rule's upper temperature.
        for (rules, from_c, tau_min) in [("fda", 57.0_f64, 109.0_f64), ("england", 63.0, 36.0)] {
            for (factor, slow) in [(0.97, false), (1.03, true)] {
                let tau = tau_min * factor;
                let until = (tau * (87.0 / (from_c - 3.0)).ln()) as i64 + 20;
                let cooling = watched(rules, tau, 3.0, until);
                assert_eq!(cooling.is_too_slow(at(until)), slow, "{rules} τ {tau} min");
            }
        }
    }

    #[test]
    fn it_is_told_long_before_the_time_is_over() {
        // 20 l in a still fridge, a time constant of 242 min: never in two hours.
        let cooling = watched("fda", 242.0, 3.0, 130);
        let (stretch, standing) = cooling.standings(at(130))[0];
        assert_eq!(stretch.to_c, 21.0);
        let Standing::TooSlow { left_s, late_s: Some(late_s) } = standing else {
            panic!("{standing:?}")
        };
        assert!(left_s > 1.6 * 3600.0);
        // From 57 to 21 °C such a pot takes 266 min.
        assert!((late_s - 146.0 * 60.0).abs() < 120.0, "{late_s}");
    }

    #[test]
    fn a_warm_room_never_makes_it_cold() {
        let cooling = watched("fda", 30.0, 22.0, 60);
        let standing = cooling.standings(at(60))[1].1;
        assert!(matches!(standing, Standing::TooSlow { late_s: None, .. }), "{standing:?}");
    }

    // A pot left in a kitchen at 20 °C, and trays stirred in iced water, both taken to stand in a fridge.
    #[test]
    fn where_it_stands_need_not_be_known() {
        let told = |tau_min: f64, around_c: f64, minute: i64| {
            let mut cooling = Cooling::new(Rules::by_name("fda").unwrap().cool, FRIDGE_C);
            for n in 0..=minute {
                let c = around_c + (90.0 - around_c) * (-n as f64 / tau_min).exp();
                cooling.step(at(n), Some(c));
            }
            cooling.is_too_slow(at(minute))
        };
        assert!(told(240.0, 20.0, 180));
        assert!(told(90.0, 20.0, 120));
        assert!(!told(30.0, 0.0, 30));
    }

    #[test]
    fn a_fast_fall_meets_the_rule() {
        let cooling = watched("england", 29.0, 0.0, 200);
        let (_, standing) = cooling.standings(at(200))[0];
        assert!(matches!(standing, Standing::Met { took_s } if took_s < 5400.0), "{standing:?}");
    }

    #[test]
    fn nothing_is_foretold_before_it_falls_or_from_silence() {
        let mut cooling = Cooling::new(Rules::DEFAULT.cool, 3.0);
        cooling.step(at(0), Some(95.0));
        assert_eq!(cooling.standings(at(30))[0].1, Standing::NotBegun);
        cooling.step(at(31), Some(62.0));
        for minute in 32..50 {
            cooling.step(at(minute), None);
        }
        assert!(matches!(cooling.standings(at(50))[0].1, Standing::TooEarly { .. }));
        assert_eq!(cooling.standings(at(31 + 90))[0].1, Standing::Missed);
    }
}
