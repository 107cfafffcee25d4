//! Where the store is: one rule for every command.
//!
//! What `--store` names; else `dekchi.sqlite` in systemd's state directory; else in `dekchi-data`
//! where one stands. Commands that only read also look where the service keeps its store.

use std::path::{Path, PathBuf};

use clap::Args;

use crate::keep::library::{Library, Unreadable};

use super::failure::Failure;

const NAME: &str = "dekchi.sqlite";
/// The cook's words are said here, beside the store.
const DOOR: &str = "say.sock";
const HERE: &str = "dekchi-data";
/// `StateDirectory=dekchi` of the unit.
const OF_THE_SERVICE: &str = "/var/lib/dekchi";

/// Which store is meant.
#[derive(Debug, Clone, Default, Args)]
pub struct Store {
    /// The store's file; without it dekchi.sqlite in systemd's state directory, else in ./dekchi-data
    #[arg(long = "store", value_name = "FILE", global = true)]
    path: Option<PathBuf>,
}

impl Store {
    /// The file to write to.
    #[must_use]
    pub fn to_write(&self) -> PathBuf {
        let given = || state_directory().map(|directory| directory.join(NAME));
        self.path.clone().or_else(given).unwrap_or_else(|| Path::new(HERE).join(NAME))
    }

    /// The file to read from.
    #[must_use]
    pub fn to_read(&self) -> PathBuf {
        let of_the_service = Path::new(OF_THE_SERVICE).join(NAME);
        let path = self.to_write();
        let given = self.path.is_some() || state_directory().is_some();
        // Its directory lets only root and its own user look whether the store is there.
        let is_served = Path::new(OF_THE_SERVICE).exists();
        if !given && !path.exists() && is_served { of_the_service } else { path }
    }

    /// Where the daemon listens to the cook's words.
    #[must_use]
    pub fn door_to_open(&self) -> PathBuf {
        self.to_write().with_file_name(DOOR)
    }

    /// Where the cook's words are said.
    #[must_use]
    pub fn door_to_speak_at(&self) -> PathBuf {
        self.to_read().with_file_name(DOOR)
    }

    /// Opens the store to read from.
    pub fn library(&self) -> Result<Library, Failure> {
        self.must_be_there()?;
        Ok(Library::open(&self.to_read())?)
    }

    /// Refuses a store that was named and is not there. Where none was named nothing may have been kept
    /// yet, and whether one may look is for those who open it to say.
    pub fn must_be_there(&self) -> Result<(), Failure> {
        match &self.path {
            Some(path) if path.try_exists().is_ok_and(|there| !there) => {
                Err(Failure::usage(Unreadable::Missing(path.clone()).to_string()))
            }
            _ => Ok(()),
        }
    }
}

/// systemd.exec(5): a list parted by colons; the unit has one.
#[expect(clippy::disallowed_methods, reason = "the command line reads the environment")]
fn state_directory() -> Option<PathBuf> {
    let directories = std::env::var("STATE_DIRECTORY").ok()?;
    let first = directories.split(':').next().filter(|first| !first.is_empty())?;
    Some(PathBuf::from(first))
}

impl From<Unreadable> for Failure {
    fn from(why: Unreadable) -> Self {
        let sentence = why.to_string();
        match why {
            Unreadable::Missing(_) | Unreadable::Forbidden(_) => Self::unavailable(sentence),
            Unreadable::NoBatch(_) => Self::usage(sentence),
            Unreadable::Foreign(_) | Unreadable::Version { .. } => Self::config(sentence),
            Unreadable::Sqlite { .. } | Unreadable::Copy { .. } => Self::io(sentence),
        }
    }
}
