//! Work that runs in a process of its own: this very test program, started again.
//!
//! The tests named here do nothing unless they are started by [`start`].

use std::path::Path;
use std::process::{Child, Command, Stdio};

const TASK: &str = "DEKCHI_STORE_TEST_TASK";

/// Starts the ignored test `name` of this program in a child, with a directory to work in.
pub fn start(name: &str, directory: &Path) -> Child {
    command(name, directory).spawn().unwrap()
}

pub fn command(name: &str, directory: &Path) -> Command {
    let mut command = Command::new(std::env::current_exe().unwrap());
    command
        .args([name, "--exact", "--ignored", "--nocapture", "--test-threads=1"])
        .env(TASK, directory)
        .stdin(Stdio::null())
        .stdout(Stdio::piped());
    command
}

/// The directory to work in where this process is such a child.
#[expect(clippy::disallowed_methods, reason = "how a test's own child is told its task")]
pub fn directory() -> Option<std::path::PathBuf> {
    std::env::var(TASK).ok().map(Into::into)
}
