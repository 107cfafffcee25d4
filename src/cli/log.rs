//! Where a long-running command's log goes: to standard error, or, where that is the journal, to the
//! journal with its own fields.

use std::io::{self, IsTerminal};

use tracing_subscriber::EnvFilter;
use tracing_subscriber::layer::SubscriberExt;
use tracing_subscriber::util::SubscriberInitExt;

use super::environment;

/// Begins to log what is as grave as `level` (error, warn, info, debug or trace) or graver, and of
/// others what is as grave as `others`.
pub fn begin(level: &str, others: &str) {
    let filter = EnvFilter::new(format!("{others},dekchi={level}"));
    let registry = tracing_subscriber::registry().with(filter);
    let journal = environment::is_journal().then(tracing_journald::layer).and_then(Result::ok);
    // That a log already runs is no failure.
    let _ = match journal {
        Some(journal) => registry.with(journal).try_init(),
        None => {
            let colour = io::stderr().is_terminal() && environment::may_colour();
            let lines = tracing_subscriber::fmt::layer()
                .with_writer(io::stderr)
                .with_ansi(colour)
                .with_target(false);
            registry.with(lines).try_init()
        }
    };
}
