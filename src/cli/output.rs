//! Where a command's words go: data to standard output, talk to standard error.

use std::io::{self, BufWriter, Write};

use super::failure::Failure;

/// Prints data, buffered. A reader that has heard enough is no failure.
pub fn print(write: impl FnOnce(&mut dyn Write) -> io::Result<()>) -> Result<(), Failure> {
    let mut out = BufWriter::with_capacity(1 << 16, io::stdout().lock());
    let printed = write(&mut out).and_then(|()| out.flush());
    match printed {
        Err(error) if error.kind() != io::ErrorKind::BrokenPipe => {
            Err(Failure::io(format!("standard output cannot be written: {error}")))
        }
        _ => Ok(()),
    }
}

/// Says something to the person at the terminal; that nobody listens is no failure.
pub fn say(sentence: &str) {
    let _ = writeln!(io::stderr().lock(), "{sentence}");
}
