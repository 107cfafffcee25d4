//! The power fails at any instant.
//!
//! A cook's work is recorded with strace: every write, truncation, creation and removal of the store's
//! files, every sync, and every round that was acknowledged. Then the power is cut after each recorded
//! call in turn. What a disk may hold then is made up from the recording, after the way of Pillai et
//! al. ("All File Systems Are Not Created Equal", OSDI 2014): all that was synced, and of what was not
//! any part, sector by sector; names that were made or removed since their directory was last synced
//! are there in any state from then on. Each such disk must open without a complaint, pass SQLite's
//! own integrity check, and have every round that was acknowledged before the cut.
//!
//! A sector is 512 bytes, and a write leaves the bytes beside it alone (the "powersafe overwrite" of
//! <https://sqlite.org/psow.html>, which SQLite takes for granted).

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

use dekchi::keep::keeper::{Keeper, Room};

use super::child;
use super::kitchen::{Chance, start};
use super::workload::check;

const SECTOR: usize = 512;
const TRACED: &str = "trace=openat,pwrite64,write,ftruncate,fsync,fdatasync,unlink,rename";

/// Files by their names.
type Disk = BTreeMap<String, Vec<u8>>;

/// One recorded call that matters.
#[derive(Debug, Clone)]
enum Call {
    Create { name: String },
    Remove { name: String },
    Write { name: String, offset: usize, bytes: Vec<u8> },
    Truncate { name: String, length: usize },
    Sync { name: String },
    SyncDirectory,
    Kept { round: i64 },
}

/// Runs one or more sessions of the workload in `directory` and records them.
fn record(directory: &Path, sessions: usize, rounds: usize) -> Vec<Call> {
    fs::write(directory.join("rounds"), rounds.to_string()).unwrap();
    let log = tempfile::NamedTempFile::new().unwrap();
    let task = child::command("workload::cook_rounds", directory);
    let again = "for _ in $(seq \"$0\"); do \"$@\" || exit; done";
    let status = Command::new("strace")
        .args(["-f", "-qq", "-y", "-xx", "-s", "1000000", "-e", TRACED, "-o"])
        .arg(log.path())
        .args(["sh", "-c", again, &sessions.to_string()])
        .arg(task.get_program())
        .args(task.get_args())
        .envs(task.get_envs().filter_map(|(key, value)| Some((key, value?))))
        .stdout(Stdio::null())
        .status()
        .unwrap();
    assert!(status.success());
    parse(&fs::read_to_string(log.path()).unwrap(), directory)
}

/// The calls of a log that returned without an error, in the order in which they returned.
fn parse(log: &str, directory: &Path) -> Vec<Call> {
    let mut unfinished = BTreeMap::new();
    let mut calls = Vec::new();
    for line in log.lines() {
        let (pid, rest) = line.split_once(' ').unwrap();
        let rest = rest.trim_start();
        if let Some(begun) = rest.strip_suffix(" <unfinished ...>") {
            unfinished.insert(pid, begun.to_owned());
        } else if let Some((_, resumed)) = rest.split_once(" resumed>") {
            let whole = unfinished.remove(pid).unwrap() + resumed;
            calls.extend(call(&whole, directory));
        } else {
            calls.extend(call(rest, directory));
        }
    }
    calls
}

fn call(line: &str, directory: &Path) -> Vec<Call> {
    let Some((call, result)) = line.rsplit_once(" = ") else { return Vec::new() };
    let Some((name, arguments)) = call.split_once('(') else { return Vec::new() };
    if result.starts_with('-') {
        return Vec::new();
    }
    let arguments = arguments.trim_end().strip_suffix(')').unwrap();
    let file = |text: &str| named(path_of(text)?, directory);
    let first = arguments.split(", ").next().unwrap();
    let number = |place: usize| arguments.rsplit(", ").nth(place).unwrap().parse().unwrap();
    let bytes = || unhex(arguments.split('"').nth(1).unwrap());
    let is_directory = || path_of(first).is_some_and(|path| Path::new(&path) == directory);
    match name {
        "write" if first.starts_with("1<") => kept(&bytes()),
        "pwrite64" => {
            one(file(first), |name| Call::Write { name, offset: number(0), bytes: bytes() })
        }
        "ftruncate" => one(file(first), |name| Call::Truncate { name, length: number(0) }),
        "fsync" | "fdatasync" if is_directory() => vec![Call::SyncDirectory],
        "fsync" | "fdatasync" => one(file(first), |name| Call::Sync { name }),
        "openat" if arguments.contains("O_CREAT") => {
            one(file(result), |name| Call::Create { name })
        }
        "unlink" => {
            let path = String::from_utf8(bytes()).unwrap();
            one(named(path, directory), |name| Call::Remove { name })
        }
        "rename" => panic!("nothing of a sound store is renamed: {line}"),
        _ => Vec::new(),
    }
}

fn one(name: Option<String>, call: impl FnOnce(String) -> Call) -> Vec<Call> {
    name.map(call).into_iter().collect()
}

/// `5</a/b>` or, as strace writes it, `5<\x2f\x61…>`.
fn path_of(text: &str) -> Option<String> {
    let (_, rest) = text.split_once('<')?;
    let path = rest.rsplit_once('>')?.0;
    if path.starts_with("\\x") {
        String::from_utf8(unhex(path)).ok()
    } else {
        Some(path.to_owned())
    }
}

/// Name of a file of the store; `None` for any other, and for the log's index, which is shared memory.
fn named(path: String, directory: &Path) -> Option<String> {
    let name = Path::new(&path).strip_prefix(directory).ok()?.to_str()?.to_owned();
    (name.starts_with("dekchi.sqlite") && !name.ends_with("-shm")).then_some(name)
}

fn unhex(text: &str) -> Vec<u8> {
    let digits = text.split("\\x").skip(1);
    digits.map(|pair| u8::from_str_radix(pair, 16).unwrap()).collect()
}

fn kept(printed: &[u8]) -> Vec<Call> {
    let printed = String::from_utf8_lossy(printed);
    let rounds = printed.lines().filter_map(|line| line.strip_prefix("kept ")?.parse().ok());
    rounds.map(|round| Call::Kept { round }).collect()
}

/// A disk with what it has for certain and what it may have.
#[derive(Debug, Clone, Default)]
struct Storage {
    files: Vec<File>,
    /// Names as the running system sees them, and the file of each.
    names: BTreeMap<String, usize>,
    /// Names as they were when the directory was last synced.
    synced_names: BTreeMap<String, usize>,
    /// What became of names since: a file's, or none's.
    changes: Vec<(String, Option<usize>)>,
}

/// What a file has for certain, and the calls on it since.
#[derive(Debug, Clone, Default)]
struct File {
    synced: Vec<u8>,
    pending: Vec<Call>,
}

impl Storage {
    fn holding(disk: &Disk) -> Self {
        let mut storage = Self::default();
        for (name, bytes) in disk {
            storage.synced_names.insert(name.clone(), storage.files.len());
            storage.files.push(File { synced: bytes.clone(), pending: Vec::new() });
        }
        storage.names.clone_from(&storage.synced_names);
        storage
    }

    fn take(&mut self, call: &Call) {
        match call {
            Call::Create { name } if !self.names.contains_key(name) => {
                let file = self.files.len();
                self.files.push(File::default());
                self.names.insert(name.clone(), file);
                self.changes.push((name.clone(), Some(file)));
            }
            Call::Remove { name } => {
                self.names.remove(name);
                self.changes.push((name.clone(), None));
            }
            Call::Write { name, .. } | Call::Truncate { name, .. } => {
                let file = self.names[name];
                self.files[file].pending.push(call.clone());
            }
            Call::Sync { name } => {
                let file = &mut self.files[self.names[name]];
                for call in std::mem::take(&mut file.pending) {
                    call.apply(&mut file.synced, &mut || true);
                }
            }
            Call::SyncDirectory => {
                self.synced_names.clone_from(&self.names);
                self.changes.clear();
            }
            Call::Create { .. } | Call::Kept { .. } => {}
        }
    }

    /// A disk as the power may leave it: of the changes of names a part from the first on, of each
    /// write any sectors, with this likelihood.
    fn after_a_cut(&self, likelihood: f64, chance: &mut Chance) -> Disk {
        let mut names = self.synced_names.clone();
        let changed = (self.changes.len() as f64 * likelihood).round() as usize;
        for (name, file) in self.changes.iter().take(changed) {
            match file {
                Some(file) => names.insert(name.clone(), *file),
                None => names.remove(name),
            };
        }
        let mut content = |file: usize| {
            let mut bytes = self.files[file].synced.clone();
            for call in &self.files[file].pending {
                call.apply(&mut bytes, &mut || chance.uniform() < likelihood);
            }
            bytes
        };
        names.into_iter().map(|(name, file)| (name, content(file))).collect()
    }
}

impl Call {
    /// Does to a file's bytes what the call did, sector by sector where `survives` says so.
    fn apply(&self, file: &mut Vec<u8>, survives: &mut impl FnMut() -> bool) {
        match self {
            Self::Truncate { length, .. } if survives() => file.resize(*length, 0),
            Self::Write { offset, bytes, .. } => {
                let mut from = *offset;
                let end = offset + bytes.len();
                while from < end {
                    let to = end.min((from / SECTOR + 1) * SECTOR);
                    if survives() {
                        file.resize(file.len().max(to), 0);
                        file[from..to].copy_from_slice(&bytes[from - offset..to - offset]);
                    }
                    from = to;
                }
            }
            _ => {}
        }
    }
}

fn lay_out(disk: &Disk, directory: &Path) -> PathBuf {
    for (name, bytes) in disk {
        fs::write(directory.join(name), bytes).unwrap();
    }
    directory.join("dekchi.sqlite")
}

/// A directory in memory, where syncs cost nothing.
pub fn in_memory() -> tempfile::TempDir {
    let shared = Path::new("/dev/shm");
    if shared.is_dir() {
        tempfile::tempdir_in(shared).unwrap()
    } else {
        tempfile::tempdir().unwrap()
    }
}

/// Opens a disk as the power left it, and sees that nothing acknowledged is missing.
fn start_again(disk: &Disk, acknowledged: Option<i64>) {
    let directory = in_memory();
    let path = lay_out(disk, directory.path());
    let (keeper, report) = Keeper::open(&path, start(), Room::default()).unwrap();
    let health = report.health;
    assert!(health.trouble.is_none() && health.set_aside.is_empty(), "{health:?}");
    assert!(keeper.close().all_kept());
    check(&path, acknowledged);
}

/// Cuts the power after each call, in several ways; how many disks that made.
fn cut_everywhere(before: &Storage, calls: &[Call], mut acknowledged: Option<i64>) -> usize {
    let mut storage = before.clone();
    let mut chance = Chance::new(20_261_125);
    let mut disks = 0;
    for call in calls {
        storage.take(call);
        if let Call::Kept { round } = call {
            acknowledged = acknowledged.max(Some(*round));
        }
        for likelihood in [0.0, 0.5, 0.9, 1.0] {
            start_again(&storage.after_a_cut(likelihood, &mut chance), acknowledged);
            disks += 1;
        }
    }
    disks
}

fn strace_records() -> bool {
    let strace = Command::new("strace").args(["-qq", "-o", "/dev/null", "true"]).status();
    let works = strace.is_ok_and(|status| status.success());
    if !works {
        eprintln!("SKIPPED: strace cannot be run here, so no power was cut");
    }
    works
}

#[test]
fn nothing_acknowledged_is_lost_wherever_the_power_is_cut() {
    if !strace_records() {
        return;
    }
    let directory = in_memory();
    let calls = record(directory.path(), 3, 5);
    let rounds = calls.iter().filter(|call| matches!(call, Call::Kept { .. })).count();
    assert_eq!(rounds, 15);
    let disks = cut_everywhere(&Storage::default(), &calls, None);
    eprintln!("{} calls recorded, {disks} disks left by power cuts, {rounds} rounds", calls.len());
    assert!(disks > 500);
}

#[test]
fn a_cut_while_recovering_from_a_cut_loses_nothing_either() {
    if !strace_records() {
        return;
    }
    let directory = in_memory();
    let calls = record(directory.path(), 1, 4);
    let mut chance = Chance::new(7);
    let mut disks = 0;
    for _ in 0..6 {
        let end = chance.below(calls.len() as u64) as usize;
        let mut storage = Storage::default();
        calls[..end].iter().for_each(|call| storage.take(call));
        let acknowledged = calls[..end].iter().filter_map(|call| match call {
            Call::Kept { round } => Some(*round),
            _ => None,
        });
        let acknowledged = acknowledged.max();
        let disk = storage.after_a_cut(0.7, &mut chance);
        let again = in_memory();
        lay_out(&disk, again.path());
        let recovery = record(again.path(), 1, 1);
        disks += cut_everywhere(&Storage::holding(&disk), &recovery, acknowledged);
    }
    eprintln!("{disks} disks left by power cuts during recovery");
}
