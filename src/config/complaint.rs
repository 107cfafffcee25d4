//! What is wrong with a file, in one sentence a thing.

use std::fmt;

/// One thing that is wrong, and what would be right.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Complaint {
    pub file: String,
    /// Counted from 1; `None` where the file could not be read at all.
    pub line: Option<usize>,
    /// The key with the tables that it stands in, such as `pot.tare_kg`; empty for the whole file.
    pub key: String,
    pub wrong: String,
    pub allowed: String,
    /// The file is not there, or may not be read: nothing is known of what it says.
    pub unread: bool,
}

impl fmt::Display for Complaint {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.file)?;
        if let Some(line) = self.line {
            write!(f, ", line {line}")?;
        }
        if !self.key.is_empty() {
            write!(f, ", {}", self.key)?;
        }
        write!(f, ": {}", self.wrong)?;
        if !self.allowed.is_empty() {
            write!(f, "; allowed: {}", self.allowed)?;
        }
        Ok(())
    }
}

/// All that is wrong with a file, in the order of its lines; one line of text each.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Complaints(pub Vec<Complaint>);

impl Complaints {
    /// Whether a file is not there or may not be read. What else is wrong may come of that.
    #[must_use]
    pub fn has_unread(&self) -> bool {
        self.0.iter().any(|complaint| complaint.unread)
    }
}

impl fmt::Display for Complaints {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (n, complaint) in self.0.iter().enumerate() {
            let end = if n == 0 { "" } else { "\n" };
            write!(f, "{end}{complaint}")?;
        }
        Ok(())
    }
}

impl std::error::Error for Complaints {}
