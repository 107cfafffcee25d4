//! From what a pot does to what a broker is told.
//!
//! Words (events and alerts) go into the store's outbox and, at the same time, into a queue in memory
//! from which they are sent: a slow card does not hold an alert up, and one that was not sent when the
//! power failed is sent after the next start. When the queue is full, or the store holds more than was
//! fetched, new words go to the store alone until the queue is empty and the next are fetched: so they
//! are sent in the order in which they were said. Readings that nobody heard are gathered into packs and
//! join the words when the broker is back, or every five minutes.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};

use super::homie::Homie;
use crate::keep::keeper::Keeper;
use crate::keep::{Letter, LetterKind};
use crate::moment::{Moment, Wall};
use crate::tell::mqtt::mailbox::Mailbox;
use crate::tell::mqtt::message::{Message, Stamp, stamped};
use crate::tell::mqtt::outbox::{Outbox, Queue};
use crate::tell::mqtt::topic::Topics;

/// Messages that are held in memory for the broker, of at most about 10 kB each; the store holds more.
const QUEUE: usize = 200;

/// The board's post.
#[derive(Debug, Clone)]
pub struct Post {
    pub topics: Topics,
    pub board: String,
    pub mailbox: Mailbox,
    /// Where the broker is told by the Homie convention as well.
    pub homie: Option<Homie>,
    queue: Queue,
    /// The store holds words that are not in the queue.
    behind: Arc<AtomicBool>,
    keeper: Arc<Keeper>,
    connected: Arc<AtomicBool>,
    next_key: Arc<AtomicU64>,
    /// Unlike every other start's: the boot and when in it this start was.
    start: String,
}

impl Post {
    /// Post that takes up what an earlier start could not deliver.
    #[must_use]
    pub fn open(board: &str, keeper: Arc<Keeper>, boot: &str, at: Moment) -> Self {
        let post = Self {
            topics: Topics::of(board),
            board: board.to_owned(),
            mailbox: Mailbox::default(),
            homie: None,
            queue: Queue::with_room(QUEUE),
            behind: Arc::new(AtomicBool::new(true)),
            keeper,
            connected: Arc::default(),
            next_key: Arc::default(),
            start: format!("{}-{}", boot.get(..8).unwrap_or("0"), at.ms()),
        };
        post.outbox().refill();
        post
    }

    /// The same, which tells the pots by the Homie convention too where that is given.
    #[must_use]
    pub fn by_homie(self, homie: Option<Homie>) -> Self {
        Self { homie, ..self }
    }

    /// The far end of the outbox, for the broker's side.
    #[must_use]
    pub fn outbox(&self) -> Waiting {
        Waiting {
            queue: self.queue.clone(),
            behind: Arc::clone(&self.behind),
            keeper: Arc::clone(&self.keeper),
        }
    }

    pub fn set_connected(&self, connected: bool) {
        self.connected.store(connected, Ordering::Relaxed);
    }

    #[must_use]
    pub fn is_connected(&self) -> bool {
        self.connected.load(Ordering::Relaxed)
    }

    /// The newest state of its topic.
    pub fn hold(&self, message: Message) {
        self.mailbox.hold(message);
    }

    /// A stamp with a key of its own.
    #[must_use]
    pub fn stamp(&self, wall: Wall) -> Stamp {
        let number = self.next_key.fetch_add(1, Ordering::Relaxed);
        let key = Some(format!("{}-{number}", self.start));
        Stamp { utc_ms: wall.utc_ms, clock_set: wall.set, key }
    }

    /// Keeps a message until the broker has acknowledged it.
    pub fn send(&self, kind: LetterKind, at: Moment, key: &str, message: Message) {
        self.keeper.post(Letter {
            key: key.to_owned(),
            kind,
            at,
            topic: message.topic.clone(),
            payload: message.payload.clone(),
        });
        if self.behind.load(Ordering::Acquire) || !self.queue.put(key, message) {
            self.behind.store(true, Ordering::Release);
        }
        self.mailbox.look();
    }

    /// Sends a line of JSON under a key of its own.
    pub fn word(
        &self,
        kind: LetterKind,
        (at, wall): (Moment, Wall),
        line: &str,
        message: impl FnOnce(String) -> Message,
    ) {
        let stamp = self.stamp(wall);
        let json = stamped(line, &stamp);
        self.send(kind, at, &stamp.key.unwrap_or_default(), message(json));
    }

    /// Takes a retained alert away from the broker.
    pub fn take_away(&self, at: Moment, wall: Wall, message: Message) {
        let key = self.stamp(wall).key.unwrap_or_default();
        self.send(LetterKind::Alert, at, &key, message);
    }
}

/// What waits for the broker, in memory first and in the store behind it.
#[derive(Debug)]
pub struct Waiting {
    queue: Queue,
    behind: Arc<AtomicBool>,
    keeper: Arc<Keeper>,
}

impl Waiting {
    /// Fetches the next words from the store. What is said meanwhile goes to the queue, or, where there
    /// is more to fetch, to the store.
    fn refill(&self) {
        self.behind.store(false, Ordering::Release);
        self.keeper.flush();
        let letters = self.keeper.backlog(QUEUE);
        let all = letters.len() < QUEUE;
        let mut put = letters.into_iter().filter(|letter| !self.queue.holds(&letter.key));
        let fits = put.all(|l| self.queue.put(&l.key, Message::kept(l.topic, l.payload)));
        if !all || !fits {
            self.behind.store(true, Ordering::Release);
        }
    }
}

impl Outbox for Waiting {
    fn after(&mut self, place: i64, limit: usize) -> Vec<(i64, Message)> {
        if self.queue.is_empty() && self.behind.load(Ordering::Acquire) {
            self.refill();
        }
        self.queue.after(place, limit)
    }

    fn delivered(&mut self, place: i64) {
        if let Some(key) = self.queue.take(place) {
            self.keeper.acknowledged(&key);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::keep::Start;
    use crate::keep::keeper::Room;
    use std::path::Path;

    fn keeper(path: &Path) -> Arc<Keeper> {
        let wall = Wall { utc_ms: 1_795_636_960_000, set: true };
        let start = Start { boot: "boot".into(), at: Moment::from_ms(0), wall };
        Arc::new(Keeper::open(path, start, Room::default()).unwrap().0)
    }

    fn open(keeper: &Arc<Keeper>, at_ms: i64) -> Post {
        Post::open("quay", Arc::clone(keeper), "0123456789", Moment::from_ms(at_ms))
    }

    const WALL: Wall = Wall { utc_ms: 7, set: true };

    fn say(post: &Post, n: usize) {
        let at = (Moment::from_ms(0), WALL);
        let event = |json| Message::event(&post.topics, "big", json);
        post.word(LetterKind::Event, at, &format!("{{\"n\":{n}}}"), event);
    }

    fn said(outbox: &mut Waiting) -> Vec<(i64, String)> {
        let messages = outbox.after(0, 100);
        messages.into_iter().map(|(at, m)| (at, String::from_utf8(m.payload).unwrap())).collect()
    }

    #[test]
    fn what_was_not_delivered_is_there_again_after_the_next_start() {
        let directory = tempfile::tempdir().unwrap();
        let path = directory.path().join("s.sqlite");
        let first = keeper(&path);
        let post = open(&first, 5);
        (0..3).for_each(|n| say(&post, n));
        let mut outbox = post.outbox();
        let before = said(&mut outbox);
        outbox.delivered(before[0].0);
        drop((post, outbox));
        drop(Arc::into_inner(first).unwrap());
        let after = said(&mut open(&keeper(&path), 6).outbox());
        let words = |said: &[(i64, String)]| -> Vec<String> {
            said.iter().map(|(_, text)| text.clone()).collect()
        };
        assert_eq!(words(&after), words(&before[1..]));
        assert!(after[0].1.contains("\"key\":\"01234567-5-1\""), "{after:?}");
    }

    #[test]
    fn what_memory_had_no_room_for_comes_from_the_store_in_order() {
        let directory = tempfile::tempdir().unwrap();
        let keeper = keeper(&directory.path().join("s.sqlite"));
        let post = open(&keeper, 5);
        (0..QUEUE + 10).for_each(|n| say(&post, n));
        keeper.flush();
        let mut outbox = post.outbox();
        let mut heard = Vec::new();
        loop {
            let some = said(&mut outbox);
            if some.is_empty() {
                break;
            }
            some.iter().for_each(|(place, _)| outbox.delivered(*place));
            heard.extend(some.into_iter().map(|(_, text)| text));
        }
        let all: Vec<String> = (0..QUEUE + 10).map(|n| format!("{{\"n\":{n}}}")).collect();
        let words: Vec<String> = heard
            .iter()
            .map(|text| format!("{{{}", &text[text.find("\"n\"").unwrap()..]))
            .collect();
        assert_eq!(words, all);
    }
}
