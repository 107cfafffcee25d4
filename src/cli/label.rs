//! `dekchi label`: labels for the boxes of a batch.

use std::path::PathBuf;

use clap::Args as ClapArgs;
use jiff::civil::{Date, DateTime, Time};
use jiff::tz::TimeZone;
use jiff::{Timestamp, ToSpan, ZonedDateTime};
use serde_json::json;

use crate::batch::allergen::Allergen;
use crate::batch::label::{Keeps, Label, Store as Where};
use crate::batch::measure::{Amount, Unit};
use crate::batch::recipe::{Item, Later, Load, Recipe};
use crate::config::batch;
use crate::config::kitchen::Kitchen;
use crate::daemon::like;
use crate::show::label::{self, Dated};
use crate::show::story::{Addition, Story};
use crate::watch::action::{Action, Happening};

use super::failure::Failure;
use super::output;
use super::plan::save;
use super::store::Store;

/// Print labels for a batch: what, made, use by, allergens
///
/// Prints the label's text; with --sheet it also writes labels to print and cut, eight to a page.
#[derive(Debug, ClapArgs)]
#[command(after_help = "Examples:
  dekchi label harbour-base.toml --kitchen kitchen.toml
  dekchi label 47 --frozen
  dekchi label harbour-base.toml --kitchen kitchen.toml --frozen --copies 24 --sheet labels.html
  dekchi label harbour-base.toml --kitchen kitchen.toml --made \"2026-11-25 14:30\" --lot M1107")]
pub struct Args {
    /// The batch file, TOML, or the number of a batch in the store
    #[arg(value_name = "BATCH|NUMBER")]
    batch: PathBuf,
    /// The kitchen file, TOML; without it the one that a batch of the store was cooked by, else
    /// /etc/dekchi/kitchen.toml
    #[arg(long, value_name = "FILE")]
    kitchen: Option<PathBuf>,
    /// The day it was made, with the time or without: 2026-11-25; without it the day that a batch of
    /// the store was begun, else now
    #[arg(long, value_parser = made)]
    made: Option<Made>,
    /// It is frozen
    #[arg(long)]
    frozen: bool,
    /// The lot of the spice mix, or whatever else is to be found again
    #[arg(long)]
    lot: Option<String>,
    /// How many labels on the sheet
    #[arg(long, default_value_t = 8, value_parser = clap::value_parser!(u16).range(1..=400))]
    copies: u16,
    /// Write labels to print, one HTML file
    #[arg(long, value_name = "FILE")]
    sheet: Option<PathBuf>,
    /// Print JSON
    #[arg(long)]
    json: bool,
    #[command(flatten)]
    store: Store,
}

/// When a batch was made.
#[derive(Debug, Clone, Copy)]
struct Made {
    day: Date,
    time: Option<Time>,
}

fn made(text: &str) -> Result<Made, String> {
    let day = || Some(Made { day: text.parse().ok()?, time: None });
    let time = || {
        let time: DateTime = text.trim().replacen(' ', "T", 1).parse().ok()?;
        Some(Made { day: time.date(), time: Some(time.time()) })
    };
    let has_time = text.trim().contains([' ', 'T']);
    let found = if has_time { time() } else { day() };
    found.ok_or_else(|| "say 2026-11-25 or \"2026-11-25 14:30\"".to_owned())
}

impl Made {
    fn now() -> Self {
        Self::at(&ZonedDateTime::now())
    }

    fn at(when: &ZonedDateTime) -> Self {
        Self { day: when.date(), time: Some(when.time()) }
    }
}

/// "Wed 25 Nov 2026".
fn written(day: Date) -> String {
    day.strftime("%a %-d %b %Y").to_string()
}

/// What was cooked, in which kitchen, and when where that is kept.
struct Cooked {
    kitchen: Kitchen,
    recipe: Recipe,
    made: Option<Made>,
}

/// From the store where a number is given that is no file, else from the file.
fn cooked(args: &Args) -> Result<Cooked, Failure> {
    let like = |number| like::total_solids(&args.store.library().ok()?, number);
    let number = args.batch.to_str().and_then(|text| text.parse::<i64>().ok());
    let Some(number) = number.filter(|_| !args.batch.exists()) else {
        let usual = || PathBuf::from("/etc/dekchi/kitchen.toml");
        let kitchen = Kitchen::read(&args.kitchen.clone().unwrap_or_else(usual))?;
        let recipe = batch::read_whole(&args.batch, &kitchen, &like)?.recipe;
        return Ok(Cooked { kitchen, recipe, made: None });
    };
    let library = args.store.library()?;
    let (entry, about) = (library.entry(number)?, library.about(number)?);
    let own = Kitchen::parse(&format!("the kitchen of batch {number}"), &about.kitchen_toml)?;
    let name = format!("batch {number}");
    let mut recipe = batch::parse_whole(&name, &about.batch_toml, &own, &like)?.recipe;
    let unplanned = unplanned(library.happenings(number)?, &recipe, &own);
    recipe.later.extend(unplanned);
    let kitchen = args.kitchen.as_deref().map_or(Ok(own), Kitchen::read)?;
    // A board that did not know the time knows no day either.
    let began = entry.began.set.then(|| Timestamp::from_millisecond(entry.began.utc_ms).ok());
    let made = began.flatten().map(|at| Made::at(&at.to_zoned_datetime(TimeZone::system())));
    Ok(Cooked { kitchen, recipe, made })
}

/// What went in beside the plan and is called by the name of an ingredient, as the cook put it right.
fn unplanned(happened: Vec<Happening>, recipe: &Recipe, kitchen: &Kitchen) -> Vec<Later> {
    let Some(pot) = kitchen.pot(&recipe.pot) else { return Vec::new() };
    let mut story = Story::new(&recipe.name, pot.clone(), None);
    happened.into_iter().for_each(|happening| story.take(&Action::Happened(happening)));
    let planned = |name: &str| recipe.later.iter().any(|l| l.name.eq_ignore_ascii_case(name));
    let later = |put_in: &Addition<'_>| {
        let name = put_in.name.filter(|name| put_in.kg > 0.0 && !planned(name))?.to_owned();
        let ingredient = kitchen.larder.find(&name)?.clone();
        let amount = Amount { number: put_in.kg, unit: Unit::Kilogram, piece: None };
        let item = Item { name: name.clone(), amount, ingredient, kg: put_in.kg };
        let load = Load::Measured(vec![item]);
        Some(Later { name, load, stage: None, at: 0.0, contains: Vec::new() })
    };
    story.additions().iter().filter_map(later).collect()
}

/// Makes the label and prints it.
pub fn run(args: &Args) -> Result<(), Failure> {
    let Cooked { kitchen, recipe, made: kept } = cooked(args)?;
    let habits = &kitchen.habits;
    let keeps = Keeps { chilled_days: habits.chilled_days, frozen_days: habits.frozen_days };
    let store = if args.frozen { Where::Frozen } else { Where::Chilled };
    let label = Label::new(&recipe, store, keeps, &habits.rules);
    let made = args.made.or(kept).unwrap_or_else(Made::now);
    let use_by = made.day.checked_add(label.keeps_days.days());
    let use_by = use_by.map_err(|_| Failure::usage("--made: that day is too far away"))?;
    let (made_words, use_by_words) = (written(made.day), written(use_by));
    let made_at = made.time.map(|time| time.strftime("%H:%M").to_string());
    let dated = Dated {
        label: &label,
        kitchen: kitchen.name.as_deref(),
        made: &made_words,
        made_at: made_at.as_deref(),
        use_by: &use_by_words,
        lot: args.lot.as_deref(),
    };
    if let Some(path) = &args.sheet {
        save(path, &label::sheet(&dated, usize::from(args.copies)))?;
    }
    let words = |allergens: &[Allergen]| allergens.iter().map(|a| a.words()).collect::<Vec<_>>();
    output::print(|out| match args.json {
        true => writeln!(
            out,
            "{}",
            json!({
                "kind": "label",
                "name": label.name,
                "made": made.day.to_string(),
                "use_by": use_by.to_string(),
                "why": label.why,
                "lot": args.lot,
                // Nothing known is not nothing.
                "contains": (label.all_told || !label.contains.is_empty()).then(|| words(&label.contains)),
                "allergens_known": label.all_told,
                "may_contain": words(&label.may_contain),
                "keep": label.keep,
            })
        ),
        false => write!(out, "{}", label::text(&dated)),
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::moment::Moment;
    use crate::watch::action::What;

    const KITCHEN: &str = "[site]\naltitude_m = 40\n[[pot]]\nname = \"big\"\n\
        base_diameter_m = 0.40\ntare_kg = 6.2\nlid_kg = 1.35\n";
    const BATCH: &str = "name = \"base\"\npot = \"big\"\nallergens = []\n[start]\ncontents_kg = 20\n\
        lid = \"off\"\ncomposition = { water = 0.9, solids = 0.1 }\n";

    /// What a label of the batch contains after something was put in, and was put right to be this.
    fn contains(kg: f64, name: Option<&str>) -> Vec<Allergen> {
        let kitchen = Kitchen::parse("kitchen.toml", KITCHEN).unwrap();
        let batch = batch::parse_whole("batch.toml", BATCH, &kitchen, &|_| None).unwrap();
        let mut recipe = batch.recipe;
        let happened = |s: i64, what| {
            let at = Moment::from_ms(1000 * s);
            Happening { at, seen: at, what }
        };
        let name = name.map(str::to_owned);
        let put_in = vec![
            happened(600, What::Added { kg: 0.4, sd_kg: 0.01, name: None }),
            happened(900, What::Corrected { kg, name, ago_s: 300.0 }),
        ];
        let more = unplanned(put_in, &recipe, &kitchen);
        recipe.later.extend(more);
        recipe.contains()
    }

    #[test]
    fn what_the_cook_says_went_in_beside_the_plan_is_on_the_label() {
        assert_eq!(contains(0.4, Some("double cream")), [Allergen::Milk]);
        assert_eq!(contains(0.4, Some("water")), []);
        assert_eq!(contains(0.0, None), [], "nothing went in after all");
    }
}
