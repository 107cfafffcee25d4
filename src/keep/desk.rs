//! The desk where rows are handed over, between everyone who has something to keep and the writer.
//!
//! Whoever hands over holds the desk for a moment and never while a disk is at work; the writer takes
//! everything that is there, lets go of the desk, and writes.

use std::collections::BTreeSet;
use std::sync::{Condvar, Mutex, MutexGuard, PoisonError};
use std::time::Duration;

use crate::moment::Moment;
use crate::watch::action::Snapshot;
use crate::watch::event::{CookSays, Event};

use super::health::{Health, Trouble, TroubleKind};
use super::packing::{Item, Packer};
use super::ring::{Lost, Ring};
use super::row::{Leg, LegIndex, Letter, Row, Waiting};
use super::writer::{Writer, Written};

/// Samples are committed when the oldest of them is this old, ms.
pub const COMMIT_EVERY_MS: i64 = 10_000;

/// Snapshots are committed when the oldest of them is this old, ms: a replay of the samples gives
/// them again, so they need not cost a page at every commit.
pub const SHOW_EVERY_MS: i64 = 60_000;

/// A block is closed early when it has this many bytes.
const LONGEST_BLOCK: usize = 32 << 10;

/// How long the writer waits for something to do before it writes what there is.
const IDLE: Duration = Duration::from_secs(10);

/// The desk, and how its two sides call each other.
#[derive(Debug)]
pub(super) struct Shared {
    desk: Mutex<Desk>,
    /// Something is to be written.
    work: Condvar,
    /// Something was written.
    done: Condvar,
}

/// Where rows are handed over.
#[derive(Debug)]
pub(super) struct Desk {
    pots: Vec<InHand>,
    ring: Ring,
    new_legs: Vec<Leg>,
    /// The writer should not wait any longer.
    now: bool,
    flushes_asked: u64,
    flushes_done: u64,
    pub closing: bool,
    /// What a check found, while it is not yet acted upon.
    pub damage: Option<String>,
    /// Rows that the writer has in hand, and how many of them are letters.
    rows_in_hand: usize,
    pub letters_in_hand: usize,
    /// Keys that were acknowledged but may still be in the file.
    pub acknowledged: BTreeSet<String>,
    health: Health,
}

/// What a leg has in hand that is not yet a row, and what is known of it.
#[derive(Debug, Default)]
struct InHand {
    packer: Packer,
    shown: Vec<Snapshot>,
    words: u64,
    /// Number of its batch in the store; `None` until the store has it.
    batch: Option<i64>,
}

impl Shared {
    pub fn new(desk: Desk) -> Self {
        Self { desk: Mutex::new(desk), work: Condvar::new(), done: Condvar::new() }
    }

    pub fn desk(&self) -> MutexGuard<'_, Desk> {
        self.desk.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Lets the writer have what is there at once.
    pub fn hurry(&self, desk: &mut Desk) {
        desk.now = true;
        self.work.notify_one();
    }

    /// Has everything written, and waits for the outcome as long as there is a writer.
    pub fn flush(&self, writes: impl Fn() -> bool) -> Health {
        let mut desk = self.desk();
        desk.hand_in_everything();
        desk.flushes_asked += 1;
        let ours = desk.flushes_asked;
        self.hurry(&mut desk);
        while desk.flushes_done < ours && writes() {
            let waited = self.done.wait_timeout(desk, Duration::from_secs(1));
            desk = waited.unwrap_or_else(PoisonError::into_inner).0;
        }
        desk.health()
    }

    /// The writer's life.
    pub fn write_on(&self, mut writer: Writer) {
        loop {
            let mut desk = self.wait_for_work();
            desk.now = false;
            let (closing, flushes) = (desk.closing, desk.flushes_asked);
            let damage = desk.damage.take();
            let rows = desk.take();
            writer.stand(std::mem::take(&mut desk.new_legs));
            drop(desk);
            let condemned = damage.map(|found| writer.condemn(found));
            let written = writer.write(rows);
            let mut desk = self.desk();
            condemned.into_iter().for_each(|condemned| desk.note(condemned));
            desk.note(written);
            desk.flushes_done = flushes;
            for (leg, pot) in desk.pots.iter_mut().enumerate() {
                pot.batch = writer.batch_of(leg).or(pot.batch);
            }
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
    pub fn new(room_bytes: usize) -> Self {
        Self {
            pots: Vec::new(),
            ring: Ring::new(room_bytes),
            new_legs: Vec::new(),
            now: false,
            flushes_asked: 0,
            flushes_done: 0,
            closing: false,
            damage: None,
            rows_in_hand: 0,
            letters_in_hand: 0,
            acknowledged: BTreeSet::new(),
            health: Health::default(),
        }
    }

    /// Takes a leg in, of a batch that had so many words already.
    pub fn begin(&mut self, leg: Leg, words: u64) -> LegIndex {
        self.pots.push(InHand { batch: leg.batch, words, ..InHand::default() });
        self.new_legs.push(leg);
        self.pots.len() - 1
    }

    /// Number of the batch of a leg.
    pub fn batch(&self, leg: LegIndex) -> Option<i64> {
        self.pots.get(leg)?.batch
    }

    pub fn push(&mut self, row: Row) {
        let lost = self.ring.push(row);
        self.lose(lost);
    }

    /// Takes an event in; true where samples are now due.
    pub fn event(&mut self, leg: LegIndex, event: &Event, at: Moment) -> bool {
        let due = self.is_due(leg, at);
        if due {
            self.close_blocks();
        }
        let Some(pot) = self.pots.get_mut(leg) else { return false };
        pot.packer.push_event(event, at);
        if pot.packer.len() >= LONGEST_BLOCK {
            self.close_block(leg);
        }
        due
    }

    /// Takes a word in, after all that was measured before it.
    pub fn word(&mut self, leg: LegIndex, says: &CookSays, by: &str, at: Moment) {
        let Some(pot) = self.pots.get_mut(leg) else { return };
        let number = pot.words;
        pot.words += 1;
        pot.packer.push(&Item::Word(number), at);
        self.close_blocks();
        self.push(Row::Word { leg, number, at, says: says.clone(), by: by.to_owned() });
    }

    /// Takes a snapshot in.
    pub fn show(&mut self, leg: LegIndex, snapshot: &Snapshot) {
        let Some(pot) = self.pots.get_mut(leg) else { return };
        pot.shown.push(snapshot.clone());
        let first = pot.shown.first().map_or(snapshot.at, |first| first.at);
        if snapshot.at.ms() - first.ms() >= SHOW_EVERY_MS - COMMIT_EVERY_MS {
            self.hand_in_shown();
        }
    }

    /// Makes rows of all that is in hand.
    pub fn hand_in_everything(&mut self) {
        self.close_blocks();
        self.hand_in_shown();
    }

    /// Makes rows of the samples in hand.
    pub fn close_blocks(&mut self) {
        (0..self.pots.len()).for_each(|leg| self.close_block(leg));
    }

    fn close_block(&mut self, leg: LegIndex) {
        if let Some(block) = self.pots.get_mut(leg).and_then(|pot| pot.packer.finish()) {
            self.push(Row::Block { leg, block });
        }
    }

    fn hand_in_shown(&mut self) {
        for leg in 0..self.pots.len() {
            for snapshot in std::mem::take(&mut self.pots[leg].shown) {
                self.push(Row::Reading { leg, snapshot: Box::new(snapshot) });
            }
        }
    }

    /// Whether the oldest sample in hand is old enough to be committed.
    fn is_due(&self, leg: LegIndex, at: Moment) -> bool {
        let began = self.pots.get(leg).and_then(|pot| pot.packer.began());
        began.is_some_and(|began| at.ms() - began.ms() >= COMMIT_EVERY_MS)
    }

    /// The broker has the letter with this key.
    pub fn acknowledge(&mut self, key: &str) {
        if !self.ring.withdraw(key) {
            self.acknowledged.insert(key.to_owned());
            self.push(Row::Acknowledged { key: key.to_owned() });
        }
    }

    /// Letters that wait here, oldest first.
    pub fn waiting_letters(&self, limit: usize) -> Vec<Letter> {
        let letter = |row: &Row| match row {
            Row::Letter(letter) => Some(letter.clone()),
            _ => None,
        };
        self.ring.letters().filter_map(letter).take(limit).collect()
    }

    fn take(&mut self) -> Vec<Waiting> {
        let rows = self.ring.take();
        self.rows_in_hand = rows.len();
        self.letters_in_hand = rows.iter().filter(|w| matches!(w.row, Row::Letter(_))).count();
        rows
    }

    /// Takes note of what became of the rows.
    pub fn note(&mut self, written: Written) {
        self.health.commits += u64::from(written.trouble.is_none());
        self.health.lost_rows += written.refused;
        self.health.trouble = written.trouble;
        self.health.set_aside.extend(written.set_aside);
        let lost = self.ring.put_back(written.left);
        self.lose(lost);
        (self.rows_in_hand, self.letters_in_hand) = (0, 0);
        let waiting = self.ring.letters().filter_map(|row| match row {
            Row::Acknowledged { key } => Some(key.clone()),
            _ => None,
        });
        self.acknowledged = waiting.collect();
    }

    pub fn has_no_writer(&mut self, error: &std::io::Error) {
        let detail = format!("no thread for the writer: {error}");
        self.health.trouble = Some(Trouble { kind: TroubleKind::Other, detail });
    }

    pub fn health(&self) -> Health {
        Health {
            waiting_rows: self.ring.len() + self.rows_in_hand,
            waiting_bytes: self.ring.bytes(),
            ..self.health.clone()
        }
    }

    fn lose(&mut self, lost: Lost) {
        self.health.lost_samples += lost.samples;
        self.health.lost_rows += lost.rows;
    }
}
