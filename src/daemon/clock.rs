//! The one place that reads a clock.
//!
//! The daemon's moments are milliseconds since the board booted, on the monotonic clock, so that they
//! order events across restarts within one boot. The wall clock is asked only to attach a time of day,
//! and says whether it is to be believed: a board without a clock of its own wakes in the past.
//!
//! With recordings as sensors a clock may run faster than life. Both its times then do, from the same
//! start, and a kitchen's hour passes in a minute.

use std::fs;
use std::path::Path;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::{Duration, Instant, SystemTime, UNIX_EPOCH};

use jiff::Timestamp;
use jiff::tz::TimeZone;

use crate::moment::{Moment, Wall};

/// No board runs this program before it was written: 2026-01-01 UTC.
const EARLIEST_UTC_MS: i64 = 1_767_225_600_000;
/// More than this between the two clocks is a clock that was set, ms.
const JUMP_MS: i64 = 2000;
/// What systemd-timesyncd touches when it has set the clock.
const SYNCHRONISED: &str = "/run/systemd/timesync/synchronized";
/// What the board's own clock shows, where it has one: s since 1970. Without a battery it begins there
/// too.
const OWN_CLOCK: &str = "/sys/class/rtc/rtc0/since_epoch";
/// A clock of its own that goes with the board's is believed, s.
const AGREES_WITHIN_S: i64 = 120;

/// The daemon's clock.
#[derive(Debug, Clone)]
pub struct Clock {
    began: Instant,
    at_start: Moment,
    /// Pot seconds in a second.
    rate: f64,
    /// UTC at the start where the wall clock is not asked.
    told_utc_ms: Option<i64>,
}

impl Clock {
    /// The board's own clock.
    #[must_use]
    pub fn of_the_board() -> Self {
        Self { began: instant(), at_start: since_boot(), rate: 1.0, told_utc_ms: None }
    }

    /// A clock that starts now and runs `rate` times as fast. It shows the time of day that the
    /// board's clock has now, or `utc_ms`.
    #[must_use]
    pub fn fast(rate: f64, utc_ms: Option<i64>) -> Self {
        let told = utc_ms.unwrap_or_else(system_utc_ms);
        Self { rate, told_utc_ms: Some(told), ..Self::of_the_board() }
    }

    #[must_use]
    pub fn now(&self) -> Moment {
        let elapsed_ms = self.began.elapsed().as_secs_f64() * self.rate * 1000.0;
        self.at_start.plus_ms(elapsed_ms as i64)
    }

    /// How long it takes until this clock shows `at`.
    #[must_use]
    pub fn until(&self, at: Moment) -> Duration {
        Duration::from_secs_f64(((at - self.now()) / self.rate).max(0.0))
    }

    /// The real time that a period of the pot's takes.
    #[must_use]
    pub fn real(&self, period: Duration) -> Duration {
        period.div_f64(self.rate)
    }

    /// How much of the pots' time goes by in this real time, ms.
    #[must_use]
    pub fn in_real(&self, time: Duration) -> i64 {
        (time.as_secs_f64() * self.rate * 1000.0) as i64
    }

    /// What the wall clock shows, or showed, at a moment.
    #[must_use]
    pub fn wall(&self, at: Moment) -> Wall {
        match self.told_utc_ms {
            Some(utc_ms) => Wall { utc_ms: utc_ms + at.ms() - self.at_start.ms(), set: true },
            None => {
                let utc_ms = system_utc_ms();
                Wall { utc_ms: utc_ms + at.ms() - self.now().ms(), set: is_set(utc_ms) }
            }
        }
    }

    /// Local time less UTC, s; 0 where the board does not know its zone.
    #[must_use]
    pub fn offset_s(&self, wall: Wall) -> i32 {
        if self.told_utc_ms.is_some() {
            return 0;
        }
        Timestamp::from_millisecond(wall.utc_ms)
            .map_or(0, |time| TimeZone::system().to_offset(time).seconds())
    }
}

/// Notices when the wall clock is set.
#[derive(Debug, Clone, Copy)]
pub struct Jumps {
    wall_less_mono_ms: i64,
    set: bool,
}

impl Jumps {
    #[must_use]
    pub const fn from(at: Moment, wall: Wall) -> Self {
        Self { wall_less_mono_ms: wall.utc_ms - at.ms(), set: wall.set }
    }

    /// The wall clock now, where it was set or jumped since it was last told of here. A clock that was
    /// moved while the daemon ran has been set by somebody who knows the time.
    pub fn notice(&mut self, at: Moment, wall: Wall) -> Option<Wall> {
        let less = wall.utc_ms - at.ms();
        let jumped = (less - self.wall_less_mono_ms).abs() > JUMP_MS;
        let set = self.set || wall.set || jumped;
        if !jumped && set == self.set {
            return None;
        }
        *self = Self { wall_less_mono_ms: less, set };
        Some(Wall { utc_ms: wall.utc_ms, set })
    }
}

/// The kernel's id of this boot; empty where it gives none.
#[must_use]
pub fn boot_id() -> String {
    let id = fs::read_to_string("/proc/sys/kernel/random/boot_id").unwrap_or_default();
    id.trim().to_owned()
}

fn since_boot() -> Moment {
    let uptime = fs::read_to_string("/proc/uptime").unwrap_or_default();
    let seconds = uptime.split_ascii_whitespace().next().and_then(|text| text.parse().ok());
    seconds.and_then(Moment::from_seconds).unwrap_or_default()
}

#[expect(clippy::disallowed_methods, reason = "this is the place that reads the clock")]
fn instant() -> Instant {
    Instant::now()
}

#[expect(clippy::disallowed_methods, reason = "this is the place that reads the clock")]
fn system_utc_ms() -> i64 {
    let since = SystemTime::now().duration_since(UNIX_EPOCH).unwrap_or_default();
    i64::try_from(since.as_millis()).unwrap_or(i64::MAX)
}

/// Whether the time is to be believed; once it was, it is.
fn is_set(utc_ms: i64) -> bool {
    static SET: AtomicBool = AtomicBool::new(false);
    if !SET.load(Ordering::Relaxed) {
        let own = fs::read_to_string(OWN_CLOCK).ok().and_then(|text| text.trim().parse().ok());
        let set = Path::new(SYNCHRONISED).exists() || own.is_some_and(|s| agrees(s, utc_ms));
        SET.store(set && utc_ms >= EARLIEST_UTC_MS, Ordering::Relaxed);
    }
    SET.load(Ordering::Relaxed)
}

const fn agrees(own_s: i64, utc_ms: i64) -> bool {
    (own_s - utc_ms / 1000).abs() <= AGREES_WITHIN_S
}

#[cfg(test)]
mod tests {
    use super::*;

    const fn wall(utc_ms: i64, set: bool) -> Wall {
        Wall { utc_ms, set }
    }

    #[test]
    fn a_fast_clock_shows_the_time_that_it_was_told() {
        let clock = Clock::fast(60.0, Some(1_800_000_000_000));
        let later = clock.at_start.plus_ms(3_600_000);
        assert_eq!(clock.wall(later), wall(1_800_003_600_000, true));
        assert_eq!(clock.real(Duration::from_secs(60)), Duration::from_secs(1));
        assert!(clock.until(later) <= Duration::from_secs(60));
        assert_eq!(clock.until(clock.at_start), Duration::ZERO);
    }

    #[test]
    fn a_clock_that_goes_on_as_it_went_is_no_news() {
        let mut jumps = Jumps::from(Moment::from_ms(0), wall(1000, true));
        assert_eq!(jumps.notice(Moment::from_ms(60_000), wall(61_900, true)), None);
    }

    #[test]
    fn a_clock_that_jumps_by_hours_is_noticed_once_and_believed() {
        let mut jumps = Jumps::from(Moment::from_ms(0), wall(1000, false));
        let hours = 7 * 3_600_000;
        let noticed = jumps.notice(Moment::from_ms(1000), wall(2000 + hours, false));
        assert_eq!(noticed, Some(wall(2000 + hours, true)));
        assert_eq!(jumps.notice(Moment::from_ms(2000), wall(3000 + hours, false)), None);
    }

    #[test]
    fn a_clock_that_came_to_be_believed_is_noticed() {
        let mut jumps = Jumps::from(Moment::from_ms(0), wall(0, false));
        assert_eq!(jumps.notice(Moment::from_ms(10), wall(10, true)), Some(wall(10, true)));
    }

    #[test]
    fn a_clock_without_a_battery_does_not_vouch_for_the_time() {
        assert!(agrees(1_795_636_960, 1_795_636_990_000));
        assert!(!agrees(12, 1_795_636_990_000));
    }
}
