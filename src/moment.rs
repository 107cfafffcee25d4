//! Time, as two things that must not be mixed.
//!
//! [`Moment`] is monotonic: milliseconds since some origin (the board's boot, or the first row of a
//! recording). All judgement runs on it, so a clock set by hours when the network answers changes
//! nothing. [`Wall`] is the clock on the wall, UTC, and is only ever attached at an edge, together
//! with whether the board knew the time when it said so.

use std::ops::Sub;

/// A monotonic instant, ms since the origin of its boot or recording.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub struct Moment {
    ms: i64,
}

impl Moment {
    #[must_use]
    pub const fn from_ms(ms: i64) -> Self {
        Self { ms }
    }

    /// The nearest millisecond to `t_s` seconds; `None` where it is not finite or does not fit.
    #[must_use]
    pub fn from_seconds(t_s: f64) -> Option<Self> {
        let ms = (t_s * 1000.0).round();
        (ms.abs() < 9.0e15).then_some(Self { ms: ms as i64 })
    }

    #[must_use]
    pub const fn ms(self) -> i64 {
        self.ms
    }

    /// Seconds since the origin.
    #[must_use]
    pub fn seconds(self) -> f64 {
        self.ms as f64 / 1000.0
    }

    #[must_use]
    pub const fn plus_ms(self, ms: i64) -> Self {
        Self { ms: self.ms + ms }
    }
}

/// The difference of two moments, s.
impl Sub for Moment {
    type Output = f64;

    fn sub(self, earlier: Self) -> f64 {
        (self.ms - earlier.ms) as f64 / 1000.0
    }
}

/// UTC, ms since 1970-01-01, and whether the board's clock had been set by then.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Wall {
    pub utc_ms: i64,
    pub set: bool,
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_moment_is_kept_to_the_millisecond() {
        let a = Moment::from_seconds(12.3456).unwrap();
        assert_eq!(a.ms(), 12_346);
        assert_eq!(a.plus_ms(54) - Moment::from_ms(400), 12.0);
    }

    #[test]
    fn a_moment_is_never_nan() {
        assert_eq!(Moment::from_seconds(f64::NAN), None);
        assert_eq!(Moment::from_seconds(1e300), None);
    }
}
