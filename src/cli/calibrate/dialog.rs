//! Asking the person at the platform, one line at a time.

use std::io::{self, BufRead, Write};

use crate::cli::failure::Failure;

/// Words to the person and lines back.
pub struct Dialog {
    lines: Box<dyn BufRead>,
    words: Box<dyn Write>,
}

impl Dialog {
    /// By standard input and standard error.
    #[must_use]
    pub fn at_the_terminal() -> Self {
        Self::new(Box::new(io::stdin().lock()), Box::new(io::stderr()))
    }

    #[must_use]
    pub const fn new(lines: Box<dyn BufRead>, words: Box<dyn Write>) -> Self {
        Self { lines, words }
    }

    /// Says something; that nobody listens is no failure.
    pub fn say(&mut self, sentence: &str) {
        drop(writeln!(self.words, "{sentence}"));
    }

    /// Asks, and waits for a line.
    ///
    /// # Errors
    /// Where the person hangs up: nothing is kept then.
    pub fn ask(&mut self, question: &str) -> Result<String, Failure> {
        drop(write!(self.words, "{question} "));
        drop(self.words.flush());
        let mut line = String::new();
        match self.lines.read_line(&mut line) {
            Ok(0) | Err(_) => Err(Failure::failed("stopped before the end: nothing was kept")),
            Ok(_) => Ok(line.trim().to_owned()),
        }
    }

    /// Asks for yes or no until one of them is said.
    ///
    /// # Errors
    /// As [`Self::ask`].
    pub fn yes(&mut self, question: &str) -> Result<bool, Failure> {
        loop {
            match self.ask(&format!("{question} [yes/no]"))?.to_lowercase().as_str() {
                "y" | "yes" => return Ok(true),
                "n" | "no" => return Ok(false),
                _ => self.say("Say yes or no."),
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_yes_and_no_are_answers_and_hanging_up_is_neither() {
        let mut dialog = Dialog::new(Box::new(&b"maybe\nYES\n"[..]), Box::new(io::sink()));
        assert_eq!(dialog.yes("Keep it?"), Ok(true));
        assert_eq!(dialog.yes("Keep it?").unwrap_err().code, 1);
    }
}
