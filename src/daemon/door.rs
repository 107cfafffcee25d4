//! The cook's words, through a door of their own: a Unix socket beside the store.
//!
//! It needs no broker and no network, and the file's mode says who may speak (the service's user and
//! group). One question and one answer a connection, each a line of JSON:
//!
//! ```text
//! → {"pot":"big","says":"that was 1.2 kg cream","by":"Asha"}
//!                              "pot" may be left out where there is one, and so may "by"
//! ← {"ok":true,"answer":"Put right: addition 4 (at 09:17), from 0.25 kg of cream to 1.20 kg of cream."}
//! ← {"ok":false,"answer":"\"stired\" was not understood; …"}
//! ```
//!
//! One visitor at a time, who has [`PATIENCE`] and [`LONGEST`] bytes: a stuck or hostile one costs
//! the others that long and the judgement nothing.

use std::fs::{self, Permissions};
use std::io::{self, BufRead, BufReader, Read, Write};
use std::os::unix::fs::PermissionsExt;
use std::os::unix::net::{UnixListener, UnixStream};
use std::path::{Path, PathBuf};
use std::sync::mpsc::{SyncSender, TrySendError, sync_channel};
use std::thread;
use std::time::Duration;

use serde::{Deserialize, Serialize};

use crate::batch::larder::Larder;
use crate::watch::event::CookSays;
use crate::watch::words;

use super::source::Item;

/// How long a visitor may take to say its line, or to hear the answer.
pub const PATIENCE: Duration = Duration::from_secs(2);
/// The longest line, bytes.
pub const LONGEST: u64 = 1024;
/// The longest name of who says it, characters.
const LONGEST_NAME: usize = 40;

/// What a visitor asks.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Question {
    #[serde(default)]
    pub pot: Option<String>,
    pub says: String,
    /// Who says it.
    #[serde(default)]
    pub by: Option<String>,
}

/// What it is told.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Answer {
    pub ok: bool,
    pub answer: String,
}

/// Who understands what is said at the door, and to whom it is handed on.
#[derive(Debug)]
pub struct Doorkeeper {
    /// The pots' names, in the order in which the judgement counts them.
    pub pots: Vec<String>,
    pub larder: Larder,
    pub items: SyncSender<Item>,
}

/// An open door; its file is taken away when it is dropped.
#[derive(Debug)]
pub struct Door {
    path: PathBuf,
}

impl Door {
    /// Opens the door at `path` and answers on a thread of its own. A file left behind by a daemon
    /// that died is taken away; one that another daemon answers at is an error.
    pub fn open(path: &Path, keeper: Doorkeeper) -> io::Result<Self> {
        if UnixStream::connect(path).is_ok() {
            let why = format!("another daemon answers at {}", path.display());
            return Err(io::Error::new(io::ErrorKind::AddrInUse, why));
        }
        match fs::remove_file(path) {
            Err(error) if error.kind() != io::ErrorKind::NotFound => return Err(error),
            _ => {}
        }
        let listener = UnixListener::bind(path)?;
        fs::set_permissions(path, Permissions::from_mode(0o660))?;
        thread::Builder::new().name("door".into()).stack_size(256 * 1024).spawn(move || {
            for visitor in listener.incoming().flatten() {
                if let Err(error) = keeper.receive(&visitor) {
                    tracing::debug!("a visitor at the door left: {error}");
                }
            }
        })?;
        Ok(Self { path: path.to_owned() })
    }
}

impl Drop for Door {
    fn drop(&mut self) {
        let _ = fs::remove_file(&self.path);
    }
}

impl Doorkeeper {
    fn receive(&self, visitor: &UnixStream) -> io::Result<()> {
        visitor.set_read_timeout(Some(PATIENCE))?;
        visitor.set_write_timeout(Some(PATIENCE))?;
        let mut line = String::new();
        BufReader::new(visitor.take(LONGEST)).read_line(&mut line)?;
        let (ok, answer) = match self.hear(&line) {
            Ok(answer) => (true, answer),
            Err(answer) => (false, answer),
        };
        let mut text = serde_json::to_string(&Answer { ok, answer }).map_err(io::Error::other)?;
        text.push('\n');
        (&mut &*visitor).write_all(text.as_bytes())
    }

    /// Understands a line, hands it on, and says so; else says why not.
    fn hear(&self, line: &str) -> Result<String, String> {
        let question: Question =
            serde_json::from_str(line).map_err(|_| "that line is no question".to_owned())?;
        let pot = self.pot(question.pot.as_deref())?;
        let says =
            words::understand(&question.says, &self.larder).map_err(|why| why.to_string())?;
        let by = question.by.as_deref().map(str::trim).filter(|by| !by.is_empty());
        let by = by.map(|by| by.chars().filter(|c| !c.is_control()).take(LONGEST_NAME).collect());
        self.hand_on(pot, says, by.unwrap_or_else(|| "command".to_owned()))
    }

    fn pot(&self, name: Option<&str>) -> Result<usize, String> {
        let names = || self.pots.join(", ");
        match (name, self.pots.len()) {
            (Some(name), _) => self
                .pots
                .iter()
                .position(|pot| pot == name)
                .ok_or_else(|| format!("there is no pot \"{name}\"; there are: {}", names())),
            (None, 1) => Ok(0),
            (None, _) => Err(format!("to which pot? There are: {}", names())),
        }
    }

    fn hand_on(&self, pot: usize, says: CookSays, by: String) -> Result<String, String> {
        let (answer, answered) = sync_channel(1);
        let item = Item::Said { pot, says, by, answer: Some(answer) };
        self.items.try_send(item).map_err(|error| match error {
            TrySendError::Full(_) => "the daemon is too busy; say it again".to_owned(),
            TrySendError::Disconnected(_) => "the daemon is stopping".to_owned(),
        })?;
        answered.recv_timeout(PATIENCE).map_err(|_| {
            "the daemon is busy and has not answered yet: look before it is said again".to_owned()
        })?
    }
}

/// Says something at the door at `path` and hears the answer.
pub fn ask(path: &Path, question: &Question) -> io::Result<Answer> {
    let mut visitor = UnixStream::connect(path)?;
    visitor.set_read_timeout(Some(2 * PATIENCE))?;
    visitor.set_write_timeout(Some(PATIENCE))?;
    let mut line = serde_json::to_string(question).map_err(io::Error::other)?;
    line.push('\n');
    visitor.write_all(line.as_bytes())?;
    let mut answer = String::new();
    BufReader::new(visitor.take(16 * LONGEST)).read_line(&mut answer)?;
    serde_json::from_str(&answer).map_err(io::Error::other)
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::sync::mpsc::{Receiver, sync_channel};

    fn open(directory: &Path, pots: &[&str]) -> (PathBuf, Door, Receiver<Item>) {
        let path = directory.join("door.sock");
        let (items, judged) = sync_channel(4);
        let (told, heard) = sync_channel(4);
        // The judgement, which takes everything but what was never added.
        thread::spawn(move || {
            for mut item in judged {
                if let Item::Said { answer, says, .. } = &mut item {
                    let refused = matches!(says, CookSays::Was { .. });
                    let noted = format!("Noted: {}.", words::said_back(says));
                    let taken = if refused { Err("nothing went in".to_owned()) } else { Ok(noted) };
                    answer.take().unwrap().send(taken).unwrap();
                }
                told.send(item).unwrap();
            }
        });
        let pots = pots.iter().map(|pot| (*pot).to_owned()).collect();
        let keeper = Doorkeeper { pots, larder: Larder::bundled(), items };
        let door = Door::open(&path, keeper).unwrap();
        (path, door, heard)
    }

    fn say(path: &Path, pot: Option<&str>, says: &str) -> Answer {
        ask(path, &Question { pot: pot.map(str::to_owned), says: says.to_owned(), by: None })
            .unwrap()
    }

    #[test]
    fn what_is_said_at_the_door_reaches_its_pot() {
        let directory = tempfile::tempdir().unwrap();
        let (path, _door, heard) = open(directory.path(), &["small", "big"]);
        let answer = say(&path, Some("big"), "that was 1.2 kg cream");
        assert_eq!(answer, Answer { ok: true, answer: "Noted: that was 1.2 kg cream.".into() });
        let Item::Said { pot, says, by, .. } = heard.recv().unwrap() else { panic!() };
        assert_eq!((pot, by.as_str()), (1, "command"));
        assert_eq!(says, CookSays::ThatWas { kg: Some(1.2), name: Some("cream".into()) });
    }

    #[test]
    fn who_says_it_is_handed_on_and_what_the_pot_refuses_is_answered() {
        let directory = tempfile::tempdir().unwrap();
        let (path, _door, heard) = open(directory.path(), &["big"]);
        let by = Some(" Asha\n".to_owned());
        let says = "infusion was 1.2 kg".to_owned();
        let answer = ask(&path, &Question { pot: None, says, by }).unwrap();
        assert_eq!(answer, Answer { ok: false, answer: "nothing went in".into() });
        let Item::Said { by, .. } = heard.recv().unwrap() else { panic!() };
        assert_eq!(by, "Asha");
    }

    #[test]
    fn what_is_not_understood_goes_no_further() {
        let directory = tempfile::tempdir().unwrap();
        let (path, _door, heard) = open(directory.path(), &["small", "big"]);
        assert!(say(&path, Some("big"), "stired").answer.contains("did you mean"));
        assert!(say(&path, Some("bgi"), "stirred").answer.contains("there are: small, big"));
        assert!(say(&path, None, "stirred").answer.contains("to which pot?"));
        assert!(heard.try_recv().is_err());
    }

    #[test]
    fn one_pot_needs_no_name_and_a_stranger_at_the_door_is_answered() {
        let directory = tempfile::tempdir().unwrap();
        let (path, _door, heard) = open(directory.path(), &["big"]);
        let mut stranger = UnixStream::connect(&path).unwrap();
        stranger.write_all(&[b'x'; 4096]).unwrap_or_default();
        assert!(say(&path, None, "lid on").ok);
        assert!(matches!(heard.recv().unwrap(), Item::Said { pot: 0, says: CookSays::LidOn, .. }));
    }

    #[test]
    fn a_door_left_behind_is_opened_anew_and_a_second_daemon_is_refused() {
        let directory = tempfile::tempdir().unwrap();
        drop(UnixListener::bind(directory.path().join("door.sock")).unwrap());
        let (path, door, _heard) = open(directory.path(), &["big"]);
        assert_eq!(fs::metadata(&path).unwrap().permissions().mode() & 0o777, 0o660);
        let (items, _other) = sync_channel(1);
        let second = Doorkeeper { pots: vec![], larder: Larder::default(), items };
        assert_eq!(Door::open(&path, second).unwrap_err().kind(), io::ErrorKind::AddrInUse);
        drop(door);
        assert!(!path.exists());
    }
}
