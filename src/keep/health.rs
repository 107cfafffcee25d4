//! How the store is, for the lamp, the page, the broker and the watchdog.

use std::fmt;
use std::path::PathBuf;

/// The store as it is now.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Health {
    /// `None` where everything is written as it should be.
    pub trouble: Option<Trouble>,
    /// Transactions committed since the start; a watchdog looks for it to grow while rows wait.
    pub commits: u64,
    /// Rows that wait in memory or are being written.
    pub waiting_rows: usize,
    /// Memory that they take, bytes.
    pub waiting_bytes: usize,
    /// Samples that memory could not hold until the store came back.
    pub lost_samples: u64,
    /// Other rows that memory could not hold, or that the store would not take.
    pub lost_rows: u64,
    /// Damaged files that were put aside since the start.
    pub set_aside: Vec<PathBuf>,
}

impl Health {
    /// What is amiss, a sentence each: what cannot be written now, and what was found damaged.
    #[must_use]
    pub fn words(&self) -> Vec<String> {
        let trouble = self.trouble.iter().map(|trouble| trouble.kind.words().to_owned());
        let aside = self.set_aside.iter().map(|path| {
            let path = path.display();
            format!(
                "the store was damaged and a new one was begun; the old one is {path}, and \
                 sqlite3 {path} .recover may save what is in it"
            )
        });
        trouble.chain(aside).collect()
    }

    /// True where everything handed over so far is on the disk.
    #[must_use]
    pub fn all_kept(&self) -> bool {
        self.trouble.is_none() && self.waiting_rows == 0
    }
}

/// Why nothing can be written.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Trouble {
    pub kind: TroubleKind,
    /// What the storage itself said.
    pub detail: String,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum TroubleKind {
    DiskFull,
    ReadOnly,
    /// The device failed: EIO.
    DeviceFailed,
    /// The file cannot be opened or made.
    CannotOpen,
    /// Another process holds the store.
    Busy,
    /// The file is damaged.
    Damaged,
    Other,
}

impl TroubleKind {
    /// Its fixed name.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::DiskFull => "disk-full",
            Self::ReadOnly => "read-only",
            Self::DeviceFailed => "device-failed",
            Self::CannotOpen => "cannot-open",
            Self::Busy => "busy",
            Self::Damaged => "damaged",
            Self::Other => "other",
        }
    }

    /// What is wrong and what to do, in one sentence.
    #[must_use]
    pub const fn words(self) -> &'static str {
        match self {
            Self::DiskFull => "the disk is full: free some space, nothing else need be done",
            Self::ReadOnly => {
                "the disk is read-only: the card may be worn out, copy it and change it"
            }
            Self::DeviceFailed => {
                "the disk gave an error: the card may be worn out, copy it and change it"
            }
            Self::CannotOpen => {
                "the store cannot be opened: check that its directory is there and may be written"
            }
            Self::Busy => "another process holds the store",
            Self::Damaged => "the store is damaged",
            Self::Other => "the store refused",
        }
    }
}

impl fmt::Display for Trouble {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} ({})", self.kind.words(), self.detail)
    }
}

impl From<&rusqlite::Error> for Trouble {
    fn from(error: &rusqlite::Error) -> Self {
        use rusqlite::{Error, ErrorCode as Code};
        let kind = match error.sqlite_error_code() {
            Some(Code::DiskFull) => TroubleKind::DiskFull,
            Some(Code::ReadOnly | Code::PermissionDenied) => TroubleKind::ReadOnly,
            Some(Code::SystemIoFailure) => TroubleKind::DeviceFailed,
            Some(Code::CannotOpen) => TroubleKind::CannotOpen,
            Some(Code::DatabaseBusy | Code::DatabaseLocked) => TroubleKind::Busy,
            Some(Code::DatabaseCorrupt | Code::NotADatabase) => TroubleKind::Damaged,
            Some(_) => TroubleKind::Other,
            None => match error {
                Error::InvalidPath(_) | Error::NulError(_) => TroubleKind::CannotOpen,
                // A column that does not hold what was put there.
                _ => TroubleKind::Damaged,
            },
        };
        Self { kind, detail: error.to_string() }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_store_that_was_put_aside_is_spoken_of_until_the_next_start() {
        let mut health = Health::default();
        assert!(health.words().is_empty());
        health.set_aside.push(PathBuf::from("/var/lib/dekchi/dekchi.sqlite.corrupt-7"));
        assert!(health.words()[0].contains("sqlite3 /var/lib/dekchi/dekchi.sqlite.corrupt-7 .rec"));
    }
}
