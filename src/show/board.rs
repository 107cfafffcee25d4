//! The whole board as it is now: what the page, the metrics and the supervisors are shown.

use std::sync::Arc;

use crate::batch::plan::Plan;
use crate::batch::stove::Stove;
use crate::moment::Moment;

use super::clock::Clock;
use super::idle::Idle;
use super::story::Story;

/// Everything that is watched, and how the board itself is.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Board {
    /// What the kitchen is called.
    pub kitchen: String,
    pub pots: Vec<PotNow>,
    pub store: StoreNow,
    /// Whether the broker hears; `None` where there is none.
    pub broker: Option<bool>,
}

/// One pot and its batch.
#[derive(Debug, Clone, PartialEq)]
pub struct PotNow {
    pub name: String,
    pub plan: Arc<Plan>,
    pub story: Arc<Story>,
    /// The wall clock; `None` while the board does not know the time.
    pub clock: Option<Clock>,
    /// The batch's own time now.
    pub now: Moment,
    /// How long ago anything was heard of it, s.
    pub silent_s: f64,
    /// No batch has begun in it: plan and story are empty, and `now` is the board's own time.
    pub idle: Option<Idle>,
    /// The batch has ended.
    pub over: bool,
}

/// How the store is.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct StoreNow {
    /// What is wrong and what to do; `None` where everything is written.
    pub trouble: Option<&'static str>,
    pub commits: u64,
    pub waiting_rows: u64,
    pub lost_samples: u64,
    pub lost_rows: u64,
}

/// A batch in the store.
#[derive(Debug, Clone, PartialEq)]
pub struct Kept {
    pub number: i64,
    pub pot: String,
    pub name: String,
    /// The wall clock when it began; `None` where the board did not know the time.
    pub clock: Option<Clock>,
    pub lasted_s: f64,
    /// How it ended; `None` where it has not.
    pub outcome: Option<String>,
}

/// A batch in the store, whole.
#[derive(Debug, Clone, PartialEq)]
pub struct KeptBatch {
    pub entry: Kept,
    pub pot: PotNow,
    /// Where it was cooked, as far as that is known.
    pub stove: Option<Stove>,
}
