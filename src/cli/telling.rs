//! A batch's story for the commands that draw it: from a recording, or from the store.

use std::path::{Path, PathBuf};

use clap::Args as ClapArgs;

use crate::batch::plan::Plan;
use crate::batch::pot::Pot;
use crate::batch::stove::Stove;
use crate::config::batch;
use crate::config::complaint::Complaints;
use crate::config::kitchen::Kitchen;
use crate::keep::library::Library;
use crate::show::clock::Clock;
use crate::show::story::Story;
use crate::watch::action::Action;

use super::failure::Failure;
use super::store::Store;
use super::{batches, printed, replay};

/// Seconds between the snapshots of a recording.
const EVERY_S: f64 = 5.0;

/// Where batches come from.
#[derive(Debug, ClapArgs)]
pub struct Source {
    #[command(flatten)]
    store: Store,
    /// The kitchen file that a recording was made in [default: NAME.kitchen.toml or kitchen.toml
    /// beside it]
    #[arg(long, value_name = "FILE")]
    kitchen: Option<PathBuf>,
    /// The batch file that a recording was cooked by [default: NAME.batch.toml or batch.toml beside
    /// it]
    #[arg(long, value_name = "FILE")]
    batch: Option<PathBuf>,
}

/// A batch as it went, and what is known of where and when.
#[derive(Debug)]
pub struct Told {
    /// Its number in the store, or the recording's name.
    pub label: String,
    pub story: Story,
    pub clock: Option<Clock>,
    pub stove: Option<Stove>,
}

impl Source {
    /// The story of a batch in the store, by its number; of a recording, by its file; or of what a
    /// replay printed, by a file that ends in .jsonl.
    pub fn tell(&self, what: &str) -> Result<Told, Failure> {
        let path = Path::new(what);
        match what.parse::<i64>() {
            Ok(number) if !path.exists() => stored(&self.store.library()?, number),
            _ if path.extension().is_some_and(|end| end == "jsonl") => replayed(path),
            _ => self.recorded(path),
        }
    }

    fn recorded(&self, recording: &Path) -> Result<Told, Failure> {
        let kitchen = self.kitchen.clone().or_else(|| beside(recording, "kitchen.toml"));
        let batch = self.batch.clone().or_else(|| beside(recording, "batch.toml"));
        let (Some(kitchen), Some(batch)) = (kitchen, batch) else {
            return Err(Failure::usage(format!(
                "{}: a recording needs --kitchen and --batch; a batch in the store is named by its \
                 number (see dekchi batches)",
                recording.display()
            )));
        };
        let setting = replay::setting(&kitchen, &batch, EVERY_S)?;
        let stove = Kitchen::read(&kitchen)?.stove(&setting.pot.name).copied();
        let mut story = Story::of(&setting);
        replay::replay(recording, setting, |actions| {
            actions.iter().for_each(|action| story.take(action));
        })?;
        Ok(Told { label: label(recording), story, clock: None, stove })
    }
}

/// A file that belongs to a recording: NAME.kitchen.toml beside NAME.csv, or kitchen.toml beside
/// recording.csv.
fn beside(recording: &Path, what: &str) -> Option<PathBuf> {
    let own = recording.with_extension(what);
    let alone = recording.with_file_name(what);
    let alone = (recording.file_stem()? == "recording").then_some(alone);
    std::iter::once(own).chain(alone).find(|path| path.is_file())
}

/// What a recording is called: its name, or its directory's where it is only "recording".
fn label(path: &Path) -> String {
    let name = |path: &Path| path.file_stem().map(|stem| stem.to_string_lossy().into_owned());
    let of_directory = || name(path.parent()?);
    let own = name(path).unwrap_or_default();
    if own == "recording" { of_directory().unwrap_or(own) } else { own }
}

fn replayed(path: &Path) -> Result<Told, Failure> {
    let name = path.display().to_string();
    let text = std::fs::read_to_string(path)
        .map_err(|error| Failure::usage(format!("{name}: cannot be read: {error}")))?;
    // Lines do not say how wide the pot is: the curve's pot is a guess, a comparison needs none.
    let (pot_name, actions) = printed::read(&text).map_err(|at| {
        Failure::usage(format!("{name}, line {at}: not a line that dekchi replay prints"))
    })?;
    let pot =
        Pot { name: pot_name, base_diameter_m: 0.4, tare_kg: 0.0, lid_kg: 0.0, height_m: None };
    let mut story = Story::new(&label(path), pot, None);
    actions.iter().for_each(|action| story.take(action));
    Ok(Told { label: label(path), story, clock: None, stove: None })
}

fn stored(library: &Library, number: i64) -> Result<Told, Failure> {
    let entry = library.entry(number)?;
    let about = library.about(number)?;
    let (plan, kitchen) = given(number, &about.kitchen_toml, &about.batch_toml)?;
    // The batch's reader refuses a pot that is not there.
    let pot = kitchen.pot(&plan.pot).cloned().ok_or_else(|| Complaints(Vec::new()))?;
    let mut story = Story::new(&entry.name, pot, plan.target);
    for action in kept(library, number)? {
        story.take(&action);
    }
    Ok(Told {
        label: number.to_string(),
        story,
        clock: entry.began.set.then(|| batches::clock(entry.began)),
        stove: kitchen.stove(&plan.pot).copied(),
    })
}

/// Plan and kitchen, read again from the files as they were kept.
fn given(number: i64, kitchen: &str, batch: &str) -> Result<(Plan, Kitchen), Complaints> {
    let kitchen = Kitchen::parse(&format!("the kitchen of batch {number}"), kitchen)?;
    let plan = batch::parse(&format!("batch {number}"), batch, &kitchen)?;
    Ok((plan, kitchen))
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
