//! How long to wait before trying a broker again. Pure.
//!
//! The pause doubles from one second to a minute and is shortened by up to a half at random, so that
//! a kitchen's boards do not all knock at once when the broker is back. It begins anew only after a
//! connection that stood for half a minute: one that is made and lost at once must not be made
//! every second.

use std::time::Duration;

const FIRST_S: f64 = 1.0;
const LONGEST_S: f64 = 60.0;
/// Where trying sooner cannot help: a wrong password, a certificate refused.
const HOPELESS_S: f64 = 30.0;
/// A connection that stood this long was a good one.
pub const STABLE: Duration = Duration::from_secs(30);

/// The pause that comes next.
#[derive(Debug, Clone, PartialEq)]
pub struct Backoff {
    next_s: f64,
}

impl Default for Backoff {
    fn default() -> Self {
        Self { next_s: FIRST_S }
    }
}

impl Backoff {
    /// The pause after a connection that stood for `stood` and was lost, or never was.
    /// `luck` in 0..1 shortens it by up to a half; `hopeless` makes it at least half a minute long.
    pub fn pause(&mut self, stood: Duration, hopeless: bool, luck: f64) -> Duration {
        if stood >= STABLE {
            self.next_s = FIRST_S;
        }
        let full_s = if hopeless { self.next_s.max(HOPELESS_S) } else { self.next_s };
        self.next_s = (2.0 * self.next_s).min(LONGEST_S);
        Duration::from_secs_f64(full_s * (1.0 - 0.5 * luck.clamp(0.0, 1.0)))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const NONE: Duration = Duration::ZERO;

    fn pauses(luck: f64) -> Vec<f64> {
        let mut backoff = Backoff::default();
        (0..8).map(|_| backoff.pause(NONE, false, luck).as_secs_f64()).collect()
    }

    #[test]
    fn the_pause_doubles_to_a_minute() {
        assert_eq!(pauses(0.0), [1.0, 2.0, 4.0, 8.0, 16.0, 32.0, 60.0, 60.0]);
    }

    #[test]
    fn chance_shortens_the_pause_by_at_most_a_half() {
        assert_eq!(pauses(1.0)[..3], [0.5, 1.0, 2.0]);
    }

    #[test]
    fn only_a_connection_that_stood_begins_anew() {
        let mut backoff = Backoff::default();
        backoff.pause(NONE, false, 0.0);
        assert_eq!(backoff.pause(Duration::from_secs(29), false, 0.0).as_secs(), 2);
        assert_eq!(backoff.pause(STABLE, false, 0.0).as_secs(), 1);
    }

    #[test]
    fn a_wrong_password_is_tried_slowly() {
        assert_eq!(Backoff::default().pause(NONE, true, 0.0).as_secs(), 30);
    }
}
