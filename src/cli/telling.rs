//! A batch's story for the commands that draw it: from a recording, or from the store.

use std::path::{Path, PathBuf};

use clap::Args as ClapArgs;

use crate::batch::pot::Pot;
use crate::batch::rules::Rules;
use crate::batch::stove::Stove;
use crate::config::kitchen::Kitchen;
use crate::daemon::earlier::{CannotTell, Earlier, known_at};
use crate::keep::library::Library;
use crate::moment::Moment;
use crate::show::clock::Clock;
use crate::show::story::Story;
use crate::watch::action::Action;
use crate::watch::event::{CookSays, Event};

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
    /// Only up to this time after the start: 90min, 2h30
    #[arg(long, value_name = "TIME", value_parser = time_s)]
    until: Option<f64>,
}

/// A length of time as it is typed: "5400", "90min", "2h", "2h30".
fn time_s(text: &str) -> Result<f64, String> {
    let wrong =
        || format!("\"{text}\" is no length of time; allowed: 5400 (seconds), 90min, 2h, 2h30");
    let number = |part: &str| part.trim().parse::<f64>().ok().filter(|n| (0.0..1e7).contains(n));
    let text = text.trim();
    let seconds = match (text.split_once('h'), text.strip_suffix("min"), text.strip_suffix('s')) {
        (Some((hours, rest)), _, _) => {
            let rest = rest.trim_end_matches("min");
            let minutes = if rest.is_empty() { Some(0.0) } else { number(rest) };
            number(hours).zip(minutes).map(|(h, min)| h * 3600.0 + min * 60.0)
        }
        (None, Some(min), _) => number(min).map(|min| min * 60.0),
        (None, None, seconds) => number(seconds.unwrap_or(text)),
    };
    seconds.ok_or_else(wrong)
}

/// A batch as it went, and what is known of where and when.
#[derive(Debug)]
pub struct Told {
    /// Its number in the store, or the recording's name.
    pub label: String,
    pub story: Story,
    /// What the story was made of.
    pub actions: Vec<Action>,
    pub clock: Option<Clock>,
    pub stove: Option<Stove>,
    pub kitchen: Option<String>,
    pub rules: Rules,
    /// Its number in the store.
    pub number: Option<i64>,
    pub outcome: Option<String>,
    pub said: Said,
}

/// What the cook said: when, through what, and what.
pub type Said = Vec<(Moment, String, CookSays)>;

impl Told {
    /// A story of these actions up to `until_s` after the first, with nothing known besides.
    fn new(
        label: String,
        mut story: Story,
        mut actions: Vec<Action>,
        until_s: Option<f64>,
    ) -> Self {
        let began = actions.iter().map(known_at).min().unwrap_or_default();
        if let Some(until_s) = until_s {
            actions.retain(|action| known_at(action) - began <= until_s);
        }
        actions.iter().for_each(|action| story.take(action));
        Self {
            label,
            story,
            actions,
            clock: None,
            stove: None,
            kitchen: None,
            rules: Rules::DEFAULT,
            number: None,
            outcome: None,
            said: Vec::new(),
        }
    }

    fn of_kitchen(self, kitchen: &Kitchen, pot: &str) -> Self {
        Self {
            stove: kitchen.stove(pot).copied(),
            kitchen: kitchen.name.clone(),
            rules: kitchen.habits.rules,
            ..self
        }
    }
}

impl Source {
    /// The story of a batch in the store, by its number; of a recording, by its file; or of what a
    /// replay printed, by a file that ends in .jsonl.
    pub fn tell(&self, what: &str) -> Result<Told, Failure> {
        let path = Path::new(what);
        match what.parse::<i64>() {
            Ok(number) if !path.exists() => self.stored(&self.store.library()?, number),
            _ if path.extension().is_some_and(|end| end == "jsonl") => self.replayed(path),
            _ => self.recorded(path),
        }
    }

    fn recorded(&self, recording: &Path) -> Result<Told, Failure> {
        if !recording.is_file() {
            return Err(Failure::usage(format!(
                "{}: is neither a recording that is there nor the number of a batch (see dekchi \
                 batches)",
                recording.display()
            )));
        }
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
        let (story, pot) = (Story::of(&setting), setting.pot.name.clone());
        let (mut actions, mut said) = (Vec::new(), Vec::new());
        replay::replay(recording, setting, |event, at, more| {
            actions.extend_from_slice(more);
            if let Event::Cook(says) = event {
                said.push((at, "the recording".to_owned(), says.clone()));
            }
        })?;
        let told = Told::new(label(recording), story, actions, self.until);
        let told = told.of_kitchen(&Kitchen::read(&kitchen)?, &pot);
        Ok(Told { said: self.in_time(said, &told.story), ..told })
    }

    /// What was said up to the time that is asked for.
    fn in_time(&self, mut said: Said, story: &Story) -> Said {
        let began = story.began.unwrap_or_default();
        let until_s = self.until.unwrap_or(f64::INFINITY);
        said.retain(|(at, _, _)| *at - began <= until_s);
        said
    }

    fn replayed(&self, path: &Path) -> Result<Told, Failure> {
        let name = path.display().to_string();
        let text = std::fs::read_to_string(path)
            .map_err(|error| Failure::usage(format!("{name}: cannot be read: {error}")))?;
        let (pot, actions) = printed::read(&text).map_err(|at| {
            Failure::usage(format!("{name}, line {at}: not a line that dekchi replay prints"))
        })?;
        let story = Story::new(&label(path), unseen(pot), None);
        Ok(Told::new(label(path), story, actions, self.until))
    }

    fn stored(&self, library: &Library, number: i64) -> Result<Told, Failure> {
        let Earlier { entry, plan, kitchen, pot, actions, words } = Earlier::read(library, number)?;
        let story = Story::meant(&plan, &entry.name, pot);
        let told = Told::new(number.to_string(), story, actions, self.until);
        let said = words.into_iter().map(|word| (word.at, word.by, word.says)).collect();
        Ok(Told {
            said: self.in_time(said, &told.story),
            clock: entry.began.set.then(|| batches::clock(entry.began)),
            number: Some(number),
            outcome: entry.outcome,
            ..told.of_kitchen(&kitchen, &plan.pot)
        })
    }
}

impl From<CannotTell> for Failure {
    fn from(why: CannotTell) -> Self {
        match why {
            CannotTell::Store(why) => why.into(),
            CannotTell::Files(why) => why.into(),
        }
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

/// Lines do not say how wide a pot is: 0.4 m is as good a guess as any, and no figure hangs on it.
fn unseen(name: String) -> Pot {
    Pot { name, base_diameter_m: 0.4, tare_kg: 0.0, lid_kg: 0.0, height_m: None }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_time_is_typed_as_a_cook_says_it() {
        for (text, s) in [("5400", 5400.0), ("90min", 5400.0), ("1h30", 5400.0), ("2h", 7200.0)] {
            assert_eq!(time_s(text), Ok(s), "{text}");
        }
        for text in ["", "soon", "-5", "2h-3", "1e9", "NaN"] {
            assert!(time_s(text).is_err(), "{text}");
        }
    }
}
