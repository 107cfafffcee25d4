//! What systemd is told: ready, alive, stopping.
//!
//! Alive means that the board does its work: each source that never ends was heard lately, the store
//! has written lately, has nothing to write or is known to be in trouble, and the judgement has stepped. The watchdog is
//! pinged from the judgement's own loop, so that a loop that hangs is not spoken for by a timer.

use std::time::Duration;

use sd_notify::NotifyState;

use crate::keep::health::Health;
use crate::moment::Moment;

/// A source that has said nothing for this long, not even that it failed, hangs, s.
const STALE_S: f64 = 15.0;
/// The store writes every ten seconds.
const COMMIT_WITHIN_S: f64 = 40.0;

/// The watchdog's view of the board.
#[derive(Debug)]
pub struct Supervisor {
    /// Half of what systemd allows; `None` where there is no watchdog.
    ping_every: Option<Duration>,
    pinged: Option<Moment>,
    commits: u64,
    committed: Moment,
    last_status: String,
}

impl Supervisor {
    #[must_use]
    pub fn at(now: Moment) -> Self {
        let ping_every = sd_notify::watchdog_enabled().map(|allowed| allowed / 2);
        let last_status = String::new();
        Self { ping_every, pinged: None, commits: 0, committed: now, last_status }
    }

    /// Everything is set up. Outside systemd nobody hears it.
    pub fn ready(&self) {
        tell(&[NotifyState::Ready]);
    }

    pub fn stopping(&self) {
        tell(&[NotifyState::Stopping]);
    }

    /// One line for `systemctl status`.
    pub fn status(&mut self, line: &str) {
        if line != self.last_status {
            tell(&[NotifyState::Status(line)]);
            line.clone_into(&mut self.last_status);
        }
    }

    /// After a step of the judgement: pings where a ping is due and all is well. `heard` are the
    /// moments at which the sources that never end were last heard.
    pub fn stepped(&mut self, now: Moment, heard: impl Iterator<Item = Moment>, store: &Health) {
        let Some(every) = self.ping_every else { return };
        let due = self.pinged.is_none_or(|pinged| now - pinged >= every.as_secs_f64());
        if due && self.is_well(now, heard, store) {
            tell(&[NotifyState::Watchdog]);
            self.pinged = Some(now);
        }
    }

    fn is_well(
        &mut self,
        now: Moment,
        mut heard: impl Iterator<Item = Moment>,
        store: &Health,
    ) -> bool {
        if store.commits != self.commits {
            (self.commits, self.committed) = (store.commits, now);
        }
        // A board whose pots stand idle has nothing to write.
        let nothing_waits = store.waiting_rows == 0;
        let lately = now - self.committed <= COMMIT_WITHIN_S;
        let kept = store.trouble.is_some() || nothing_waits || lately;
        kept && heard.all(|heard| now - heard <= STALE_S)
    }
}

fn tell(state: &[NotifyState<'_>]) {
    if let Err(error) = sd_notify::notify(state) {
        tracing::debug!("systemd is not told: {error}");
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::keep::health::{Trouble, TroubleKind};

    const fn s(s: i64) -> Moment {
        Moment::from_ms(s * 1000)
    }

    fn health(commits: u64, in_trouble: bool) -> Health {
        let trouble =
            in_trouble.then(|| Trouble { kind: TroubleKind::DiskFull, detail: String::new() });
        Health { commits, trouble, waiting_rows: 3, ..Health::default() }
    }

    fn well(supervisor: &mut Supervisor, now: i64, heard: &[i64], store: &Health) -> bool {
        supervisor.is_well(s(now), heard.iter().map(|t| s(*t)), store)
    }

    #[test]
    fn a_board_that_hears_and_writes_is_well() {
        let mut supervisor = Supervisor::at(s(0));
        assert!(well(&mut supervisor, 100, &[99, 90], &health(1, false)));
    }

    #[test]
    fn a_source_that_hangs_is_not_well() {
        let mut supervisor = Supervisor::at(s(0));
        assert!(!well(&mut supervisor, 100, &[99, 80], &health(1, false)));
    }

    #[test]
    fn a_store_that_silently_stopped_writing_is_not_well() {
        let mut supervisor = Supervisor::at(s(0));
        assert!(well(&mut supervisor, 10, &[], &health(1, false)));
        assert!(!well(&mut supervisor, 51, &[], &health(1, false)));
        assert!(well(&mut supervisor, 52, &[], &health(2, false)));
    }

    #[test]
    fn a_kitchen_that_stands_idle_is_well() {
        let mut supervisor = Supervisor::at(s(0));
        assert!(well(&mut supervisor, 1000, &[], &Health::default()));
    }

    #[test]
    fn a_store_that_is_known_to_be_in_trouble_does_not_restart_the_board() {
        let mut supervisor = Supervisor::at(s(0));
        assert!(well(&mut supervisor, 1000, &[], &health(0, true)));
    }
}
