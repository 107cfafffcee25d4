//! What the environment says: the one place that reads it for the long-running commands.

use std::path::PathBuf;

#[expect(clippy::disallowed_methods, reason = "the command line reads the environment")]
fn read(name: &str) -> Option<String> {
    std::env::var(name).ok().filter(|value| !value.is_empty())
}

/// <https://no-color.org>
#[must_use]
pub fn may_colour() -> bool {
    read("NO_COLOR").is_none() && read("TERM").as_deref() != Some("dumb")
}

/// systemd.exec(5): standard error is the journal.
#[must_use]
pub fn is_journal() -> bool {
    read("JOURNAL_STREAM").is_some()
}

/// systemd.exec(5): where the unit's credentials lie.
#[must_use]
pub fn credentials() -> Option<PathBuf> {
    read("CREDENTIALS_DIRECTORY").map(PathBuf::from)
}
