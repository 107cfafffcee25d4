//! How a moment is written: as the clock on the wall, or as time since the start.
//!
//! The caller knows the time zone; here it is only an offset from UTC, already looked up.

use crate::moment::Moment;

const DAY_MS: i64 = 86_400_000;

/// Ties monotonic moments to the clock on the kitchen's wall.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Clock {
    /// UTC at [`Moment`] zero, ms since 1970-01-01.
    pub utc_ms_at_zero: i64,
    /// Local time less UTC, s.
    pub offset_s: i32,
}

impl Clock {
    /// Local time at a moment, ms since 1970-01-01 00:00 on the wall.
    #[must_use]
    pub fn local_ms(self, at: Moment) -> i64 {
        self.utc_ms_at_zero.saturating_add(at.ms()).saturating_add(i64::from(self.offset_s) * 1000)
    }

    /// Hours and minutes on the wall, to the nearest minute: "18:40".
    #[must_use]
    pub fn hh_mm(self, at: Moment) -> String {
        let minutes = (self.local_ms(at) + 30_000).rem_euclid(DAY_MS) / 60_000;
        format!("{:02}:{:02}", minutes / 60, minutes % 60)
    }

    /// The day on the wall, "2026-11-25".
    #[must_use]
    pub fn date(self, at: Moment) -> String {
        let (year, month, day) = civil(self.local_ms(at).div_euclid(DAY_MS));
        format!("{year:04}-{month:02}-{day:02}")
    }
}

/// Year, month and day of a number of days since 1970-01-01 in the Gregorian calendar.
///
/// By eras of 400 years that begin on 1 March, so that the leap day comes last.
fn civil(days: i64) -> (i64, i64, i64) {
    let z = days + 719_468;
    let era = z.div_euclid(146_097);
    let day_of_era = z.rem_euclid(146_097);
    let year_of_era =
        (day_of_era - day_of_era / 1460 + day_of_era / 36_524 - day_of_era / 146_096) / 365;
    let day_of_year = day_of_era - (365 * year_of_era + year_of_era / 4 - year_of_era / 100);
    let month_from_march = (5 * day_of_year + 2) / 153;
    let day = day_of_year - (153 * month_from_march + 2) / 5 + 1;
    let month = if month_from_march < 10 { month_from_march + 3 } else { month_from_march - 9 };
    (era * 400 + year_of_era + i64::from(month <= 2), month, day)
}

/// A length of time as a cook says it: "25 s", "4 min", "1 h 52".
#[must_use]
pub fn length(seconds: f64) -> String {
    let seconds = seconds.max(0.0);
    if seconds < 90.0 {
        return format!("{seconds:.0} s");
    }
    let minutes = (seconds / 60.0).round() as i64;
    match (minutes / 60, minutes % 60) {
        (0, m) => format!("{m} min"),
        (h, 0) => format!("{h} h"),
        (h, m) => format!("{h} h {m:02}"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_wall_clock_follows_the_offset_and_the_day() {
        // 2026-11-25 20:02:40 UTC is 1 795 636 960 s (date -u -d).
        let clock = Clock { utc_ms_at_zero: 1_795_636_960_000, offset_s: 3600 };
        assert_eq!(clock.hh_mm(Moment::from_ms(0)), "21:03");
        assert_eq!(clock.date(Moment::from_ms(0)), "2026-11-25");
        assert_eq!(clock.date(Moment::from_ms(4 * 3_600_000)), "2026-11-26");
    }

    #[test]
    fn dates_agree_with_the_calendar() {
        assert_eq!(civil(0), (1970, 1, 1));
        // 29 February 2000: day 11 016 (date -u -d @951782400).
        assert_eq!(civil(11_016), (2000, 2, 29));
        assert_eq!(civil(-1), (1969, 12, 31));
    }

    #[test]
    fn lengths_are_said_as_a_cook_says_them() {
        assert_eq!(length(25.2), "25 s");
        assert_eq!(length(239.0), "4 min");
        assert_eq!(length(6720.0), "1 h 52");
        assert_eq!(length(7200.0), "2 h");
        assert_eq!(length(3599.0), "1 h");
    }
}
