//! The store as the daemon holds it: everything is handed over, nothing is waited for.

use std::collections::BTreeSet;
use std::path::{Path, PathBuf};
use std::sync::{Arc, Condvar, Mutex, MutexGuard, PoisonError};
use std::thread::JoinHandle;
use std::time::Duration;

use crate::moment::{Moment, Wall};
use crate::watch::action::{Action, Snapshot};
use crate::watch::event::{CookSays, Event};
use crate::watch::setting::Learnt;

use super::file::Refusal;
use super::health::{Health, Trouble, TroubleKind};
use super::library::{Library, Unfinished};
use super::packing::{Item, Packer};
use super::ring::{Lost, ROOM_BYTES, Ring};
use super::row::{About, Browser, Delivery, Leg, LegIndex, Letter, Outcome, Row, Waiting};
use super::writer::{Start, Writer, Written};

/// Samples are committed when the oldest of them is this old, ms.
pub const COMMIT_EVERY_MS: i64 = 10_000;

/// Snapshots are committed when the oldest of them is this old, ms: a replay of the samples gives
/// them again, so they need not cost a page at every commit.
pub const SHOW_EVERY_MS: i64 = 60_000;

/// A block is closed early when it has this many bytes.
const LONGEST_BLOCK: usize = 32 << 10;

/// How long the writer waits for something to do before it writes what there is.
const IDLE: Duration = Duration::from_secs(10);

/// How much is held where nobody takes it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Room {
    /// Memory for rows that wait for the disk, bytes.
    pub waiting_bytes: usize,
    /// Readings that wait for a broker, rows; events and alerts are not counted.
    pub telemetry_rows: i64,
}

impl Default for Room {
    /// Five hours of four pots without a disk; a day of four pots, a reading every ten seconds,
    /// without a broker.
    fn default() -> Self {
        Self { waiting_bytes: ROOM_BYTES, telemetry_rows: 35_000 }
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

#[derive(Debug)]
struct Shared {
    desk: Mutex<Desk>,
    /// Something is to be written.
    work: Condvar,
    /// Something was written.
    done: Condvar,
}

/// Where rows are handed over.
#[derive(Debug)]
struct Desk {
    packers: Vec<Packing>,
    ring: Ring,
    new_legs: Vec<Leg>,
    /// The writer should not wait any longer.
    now: bool,
    flushes_asked: u64,
    flushes_done: u64,
    closing: bool,
    /// Letters that the writer has in hand.
    letters_in_hand: usize,
    /// Keys that were acknowledged but may still be in the file.
    acknowledged: BTreeSet<String>,
    numbers: Vec<Option<i64>>,
    health: Health,
}

#[derive(Debug, Default)]
struct Packing {
    packer: Packer,
    shown: Vec<Snapshot>,
    words: u64,
}

impl Keeper {
    /// Opens or makes the store at `path`. A damaged file is put aside and a new one begun; a disk
    /// that refuses leaves the store in memory until it does not; both are in the report. Only a
    /// store of a newer dekchi or of another program is refused.
    pub fn open(path: &Path, start: Start, room: Room) -> Result<(Self, Report), Refusal> {
        let mut writer = Writer::new(path.to_owned(), start, room.telemetry_rows);
        let written = writer.begin()?;
        let copied_before_migration = writer.copied_before_migration.take();
        let mut desk = Desk::new(room.waiting_bytes);
        desk.note(written);
        let shared =
            Arc::new(Shared { desk: Mutex::new(desk), work: Condvar::new(), done: Condvar::new() });
        let health = shared.desk().health.clone();
        let unfinished = Library::open(path).and_then(|l| l.unfinished()).unwrap_or_default();
        let report = Report { health, copied_before_migration, unfinished };
        let theirs = Arc::clone(&shared);
        let spawned = std::thread::Builder::new()
            .name("keeper".to_owned())
            .spawn(move || theirs.write_on(writer));
        let thread = spawned.map_err(|error| shared.has_no_writer(&error)).ok();
        Ok((Self { shared, thread, path: path.to_owned() }, report))
    }

    /// A batch begins at `mono` on the daemon's clock; its own clock begins at zero.
    pub fn begin_batch(&self, about: About, mono: Moment) -> BatchKey {
        self.begin_leg(about, None, mono, Moment::default())
    }

    /// An unfinished batch goes on at `mono` on the daemon's clock, when its own clock stands at
    /// `batch_at`.
    pub fn resume_batch(&self, batch: &Unfinished, mono: Moment, batch_at: Moment) -> BatchKey {
        let key = self.begin_leg(batch.about.clone(), Some(batch.number), mono, batch_at);
        if let Some(packing) = self.shared.desk().packers.get_mut(key.leg) {
            packing.words = batch.words;
        }
        key
    }

    fn begin_leg(
        &self,
        about: About,
        batch: Option<i64>,
        mono: Moment,
        batch_at: Moment,
    ) -> BatchKey {
        let mut desk = self.shared.desk();
        let leg = desk.packers.len();
        desk.packers.push(Packing::default());
        desk.numbers.push(batch);
        let (id, first, stands, over) = (None, None, false, false);
        desk.new_legs.push(Leg { batch, id, about, mono, batch_at, first, stands, over });
        self.shared.hurry(&mut desk);
        BatchKey { leg, mono, batch_at }
    }

    /// Number of the batch in the store; `None` until the store has it.
    #[must_use]
    pub fn number(&self, batch: BatchKey) -> Option<i64> {
        self.shared.desk().numbers.get(batch.leg).copied().flatten()
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
        if desk.is_due(batch.leg, at) {
            desk.close_blocks();
            self.shared.hurry(&mut desk);
        }
        let Some(packing) = desk.packers.get_mut(batch.leg) else { return };
        packing.packer.push_event(event, at);
        if packing.packer.len() >= LONGEST_BLOCK {
            desk.close_block(batch.leg);
        }
    }

    /// What the cook said at `at` on the batch's clock, and through what: committed at once.
    pub fn word(&self, batch: BatchKey, says: &CookSays, by: &str, at: Moment) {
        let mut desk = self.shared.desk();
        let Some(packing) = desk.packers.get_mut(batch.leg) else { return };
        let number = packing.words;
        packing.words += 1;
        packing.packer.push(&Item::Word(number), at);
        let (says, by) = (says.clone(), by.to_owned());
        desk.push(Row::Word { leg: batch.leg, number, at, says, by });
        self.shared.hurry(&mut desk);
    }

    /// What the judgement wants: snapshots are committed once a minute, everything else at once.
    pub fn action(&self, batch: BatchKey, action: &Action) {
        let leg = batch.leg;
        let mut desk = self.shared.desk();
        match action {
            Action::Show(snapshot) => return desk.show(leg, snapshot),
            Action::Happened(happening) => {
                desk.push(Row::Happening { leg, happening: happening.clone() });
            }
            Action::Tell(notice) => desk.push(Row::Notice { leg, notice: notice.clone() }),
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
        let urgent = letter.kind != super::row::LetterKind::Telemetry;
        desk.push(Row::Letter(letter));
        if urgent {
            self.shared.hurry(&mut desk);
        }
    }

    /// The broker acknowledged the message with this key.
    pub fn acknowledged(&self, key: &str) {
        let mut desk = self.shared.desk();
        if !desk.ring.withdraw(key) {
            desk.acknowledged.insert(key.to_owned());
            desk.push(Row::Acknowledged { key: key.to_owned() });
        }
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
        if self.thread.is_none() {
            return self.health();
        }
        let mut desk = self.shared.desk();
        desk.hand_in_everything();
        desk.flushes_asked += 1;
        let ours = desk.flushes_asked;
        self.shared.hurry(&mut desk);
        while desk.flushes_done < ours {
            desk = self.shared.done.wait(desk).unwrap_or_else(PoisonError::into_inner);
        }
        desk.health()
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

impl Shared {
    fn desk(&self) -> MutexGuard<'_, Desk> {
        self.desk.lock().unwrap_or_else(PoisonError::into_inner)
    }

    fn hurry(&self, desk: &mut Desk) {
        desk.now = true;
        self.work.notify_one();
    }

    fn has_no_writer(&self, error: &std::io::Error) {
        let detail = format!("no thread for the writer: {error}");
        self.desk().health.trouble = Some(Trouble { kind: TroubleKind::Other, detail });
    }

    /// The writer's life.
    fn write_on(&self, mut writer: Writer) {
        loop {
            let mut desk = self.wait_for_work();
            desk.now = false;
            let (closing, flushes) = (desk.closing, desk.flushes_asked);
            let rows = desk.take();
            writer.stand(std::mem::take(&mut desk.new_legs));
            drop(desk);
            let written = writer.write(rows);
            let mut desk = self.desk();
            desk.note(written);
            desk.flushes_done = flushes;
            desk.numbers = (0..desk.packers.len()).map(|leg| writer.batch_of(leg)).collect();
            self.done.notify_all();
            if closing {
                return;
            }
        }
    }

    fn wait_for_work(&self) -> MutexGuard<'_, Desk> {
        let mut desk = self.desk();
        while !desk.now {
            let (woken, time) =
                self.work.wait_timeout(desk, IDLE).unwrap_or_else(PoisonError::into_inner);
            desk = woken;
            if time.timed_out() {
                desk.hand_in_everything();
                desk.now = desk.ring.len() > 0 || desk.health.trouble.is_some();
            }
        }
        desk
    }
}

impl Desk {
    fn new(room_bytes: usize) -> Self {
        Self {
            packers: Vec::new(),
            ring: Ring::new(room_bytes),
            new_legs: Vec::new(),
            now: false,
            flushes_asked: 0,
            flushes_done: 0,
            closing: false,
            letters_in_hand: 0,
            acknowledged: BTreeSet::new(),
            numbers: Vec::new(),
            health: Health::default(),
        }
    }

    fn push(&mut self, row: Row) {
        let lost = self.ring.push(row);
        self.lose(lost);
    }

    fn lose(&mut self, lost: Lost) {
        self.health.lost_samples += lost.samples;
        self.health.lost_rows += lost.rows;
    }

    /// Whether the oldest sample in hand is old enough to be committed.
    fn is_due(&self, leg: LegIndex, at: Moment) -> bool {
        let began = self.packers.get(leg).and_then(|packing| packing.packer.began());
        began.is_some_and(|began| at.ms() - began.ms() >= COMMIT_EVERY_MS)
    }

    fn close_block(&mut self, leg: LegIndex) {
        if let Some(block) = self.packers.get_mut(leg).and_then(|p| p.packer.finish()) {
            self.push(Row::Block { leg, block });
        }
    }

    fn close_blocks(&mut self) {
        (0..self.packers.len()).for_each(|leg| self.close_block(leg));
    }

    fn show(&mut self, leg: LegIndex, snapshot: &Snapshot) {
        let Some(packing) = self.packers.get_mut(leg) else { return };
        packing.shown.push(snapshot.clone());
        let first = packing.shown.first().map_or(snapshot.at, |first| first.at);
        if snapshot.at.ms() - first.ms() >= SHOW_EVERY_MS - COMMIT_EVERY_MS {
            self.hand_in_shown();
        }
    }

    fn hand_in_shown(&mut self) {
        for leg in 0..self.packers.len() {
            for snapshot in std::mem::take(&mut self.packers[leg].shown) {
                self.push(Row::Reading { leg, snapshot: Box::new(snapshot) });
            }
        }
    }

    fn hand_in_everything(&mut self) {
        self.close_blocks();
        self.hand_in_shown();
    }

    fn take(&mut self) -> Vec<Waiting> {
        let rows = self.ring.take();
        self.letters_in_hand = rows.iter().filter(|w| matches!(w.row, Row::Letter(_))).count();
        rows
    }

    fn waiting_letters(&self, limit: usize) -> Vec<Letter> {
        let letter = |row: &Row| match row {
            Row::Letter(letter) => Some(letter.clone()),
            _ => None,
        };
        self.ring.letters().filter_map(letter).take(limit).collect()
    }

    /// Takes note of what became of the rows.
    fn note(&mut self, written: Written) {
        self.health.commits += u64::from(written.trouble.is_none());
        self.health.lost_rows += written.refused;
        self.health.trouble = written.trouble;
        self.health.set_aside.extend(written.set_aside);
        let lost = self.ring.put_back(written.left);
        self.lose(lost);
        self.letters_in_hand = 0;
        let pending = |key: &String| {
            self.ring
                .letters()
                .any(|row| matches!(row, Row::Acknowledged { key: waiting } if waiting == key))
        };
        let still: BTreeSet<_> = self.acknowledged.iter().filter(|k| pending(k)).cloned().collect();
        self.acknowledged = still;
    }

    fn health(&self) -> Health {
        Health {
            waiting_rows: self.ring.len(),
            waiting_bytes: self.ring.bytes(),
            ..self.health.clone()
        }
    }
}
