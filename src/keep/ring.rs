//! What waits for the store, bounded.
//!
//! Nobody who samples or judges ever waits for a disk. Rows are handed over here and written by one
//! thread; while the disk is full, read-only or failing they stay here. When memory is short the
//! oldest readings go first (a replay of the samples gives them again) together with the oldest
//! telemetry for the broker, then the oldest samples; alerts, the cook's words and what was
//! recognised are small and rare and are never dropped.

use std::collections::VecDeque;

use super::row::{Row, Waiting, Worth};

/// Memory for rows that wait, bytes: some five hours of four pots at 10 Hz.
pub(super) const ROOM_BYTES: usize = 4 << 20;

#[derive(Debug)]
pub(super) struct Ring {
    rows: VecDeque<Waiting>,
    bytes: usize,
    room_bytes: usize,
}

/// What had to be given up.
#[derive(Debug, Default, Clone, Copy, PartialEq, Eq)]
pub(super) struct Lost {
    pub samples: u64,
    pub rows: u64,
}

impl Ring {
    pub const fn new(room_bytes: usize) -> Self {
        Self { rows: VecDeque::new(), bytes: 0, room_bytes }
    }

    pub fn len(&self) -> usize {
        self.rows.len()
    }

    pub fn bytes(&self) -> usize {
        self.bytes
    }

    pub fn push(&mut self, row: Row) -> Lost {
        self.bytes += row.bytes();
        self.rows.push_back(Waiting { id: None, row });
        self.make_room()
    }

    /// Everything that waits, oldest first.
    pub fn take(&mut self) -> Vec<Waiting> {
        self.bytes = 0;
        self.rows.drain(..).collect()
    }

    /// Puts rows back that could not be written, before those that came since.
    pub fn put_back(&mut self, rows: Vec<Waiting>) -> Lost {
        for waiting in rows.into_iter().rev() {
            self.bytes += waiting.row.bytes();
            self.rows.push_front(waiting);
        }
        self.make_room()
    }

    /// Takes out the letter with this key; false where it does not wait here.
    pub fn withdraw(&mut self, key: &str) -> bool {
        let letter = |w: &Waiting| matches!(&w.row, Row::Letter(l) if l.key == key);
        let Some(place) = self.rows.iter().position(letter) else { return false };
        self.remove(place);
        true
    }

    /// Letters that wait here, oldest first, and the keys of those that were acknowledged since.
    pub fn letters(&self) -> impl Iterator<Item = &Row> {
        let of_outbox = |row: &&Row| matches!(row, Row::Letter(_) | Row::Acknowledged { .. });
        self.rows.iter().map(|waiting| &waiting.row).filter(of_outbox)
    }

    fn make_room(&mut self) -> Lost {
        let mut lost = Lost::default();
        for worth in [Worth::Least, Worth::Samples] {
            while self.bytes > self.room_bytes {
                let Some(place) = self.rows.iter().position(|w| w.row.worth() == worth) else {
                    break;
                };
                lost.add(self.remove(place));
            }
        }
        lost
    }

    fn remove(&mut self, place: usize) -> Option<Row> {
        let row = self.rows.remove(place)?.row;
        self.bytes -= row.bytes();
        Some(row)
    }
}

impl Lost {
    fn add(&mut self, row: Option<Row>) {
        match row {
            Some(Row::Block { block, .. }) => self.samples += u64::from(block.events),
            Some(_) => self.rows += 1,
            None => {}
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::packing::Block;
    use super::super::row::{Letter, LetterKind};
    use super::*;
    use crate::moment::Moment;
    use crate::watch::action::Snapshot;
    use crate::watch::event::CookSays;

    fn block(events: u32) -> Row {
        let (from, to) = (Moment::from_ms(0), Moment::from_ms(10_000));
        Row::Block { leg: 0, block: Block { from, to, bytes: vec![0; 200], events } }
    }

    fn word() -> Row {
        let by = "page".to_owned();
        Row::Word { leg: 0, number: 0, at: Moment::default(), says: CookSays::Stirred, by }
    }

    fn letter(key: &str, kind: LetterKind) -> Row {
        let (topic, payload) = ("a/b".to_owned(), vec![b'x'; 100]);
        Row::Letter(Letter { key: key.to_owned(), kind, at: Moment::default(), topic, payload })
    }

    #[test]
    fn when_memory_is_short_readings_go_before_samples_and_words_never() {
        let mut ring = Ring::new(1500);
        ring.push(word());
        ring.push(block(110));
        let snapshot = Box::new(Snapshot::default());
        ring.push(Row::Reading { leg: 0, snapshot });
        let mut lost = Lost::default();
        for _ in 0..20 {
            let more = ring.push(word());
            lost.samples += more.samples;
            lost.rows += more.rows;
        }
        assert_eq!(lost, Lost { samples: 110, rows: 1 });
        assert_eq!(ring.take().len(), 21);
        assert_eq!(ring.bytes(), 0);
    }

    #[test]
    fn an_alert_for_the_broker_outlives_any_amount_of_telemetry() {
        let mut ring = Ring::new(4000);
        ring.push(letter("alert", LetterKind::Alert));
        for n in 0..100 {
            ring.push(letter(&n.to_string(), LetterKind::Telemetry));
        }
        assert!(ring.bytes() <= 4000);
        let rows = ring.take();
        assert!(matches!(&rows[0].row, Row::Letter(l) if l.key == "alert"));
        assert!(matches!(&rows.last().unwrap().row, Row::Letter(l) if l.key == "99"));
    }

    #[test]
    fn rows_that_could_not_be_written_go_back_before_newer_ones() {
        let mut ring = Ring::new(ROOM_BYTES);
        ring.push(letter("a", LetterKind::Event));
        ring.push(letter("b", LetterKind::Event));
        let taken = ring.take();
        ring.push(letter("c", LetterKind::Event));
        ring.put_back(taken);
        assert!(ring.withdraw("b"));
        assert!(!ring.withdraw("b"));
        let keys: Vec<_> = ring
            .letters()
            .filter_map(|row| if let Row::Letter(l) = row { Some(l.key.clone()) } else { None })
            .collect();
        assert_eq!(keys, ["a", "c"]);
    }
}
