//! Opening the store's file: pragmas, checks, migrations, putting a damaged file aside.
//!
//! A power cut may come at any instant of this and the next start goes on from there: SQLite's
//! write-ahead log makes each transaction whole or absent, a migration is one transaction and begins
//! after a copy of the old file, and a damaged file is renamed, never deleted.

use std::fs::File;
use std::io::{self, Read};
use std::os::unix::fs::FileExt;
use std::path::{Path, PathBuf};
use std::time::Duration;

use rusqlite::config::DbConfig;
use rusqlite::{Connection, ErrorCode, OpenFlags, TransactionBehavior};

/// "dekc" in ASCII, in the header of every store.
pub(super) const APPLICATION_ID: i32 = 0x6465_6b63;

/// Each step takes the schema from its place in the list to the next version.
pub(super) const STEPS: [&str; 2] = [include_str!("schema.sql"), include_str!("schema-2.sql")];

/// Some tables that every version has and no other program would.
const OWN_TABLES: [&str; 4] = ["legs", "samples", "readings", "happenings"];

/// Length of the log, bytes: what is written between two checkpoints, 280 pages with their headers, and
/// a large transaction.
const LOG_BYTES: u64 = 327_680;

/// A version above this is a flipped bit, not a newer dekchi.
const HIGHEST_LIKELY_VERSION: i32 = 10_000;

/// Why the store must not be touched.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum Refusal {
    #[error(
        "{path} was written by a newer dekchi (schema {found}; this one knows up to {known}): \
         install that version, or name another file with --store"
    )]
    Newer { path: PathBuf, found: i32, known: i32 },
    #[error("another dekchi has {path} open: stop it first, or name another file with --store")]
    InUse { path: PathBuf },
    #[error("{path} is a database of another program: name another file with --store")]
    Foreign { path: PathBuf },
}

/// Why the file could not be opened.
#[derive(Debug, thiserror::Error)]
pub(super) enum CannotOpen {
    #[error(transparent)]
    Refused(#[from] Refusal),
    #[error(transparent)]
    Sqlite(#[from] rusqlite::Error),
    #[error(transparent)]
    Io(#[from] io::Error),
    /// What the integrity check found.
    #[error("{0}")]
    Damaged(String),
}

/// A file that is open for writing.
#[derive(Debug)]
pub(super) struct Opened {
    pub connection: Connection,
    /// Where the copy lies that was made before a migration.
    pub copied_before_migration: Option<PathBuf>,
}

/// How thoroughly a file is looked at.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Check {
    /// Every page.
    Whole,
    /// Only what opening itself reads.
    Quick,
}

/// Opens or makes the store at `path`.
pub(super) fn open(path: &Path, check: Check) -> Result<Opened, CannotOpen> {
    open_with(path, check, &STEPS)
}

fn open_with(path: &Path, check: Check, steps: &[&str]) -> Result<Opened, CannotOpen> {
    let flags = OpenFlags::SQLITE_OPEN_READ_WRITE
        | OpenFlags::SQLITE_OPEN_CREATE
        | OpenFlags::SQLITE_OPEN_NO_MUTEX;
    make_directory(path)?;
    let ours = is_marked_ours(path)?;
    let connection = Connection::open_with_flags(path, flags)?;
    // Until it is known to be sound nothing is to be copied from the log into the file.
    connection.set_db_config(DbConfig::SQLITE_DBCONFIG_NO_CKPT_ON_CLOSE, true)?;
    connection.busy_timeout(Duration::from_secs(5))?;
    connection.set_prepared_statement_cache_capacity(32);
    // Small pages: a commit of ten seconds changes a few hundred bytes and writes whole pages.
    connection.pragma_update(None, "page_size", 1024)?;
    let version = known_version(&connection, path, ours, steps)?;
    if check == Check::Whole {
        whole(&connection, version, steps)?;
    }
    let had_log = mode(&connection)? == "wal";
    connection.execute_batch(
        "PRAGMA journal_mode = WAL; PRAGMA synchronous = FULL; PRAGMA foreign_keys = ON;
         PRAGMA trusted_schema = OFF; PRAGMA cell_size_check = ON;
         PRAGMA journal_size_limit = 327680; PRAGMA wal_autocheckpoint = 280;
         PRAGMA cache_size = -512;",
    )?;
    // After an error of the disk the log may hold pages that the kernel believes written and the
    // disk never saw; copied into the database and synced anew they are safe.
    if had_log {
        connection.query_row("PRAGMA wal_checkpoint(RESTART)", [], |_| Ok(()))?;
    }
    connection.set_db_config(DbConfig::SQLITE_DBCONFIG_NO_CKPT_ON_CLOSE, false)?;
    let copied_before_migration = migrate(&connection, path, version, steps)?;
    // A log that cannot be lengthened now grows as it is needed.
    let _ = lengthen_log(path);
    Ok(Opened { connection, copied_before_migration })
}

/// Opens a store to read from. Where it lies on a disk that may not be written and nobody has it
/// open, SQLite cannot share it and reads it as a file that does not change.
pub(super) fn open_to_read(path: &Path) -> Result<Connection, rusqlite::Error> {
    let flags = OpenFlags::SQLITE_OPEN_READ_ONLY | OpenFlags::SQLITE_OPEN_NO_MUTEX;
    let shared = Connection::open_with_flags(path, flags).and_then(ready_to_read);
    match (&shared, path.to_str()) {
        (Err(_), Some(name)) if !beside(path, "-wal").exists() => {
            let uri = format!("file:{}?immutable=1", percent_encoded(name));
            Connection::open_with_flags(uri, flags | OpenFlags::SQLITE_OPEN_URI)
                .and_then(ready_to_read)
        }
        _ => shared,
    }
}

fn ready_to_read(db: Connection) -> Result<Connection, rusqlite::Error> {
    db.busy_timeout(Duration::from_secs(2))?;
    db.execute_batch("PRAGMA trusted_schema = OFF; PRAGMA cell_size_check = ON;")?;
    db.pragma_query_value(None, "schema_version", |_| Ok(()))?;
    Ok(db)
}

/// What would end a path within a URI, escaped (<https://sqlite.org/uri.html>, section 3.1).
fn percent_encoded(path: &str) -> String {
    path.replace('%', "%25").replace('?', "%3f").replace('#', "%23")
}

fn make_directory(path: &Path) -> io::Result<()> {
    match path.parent().filter(|directory| !directory.as_os_str().is_empty()) {
        Some(directory) => std::fs::create_dir_all(directory),
        None => Ok(()),
    }
}

/// Claims the store for this process, by an exclusive lock on an empty file beside it, which the
/// kernel lets go of however the process ends. `None` where the file cannot be made.
pub(super) fn claim(path: &Path) -> Result<Option<Connection>, Refusal> {
    // What cannot be made now is said when the store itself is opened.
    let _ = make_directory(path);
    let claimed = Connection::open(beside(path, ".lock")).and_then(|claim| {
        claim.busy_timeout(Duration::ZERO)?;
        claim.execute_batch("BEGIN EXCLUSIVE")?;
        Ok(claim)
    });
    match claimed {
        Ok(claim) => Ok(Some(claim)),
        Err(error) if error.sqlite_error_code() == Some(ErrorCode::DatabaseBusy) => {
            Err(Refusal::InUse { path: path.to_owned() })
        }
        Err(_) => Ok(None),
    }
}

/// Looks through a file that may be in use.
pub(super) fn check(path: &Path) -> Result<(), CannotOpen> {
    let connection = open_to_read(path)?;
    let version = known_version(&connection, path, is_marked_ours(path)?, &STEPS)?;
    whole(&connection, version, &STEPS)
}

/// Gives the log its full length at once. A file that grows has its new length written to the file
/// system's journal at every sync, which costs a card several times what the samples do; written in
/// place it costs what is written. What lies after the last frame of a log is no frame, whatever it is
/// (<https://sqlite.org/fileformat.html>, section 4.3).
fn lengthen_log(path: &Path) -> io::Result<()> {
    let log = File::options().write(true).open(beside(path, "-wal"))?;
    let length = log.metadata()?.len();
    if length >= LOG_BYTES {
        return Ok(());
    }
    let longer = log.write_all_at(&vec![0; (LOG_BYTES - length) as usize], length);
    // A disk without the room keeps the room that it has.
    longer.and_then(|()| log.sync_all()).or_else(|_| log.set_len(length))
}

fn mode(connection: &Connection) -> Result<String, rusqlite::Error> {
    connection.pragma_query_value(None, "journal_mode", |row| row.get(0))
}

/// Whether the file lies on a file system that may only be read. One that turned read-only because its
/// card failed may still let a file be opened for writing, but none be made.
pub(super) fn is_on_read_only(path: &Path) -> bool {
    let trial = beside(path, ".trial");
    let opened = File::options().write(true).open(path).map(drop);
    let made = opened.and_then(|()| File::create(&trial).map(drop));
    let _ = std::fs::remove_file(&trial);
    made.is_err_and(|error| error.kind() == io::ErrorKind::ReadOnlyFilesystem)
}

/// Whether the file's own header, whatever its log says, bears the mark of a store: a big-endian
/// number at byte 68 (<https://sqlite.org/fileformat.html>, section 1.3).
fn is_marked_ours(path: &Path) -> io::Result<bool> {
    let mut header = [0; 72];
    match File::open(path).and_then(|mut file| file.read_exact(&mut header)) {
        Ok(()) => Ok(header.last_chunk() == Some(&APPLICATION_ID.to_be_bytes())),
        Err(error) => match error.kind() {
            io::ErrorKind::NotFound | io::ErrorKind::UnexpectedEof => Ok(false),
            _ => Err(error),
        },
    }
}

/// The schema's version where this program may write to the file.
fn known_version(
    connection: &Connection,
    path: &Path,
    marked_ours: bool,
    steps: &[&str],
) -> Result<i32, CannotOpen> {
    let number = |name| connection.pragma_query_value(None, name, |row| row.get::<_, i32>(0));
    let (application, version) = (number("application_id")?, number("user_version")?);
    let tables: Vec<String> = connection
        .prepare("SELECT name FROM sqlite_schema WHERE type = 'table'")?
        .query_map([], |row| row.get(0))?
        .collect::<Result<_, _>>()?;
    if tables.is_empty() && application == 0 && version == 0 && !marked_ours {
        return Ok(0);
    }
    let ours = tables.iter().any(|table| OWN_TABLES.contains(&table.as_str()));
    if !ours && application != APPLICATION_ID && !marked_ours {
        return Err(Refusal::Foreign { path: path.to_owned() }.into());
    }
    if !ours || application != APPLICATION_ID || !(1..=HIGHEST_LIKELY_VERSION).contains(&version) {
        let found = format!("its header says application {application:#x}, schema {version}");
        return Err(CannotOpen::Damaged(found));
    }
    let known = steps.len() as i32;
    if version > known {
        return Err(Refusal::Newer { path: path.to_owned(), found: version, known }.into());
    }
    Ok(version)
}

/// Looks at every page, and whether the schema is the one that its version has.
fn whole(connection: &Connection, version: i32, steps: &[&str]) -> Result<(), CannotOpen> {
    let said: String = connection.query_row("PRAGMA integrity_check(1)", [], |row| row.get(0))?;
    if said != "ok" {
        return Err(CannotOpen::Damaged(said));
    }
    let fresh = Connection::open_in_memory()?;
    for step in steps.iter().take(version.max(0) as usize) {
        fresh.execute_batch(step)?;
    }
    if schema(connection)? == schema(&fresh)? {
        return Ok(());
    }
    Err(CannotOpen::Damaged("its tables are not those of its schema".to_owned()))
}

/// Every object of the schema: kind, name and SQL.
fn schema(connection: &Connection) -> Result<Vec<String>, rusqlite::Error> {
    connection
        .prepare("SELECT type || ' ' || name || ' ' || sql FROM sqlite_schema ORDER BY type, name")?
        .query_map([], |row| Ok(row.get::<_, Option<String>>(0)?.unwrap_or_default()))?
        .collect()
}

/// Brings the schema up to date in one transaction, after a copy where there is something to lose.
fn migrate(
    connection: &Connection,
    path: &Path,
    version: i32,
    steps: &[&str],
) -> Result<Option<PathBuf>, CannotOpen> {
    let known = steps.len() as i32;
    if version == known {
        return Ok(None);
    }
    let copy = match version {
        0 => None,
        _ => Some(copy_before(connection, path, version)?),
    };
    let transaction =
        rusqlite::Transaction::new_unchecked(connection, TransactionBehavior::Immediate)?;
    for step in steps.iter().skip(version as usize) {
        transaction.execute_batch(step)?;
    }
    transaction.pragma_update(None, "application_id", APPLICATION_ID)?;
    transaction.pragma_update(None, "user_version", known)?;
    transaction.commit()?;
    Ok(copy)
}

/// A copy beside the store, made whole before it gets its name.
fn copy_before(connection: &Connection, path: &Path, version: i32) -> Result<PathBuf, CannotOpen> {
    let copy = beside(path, &format!(".before-schema-{}", version + 1));
    let unfinished = beside(path, ".copying");
    match std::fs::remove_file(&unfinished) {
        Err(error) if error.kind() != io::ErrorKind::NotFound => return Err(error.into()),
        _ => {}
    }
    vacuum_into(connection, &unfinished)?;
    std::fs::rename(&unfinished, &copy)?;
    Ok(copy)
}

/// Writes a compact copy and waits until the disk has it.
pub(super) fn vacuum_into(connection: &Connection, to: &Path) -> Result<(), CannotOpen> {
    let Some(name) = to.to_str() else {
        return Err(CannotOpen::Sqlite(rusqlite::Error::InvalidPath(to.to_owned())));
    };
    connection.execute("VACUUM INTO ?1", [name])?;
    File::open(to)?.sync_all()?;
    Ok(())
}

/// Renames a damaged store and its log to `….corrupt-<utc_ms>`, never over another file.
pub(super) fn set_aside(path: &Path, utc_ms: i64) -> io::Result<PathBuf> {
    let free = |n: i64| {
        let aside = beside(path, &format!(".corrupt-{}", utc_ms.saturating_add(n)));
        (!aside.exists()).then_some(aside)
    };
    let aside = (0..1000).find_map(free).ok_or(io::ErrorKind::AlreadyExists)?;
    // The log first: were it left beside a new file, SQLite would take it for that file's.
    for suffix in ["-wal", "-shm"] {
        match std::fs::rename(beside(path, suffix), beside(&aside, suffix)) {
            Err(error) if error.kind() != io::ErrorKind::NotFound => return Err(error),
            _ => {}
        }
    }
    std::fs::rename(path, &aside)?;
    Ok(aside)
}

/// `path` with `suffix` after its whole name.
pub(super) fn beside(path: &Path, suffix: &str) -> PathBuf {
    let mut name = path.as_os_str().to_owned();
    name.push(suffix);
    PathBuf::from(name)
}

#[cfg(test)]
mod tests;
