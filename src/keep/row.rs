//! What waits to be written.

use crate::moment::{Moment, Wall};
use crate::watch::action::{Alarm, Happening, Notice, Snapshot};
use crate::watch::event::CookSays;
use crate::watch::setting::Learnt;

use super::packing::Block;

/// Which leg a row belongs to: its place in the order in which this start of the daemon began them.
pub(super) type LegIndex = usize;

/// A stretch of a batch watched by one start of the daemon.
#[derive(Debug, Clone)]
pub(super) struct Leg {
    /// Number of the batch in the store; `None` until it is known.
    pub batch: Option<i64>,
    /// Number of the leg in the store; `None` until it is known.
    pub id: Option<i64>,
    pub about: About,
    /// When it began, on the daemon's clock and on the batch's.
    pub mono: Moment,
    pub batch_at: Moment,
    /// Numbers of its first block of samples and its first reading; `None` until they are known.
    pub first: Option<(i64, i64)>,
    /// True once it is in the file that is open.
    pub stands: bool,
    /// True once its batch's end is in the file: nothing more will come.
    pub over: bool,
}

impl Leg {
    /// A leg that the store does not have yet, of a batch that it may have.
    pub const fn new(batch: Option<i64>, about: About, mono: Moment, batch_at: Moment) -> Self {
        Self { batch, id: None, about, mono, batch_at, first: None, stands: false, over: false }
    }
}

/// What a batch is, as it was given.
#[derive(Debug, Clone, PartialEq)]
pub struct About {
    pub pot: String,
    pub name: String,
    /// The kitchen file's text.
    pub kitchen_toml: String,
    /// The batch file's text.
    pub batch_toml: String,
    /// What earlier batches had taught about the pot when it began.
    pub learnt: Learnt,
}

/// How a batch ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Outcome {
    /// It reached its target or the cook said that it is done.
    Done,
    /// The cook gave it up.
    Abandoned,
}

impl Outcome {
    /// Its fixed name.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Done => "done",
            Self::Abandoned => "abandoned",
        }
    }
}

/// What a letter to the broker is worth.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum LetterKind {
    /// A reading: the oldest goes when there is no room.
    Telemetry,
    /// Something that happened: kept as alerts are.
    Event,
    /// Never dropped.
    Alert,
}

impl LetterKind {
    pub(super) const fn number(self) -> i64 {
        match self {
            Self::Telemetry => 0,
            Self::Event => 1,
            Self::Alert => 2,
        }
    }

    pub(super) const fn by_number(number: i64) -> Self {
        match number {
            0 => Self::Telemetry,
            1 => Self::Event,
            _ => Self::Alert,
        }
    }
}

/// A message that a broker has not acknowledged.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Letter {
    /// By which its receiver knows it again, and by which it is taken out.
    pub key: String,
    pub kind: LetterKind,
    /// When it was true, on the daemon's clock.
    pub at: Moment,
    pub topic: String,
    pub payload: Vec<u8>,
}

/// How it went to tell a person of an alert.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Delivery {
    /// On the batch's clock.
    pub at: Moment,
    pub alarm: Alarm,
    /// When the alert was raised, on the batch's clock.
    pub raised: Moment,
    pub person: String,
    pub way: String,
    /// Why this person was told.
    pub because: String,
    pub attempts: u32,
    pub arrived: bool,
    /// What the far end said, or why nothing arrived.
    pub answer: String,
}

/// A browser that asked to be told by Web Push, and its keys as it gave them.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Browser {
    pub person: String,
    pub endpoint: String,
    pub p256dh: String,
    pub auth: String,
}

/// One row and, once it was tried, its number.
#[derive(Debug, Clone)]
pub(super) struct Waiting {
    pub id: Option<i64>,
    pub row: Row,
}

#[derive(Debug, Clone)]
pub(super) enum Row {
    Clock {
        at: Moment,
        wall: Wall,
    },
    Block {
        leg: LegIndex,
        block: Block,
    },
    Reading {
        leg: LegIndex,
        snapshot: Box<Snapshot>,
    },
    Happening {
        leg: LegIndex,
        happening: Happening,
    },
    Notice {
        leg: LegIndex,
        notice: Notice,
    },
    Word {
        leg: LegIndex,
        number: u64,
        at: Moment,
        says: CookSays,
        by: String,
    },
    End {
        leg: LegIndex,
        at: Moment,
        outcome: Outcome,
    },
    Delivery {
        leg: LegIndex,
        delivery: Delivery,
    },
    Browser(Browser),
    BrowserGone {
        endpoint: String,
    },
    Learnt {
        pot: String,
        learnt: Learnt,
    },
    Letter(Letter),
    /// The broker has it.
    Acknowledged {
        key: String,
    },
}

/// In which order rows are given up when memory is short.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Worth {
    /// Can be had again by replaying the samples, or is old news.
    Least,
    Samples,
    /// Small and rare: alerts, the cook's words, what was recognised and learnt.
    Never,
}

impl Row {
    pub fn worth(&self) -> Worth {
        match self {
            Self::Reading { .. } => Worth::Least,
            Self::Letter(letter) if letter.kind == LetterKind::Telemetry => Worth::Least,
            Self::Block { .. } => Worth::Samples,
            _ => Worth::Never,
        }
    }

    /// Roughly what it takes in memory, bytes.
    pub fn bytes(&self) -> usize {
        let beside = match self {
            Self::Block { block, .. } => block.bytes.len(),
            Self::Reading { .. } => size_of::<Snapshot>(),
            Self::Letter(letter) => letter.key.len() + letter.topic.len() + letter.payload.len(),
            _ => 64,
        };
        size_of::<Waiting>() + beside
    }
}
