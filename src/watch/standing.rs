//! What an alert says for as long as it stands.
//!
//! A text that is told once is read later too: on a page, on a retained topic, on a phone. So it says
//! nothing that time makes untrue: "over 6 min since the last stir" holds until the stir. Where the pot
//! is shown as it is now, the figure of now stands in it ([`Notice::now`]).

use super::action::{Alarm, Notice, Snapshot};

/// Why the bottom asks for a stir `since_s` after the last one.
#[must_use]
pub fn stir_due(since_s: f64) -> String {
    match since(since_s) {
        Some(since) => format!("{since}: stir and scrape the bottom"),
        None => "the bottom asks for it: stir and scrape it".to_owned(),
    }
}

/// Why it must be stirred at once.
#[must_use]
pub fn catching(since_s: f64) -> String {
    const CATCHING: &str = "the bottom may be catching, stir at once";
    since(since_s).map_or_else(|| CATCHING.to_owned(), |since| format!("{since}: {CATCHING}"))
}

/// How long until the gravy is right.
#[must_use]
pub fn target_near(in_s: f64) -> String {
    match (in_s / 60.0).round() {
        minutes if minutes >= 1.0 => {
            format!("the gravy is right in about {minutes:.0} min: taste it")
        }
        _ => "the gravy is right about now: taste it".to_owned(),
    }
}

/// Whole minutes, rounded down, so that it stays true; `None` under one.
fn since(since_s: f64) -> Option<String> {
    let minutes = (since_s / 60.0).floor();
    (minutes >= 1.0).then(|| format!("over {minutes:.0} min since the last stir"))
}

impl Notice {
    /// Why an alert that stands does so by the pot as it is now; `None` where its text holds no figure
    /// that time changes, or the figure is not known.
    #[must_use]
    pub fn now(&self, now: &Snapshot) -> Option<String> {
        match self.alarm {
            Alarm::StirDue => now.since_stir_s.map(stir_due),
            Alarm::Catching => now.since_stir_s.map(catching),
            Alarm::TargetNear => now.target_in_s.map(|in_s| target_near(in_s.p50)),
            _ => None,
        }
    }

    /// As [`Self::now`], else as it was told.
    #[must_use]
    pub fn why_now(&self, now: &Snapshot) -> String {
        self.now(now).unwrap_or_else(|| self.why.clone())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::moment::Moment;
    use crate::watch::action::AlarmState;

    fn told(alarm: Alarm, why: String) -> Notice {
        Notice { at: Moment::from_ms(0), alarm, state: AlarmState::Raised, why }
    }

    #[test]
    fn what_is_said_of_a_stir_is_as_old_as_the_stir_now() {
        let notice = told(Alarm::StirDue, stir_due(779.0));
        assert_eq!(notice.why, "over 12 min since the last stir: stir and scrape the bottom");
        let now = Snapshot { since_stir_s: Some(1505.0), ..Snapshot::default() };
        assert_eq!(
            notice.why_now(&now),
            "over 25 min since the last stir: stir and scrape the bottom"
        );
        assert_eq!(notice.why_now(&Snapshot::default()), notice.why);
        let caught = told(Alarm::Catching, catching(10.0));
        assert_eq!(caught.why, "the bottom may be catching, stir at once");
        assert!(
            caught.why_now(&now).starts_with("over 25 min since the last stir: the bottom may")
        );
    }

    #[test]
    fn a_text_without_a_figure_stays_as_it_was_told() {
        let now = Snapshot { since_stir_s: Some(1505.0), ..Snapshot::default() };
        let notice = told(Alarm::ProbeFault, "the probe is silent".into());
        assert_eq!((notice.now(&now), notice.why_now(&now)), (None, "the probe is silent".into()));
    }
}
