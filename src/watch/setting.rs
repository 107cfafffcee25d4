//! What the judgement is given before the first event.

use crate::batch::larder::Larder;
use crate::batch::plan::Plan;
use crate::batch::pot::{Pot, Site};
use crate::batch::rules::Rules;

/// A pot, its plan, and what was learnt of it before.
#[derive(Debug, Clone, PartialEq)]
pub struct Setting {
    pub site: Site,
    pub pot: Pot,
    pub plan: Plan,
    pub learnt: Learnt,
    /// What holding and cooling are held to.
    pub rules: Rules,
    /// What the cook may call by name.
    pub larder: Larder,
    /// How often the pot is shown, ms of the event's time.
    pub show_every_ms: i64,
}

impl Setting {
    /// A pot of which nothing is known yet, shown every ten seconds, by the usual rules.
    #[must_use]
    pub fn of(site: Site, pot: Pot, plan: Plan) -> Self {
        Self {
            site,
            pot,
            plan,
            learnt: Learnt::default(),
            rules: Rules::DEFAULT,
            larder: Larder::default(),
            show_every_ms: 10_000,
        }
    }
}

/// What earlier batches taught about this pot and stove.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Learnt {
    /// Natural logarithm of how much longer than the trade's rule this pot's bottom stands.
    pub bottom_log_scale: f64,
    /// How many of the cook's verdicts that rests on.
    pub bottom_verdicts: u32,
}
