//! `dekchi sheet`: the record of one batch, to print.

use std::path::PathBuf;

use clap::Args as ClapArgs;

use crate::show::sheet::{self, Safety, Sheet};
use crate::watch::action::{Action, Notice};

use super::curve::write;
use super::failure::Failure;
use super::telling::Source;

/// Write the record of a batch as one HTML file, for the wall or for an inspector
///
/// The curve, what happened and when, temperatures, holding and cooling against the kitchen's rules,
/// what the cook said, alerts and sensor faults. It needs nothing else and prints on A4.
#[derive(Debug, ClapArgs)]
#[command(after_help = "Examples:
  dekchi sheet 12 -o batch-12.html
  dekchi sheet practice/whole-7.csv -o record.html")]
pub struct Args {
    /// A recording (CSV), or the number of a batch in the store
    #[arg(value_name = "RECORDING|BATCH")]
    what: String,
    #[command(flatten)]
    source: Source,
    /// The file, .html
    #[arg(short, long, value_name = "FILE")]
    output: PathBuf,
}

/// Writes the record and says where.
pub fn run(args: &Args) -> Result<(), Failure> {
    let told = args.source.tell(&args.what)?;
    let readings: Vec<_> = told
        .actions
        .iter()
        .filter_map(|action| match action {
            Action::Show(snapshot) => Some((snapshot.at, snapshot.pot_c)),
            _ => None,
        })
        .collect();
    let notices: Vec<Notice> = told
        .actions
        .iter()
        .filter_map(|action| match action {
            Action::Tell(notice) => Some(notice.clone()),
            _ => None,
        })
        .collect();
    let safety = Safety::of(told.rules, &told.story, &readings);
    let html = sheet::html(&Sheet {
        kitchen: told.kitchen.as_deref(),
        number: told.number,
        outcome: told.outcome.as_deref(),
        story: &told.story,
        clock: told.clock,
        said: &told.said,
        notices: &notices,
        safety: &safety,
    });
    let html = html.map_err(|unpainted| Failure::failed(unpainted.to_string()))?;
    write(&args.output, html.as_bytes())
}
