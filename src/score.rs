//! How right the judgement was, where the truth is known.
//!
//! A recording with its truth ([`truth::Truth`]) is held against what was said of it at the time
//! ([`Said`]). Each figure of merit is counted per recording into a [`tally::Tally`]; tallies add
//! up, so a family's figures come from all its samples, not from averages of averages.
//!
//! # The figures
//!
//! *In force at t* is the last reading said at or before t. *Unknown where it could be known counts
//! as wrong*: a forecast that is not given has an infinite error, an evaporation or contents that is
//! not given an error of one. An event's *span* is from its beginning to its beginning plus its
//! length.
//!
//! | figure | definition |
//! |---|---|
//! | time-to-target error | For L = 60, 30, 15 and 5 min: the reading in force at target − L (if that is at least 5 min into the recording); abs(p50 − L)/L. Median over all L and recordings. |
//! | within 2 min or 10 % | The share of those with abs(p50 − L) ≤ max(2 min, 0.1 L). |
//! | inside p10 to p90 | The share of those with p10 ≤ L ≤ p90. |
//! | … in the last hour | The same two over every reading of the last hour down to 1 min before. |
//! | target told off by | abs(first `target-reached` that is not false − true), median; not told is infinite. *False* is one raised more than 10 min early, or where the target is never reached. |
//! | evaporation error | abs(said − true)/true over readings at least 5 min into the recording, with at least 0.2 kg/h in truth and *away from handling*: not from 10 s before any event (a turned flame and a sensor's fault are some) to 2 min after its span. Median; the bias is the median of (said − true)/true. |
//! | contents error | abs(said − true)/(contents at the start) over readings not from 10 s before a handling or a fault of the scale to 1 min after its span; 95th percentile. *At all times* leaves nothing out. |
//! | additions and ladlings found | True ones of 0.2 kg and more; each is found by one that was said to be of its kind, to begin from 1 min before it to 1 min after its span, and to be of half to twice its kg. A said one finds at most one. |
//! | … false per 10 h | Said ones of 0.2 kg and more that found none, small ones included. |
//! | … their kg | Median (and 90th percentile) of abs(said − true) of those found. |
//! | … named right | The share of the additions found that have a name in truth and were said with it. |
//! | … told after | Median time from the end of the span to when it was known. |
//! | lid moves, stirs, blendings found | As above, without kg. |
//! | … false per 10 h | Lid moves that found none; stirs that lie in no true handling's span, 1 min before to 1 min after. |
//! | catches unwarned | The share of the catches before which neither `stir-due` nor `catching` stood raised between the end of the last stir (or the start) and the catch. |
//! | warning at | (first moment at which either stood raised − end of the last stir)/(catch − end of the last stir), median. |
//! | false `catching` | Raised, and not between the last stir before a catch and the first one after it. Per 50 h of pots that never caught; and per 50 h of the first 45 min of all. |
//! | alerts per hour | All that were raised. |
//! | flame out told | The share of flames turned off or gone out (`flame` to 0 W) under a pot within 3 K of its boiling point after which, within 5 min, `going-cold` was raised or `off-boil` seen. |
//! | boiling dry told | The share of pots whose water truly fell under 5 % of the start's before which `running-dry` was raised at least 10 min ahead. |
//! | sensor faults told | The share of `sensor-fault`s in truth after which, within 60 s, one of the same sensor was told. |
//! | samples per second | Readings of any sensor through the parser and the judgement, per second of one core. |

pub mod baseline;
pub mod figure;
pub mod matching;
pub mod table;
pub mod tally;
pub mod truth;

use crate::moment::Moment;
use crate::watch::action::{Action, Actions, Happening, Notice, Snapshot};

/// How often a reading is taken for scoring, ms.
pub const EVERY_MS: i64 = 10_000;

/// Everything that was said of a recording, in the order in which it was said.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Said {
    pub readings: Vec<Snapshot>,
    pub happenings: Vec<Happening>,
    pub notices: Vec<Notice>,
}

impl Said {
    /// Takes in what one step led to.
    pub fn note(&mut self, actions: Actions) {
        for action in actions {
            match action {
                Action::Show(reading) => self.readings.push(*reading),
                Action::Happened(happening) => self.happenings.push(happening),
                Action::Tell(notice) => self.notices.push(notice),
            }
        }
    }

    /// The reading in force at `t_s`.
    #[must_use]
    pub fn in_force(&self, t_s: f64) -> Option<&Snapshot> {
        let at = Moment::from_seconds(t_s)?;
        let after = self.readings.partition_point(|reading| reading.at <= at);
        self.readings.get(after.checked_sub(1)?)
    }
}
