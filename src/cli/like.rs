//! "Like batch 41": how thick an earlier batch was when it was right.

use crate::keep::samples::Word;
use crate::moment::Moment;
use crate::watch::action::{Alarm, AlarmState};
use crate::watch::event::CookSays;

use super::store::Store;

/// Total solids when the cook said that it was right, else when its target was reached, from the
/// store; `None` where the batch is not kept or never was right.
#[must_use]
pub fn total_solids(store: &Store, number: u32) -> Option<f64> {
    let library = store.library().ok()?;
    let number = i64::from(number);
    let said = |word: &Word| (word.says == CookSays::RightNow).then_some(word.at);
    let words = library.words(number).ok()?;
    let by_word = words.iter().rev().find_map(said);
    let reached = || {
        let notices = library.notices(number).ok()?;
        let reached = notices.into_iter().find(|notice| {
            notice.alarm == Alarm::TargetReached && notice.state == AlarmState::Raised
        });
        reached.map(|notice| notice.at)
    };
    let right: Moment = by_word.or_else(reached)?;
    let snapshots = library.snapshots(number).ok()?;
    let apart = |at: Moment| (at.ms() - right.ms()).abs();
    snapshots
        .into_iter()
        .filter(|snapshot| apart(snapshot.at) < 120_000)
        .min_by_key(|snapshot| apart(snapshot.at))?
        .total_solids
}
