//! Messages that must arrive although the broker is away.
//!
//! The daemon keeps each event and alert in its store before it asks [`run`](super::run) to look for
//! it; a message leaves the outbox only when the broker has acknowledged it. Here is what is asked of
//! an outbox, and a queue in memory to build one on.

use std::collections::VecDeque;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use super::message::Message;

/// Where messages wait. Places grow in the order in which messages are to be sent.
pub trait Outbox: Send {
    /// The oldest messages whose place is after `place`, at most `limit`.
    fn after(&mut self, place: i64, limit: usize) -> Vec<(i64, Message)>;

    /// The broker has acknowledged the message at this place.
    fn delivered(&mut self, place: i64);
}

/// Messages in memory, a bounded number of them.
#[derive(Debug, Clone)]
pub struct Queue(Arc<Mutex<Rows>>);

#[derive(Debug)]
struct Rows {
    waiting: VecDeque<Waiting>,
    next_place: i64,
    room: usize,
}

#[derive(Debug)]
struct Waiting {
    place: i64,
    /// By which its receiver knows it again.
    key: String,
    message: Message,
}

impl Queue {
    #[must_use]
    pub fn with_room(room: usize) -> Self {
        let rows = Rows { waiting: VecDeque::new(), next_place: 1, room };
        Self(Arc::new(Mutex::new(rows)))
    }

    fn rows(&self) -> MutexGuard<'_, Rows> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Puts a message last; `false` where there is no room for it.
    pub fn put(&self, key: &str, message: Message) -> bool {
        let mut rows = self.rows();
        if rows.waiting.len() >= rows.room {
            return false;
        }
        let place = rows.next_place;
        rows.next_place += 1;
        rows.waiting.push_back(Waiting { place, key: key.to_owned(), message });
        true
    }

    /// Takes the message at this place out and says its key.
    #[must_use]
    pub fn take(&self, place: i64) -> Option<String> {
        let mut rows = self.rows();
        let at = rows.waiting.iter().position(|row| row.place == place)?;
        rows.waiting.remove(at).map(|row| row.key)
    }

    #[must_use]
    pub fn holds(&self, key: &str) -> bool {
        self.rows().waiting.iter().any(|row| row.key == key)
    }

    /// How many messages wait.
    #[must_use]
    pub fn len(&self) -> usize {
        self.rows().waiting.len()
    }

    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.len() == 0
    }
}

impl Outbox for Queue {
    fn after(&mut self, place: i64, limit: usize) -> Vec<(i64, Message)> {
        let rows = self.rows();
        let later = rows.waiting.iter().filter(|row| row.place > place);
        later.take(limit).map(|row| (row.place, row.message.clone())).collect()
    }

    fn delivered(&mut self, place: i64) {
        let _ = self.take(place);
    }
}

#[cfg(test)]
mod tests {
    use super::super::topic::Topics;
    use super::*;

    fn message(n: usize) -> Message {
        Message::event(&Topics::of("b"), "p", n.to_string())
    }

    fn waiting(queue: &mut Queue) -> Vec<String> {
        let rows = queue.after(0, 100);
        rows.into_iter().map(|(_, m)| String::from_utf8(m.payload).unwrap()).collect()
    }

    #[test]
    fn messages_wait_in_order_until_they_are_delivered() {
        let mut queue = Queue::with_room(10);
        (1..=3).for_each(|n| assert!(queue.put(&n.to_string(), message(n))));
        queue.delivered(2);
        assert_eq!(waiting(&mut queue), ["1", "3"]);
        assert_eq!(queue.after(1, 1), [(3, message(3))]);
        assert_eq!((queue.holds("2"), queue.take(3)), (false, Some("3".to_owned())));
    }

    #[test]
    fn a_full_queue_takes_no_more() {
        let mut queue = Queue::with_room(2);
        let taken: Vec<bool> = (1..=3).map(|n| queue.put(&n.to_string(), message(n))).collect();
        assert_eq!(taken, [true, true, false]);
        assert_eq!(waiting(&mut queue), ["1", "2"]);
    }
}
