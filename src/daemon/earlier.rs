//! A batch of the store told again as it went.

use std::sync::Arc;

use crate::batch::plan::Plan;
use crate::batch::pot::Pot;
use crate::config::batch;
use crate::config::complaint::Complaints;
use crate::config::kitchen::Kitchen;
use crate::keep::library::{Entry, Library, Unreadable};
use crate::keep::samples::Word;
use crate::moment::Moment;
use crate::show::board::{Kept, KeptBatch, PotNow};
use crate::show::clock::Clock as WallClock;
use crate::show::story::{self, Story};
use crate::watch::action::Action;

use super::clock::Clock;

/// A batch that was kept.
#[derive(Debug)]
pub struct Earlier {
    pub entry: Entry,
    pub plan: Plan,
    pub kitchen: Kitchen,
    pub pot: Pot,
    /// Snapshots, happenings and alerts in the order in which they were known.
    pub actions: Vec<Action>,
    pub words: Vec<Word>,
}

/// Why a batch cannot be told again.
#[derive(Debug, thiserror::Error)]
pub enum CannotTell {
    #[error(transparent)]
    Store(#[from] Unreadable),
    /// The files that it was cooked by are not understood any more.
    #[error("{0}")]
    Files(#[from] Complaints),
}

impl Earlier {
    /// Reads the batch with this number; plan and kitchen from their files as they were kept.
    ///
    /// # Errors
    /// Where it is not there, or the files are not understood any more.
    pub fn read(library: &Library, number: i64) -> Result<Self, CannotTell> {
        let entry = library.entry(number)?;
        let about = library.about(number)?;
        let kitchen =
            Kitchen::parse(&format!("the kitchen of batch {number}"), &about.kitchen_toml)?;
        let plan = batch::parse(&format!("batch {number}"), &about.batch_toml, &kitchen)?;
        // The batch's reader refuses a pot that is not there.
        let pot = kitchen.pot(&plan.pot).cloned().ok_or_else(|| Complaints(Vec::new()))?;
        let (actions, words) = (actions(library, number)?, library.words(number)?);
        Ok(Self { entry, plan, kitchen, pot, actions, words })
    }

    /// As the page has it.
    #[must_use]
    pub fn on_the_page(self, clock: &Clock) -> KeptBatch {
        let Self { entry, plan, kitchen, pot, actions, words } = self;
        let kept = kept(&entry, clock);
        let mut story = Story::meant(&plan, &entry.name, pot);
        actions.iter().for_each(|action| story.take(action));
        words.into_iter().for_each(|word| story.hear(heard(word)));
        let stove = kitchen.stove(&plan.pot).copied();
        let pot = PotNow {
            name: entry.pot,
            plan: Arc::new(plan),
            clock: kept.clock,
            now: story.now.as_ref().map_or_else(Moment::default, |now| now.at),
            story: Arc::new(story),
            silent_s: 0.0,
            idle: None,
            over: entry.outcome.is_some(),
        };
        KeptBatch { entry: kept, pot, stove }
    }
}

/// A word of the store's as the story has it.
#[must_use]
pub fn heard(word: Word) -> story::Word {
    let Word { at, says, by, .. } = word;
    story::Word { at, says, by }
}

/// Snapshots, happenings and alerts in the order in which they were known.
fn actions(library: &Library, number: i64) -> Result<Vec<Action>, Unreadable> {
    let shown = library.snapshots(number)?.into_iter().map(|s| Action::Show(Box::new(s)));
    let happened = library.happenings(number)?.into_iter().map(Action::Happened);
    let told = library.notices(number)?.into_iter().map(Action::Tell);
    let mut actions: Vec<_> = happened.chain(told).chain(shown).collect();
    actions.sort_by_key(known_at);
    Ok(actions)
}

/// When an action was known.
#[must_use]
pub fn known_at(action: &Action) -> Moment {
    match action {
        Action::Show(snapshot) => snapshot.at,
        Action::Happened(happening) => happening.seen,
        Action::Tell(notice) => notice.at,
    }
}

/// An entry of the list as the page has it.
#[must_use]
pub fn kept(entry: &Entry, clock: &Clock) -> Kept {
    let began = entry.began;
    let wall = WallClock { utc_ms_at_zero: began.utc_ms, offset_s: clock.offset_s(began) };
    Kept {
        number: entry.number,
        pot: entry.pot.clone(),
        name: entry.name.clone(),
        clock: began.set.then_some(wall),
        lasted_s: entry.lasted_s,
        outcome: entry.outcome.clone(),
    }
}
