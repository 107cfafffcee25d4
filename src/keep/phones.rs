//! Which phones are paired.
//!
//! A SQLite file of its own beside the store, readable by its owner alone: it holds what must not
//! travel with a copy of the batches, and both the daemon and `dekchi pair` write to it. Each change
//! is one transaction.

use std::fs::{OpenOptions, Permissions};
use std::io;
use std::os::unix::fs::{OpenOptionsExt, PermissionsExt};
use std::path::{Path, PathBuf};
use std::sync::{Mutex, MutexGuard, PoisonError};
use std::time::Duration;

use rusqlite::{
    Connection, OpenFlags, OptionalExtension, Transaction, TransactionBehavior, params,
};

use crate::moment::{Moment, Wall};

/// "dekp" in ASCII.
const APPLICATION_ID: i32 = 0x6465_6b70;
const SCHEMA: &str = include_str!("phones.sql");
/// Wrong tries after which a code is no good any more.
const TRIES: i64 = 5;
/// More phones than any kitchen has hands.
const MOST: i64 = 64;
const NAME: &str = "phones.sqlite";

/// SHA-256 of a token or a code.
pub type Hash = [u8; 32];

/// Why a phone was not paired, listed or forgotten: one sentence.
#[derive(Debug, thiserror::Error)]
pub enum PhonesTrouble {
    #[error(
        "that code is not the one that is good now; `dekchi pair` on the board gives a new one"
    )]
    WrongCode,
    #[error("there are {MOST} phones already; forget one first")]
    Full,
    #[error("{0} is not there: dekchi makes it when it first serves the page")]
    Missing(PathBuf),
    #[error("{0} holds something other than phones")]
    Foreign(PathBuf),
    #[error("the phones in {path} cannot be kept: {error}")]
    Io { path: PathBuf, error: io::Error },
    #[error("the phones in {path} cannot be kept: {error}")]
    Sqlite { path: PathBuf, error: rusqlite::Error },
}

/// A phone that is paired.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Phone {
    pub number: i64,
    pub name: String,
    pub paired: Wall,
}

/// When something is, in this boot.
#[derive(Debug, Clone, Copy)]
pub struct InBoot<'b> {
    pub boot: &'b str,
    pub at: Moment,
}

/// The phones' file.
#[derive(Debug)]
pub struct Phones {
    path: PathBuf,
    db: Mutex<Connection>,
}

/// The phones' file beside this store.
#[must_use]
pub fn beside(store: &Path) -> PathBuf {
    store.with_file_name(NAME)
}

impl Phones {
    /// Opens the file, or makes it.
    pub fn open(path: &Path) -> Result<Self, PhonesTrouble> {
        let io = |error| PhonesTrouble::Io { path: path.to_owned(), error };
        if !path.exists() {
            OpenOptions::new().write(true).create_new(true).mode(0o600).open(path).map_err(io)?;
        }
        if std::fs::metadata(path).map_err(io)?.permissions().mode() & 0o077 != 0 {
            std::fs::set_permissions(path, Permissions::from_mode(0o600)).map_err(io)?;
        }
        Self::open_there(path)
    }

    /// Opens the file that must be there.
    pub fn open_there(path: &Path) -> Result<Self, PhonesTrouble> {
        if !path.exists() {
            return Err(PhonesTrouble::Missing(path.to_owned()));
        }
        let fault = |error| PhonesTrouble::Sqlite { path: path.to_owned(), error };
        let flags = OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_NO_MUTEX;
        let mut db = Connection::open_with_flags(path, flags).map_err(fault)?;
        let application = prepare(&mut db).map_err(fault)?;
        if application != APPLICATION_ID {
            return Err(PhonesTrouble::Foreign(path.to_owned()));
        }
        Ok(Self { path: path.to_owned(), db: Mutex::new(db) })
    }

    /// Makes this code the one that is good, for so long.
    pub fn offer(&self, code: &Hash, now: InBoot<'_>, for_ms: i64) -> Result<(), PhonesTrouble> {
        let until = now.at.plus_ms(for_ms).ms();
        self.change(|db| {
            db.execute(
                "INSERT OR REPLACE INTO code VALUES (1, ?1, ?2, ?3, ?4)",
                params![code, now.boot, until, TRIES],
            )
            .map(drop)
        })
    }

    /// Pairs a phone by the code that is good now, which it uses up.
    pub fn pair(
        &self,
        code: &Hash,
        token: &Hash,
        name: &str,
        now: InBoot<'_>,
        wall: Wall,
    ) -> Result<(), PhonesTrouble> {
        let outcome = self.change(|db| {
            if !try_code(db, code, now)? {
                return Ok(Err(PhonesTrouble::WrongCode));
            }
            if db.query_row("SELECT count(*) FROM phones", [], |row| row.get::<_, i64>(0))? >= MOST {
                return Ok(Err(PhonesTrouble::Full));
            }
            db.execute("DELETE FROM code", [])?;
            db.execute(
                "INSERT INTO phones (token, name, paired_utc_ms, clock_set) VALUES (?1, ?2, ?3, ?4)",
                params![token, name, wall.utc_ms, wall.set],
            )?;
            Ok(Ok(()))
        });
        outcome?
    }

    /// What the phone with this token is called.
    pub fn name(&self, token: &Hash) -> Result<Option<String>, PhonesTrouble> {
        let db = self.db();
        let mut statement = db
            .prepare_cached("SELECT name FROM phones WHERE token = ?1")
            .map_err(|e| self.fault(e))?;
        let name = statement.query_row([token], |row| row.get(0)).optional();
        name.map_err(|error| self.fault(error))
    }

    /// Every phone.
    pub fn list(&self) -> Result<Vec<Phone>, PhonesTrouble> {
        let db = self.db();
        let read = |row: &rusqlite::Row<'_>| {
            let paired = Wall { utc_ms: row.get(2)?, set: row.get(3)? };
            Ok(Phone { number: row.get(0)?, name: row.get(1)?, paired })
        };
        let phones = db
            .prepare("SELECT id, name, paired_utc_ms, clock_set FROM phones ORDER BY id")
            .and_then(|mut statement| statement.query_map([], read)?.collect());
        phones.map_err(|error| self.fault(error))
    }

    /// Forgets a phone by its number in the list; whether there was one.
    pub fn forget(&self, number: i64) -> Result<bool, PhonesTrouble> {
        self.change(|db| Ok(db.execute("DELETE FROM phones WHERE id = ?1", [number])? > 0))
    }

    /// Forgets every phone, and the code; how many there were.
    pub fn forget_all(&self) -> Result<usize, PhonesTrouble> {
        self.change(|db| {
            db.execute("DELETE FROM code", [])?;
            db.execute("DELETE FROM phones", [])
        })
    }

    /// Forgets the phone with this token.
    pub fn forget_token(&self, token: &Hash) -> Result<(), PhonesTrouble> {
        self.change(|db| db.execute("DELETE FROM phones WHERE token = ?1", [token]).map(drop))
    }

    fn change<T>(
        &self,
        act: impl FnOnce(&Transaction<'_>) -> rusqlite::Result<T>,
    ) -> Result<T, PhonesTrouble> {
        let mut db = self.db();
        let done =
            db.transaction_with_behavior(TransactionBehavior::Immediate).and_then(|change| {
                let done = act(&change)?;
                change.commit()?;
                Ok(done)
            });
        done.map_err(|error| self.fault(error))
    }

    fn db(&self) -> MutexGuard<'_, Connection> {
        self.db.lock().unwrap_or_else(PoisonError::into_inner)
    }

    fn fault(&self, error: rusqlite::Error) -> PhonesTrouble {
        PhonesTrouble::Sqlite { path: self.path.clone(), error }
    }
}

/// Sets the file up where it is new; whose it is.
fn prepare(db: &mut Connection) -> rusqlite::Result<i32> {
    db.busy_timeout(Duration::from_secs(3))?;
    db.execute_batch("PRAGMA synchronous = FULL; PRAGMA trusted_schema = OFF;")?;
    let change = db.transaction_with_behavior(TransactionBehavior::Immediate)?;
    let tables: i64 =
        change.query_row("SELECT count(*) FROM sqlite_schema", [], |row| row.get(0))?;
    if tables == 0 {
        change.execute_batch(SCHEMA)?;
        change.pragma_update(None, "application_id", APPLICATION_ID)?;
        change.pragma_update(None, "user_version", 1)?;
    }
    change.commit()?;
    db.pragma_query_value(None, "application_id", |row| row.get(0))
}

/// Whether this is the code that is good now. A wrong try is counted.
fn try_code(db: &Transaction<'_>, code: &Hash, now: InBoot<'_>) -> rusqlite::Result<bool> {
    let good = db
        .query_row(
            "SELECT hash FROM code WHERE boot = ?1 AND until_mono_ms > ?2 AND tries_left > 0",
            params![now.boot, now.at.ms()],
            |row| row.get::<_, Hash>(0),
        )
        .optional()?;
    let right = good.is_some_and(|good| good == *code);
    if !right {
        db.execute("UPDATE code SET tries_left = tries_left - 1", [])?;
    }
    Ok(right)
}

#[cfg(test)]
mod tests {
    use super::*;

    const WALL: Wall = Wall { utc_ms: 1_795_636_960_000, set: true };
    const CODE: Hash = [7; 32];

    fn at(s: i64) -> InBoot<'static> {
        InBoot { boot: "boot", at: Moment::from_ms(s * 1000) }
    }

    fn phones() -> (tempfile::TempDir, Phones) {
        let directory = tempfile::tempdir().unwrap();
        let phones = Phones::open(&directory.path().join("phones.sqlite")).unwrap();
        (directory, phones)
    }

    fn pair(phones: &Phones, code: Hash, token: u8, now: InBoot<'_>) -> bool {
        phones.pair(&code, &[token; 32], "the pass", now, WALL).is_ok()
    }

    #[test]
    fn a_code_is_good_once() {
        let (_directory, phones) = phones();
        assert!(!pair(&phones, CODE, 1, at(0)));
        phones.offer(&CODE, at(0), 600_000).unwrap();
        assert!(pair(&phones, CODE, 1, at(60)));
        assert!(!pair(&phones, CODE, 2, at(61)));
        assert_eq!(phones.name(&[1; 32]).unwrap().as_deref(), Some("the pass"));
        assert_eq!(phones.name(&[2; 32]).unwrap(), None);
    }

    #[test]
    fn a_code_ends_with_its_time_or_with_the_boot() {
        let (_directory, phones) = phones();
        phones.offer(&CODE, at(0), 600_000).unwrap();
        assert!(!pair(&phones, CODE, 1, at(601)));
        phones.offer(&CODE, at(0), 600_000).unwrap();
        assert!(!pair(&phones, CODE, 1, InBoot { boot: "another", ..at(60) }));
        assert!(pair(&phones, CODE, 1, at(60)));
    }

    #[test]
    fn a_code_bears_four_wrong_tries() {
        let (_directory, phones) = phones();
        let after_wrong_tries = |wrong: u8| {
            phones.offer(&CODE, at(0), 600_000).unwrap();
            (0..wrong).for_each(|_| assert!(!pair(&phones, [8; 32], 9, at(1))));
            pair(&phones, CODE, wrong, at(2))
        };
        assert!(after_wrong_tries(4));
        assert!(!after_wrong_tries(5));
    }

    #[test]
    fn a_forgotten_phone_is_known_no_more() {
        let (_directory, phones) = phones();
        for token in 1..=3 {
            phones.offer(&CODE, at(0), 600_000).unwrap();
            assert!(pair(&phones, CODE, token, at(1)));
        }
        let second = phones.list().unwrap()[1].number;
        assert!(phones.forget(second).unwrap() && !phones.forget(second).unwrap());
        assert_eq!(phones.name(&[2; 32]).unwrap(), None);
        phones.forget_token(&[3; 32]).unwrap();
        assert_eq!(phones.list().unwrap().len(), 1);
        assert_eq!(phones.forget_all().unwrap(), 1);
    }

    #[test]
    fn the_file_is_its_owners_alone_and_holds_no_token() {
        let (directory, phones) = phones();
        let path = directory.path().join("phones.sqlite");
        let mode = std::fs::metadata(&path).unwrap().permissions().mode();
        assert_eq!(mode & 0o777, 0o600);
        drop(phones);
        assert!(Phones::open_there(&path).is_ok());
        let other = directory.path().join("other.sqlite");
        Connection::open(&other).unwrap().execute_batch("CREATE TABLE a (b)").unwrap();
        assert!(matches!(Phones::open(&other), Err(PhonesTrouble::Foreign(_))));
        let missing = Phones::open_there(&directory.path().join("none.sqlite"));
        assert!(matches!(missing, Err(PhonesTrouble::Missing(_))));
    }
}
