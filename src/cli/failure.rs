//! Why a command could not do its work: an exit code and a sentence.

use std::fmt;
use std::io;

use crate::config::complaint::Complaints;
use crate::sense::recording::{Bad, Wrong};

/// The exit code and what is said on standard error.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Failure {
    pub code: u8,
    pub sentence: String,
}

impl Failure {
    /// It was tried and did not work.
    pub fn failed(sentence: impl Into<String>) -> Self {
        Self { code: 1, sentence: sentence.into() }
    }

    /// A bad argument or recording, or a file that is named and is not there or cannot be read.
    pub fn usage(sentence: impl Into<String>) -> Self {
        Self { code: 2, sentence: sentence.into() }
    }

    /// Something that is needed is not there: a device, a broker, a port.
    pub fn unavailable(sentence: impl Into<String>) -> Self {
        Self { code: 69, sentence: sentence.into() }
    }

    /// Input or output failed.
    pub fn io(sentence: impl Into<String>) -> Self {
        Self { code: 74, sentence: sentence.into() }
    }

    /// A bad configuration file.
    pub fn config(sentence: impl Into<String>) -> Self {
        Self { code: 78, sentence: sentence.into() }
    }

    /// The same sentence with another exit code.
    #[must_use]
    pub fn with_code(self, code: u8) -> Self {
        Self { code, ..self }
    }
}

impl fmt::Display for Failure {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.sentence)
    }
}

impl From<Complaints> for Failure {
    fn from(complaints: Complaints) -> Self {
        match complaints.has_unread() {
            true => Self::usage(complaints.to_string()),
            false => Self::config(complaints.to_string()),
        }
    }
}

impl From<Bad> for Failure {
    fn from(bad: Bad) -> Self {
        let sentence = bad.to_string();
        match bad.wrong {
            Wrong::Io(error) if error.kind() != io::ErrorKind::IsADirectory => Self::io(sentence),
            _ => Self::usage(sentence),
        }
    }
}
