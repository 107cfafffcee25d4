//! "Like batch 41": how thick an earlier batch was when it was right.

use crate::keep::library::Library;
use crate::keep::samples::Word;
use crate::moment::Moment;
use crate::watch::action::{Alarm, AlarmState};
use crate::watch::event::CookSays;

/// Snapshots are kept some seconds apart; one this near tells how the pot was, ms.
const NEAR_MS: i64 = 120_000;

/// Total solids when the cook said that it was right, else when its target was reached; `None` where
/// the batch is not kept or never was right.
#[must_use]
pub fn total_solids(library: &Library, number: u32) -> Option<f64> {
    let number = i64::from(number);
    let by_word = said_right(&library.words(number).ok()?);
    let right: Moment = by_word.or_else(|| reached(library, number))?;
    let apart = |at: Moment| (at.ms() - right.ms()).abs();
    library
        .snapshots(number)
        .ok()?
        .into_iter()
        .filter(|snapshot| apart(snapshot.at) < NEAR_MS)
        .min_by_key(|snapshot| apart(snapshot.at))?
        .total_solids
}

/// When the cook said last that it was right, and did not take it back.
fn said_right(words: &[Word]) -> Option<Moment> {
    let says = |at: usize| words.get(at).map(|word| &word.says);
    let stands = |at: &usize| {
        says(*at) == Some(&CookSays::RightNow) && says(at + 1) != Some(&CookSays::TakeBack)
    };
    (0..words.len()).rev().find(stands).map(|at| words[at].at)
}

fn reached(library: &Library, number: i64) -> Option<Moment> {
    let notices = library.notices(number).ok()?;
    let reached = notices
        .into_iter()
        .find(|notice| notice.alarm == Alarm::TargetReached && notice.state == AlarmState::Raised);
    reached.map(|notice| notice.at)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::keep::keeper::{Keeper, Room};
    use crate::keep::{About, Start};
    use crate::moment::Wall;
    use crate::watch::action::{Action, Notice, Snapshot};
    use crate::watch::setting::Learnt;
    use std::path::Path;

    const fn at(minute: i64) -> Moment {
        Moment::from_ms(minute * 60_000)
    }

    /// Keeps a batch that thickens by a tenth of a percent a minute from 9 %; the target is reached
    /// after 20 minutes, where `reached`, and the cook says that it is right after 30, where `said`.
    fn kept(path: &Path, reached: bool, said: bool) -> u32 {
        let start = Start { boot: "b".into(), at: at(0), wall: Wall { utc_ms: 0, set: true } };
        let (keeper, _) = Keeper::open(path, start, Room::default()).unwrap();
        let about = About {
            pot: "big".into(),
            name: "base".into(),
            kitchen_toml: String::new(),
            batch_toml: String::new(),
            learnt: Learnt::default(),
        };
        let key = keeper.begin_batch(about, at(0));
        for minute in 0..=40 {
            let total_solids = Some(0.09 + 0.001 * minute as f64);
            let snapshot = Snapshot { at: at(minute), total_solids, ..Snapshot::default() };
            keeper.action(key, &Action::Show(Box::new(snapshot)));
            if reached && minute == 20 {
                let why = String::new();
                let (alarm, state) = (Alarm::TargetReached, AlarmState::Raised);
                keeper.action(key, &Action::Tell(Notice { at: at(20), alarm, state, why }));
            }
            if said && minute == 30 {
                keeper.word(key, &CookSays::RightNow, "page", at(30));
            }
        }
        keeper.flush();
        let number = keeper.number(key).unwrap();
        drop(keeper.close());
        u32::try_from(number).unwrap()
    }

    #[test]
    fn like_an_earlier_batch_is_as_thick_as_it_was_when_it_was_right() {
        for (reached, said, share) in
            [(true, false, Some(0.11)), (true, true, Some(0.12)), (false, false, None)]
        {
            let directory = tempfile::tempdir().unwrap();
            let path = directory.path().join("store.sqlite");
            let number = kept(&path, reached, said);
            let library = Library::open(&path).unwrap();
            let found = total_solids(&library, number);
            assert_eq!(found.map(|s| (s * 1e4).round() / 1e4), share);
            assert_eq!(total_solids(&library, number + 1), None);
        }
    }
}
