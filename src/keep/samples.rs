//! The samples of a batch, put together again from their blocks and the cook's words.

use crate::moment::Moment;
use crate::watch::event::{CookSays, Event};

use super::packing::{self, Item};

/// What was kept of a batch's samples.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Samples {
    /// What the judgement was told, in order, the cook's words included.
    pub events: Vec<(Moment, Event)>,
    /// Blocks that could not be read.
    pub damaged: usize,
}

/// A word of the cook's.
#[derive(Debug, Clone, PartialEq)]
pub struct Word {
    /// Counted from 0 within its batch.
    pub number: u64,
    pub at: Moment,
    pub says: CookSays,
    /// Through what it came: the page, a command, the broker.
    pub by: String,
}

/// Blocks in order, each with its beginning, and the words in order of their numbers.
///
/// A word whose place was in a block that is lost goes where its time belongs.
pub(super) fn unpack(blocks: Vec<(Moment, Vec<u8>)>, words: Vec<Word>) -> Samples {
    let mut samples = Samples::default();
    let mut words = words.into_iter().peekable();
    for (from, bytes) in blocks {
        let Ok(items) = packing::unpack(from, &bytes) else {
            samples.damaged += 1;
            continue;
        };
        for (at, item) in items {
            match item {
                Item::Event(event) => {
                    while let Some(word) = words.next_if(|word| word.at < at) {
                        samples.say(word);
                    }
                    samples.events.push((at, event));
                }
                Item::Word(number) => {
                    while let Some(word) = words.next_if(|word| word.number <= number) {
                        samples.say(word);
                    }
                }
            }
        }
    }
    words.for_each(|word| samples.say(word));
    samples
}

impl Samples {
    fn say(&mut self, word: Word) {
        self.events.push((word.at, Event::Cook(word.says)));
    }
}
