//! The store as the daemon holds it: everything is handed over, nothing is waited for.

use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::thread::JoinHandle;

use crate::moment::{Moment, Wall};
use crate::watch::action::Action;
use crate::watch::event::{CookSays, Event};
use crate::watch::setting::Learnt;

use super::desk::{Desk, Shared};
use super::file::{self, CannotOpen, Check, Refusal};
use super::health::Health;
use super::library::{Library, Unfinished};
use super::ring::ROOM_BYTES;
use super::row::{About, Browser, Delivery, Leg, LegIndex, Letter, LetterKind, Outcome, Row};
use super::writer::{Start, Writer};

/// A store up to this size is looked through before the watching begins, bytes: a fraction of a
/// second on a board. A larger one is looked through beside it.
const CHECKED_AT_ONCE: u64 = 8 << 20;

/// How much is held where nobody takes it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Room {
    /// Memory for rows that wait for the disk, bytes.
    pub waiting_bytes: usize,
    /// Packs of readings that wait for a broker, rows of about 10 kB; events and alerts are not counted.
    pub telemetry_rows: i64,
}

impl Default for Room {
    /// Five hours of four pots without a disk; a day and a half of four pots, a pack every five
    /// minutes, without a broker.
    fn default() -> Self {
        Self { waiting_bytes: ROOM_BYTES, telemetry_rows: 2_000 }
    }
}

/// What was found when the store was opened.
#[derive(Debug, Clone, PartialEq)]
pub struct Report {
    pub health: Health,
    /// Where a copy lies that was made before the schema was brought up to date.
    pub copied_before_migration: Option<PathBuf>,
    /// Batches that had begun and not ended.
    pub unfinished: Vec<Unfinished>,
}

/// A batch that is being kept, and how its clock runs.
///
/// The judgement of a batch runs on the batch's own clock, which goes on across restarts of the
/// daemon; [`BatchKey::time`] turns the daemon's moments into it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct BatchKey {
    leg: LegIndex,
    mono: Moment,
    batch_at: Moment,
}

impl BatchKey {
    /// The batch's own time at this moment of the daemon's clock.
    #[must_use]
    pub const fn time(self, mono: Moment) -> Moment {
        self.batch_at.plus_ms(mono.ms() - self.mono.ms())
    }
}

/// The store, open for writing. Dropping it commits everything and waits for that.
#[derive(Debug)]
pub struct Keeper {
    shared: Arc<Shared>,
    thread: Option<JoinHandle<()>>,
    path: PathBuf,
}

impl Keeper {
    /// Opens or makes the store at `path`. A damaged file is put aside and a new one begun; a disk
    /// that refuses leaves the store in memory until it does not; both are in the report. Only a
    /// store of a newer dekchi or of another program is refused.
    pub fn open(path: &Path, start: Start, room: Room) -> Result<(Self, Report), Refusal> {
        let mut writer = Writer::new(path.to_owned(), start, room.telemetry_rows)?;
        let size = std::fs::metadata(path).map_or(0, |file| file.len());
        let check = if size <= CHECKED_AT_ONCE { Check::Whole } else { Check::Quick };
        let written = writer.begin(check)?;
        let copied_before_migration = writer.copied_before_migration.take();
        let mut desk = Desk::new(room.waiting_bytes);
        desk.note(written);
        let health = desk.health();
        let shared = Arc::new(Shared::new(desk));
        let unfinished = Library::open(path).and_then(|l| l.unfinished()).unwrap_or_default();
        let report = Report { health, copied_before_migration, unfinished };
        let theirs = Arc::clone(&shared);
        let spawned = std::thread::Builder::new()
            .name("keeper".to_owned())
            .spawn(move || theirs.write_on(writer));
        let thread = spawned.map_err(|error| shared.desk().has_no_writer(&error)).ok();
        let keeper = Self { shared, thread, path: path.to_owned() };
        if check == Check::Quick {
            keeper.check_beside();
        }
        Ok((keeper, report))
    }

    /// Looks through the whole file on a thread of its own, and has it put aside where it is damaged.
    fn check_beside(&self) {
        let (shared, path) = (Arc::clone(&self.shared), self.path.clone());
        let check = move || {
            if let Err(CannotOpen::Damaged(found)) = file::check(&path) {
                let mut desk = shared.desk();
                desk.damage = Some(found);
                shared.hurry(&mut desk);
            }
        };
        // Without a thread the file is looked through at another start.
        let _ = std::thread::Builder::new().name("keeper-check".to_owned()).spawn(check);
    }

    /// A batch begins at `mono` on the daemon's clock; its own clock begins at zero.
    pub fn begin_batch(&self, about: About, mono: Moment) -> BatchKey {
        let batch_at = Moment::default();
        let mut desk = self.shared.desk();
        let leg = desk.begin(Leg::new(None, about, mono, batch_at), 0);
        self.shared.hurry(&mut desk);
        BatchKey { leg, mono, batch_at }
    }

    /// An unfinished batch goes on at `mono` on the daemon's clock, when its own clock stands at
    /// `batch_at`.
    pub fn resume_batch(&self, batch: &Unfinished, mono: Moment, batch_at: Moment) -> BatchKey {
        let mut desk = self.shared.desk();
        let leg = Leg::new(Some(batch.number), batch.about.clone(), mono, batch_at);
        let leg = desk.begin(leg, batch.words);
        self.shared.hurry(&mut desk);
        BatchKey { leg, mono, batch_at }
    }

    /// Number of the batch in the store; `None` until the store has it.
    #[must_use]
    pub fn number(&self, batch: BatchKey) -> Option<i64> {
        self.shared.desk().batch(batch.leg)
    }

    /// The batch is over at `at` on its own clock.
    pub fn end_batch(&self, batch: BatchKey, at: Moment, outcome: Outcome) {
        let mut desk = self.shared.desk();
        desk.hand_in_everything();
        desk.push(Row::End { leg: batch.leg, at, outcome });
        self.shared.hurry(&mut desk);
    }

    /// What the judgement was told at `at` on the batch's clock, rounded as [`super::resolution`]
    /// has it. The cook's words go through [`Self::word`] so that it is known whose they are.
    pub fn event(&self, batch: BatchKey, event: &Event, at: Moment) {
        if let Event::Cook(says) = event {
            return self.word(batch, says, "the cook", at);
        }
        let mut desk = self.shared.desk();
        if desk.event(batch.leg, event, at) {
            self.shared.hurry(&mut desk);
        }
    }

    /// What the cook said at `at` on the batch's clock, and through what: committed at once, with all
    /// that was measured before it.
    pub fn word(&self, batch: BatchKey, says: &CookSays, by: &str, at: Moment) {
        let mut desk = self.shared.desk();
        desk.word(batch.leg, says, by, at);
        self.shared.hurry(&mut desk);
    }

    /// What the judgement wants: snapshots are committed once a minute, everything else at once, with
    /// all that was measured before it, so that a replay of the samples comes to the same.
    pub fn action(&self, batch: BatchKey, action: &Action) {
        let leg = batch.leg;
        let mut desk = self.shared.desk();
        match action {
            Action::Show(snapshot) => return desk.show(leg, snapshot),
            Action::Happened(happening) => {
                desk.close_blocks();
                desk.push(Row::Happening { leg, happening: happening.clone() });
            }
            Action::Tell(notice) => {
                desk.close_blocks();
                desk.push(Row::Notice { leg, notice: notice.clone() });
            }
        }
        self.shared.hurry(&mut desk);
    }

    /// How it went to tell a person: committed at once.
    pub fn delivery(&self, batch: BatchKey, delivery: Delivery) {
        let mut desk = self.shared.desk();
        desk.push(Row::Delivery { leg: batch.leg, delivery });
        self.shared.hurry(&mut desk);
    }

    /// A browser asked to be told by Web Push.
    pub fn browser(&self, browser: Browser) {
        let mut desk = self.shared.desk();
        desk.push(Row::Browser(browser));
        self.shared.hurry(&mut desk);
    }

    /// A browser no longer wants to be told.
    pub fn browser_gone(&self, endpoint: &str) {
        let mut desk = self.shared.desk();
        desk.push(Row::BrowserGone { endpoint: endpoint.to_owned() });
        self.shared.hurry(&mut desk);
    }

    /// What a pot has taught.
    pub fn learnt(&self, pot: &str, learnt: Learnt) {
        let mut desk = self.shared.desk();
        desk.push(Row::Learnt { pot: pot.to_owned(), learnt });
        self.shared.hurry(&mut desk);
    }

    /// The wall clock was set, or jumped, at `at` on the daemon's clock.
    pub fn clock(&self, at: Moment, wall: Wall) {
        let mut desk = self.shared.desk();
        desk.push(Row::Clock { at, wall });
        self.shared.hurry(&mut desk);
    }

    /// A message for the broker, to be kept until it is acknowledged. Telemetry that is
    /// acknowledged before the next commit never touches the disk; an alert or event does at once.
    pub fn post(&self, letter: Letter) {
        let mut desk = self.shared.desk();
        let urgent = letter.kind != LetterKind::Telemetry;
        desk.push(Row::Letter(letter));
        if urgent {
            self.shared.hurry(&mut desk);
        }
    }

    /// The broker acknowledged the message with this key.
    pub fn acknowledged(&self, key: &str) {
        self.shared.desk().acknowledge(key);
    }

    /// Up to `limit` messages that no broker acknowledged, oldest first. Reads the file: not for a
    /// thread that must not wait.
    #[must_use]
    pub fn backlog(&self, limit: usize) -> Vec<Letter> {
        let (in_hand, mut waiting, acknowledged) = {
            let desk = self.shared.desk();
            (desk.letters_in_hand > 0, desk.waiting_letters(limit), desk.acknowledged.clone())
        };
        let enough = limit + acknowledged.len();
        let mut letters =
            Library::open(&self.path).and_then(|l| l.outbox(enough)).unwrap_or_default();
        letters.retain(|letter| !acknowledged.contains(&letter.key));
        // What the writer has in hand is older than what waits, and is seen the next time.
        if !in_hand {
            waiting.retain(|letter| letters.iter().all(|kept| kept.key != letter.key));
            letters.append(&mut waiting);
        }
        letters.truncate(limit);
        letters
    }

    /// How the store is.
    #[must_use]
    pub fn health(&self) -> Health {
        self.shared.desk().health()
    }

    /// Tries to write everything handed over so far, and waits for the outcome.
    pub fn flush(&self) -> Health {
        self.shared.flush(|| self.thread.as_ref().is_some_and(|thread| !thread.is_finished()))
    }

    /// Writes everything and lets go of the file.
    pub fn close(mut self) -> Health {
        self.finish();
        self.health()
    }

    fn finish(&mut self) {
        {
            let mut desk = self.shared.desk();
            desk.hand_in_everything();
            desk.closing = true;
            self.shared.hurry(&mut desk);
        }
        if let Some(thread) = self.thread.take() {
            // A writer that panicked has nothing more to say; what it left is in the health.
            let _ = thread.join();
        }
    }
}

impl Drop for Keeper {
    fn drop(&mut self) {
        self.finish();
    }
}
