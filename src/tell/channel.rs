//! What every channel to a person or a machine has in common. Pure.
//!
//! A [`Word`] is sent until it is taken, until it is refused for good, or until its deadline: the more
//! urgent, the sooner another channel must be tried instead. A word has a key, the same at every
//! attempt, so that a receiver who got it twice can tell.

use std::fmt;
use std::time::Duration;

use serde_json::{Map, Value};

use crate::watch::urgency::Priority;

/// Something that is told.
#[derive(Debug, Clone, PartialEq)]
pub struct Word {
    /// Unlike every other word's.
    pub key: String,
    pub priority: Priority,
    pub act_within_s: f64,
    /// What it is about: a later word on the same matter may take its place.
    pub about: String,
    /// One line: what is to be done.
    pub title: String,
    /// The pot, why, since when; and why it is told here and now.
    pub text: String,
    /// For machines.
    pub json: Map<String, Value>,
}

/// Where a channel finds one person. What does not concern a channel is empty.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Address {
    pub name: String,
    pub mail: Option<String>,
}

/// Why a word did not arrive.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Failed {
    /// Another attempt may help.
    Later(String),
    /// It would not: the address, the login or the word itself is refused.
    Never(String),
}

impl Failed {
    #[must_use]
    pub fn why(&self) -> &str {
        match self {
            Self::Later(why) | Self::Never(why) => why,
        }
    }
}

impl fmt::Display for Failed {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.why())
    }
}

/// A way to tell somebody. It may take up to [`ATTEMPT`] and then gives up by itself.
pub trait Channel: Send {
    /// Sends a word at `utc_s`, s since 1970; says in a few words what the far end answered.
    ///
    /// # Errors
    /// Why it did not arrive.
    fn send(&mut self, to: &Address, word: &Word, utc_s: i64) -> Result<String, Failed>;
}

/// The longest that one attempt may take.
pub const ATTEMPT: Duration = Duration::from_secs(10);

/// After this long without success another channel is tried.
#[must_use]
pub const fn deadline(priority: Priority) -> Duration {
    Duration::from_secs(match priority {
        Priority::High => 20,
        Priority::Medium => 60,
        Priority::Low => 120,
    })
}

/// The pause after so many failed attempts: 1 s, doubling to 16 s.
#[must_use]
pub const fn pause(failed_attempts: u32) -> Duration {
    let doublings = if failed_attempts > 5 { 4 } else { failed_attempts.saturating_sub(1) };
    Duration::from_secs(1 << doublings)
}

/// Text for one line of a header or a log: no control characters, no more than 200 characters.
#[must_use]
pub fn one_line(text: &str) -> String {
    let fair = |c: char| if c.is_control() { ' ' } else { c };
    text.chars().take(200).map(fair).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_pause_doubles_to_a_quarter_of_a_minute() {
        let pauses: Vec<u64> = (1..8).map(|n| pause(n).as_secs()).collect();
        assert_eq!(pauses, [1, 2, 4, 8, 16, 16, 16]);
    }

    #[test]
    fn danger_is_told_elsewhere_soonest() {
        assert!(deadline(Priority::High) < deadline(Priority::Medium));
        assert!(deadline(Priority::Medium) < deadline(Priority::Low));
    }

    #[test]
    fn a_name_cannot_break_a_header() {
        assert_eq!(one_line("pot\r\nBcc: x"), "pot  Bcc: x");
    }
}
