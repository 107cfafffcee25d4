//! Messages that must arrive although the broker is away.
//!
//! The daemon puts each event and alert into its store before it tells [`run`](super::run) to look
//! there; a message leaves the outbox only when the broker has acknowledged it. Here is what is
//! asked of such a store, and one in memory for when there is none.

use std::collections::VecDeque;
use std::sync::{Arc, Mutex, PoisonError};

use super::message::Message;

/// Where messages wait. Keys grow in the order in which messages are to be sent.
pub trait Outbox: Send {
    /// The oldest messages whose key is greater than `after`, at most `limit`.
    fn after(&mut self, after: i64, limit: usize) -> Vec<(i64, Message)>;

    /// The broker has acknowledged this one.
    fn delivered(&mut self, key: i64);
}

/// An outbox that lasts as long as the process and holds a bounded number of messages.
#[derive(Debug, Clone)]
pub struct InMemory {
    rows: Arc<Mutex<Rows>>,
}

#[derive(Debug)]
struct Rows {
    waiting: VecDeque<(i64, Importance, Message)>,
    next_key: i64,
    room: usize,
}

/// What may be dropped when there is no more room.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Importance {
    /// Readings kept while the broker was away.
    Telemetry,
    /// Events and alerts.
    Word,
}

impl InMemory {
    #[must_use]
    pub fn with_room(room: usize) -> Self {
        let rows = Rows { waiting: VecDeque::new(), next_key: 1, room };
        Self { rows: Arc::new(Mutex::new(rows)) }
    }

    /// Puts a message last. Where there is no room the oldest telemetry goes, and only where there is
    /// none the oldest word.
    pub fn put(&self, importance: Importance, message: Message) {
        let mut rows = self.rows.lock().unwrap_or_else(PoisonError::into_inner);
        if rows.waiting.len() >= rows.room {
            let oldest = rows.waiting.iter().position(|row| row.1 == Importance::Telemetry);
            rows.waiting.remove(oldest.unwrap_or(0));
        }
        let key = rows.next_key;
        rows.next_key += 1;
        rows.waiting.push_back((key, importance, message));
    }

    /// How many messages wait.
    #[must_use]
    pub fn len(&self) -> usize {
        self.rows.lock().unwrap_or_else(PoisonError::into_inner).waiting.len()
    }

    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.len() == 0
    }
}

impl Outbox for InMemory {
    fn after(&mut self, after: i64, limit: usize) -> Vec<(i64, Message)> {
        let rows = self.rows.lock().unwrap_or_else(PoisonError::into_inner);
        let later = rows.waiting.iter().filter(|row| row.0 > after);
        later.take(limit).map(|(key, _, message)| (*key, message.clone())).collect()
    }

    fn delivered(&mut self, key: i64) {
        let mut rows = self.rows.lock().unwrap_or_else(PoisonError::into_inner);
        rows.waiting.retain(|row| row.0 != key);
    }
}

#[cfg(test)]
mod tests {
    use super::super::topic::Topics;
    use super::*;

    fn word(n: usize) -> Message {
        Message::event(&Topics::of("b"), "p", n.to_string())
    }

    fn waiting(outbox: &mut InMemory) -> Vec<String> {
        let rows = outbox.after(0, 100);
        rows.into_iter().map(|(_, m)| String::from_utf8(m.payload).unwrap()).collect()
    }

    #[test]
    fn messages_wait_in_order_until_they_are_delivered() {
        let mut outbox = InMemory::with_room(10);
        (1..=3).for_each(|n| outbox.put(Importance::Word, word(n)));
        outbox.delivered(2);
        assert_eq!(waiting(&mut outbox), ["1", "3"]);
        assert_eq!(outbox.after(1, 1), [(3, word(3))]);
    }

    #[test]
    fn a_full_outbox_drops_the_oldest_telemetry_first() {
        let mut outbox = InMemory::with_room(3);
        outbox.put(Importance::Word, word(1));
        outbox.put(Importance::Telemetry, word(2));
        (3..=4).for_each(|n| outbox.put(Importance::Word, word(n)));
        assert_eq!(waiting(&mut outbox), ["1", "3", "4"]);
    }
}
