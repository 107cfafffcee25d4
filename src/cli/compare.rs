//! `dekchi compare`: batches laid over each other.

use std::path::{Path, PathBuf};

use clap::Args as ClapArgs;

use crate::show::comparison::{self, Align, Comparison, Entry, Look, MOST};
use crate::show::paint::Type;

use super::curve::write;
use super::failure::Failure;
use super::output;
use super::telling::{Source, Told};

/// Lay batches over each other and say what differed most
///
/// Without -o the figures are printed. What the file's name ends in says what is written: a drawing
/// (.svg, .png), the figures (.csv) or figures and curves (.json).
#[derive(Debug, ClapArgs)]
#[command(after_help = "Examples:
  dekchi compare 41 44 47
  dekchi compare 41 44 47 --align last-addition -o reductions.svg
  dekchi compare practice/reduce-7.csv practice/reduce-8.csv -o two.png
  dekchi compare 41 44 -o figures.csv

A recording's kitchen and batch files are found beside it: NAME.kitchen.toml and NAME.batch.toml for
NAME.csv, kitchen.toml and batch.toml for recording.csv. What dekchi replay printed (.jsonl) needs
none.")]
pub struct Args {
    /// Numbers of batches in the store, recordings (.csv), or what replay printed (.jsonl)
    #[arg(value_name = "BATCH|RECORDING", required = true, num_args = 1..)]
    batches: Vec<String>,
    #[command(flatten)]
    source: Source,
    /// The moment at which they are laid over each other
    #[arg(long, default_value = "start", value_name = "start|boil|last-addition", value_parser = align)]
    align: Align,
    /// The file to write, .svg, .png, .csv or .json
    #[arg(short, long, value_name = "FILE")]
    output: Option<PathBuf>,
    /// Print figures and curves as JSON
    #[arg(long, conflicts_with = "output")]
    json: bool,
    /// Width in px; the height follows
    #[arg(long, default_value_t = 1000, value_parser = clap::value_parser!(u32).range(320..=4000))]
    width: u32,
    /// Light on dark, for night kitchens
    #[arg(long)]
    dark: bool,
}

fn align(name: &str) -> Result<Align, String> {
    Align::ALL.into_iter().find(|align| align.name() == name).ok_or_else(|| {
        let names = Align::ALL.map(Align::name).join(", ");
        format!("batches are aligned at {names}")
    })
}

/// Compares, and prints or writes.
pub fn run(args: &Args) -> Result<(), Failure> {
    if args.batches.len() > MOST {
        let given = args.batches.len();
        return Err(Failure::usage(format!(
            "{given} batches are too many to tell apart: name {MOST} or fewer"
        )));
    }
    let told: Result<Vec<Told>, Failure> =
        args.batches.iter().map(|what| args.source.tell(what)).collect();
    let entry = |Told { label, story, stove, .. }| Entry { label, story, stove };
    let comparison = Comparison::of(told?.into_iter().map(entry).collect(), args.align);
    match &args.output {
        Some(path) => {
            write(path, &bytes(args, path, &comparison)?)?;
            comparison.sentences().iter().for_each(|sentence| output::say(sentence));
            Ok(())
        }
        None if args.json => output::print(|out| writeln!(out, "{}", comparison.json())),
        None => output::print(|out| write!(out, "{}", comparison.text())),
    }
}

fn bytes(args: &Args, path: &Path, comparison: &Comparison) -> Result<Vec<u8>, Failure> {
    let density = if args.width > 1200 { 1 } else { 2 };
    let look =
        Look { width: args.width, density, dark: args.dark, set_in: Type::Embedded, bare: false };
    let end = path.extension().and_then(|end| end.to_str()).map(str::to_lowercase);
    let drawn = match end.as_deref() {
        Some("csv") => return Ok(comparison.csv().into_bytes()),
        Some("json") => return Ok(comparison.json().into_bytes()),
        Some("svg") => comparison::svg(comparison, look).map(String::into_bytes),
        Some("png") => comparison::png(comparison, look),
        _ => {
            return Err(Failure::usage(format!(
                "{}: the name of a comparison ends in .svg, .png, .csv or .json",
                path.display()
            )));
        }
    };
    drawn.map_err(|unpainted| Failure::failed(unpainted.to_string()))
}
