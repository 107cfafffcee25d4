//! What is to be sent, what is on its way, and in which order. Pure.
//!
//! Two kinds of message leave a board. Of *state* (status, reading, curve, batch, a standing alert)
//! only the newest counts: it is held by topic, replaces what was not sent yet, and is sent anew on
//! every connection, since a broker may have forgotten it. *Words* (events, changes of alerts,
//! backlog) wait in the outbox, go out in order, and leave it when the broker has acknowledged them.
//!
//! The client library forgets what it was given when a connection ends, and tells a packet's number
//! only when it is written. So nothing is given to it beyond a small window, and the numbers are
//! matched to messages here in the order in which they were handed over.

use std::collections::{BTreeMap, HashMap, VecDeque};

use super::message::Message;
use super::outbox::Outbox;

/// How many messages may be unacknowledged.
pub const WINDOW: usize = 8;
/// Topic, properties and headers of a publish are shorter than this.
const OVERHEAD_BYTES: usize = 512;

/// The order of sending: lower first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Rank {
    Status,
    State,
    /// After the outbox, whose older words on the same topic must not come last.
    Alert,
}

#[derive(Debug)]
struct Held {
    message: Message,
    rank: Rank,
    /// When it was asked to be sent; `None` once it has been.
    due: Option<u64>,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Tag {
    State,
    Word(i64),
}

/// The sending side of one board.
#[derive(Debug)]
pub struct Desk<O> {
    outbox: O,
    held: BTreeMap<String, Held>,
    turn: u64,
    handed: VecDeque<Tag>,
    written: HashMap<u16, Tag>,
    fetched: VecDeque<(i64, Message)>,
    fetched_to: i64,
    outbox_has_more: bool,
    limit: Limit,
}

/// What a broker said that it takes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Limit {
    pub packet_bytes: usize,
    pub retains: bool,
}

impl Limit {
    pub const NONE: Self = Self { packet_bytes: usize::MAX, retains: true };
}

impl<O: Outbox> Desk<O> {
    pub fn new(outbox: O) -> Self {
        Self {
            outbox,
            held: BTreeMap::new(),
            turn: 0,
            handed: VecDeque::new(),
            written: HashMap::new(),
            fetched: VecDeque::new(),
            fetched_to: 0,
            outbox_has_more: true,
            limit: Limit::NONE,
        }
    }

    /// The board's own state, sent before everything else.
    pub fn hold_status(&mut self, message: Message) {
        self.hold_as(message, Rank::Status, true);
    }

    /// Newest state of its topic.
    pub fn hold(&mut self, message: Message) {
        let rank = if message.is_alert() { Rank::Alert } else { Rank::State };
        self.hold_as(message, rank, true);
    }

    /// State that is sent after everything else.
    pub fn hold_last(&mut self, message: Message) {
        self.hold_as(message, Rank::Alert, true);
    }

    fn hold_as(&mut self, message: Message, rank: Rank, due: bool) {
        self.turn += 1;
        let due = due.then_some(self.turn);
        self.held.insert(message.topic.clone(), Held { message, rank, due });
    }

    /// There is something new in the outbox.
    pub fn look(&mut self) {
        self.outbox_has_more = true;
    }

    /// A new connection: everything is to be said again, and nothing is on its way.
    pub fn connected(&mut self, limit: Limit) {
        self.limit = limit;
        self.handed.clear();
        self.written.clear();
        self.fetched.clear();
        self.fetched_to = 0;
        self.outbox_has_more = true;
        for held in self.held.values_mut() {
            self.turn += 1;
            held.due = Some(self.turn);
        }
    }

    /// How many messages are not acknowledged yet.
    #[must_use]
    pub fn on_the_way(&self) -> usize {
        self.handed.len() + self.written.len()
    }

    /// The next message to hand over, while the window has room.
    pub fn take(&mut self) -> Option<Message> {
        while self.on_the_way() < WINDOW {
            let (tag, mut message) = self.choose()?;
            if message.payload.len() + OVERHEAD_BYTES > self.limit.packet_bytes {
                tracing::warn!(topic = message.topic, "too long for this broker, not sent");
                continue;
            }
            message.retain &= self.limit.retains;
            self.handed.push_back(tag);
            return Some(message);
        }
        None
    }

    fn choose(&mut self) -> Option<(Tag, Message)> {
        self.due_state(Rank::State)
            .or_else(|| self.next_word())
            .or_else(|| self.due_state(Rank::Alert))
    }

    /// The state that waits longest, of those up to `rank`.
    fn due_state(&mut self, rank: Rank) -> Option<(Tag, Message)> {
        let due = self.held.values_mut().filter(|held| held.due.is_some() && held.rank <= rank);
        let first = due.min_by_key(|held| (held.rank, held.due))?;
        first.due = None;
        Some((Tag::State, first.message.clone()))
    }

    fn next_word(&mut self) -> Option<(Tag, Message)> {
        if self.fetched.is_empty() && self.outbox_has_more {
            self.fetched.extend(self.outbox.after(self.fetched_to, WINDOW));
            self.outbox_has_more = self.fetched.len() == WINDOW;
        }
        let (place, message) = self.fetched.pop_front()?;
        self.fetched_to = place;
        if message.retain {
            self.remember(&message);
        }
        Some((Tag::Word(place), message))
    }

    /// A standing alert is state from now on; one that was taken away no longer is.
    fn remember(&mut self, message: &Message) {
        if message.payload.is_empty() {
            self.held.remove(&message.topic);
        } else {
            self.hold_as(message.clone(), Rank::Alert, false);
        }
    }

    /// The library has written the oldest message handed over, under this number.
    pub fn written(&mut self, packet: u16) {
        if let Some(tag) = self.handed.pop_front() {
            self.written.insert(packet, tag);
        }
    }

    /// The broker has answered for this number. A word that it refused stays in the outbox and is
    /// tried again on the next connection.
    pub fn answered(&mut self, packet: u16, accepted: bool) {
        if let (Some(Tag::Word(place)), true) = (self.written.remove(&packet), accepted) {
            self.outbox.delivered(place);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::message::{State, Status};
    use super::super::outbox::Queue;
    use super::super::topic::Topics;
    use super::*;

    fn topics() -> Topics {
        Topics::of("b")
    }

    fn reading(pot: &str, json: &str) -> Message {
        Message::reading(&topics(), pot, json.into(), 10.0)
    }

    fn event(json: &str) -> Message {
        Message::event(&topics(), "p", json.into())
    }

    fn desk() -> (Desk<Queue>, Queue) {
        let outbox = Queue::with_room(1000);
        (Desk::new(outbox.clone()), outbox)
    }

    fn drain(desk: &mut Desk<Queue>) -> Vec<String> {
        let mut said = Vec::new();
        let mut packet = 0;
        while let Some(message) = desk.take() {
            said.push(String::from_utf8(message.payload).unwrap());
            packet += 1;
            desk.written(packet);
            desk.answered(packet, true);
        }
        said
    }

    #[test]
    fn of_state_only_the_newest_is_sent() {
        let (mut desk, _) = desk();
        desk.hold(reading("p", "old"));
        desk.hold(reading("q", "other"));
        desk.hold(reading("p", "new"));
        assert_eq!(drain(&mut desk), ["other", "new"]);
        assert_eq!(drain(&mut desk), [""; 0]);
    }

    #[test]
    fn state_is_said_again_on_every_connection_status_first() {
        let (mut desk, _) = desk();
        desk.hold(reading("p", "r"));
        let status = Status { state: State::Online, version: "0", pots: vec![], trouble: vec![] };
        desk.hold_status(Message::status(&topics(), &status));
        assert_eq!(drain(&mut desk).len(), 2);
        desk.connected(Limit::NONE);
        assert_eq!(drain(&mut desk), [status.json(), "r".to_owned()]);
    }

    #[test]
    fn a_word_leaves_the_outbox_only_when_it_is_acknowledged() {
        let (mut desk, outbox) = desk();
        assert!(outbox.put("", event("1")));
        desk.look();
        assert_eq!(desk.take(), Some(event("1")));
        desk.written(1);
        assert_eq!(outbox.len(), 1);
        desk.connected(Limit::NONE);
        assert_eq!(desk.take(), Some(event("1")), "the link was lost before the answer");
        desk.written(1);
        desk.answered(1, true);
        assert!(outbox.is_empty());
    }

    #[test]
    fn a_refused_word_is_kept_for_the_next_connection() {
        let (mut desk, outbox) = desk();
        assert!(outbox.put("", event("1")));
        assert!(desk.take().is_some());
        desk.written(1);
        desk.answered(1, false);
        assert_eq!((desk.take(), outbox.len()), (None, 1));
    }

    #[test]
    fn no_more_than_a_window_is_on_its_way() {
        let (mut desk, outbox) = desk();
        (0..3 * WINDOW).for_each(|n| assert!(outbox.put("", event(&n.to_string()))));
        let handed = std::iter::from_fn(|| desk.take()).count();
        assert_eq!(handed, WINDOW);
        desk.written(1);
        desk.answered(1, true);
        assert_eq!(desk.take(), Some(event(&WINDOW.to_string())));
    }

    #[test]
    fn a_long_outbox_goes_out_in_order() {
        let (mut desk, outbox) = desk();
        (0..50).for_each(|n| assert!(outbox.put("", event(&n.to_string()))));
        let all: Vec<String> = (0..50).map(|n| n.to_string()).collect();
        assert_eq!(drain(&mut desk), all);
        assert!(outbox.is_empty());
    }

    #[test]
    fn acknowledgements_may_come_out_of_order() {
        let (mut desk, outbox) = desk();
        (1..=2).for_each(|n| assert!(outbox.put("", event(&n.to_string()))));
        assert!(desk.take().is_some() && desk.take().is_some());
        desk.written(7);
        desk.written(8);
        desk.answered(8, true);
        let mut left = outbox.clone();
        assert_eq!(left.after(0, 9), [(1, event("1"))]);
    }

    #[test]
    fn a_standing_alert_is_repeated_after_the_outbox_until_it_is_taken_away() {
        let (mut desk, outbox) = desk();
        let raised = Message::alert(&topics(), "p", "catching", "raised".into());
        assert!(outbox.put("", raised));
        assert_eq!(drain(&mut desk), ["raised"]);
        assert!(outbox.put("", event("e")));
        desk.connected(Limit::NONE);
        assert_eq!(drain(&mut desk), ["e", "raised"]);
        assert!(outbox.put("", Message::no_alert(&topics(), "p", "catching")));
        desk.look();
        assert_eq!(drain(&mut desk), [""]);
        desk.connected(Limit::NONE);
        assert_eq!(drain(&mut desk), [""; 0]);
    }

    #[test]
    fn what_is_too_long_for_the_broker_is_left_out() {
        let (mut desk, _) = desk();
        desk.connected(Limit { packet_bytes: 2000, retains: false });
        desk.hold(Message::curve_png(&topics(), "p", vec![0; 5000]));
        desk.hold(reading("p", "r"));
        assert_eq!(desk.take().map(|m| m.retain), Some(false));
        assert_eq!(desk.take(), None);
    }
}
