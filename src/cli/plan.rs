//! `dekchi plan`: a batch scaled to a pot, weighed out, timed.

use std::fs;
use std::path::{Path, PathBuf};

use clap::Args as ClapArgs;

use crate::batch::measure::{Amount, Kind};
use crate::batch::outlook::{self, Size};
use crate::batch::pot::Pot;
use crate::batch::recipe::Recipe;
use crate::config::batch::{self, Batch, fit};
use crate::config::kitchen::Kitchen;
use crate::daemon::like;
use crate::show::plan::{self, Planned, page};
use crate::show::recipe_file;

use super::failure::Failure;
use super::output;
use super::store::Store;

/// Scale a batch to a pot and say what to weigh out, how long it takes and what it makes
///
/// Without --contents or --as-written it is scaled so that the pot is as full as it may be.
#[derive(Debug, ClapArgs)]
#[command(after_help = "Examples:
  dekchi plan config/harbour-base.toml --kitchen config/kitchen.toml
  dekchi plan harbour-base.toml --kitchen kitchen.toml --pot big --contents 30L
  dekchi plan harbour-base.toml --kitchen kitchen.toml --as-written --sheet plan.html
  dekchi plan harbour-base.toml --kitchen kitchen.toml --contents 30L --write today.toml")]
pub struct Args {
    /// The batch file, TOML
    batch: PathBuf,
    /// The kitchen file, TOML
    #[arg(long, default_value = "/etc/dekchi/kitchen.toml")]
    kitchen: PathBuf,
    /// The pot; without it the one that the batch names
    #[arg(long)]
    pot: Option<String>,
    /// So much in the pot at its fullest, hot: 30L, 12 pints
    #[arg(long, value_parser = contents, allow_hyphen_values = true, conflicts_with = "as_written")]
    contents: Option<f64>,
    /// Do not scale it
    #[arg(long)]
    as_written: bool,
    /// Print JSON
    #[arg(long)]
    json: bool,
    /// Write a sheet to print, one HTML file
    #[arg(long, value_name = "FILE")]
    sheet: Option<PathBuf>,
    /// Write the scaled batch as a batch file, to cook by
    #[arg(long, value_name = "FILE")]
    write: Option<PathBuf>,
    #[command(flatten)]
    store: Store,
}

fn contents(text: &str) -> Result<f64, String> {
    let amount = Amount::parse(text).map_err(|why| format!("it {why}; say for example 30L"))?;
    match amount.unit.kind() {
        Kind::Volume(ml) => Ok(amount.number * ml / 1000.0),
        _ => Err("say it as a volume, for example 30L".to_owned()),
    }
}

/// Reads the batch, scales it and says what it comes to.
pub fn run(args: &Args) -> Result<(), Failure> {
    let kitchen = Kitchen::read(&args.kitchen)?;
    let like = |number| like::total_solids(&args.store.library().ok()?, number);
    let size = match args.contents {
        Some(litres) => Size::Litres(litres),
        None if args.as_written => Size::AsWritten,
        None => Size::Full,
    };
    let meant = (args.pot.as_deref(), size);
    let Batch { recipe, .. } = batch::read_to_cook(&args.batch, &kitchen, &like, meant)?;
    let pot = pot(args, &kitchen, &recipe)?;
    let recipe = fit::moved(recipe, &fit::To { kitchen: &kitchen, pot, size, like: &like });
    let stove = kitchen.stove(&pot.name);
    let (boil_c, latent_j_kg) = kitchen
        .site
        .boil()
        .ok_or_else(|| Failure::config("the site's height or pressure is outside the handbook"))?;
    let read_target = |recipe: &Recipe| fit::target(recipe, pot, &like);
    let place = outlook::Kitchen { pot, stove, boil_c, latent_j_kg };
    let outlook = outlook::outlook(&recipe, size, &place, &read_target)
        .map_err(|no| Failure::failed(format!("{}: {no}", args.batch.display())))?;
    if args.as_written {
        fit::words(&recipe, &kitchen, pot)
            .iter()
            .for_each(|words| output::say(&format!("beware: {words}")));
    }
    let planned = Planned {
        outlook: &outlook,
        kitchen: kitchen.name.as_deref(),
        pot,
        stove,
        rules: &kitchen.habits.rules,
        boil_c,
    };
    write(args, &planned)
}

fn pot<'k>(args: &Args, kitchen: &'k Kitchen, recipe: &Recipe) -> Result<&'k Pot, Failure> {
    let name = args.pot.as_deref().unwrap_or(&recipe.pot);
    kitchen.pot(name).ok_or_else(|| {
        let pots = kitchen.pot_names();
        Failure::usage(format!("--pot: \"{name}\" is no pot of the kitchen file; allowed: {pots}"))
    })
}

fn write(args: &Args, planned: &Planned<'_>) -> Result<(), Failure> {
    if let Some(path) = &args.sheet {
        save(path, &page::page(planned))?;
    }
    if let Some(path) = &args.write {
        save(path, &recipe_file::toml(&planned.outlook.recipe))?;
        output::say(&format!(
            "cook by it: dekchi check {} {}",
            args.kitchen.display(),
            path.display()
        ));
    }
    output::print(|out| match args.json {
        true => writeln!(out, "{}", plan::json::json(planned)),
        false => write!(out, "{}", plan::text(planned)),
    })
}

/// Writes a file and says where it is.
pub fn save(path: &Path, text: &str) -> Result<(), Failure> {
    fs::write(path, text)
        .map_err(|error| Failure::io(format!("{} cannot be written: {error}", path.display())))?;
    output::say(&format!("written: {}", path.display()));
    Ok(())
}
