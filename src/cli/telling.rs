//! A batch's story for the commands that draw it: from a recording, or from the store.

use std::path::{Path, PathBuf};

use clap::Args as ClapArgs;

use crate::batch::plan::Plan;
use crate::batch::pot::Pot;
use crate::config::batch;
use crate::config::complaint::Complaints;
use crate::config::kitchen::Kitchen;
use crate::keep::library::Library;
use crate::show::clock::Clock;
use crate::show::story::Story;
use crate::watch::action::Action;

use super::failure::Failure;
use super::store::Store;
use super::{batches, replay};

/// Seconds between the snapshots of a recording.
const EVERY_S: f64 = 5.0;

/// Where batches come from.
#[derive(Debug, ClapArgs)]
pub struct Source {
    #[command(flatten)]
    store: Store,
    /// The kitchen file that a recording was made in
    #[arg(long, value_name = "FILE")]
    kitchen: Option<PathBuf>,
    /// The batch file that a recording was cooked by
    #[arg(long, value_name = "FILE")]
    batch: Option<PathBuf>,
}

/// A batch as it went, and the clock that it went by where that is known.
#[derive(Debug)]
pub struct Told {
    pub story: Story,
    pub clock: Option<Clock>,
}

impl Source {
    /// The story of a batch in the store, by its number, or of a recording, by its file.
    pub fn tell(&self, what: &str) -> Result<Told, Failure> {
        let path = Path::new(what);
        match what.parse::<i64>() {
            Ok(number) if !path.exists() => stored(&self.store.library()?, number),
            _ => self.recorded(path),
        }
    }

    fn recorded(&self, recording: &Path) -> Result<Told, Failure> {
        let (Some(kitchen), Some(batch)) = (&self.kitchen, &self.batch) else {
            return Err(Failure::usage(format!(
                "{}: a recording needs --kitchen and --batch; a batch in the store is named by its \
                 number (see dekchi batches)",
                recording.display()
            )));
        };
        let setting = replay::setting(kitchen, batch, EVERY_S)?;
        let mut story = Story::of(&setting);
        replay::replay(recording, setting, |actions| {
            actions.iter().for_each(|action| story.take(action));
        })?;
        Ok(Told { story, clock: None })
    }
}

fn stored(library: &Library, number: i64) -> Result<Told, Failure> {
    let entry = library.entry(number)?;
    let about = library.about(number)?;
    let (plan, pot) = given(number, &about.kitchen_toml, &about.batch_toml)?;
    let mut story = Story::new(&entry.name, pot, plan.target);
    for action in kept(library, number)? {
        story.take(&action);
    }
    Ok(Told { story, clock: entry.began.set.then(|| batches::clock(entry.began)) })
}

/// The plan and the pot, read again from the files as they were kept.
fn given(number: i64, kitchen: &str, batch: &str) -> Result<(Plan, Pot), Complaints> {
    let kitchen = Kitchen::parse(&format!("the kitchen of batch {number}"), kitchen)?;
    let plan: Plan = batch::parse(&format!("batch {number}"), batch, &kitchen)?;
    let pot = kitchen.pot(&plan.pot).cloned();
    // The batch's reader refuses a pot that is not there.
    Ok((plan, pot.ok_or_else(|| Complaints(Vec::new()))?))
}

/// Snapshots, happenings and alerts in the order in which they were known.
fn kept(library: &Library, number: i64) -> Result<Vec<Action>, Failure> {
    let shown = library.snapshots(number)?.into_iter().map(|s| Action::Show(Box::new(s)));
    let happened = library.happenings(number)?.into_iter().map(Action::Happened);
    let told = library.notices(number)?.into_iter().map(Action::Tell);
    let mut actions: Vec<_> = happened.chain(told).chain(shown).collect();
    actions.sort_by_key(|action| match action {
        Action::Show(snapshot) => snapshot.at,
        Action::Happened(happening) => happening.seen,
        Action::Tell(notice) => notice.at,
    });
    Ok(actions)
}
