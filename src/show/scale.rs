//! Values to px, and where the ticks stand.

use crate::moment::Moment;

use super::clock::Clock;

/// A straight scale from values to px. Its range is never empty, reversed or infinite.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Scale {
    low: f64,
    high: f64,
    low_px: f64,
    high_px: f64,
}

impl Scale {
    /// From `low` (at `px.0`) to `high` (at `px.1`); a range with no length is given `least`
    /// around its middle, and one that is not finite becomes 0 to `least`.
    #[must_use]
    pub fn new((low, high): (f64, f64), least: f64, px: (f64, f64)) -> Self {
        let (low, high) = match ((high - low).is_finite(), high - low < least) {
            (false, _) => (0.0, least),
            (true, false) => (low, high),
            (true, true) => {
                let middle = f64::midpoint(low, high);
                (middle - least / 2.0, middle + least / 2.0)
            }
        };
        Self { low, high, low_px: px.0, high_px: px.1 }
    }

    #[must_use]
    pub fn px(&self, value: f64) -> f64 {
        self.low_px + (value - self.low) / (self.high - self.low) * (self.high_px - self.low_px)
    }

    /// As [`Self::px`], kept between the ends.
    #[must_use]
    pub fn px_within(&self, value: f64) -> f64 {
        self.px(value.clamp(self.low, self.high))
    }

    #[must_use]
    pub const fn range(&self) -> (f64, f64) {
        (self.low, self.high)
    }

    /// Px for one unit of value.
    #[must_use]
    pub fn per_unit(&self) -> f64 {
        ((self.high_px - self.low_px) / (self.high - self.low)).abs()
    }

    /// Round values (1, 2 or 5 times a power of ten apart) at least `apart_px` from each other.
    #[must_use]
    pub fn ticks(&self, apart_px: f64) -> Vec<f64> {
        let least = apart_px / self.per_unit();
        let power = power_of_ten_below(least);
        let step = [1.0, 2.0, 5.0, 10.0]
            .into_iter()
            .map(|m| m * power)
            .find(|step| *step >= least * 0.999)
            .unwrap_or(10.0 * power);
        multiples(step, 0.0, self.low, self.high)
    }
}

/// The largest power of ten that is not above `value`, by × and ÷ alone, which are the same on every
/// machine as a logarithm need not be. 1 for what has none.
fn power_of_ten_below(value: f64) -> f64 {
    let mut power = 1.0;
    if !value.is_finite() || value <= 0.0 {
        return power;
    }
    while power > value {
        power /= 10.0;
    }
    while power * 10.0 <= value {
        power *= 10.0;
    }
    power
}

/// Decimals that ticks need to differ.
#[must_use]
pub fn decimals(ticks: &[f64]) -> usize {
    let step = ticks.windows(2).map(|pair| pair[1] - pair[0]).fold(f64::INFINITY, f64::min);
    match step {
        step if step > 0.95 => 0,
        step if step > 0.095 => 1,
        _ if ticks.len() < 2 => 0,
        _ => 2,
    }
}

/// The multiples of `step`, moved by `offset`, within a range; at most 100.
fn multiples(step: f64, offset: f64, low: f64, high: f64) -> Vec<f64> {
    let first = ((low - offset) / step - 1e-9).ceil();
    (0..100)
        .map(|n| (first + f64::from(n)) * step + offset)
        .take_while(|value| *value <= high + step * 1e-9)
        .collect()
}

/// Steps of time that a kitchen counts in, s.
const STEPS_S: [f64; 15] = [
    10.0, 30.0, 60.0, 120.0, 300.0, 600.0, 900.0, 1800.0, 3600.0, 7200.0, 10_800.0, 21_600.0,
    43_200.0, 86_400.0, 172_800.0,
];

/// Moments on the axis, s, with their words, at least `apart_px` from each other.
#[must_use]
pub fn time_ticks(
    scale: &Scale,
    began_s: f64,
    clock: Option<Clock>,
    apart_px: f64,
) -> Vec<(f64, String)> {
    let (low, high) = scale.range();
    let least = apart_px / scale.per_unit();
    let step = STEPS_S.into_iter().find(|step| *step >= least).unwrap_or(least);
    let offset = match clock {
        // Whole hours on the wall.
        Some(clock) => {
            let local_s = clock.local_ms(Moment::from_ms(0)) as f64 / 1000.0;
            -local_s.rem_euclid(step)
        }
        None => began_s,
    };
    multiples(step, offset, low, high)
        .into_iter()
        .map(|t| (t, time_words(t, began_s, clock, step)))
        .collect()
}

fn time_words(t_s: f64, began_s: f64, clock: Option<Clock>, step: f64) -> String {
    let since = t_s - began_s;
    match (clock, Moment::from_seconds(t_s)) {
        (Some(clock), Some(at)) => clock.hh_mm(at),
        _ if step < 60.0 => format!("{since:.0} s").replace('-', "−"),
        _ => minutes_words((since / 60.0).round() as i64),
    }
}

fn minutes_words(minutes: i64) -> String {
    let sign = if minutes < 0 { "−" } else { "" };
    let minutes = minutes.unsigned_abs();
    match (minutes / 60, minutes % 60) {
        (0, 0) => "0".into(),
        (0, m) => format!("{sign}{m} min"),
        (h, 0) => format!("{sign}{h} h"),
        (h, m) => format!("{sign}{h} h {m:02}"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn a_flat_range_is_given_room() {
        let scale = Scale::new((5.0, 5.0), 2.0, (100.0, 0.0));
        assert_eq!(scale.range(), (4.0, 6.0));
        assert_eq!(scale.px(5.0), 50.0);
    }

    #[test]
    fn ticks_are_round_and_apart() {
        let scale = Scale::new((0.0, 27.0), 1.0, (270.0, 0.0));
        assert_eq!(scale.ticks(40.0), [0.0, 5.0, 10.0, 15.0, 20.0, 25.0]);
    }

    #[test]
    fn ticks_of_time_fall_on_the_wall_clocks_half_hours() {
        let scale = Scale::new((0.0, 7200.0), 1.0, (0.0, 400.0));
        let clock = Clock { utc_ms_at_zero: 16 * 3_600_000 + 600_000, offset_s: 0 };
        let words: Vec<_> =
            time_ticks(&scale, 0.0, Some(clock), 60.0).into_iter().map(|t| t.1).collect();
        assert_eq!(words, ["16:30", "17:00", "17:30", "18:00"]);
        let words: Vec<_> = time_ticks(&scale, 0.0, None, 60.0).into_iter().map(|t| t.1).collect();
        assert_eq!(words, ["0", "30 min", "1 h", "1 h 30", "2 h"]);
    }

    proptest! {
        #[test]
        fn no_range_makes_ticks_for_ever(
            a in prop::num::f64::ANY, b in prop::num::f64::ANY, apart in 5.0..200.0f64
        ) {
            let scale = Scale::new((a, b), 1.0, (0.0, 300.0));
            prop_assert!(scale.ticks(apart).len() <= 100);
            prop_assert!(time_ticks(&scale, 0.0, None, apart).len() <= 100);
        }
    }
}
