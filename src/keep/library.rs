//! The store as a reader sees it: what was cooked, and how it went.
//!
//! Each question is a short transaction of its own, so that a reader never holds up the writer's
//! checkpoints; whoever has no more questions drops the library. A store that nobody has open, on a
//! disk that may not be written, is read all the same.

use std::io::ErrorKind;
use std::path::{Path, PathBuf};

use rusqlite::{Connection, OptionalExtension, Row as SqlRow};

use crate::moment::{Moment, Wall};
use crate::watch::action::{Happening, Notice, Snapshot};
use crate::watch::setting::Learnt;

use super::file::{self, APPLICATION_ID, STEPS};
use super::row::{About, Browser, Delivery, Letter, LetterKind};
use super::samples::{self, Samples, Word};
use super::select;

/// Why the store could not be read: one sentence.
#[derive(Debug, thiserror::Error)]
pub enum Unreadable {
    #[error("{0} is not there: no batch has been kept yet, or name the store with --store")]
    Missing(PathBuf),
    #[error("{0} may not be read by this user: the service's store is its own, say it with sudo")]
    Forbidden(PathBuf),
    #[error("{0} is not a store of dekchi")]
    Foreign(PathBuf),
    #[error("{path} has schema {found}, this dekchi reads {known}: {}", advice(*.found, *.known))]
    Version { path: PathBuf, found: i32, known: i32 },
    #[error("batch {0} is not in the store")]
    NoBatch(i64),
    #[error("{path} cannot be read: {error}")]
    Sqlite { path: PathBuf, error: rusqlite::Error },
    #[error("{to} cannot be written: {why}")]
    Copy { to: PathBuf, why: String },
}

fn advice(found: i32, known: i32) -> &'static str {
    if found > known { "install the newer dekchi" } else { "dekchi run brings it up to date" }
}

/// A store to read from.
#[derive(Debug)]
pub struct Library {
    path: PathBuf,
    db: Connection,
}

/// A batch in the list.
#[derive(Debug, Clone, PartialEq)]
pub struct Entry {
    pub number: i64,
    pub pot: String,
    pub name: String,
    /// When it began, and whether the board knew the time.
    pub began: Wall,
    /// How long it took, or how far the samples go where it has not ended, s.
    pub lasted_s: f64,
    /// How it ended; `None` where it has not.
    pub outcome: Option<String>,
}

/// A batch that has begun and not ended.
#[derive(Debug, Clone, PartialEq)]
pub struct Unfinished {
    pub number: i64,
    pub about: About,
    /// Where its own clock stood at the last thing that was kept.
    pub last: Moment,
    /// When that was, and whether the board knew the time.
    pub last_wall: Wall,
    /// The boot in which that was, and the daemon's own clock then.
    pub last_boot: String,
    pub last_mono: Moment,
    /// How many words of the cook's were kept.
    pub words: u64,
}

impl Library {
    /// Opens the store for reading.
    pub fn open(path: &Path) -> Result<Self, Unreadable> {
        match path.try_exists() {
            Err(error) if error.kind() == ErrorKind::PermissionDenied => {
                return Err(Unreadable::Forbidden(path.to_owned()));
            }
            Ok(true) => {}
            _ => return Err(Unreadable::Missing(path.to_owned())),
        }
        let fault = |error| Unreadable::Sqlite { path: path.to_owned(), error };
        let db = file::open_to_read(path).map_err(fault)?;
        let number = |name| db.pragma_query_value(None, name, |row| row.get::<_, i32>(0));
        if number("application_id").map_err(fault)? != APPLICATION_ID {
            let tables = db.query_row("SELECT count(*) FROM sqlite_schema", [], |row| row.get(0));
            return Err(match tables.map_err(fault)? {
                0 => Unreadable::Missing(path.to_owned()),
                _ => Unreadable::Foreign(path.to_owned()),
            });
        }
        let (found, known) = (number("user_version").map_err(fault)?, STEPS.len() as i32);
        if found != known {
            return Err(Unreadable::Version { path: path.to_owned(), found, known });
        }
        Ok(Self { path: path.to_owned(), db })
    }

    /// Every batch, newest first.
    pub fn list(&self) -> Result<Vec<Entry>, Unreadable> {
        self.rows(&format!("{} ORDER BY b.id DESC", select::ENTRY), [], select::entry)
    }

    /// One batch.
    pub fn entry(&self, number: i64) -> Result<Entry, Unreadable> {
        let sql = format!("{} WHERE b.id = ?1", select::ENTRY);
        let found = self.db.query_row(&sql, [number], select::entry).optional();
        found.map_err(|e| self.fault(e))?.ok_or(Unreadable::NoBatch(number))
    }

    /// What the batch was to be.
    pub fn about(&self, number: i64) -> Result<About, Unreadable> {
        let sql = "SELECT * FROM batches WHERE id = ?1";
        let found = self.db.query_row(sql, [number], select::about).optional();
        found.map_err(|e| self.fault(e))?.ok_or(Unreadable::NoBatch(number))
    }

    /// Batches that have begun and not ended.
    pub fn unfinished(&self) -> Result<Vec<Unfinished>, Unreadable> {
        self.rows(select::UNFINISHED, [], select::unfinished)
    }

    /// What the judgement of a batch was told, in order.
    pub fn samples(&self, number: i64) -> Result<Samples, Unreadable> {
        let blocks = self.rows(select::BLOCKS, [number], |row| {
            Ok((Moment::from_ms(row.get(0)?), row.get::<_, Vec<u8>>(1)?))
        })?;
        Ok(samples::unpack(blocks, self.words(number)?))
    }

    /// The pot as it was shown, every few seconds.
    pub fn snapshots(&self, number: i64) -> Result<Vec<Snapshot>, Unreadable> {
        self.rows(select::READINGS, [number], select::snapshot)
    }

    /// What was recognised, in the order in which it was known.
    pub fn happenings(&self, number: i64) -> Result<Vec<Happening>, Unreadable> {
        let rows = self.rows(select::HAPPENINGS, [number], select::happening)?;
        Ok(rows.into_iter().flatten().collect())
    }

    /// Alerts as they changed.
    pub fn notices(&self, number: i64) -> Result<Vec<Notice>, Unreadable> {
        let rows = self.rows(select::NOTICES, [number], select::notice)?;
        Ok(rows.into_iter().flatten().collect())
    }

    /// How it went to tell people of this batch's alerts, in order.
    pub fn deliveries(&self, number: i64) -> Result<Vec<Delivery>, Unreadable> {
        let rows = self.rows(select::DELIVERIES, [number], select::delivery)?;
        Ok(rows.into_iter().flatten().collect())
    }

    /// The browsers that asked to be told by Web Push.
    pub fn browsers(&self) -> Result<Vec<Browser>, Unreadable> {
        let sql = "SELECT person, endpoint, p256dh, auth FROM browsers ORDER BY endpoint";
        self.rows(sql, [], |row| {
            let (person, endpoint) = (row.get(0)?, row.get(1)?);
            Ok(Browser { person, endpoint, p256dh: row.get(2)?, auth: row.get(3)? })
        })
    }

    /// What the cook said.
    pub fn words(&self, number: i64) -> Result<Vec<Word>, Unreadable> {
        let rows = self.rows(select::WORDS, [number], select::word)?;
        Ok(rows.into_iter().flatten().collect())
    }

    /// What earlier batches taught about a pot.
    pub fn learnt(&self, pot: &str) -> Result<Learnt, Unreadable> {
        let sql = "SELECT bottom_log_scale, bottom_verdicts FROM learnt WHERE pot = ?1";
        let found = self.db.query_row(sql, [pot], select::learnt).optional();
        Ok(found.map_err(|e| self.fault(e))?.unwrap_or_default())
    }

    /// Messages that no broker acknowledged, oldest first.
    pub fn outbox(&self, limit: usize) -> Result<Vec<Letter>, Unreadable> {
        let sql = "SELECT key, kind, mono_ms, topic, payload FROM outbox ORDER BY id LIMIT ?1";
        self.rows(sql, [limit as i64], |row| {
            Ok(Letter {
                key: row.get(0)?,
                kind: LetterKind::by_number(row.get(1)?),
                at: Moment::from_ms(row.get(2)?),
                topic: row.get(3)?,
                payload: row.get(4)?,
            })
        })
    }

    /// Writes a compact copy of the store to a file that is not there yet.
    pub fn back_up(&self, to: &Path) -> Result<(), Unreadable> {
        let fault = |why: String| Unreadable::Copy { to: to.to_owned(), why };
        if to.exists() {
            return Err(fault("it is there already".to_owned()));
        }
        file::vacuum_into(&self.db, to).map_err(|error| fault(error.to_string()))
    }

    fn rows<T>(
        &self,
        sql: &str,
        params: impl rusqlite::Params,
        read: impl FnMut(&SqlRow<'_>) -> rusqlite::Result<T>,
    ) -> Result<Vec<T>, Unreadable> {
        let mut statement = self.db.prepare(sql).map_err(|error| self.fault(error))?;
        let rows = statement.query_map(params, read).and_then(Iterator::collect);
        rows.map_err(|error| self.fault(error))
    }

    fn fault(&self, error: rusqlite::Error) -> Unreadable {
        Unreadable::Sqlite { path: self.path.clone(), error }
    }
}
