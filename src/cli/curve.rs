//! `dekchi curve`: one batch drawn.

use std::path::{Path, PathBuf};

use clap::Args as ClapArgs;

use crate::show::curve::{self, Size, Style};

use super::failure::Failure;
use super::output;
use super::telling::Source;

/// Draw a batch: the pot, what was in it, and when it is ready
///
/// The pot stands in section at the left; its level runs on as the curve. What the file's name ends
/// in, .svg or .png, says how it is drawn.
#[derive(Debug, ClapArgs)]
#[command(after_help = "Examples:
  dekchi curve 12 -o tuesday.svg
  dekchi curve tuesday.csv --kitchen config/kitchen.toml --batch config/tuesday-base.toml -o tuesday.png
  dekchi curve practice/reduce-7.csv -o reduce.svg
  dekchi curve 12 -o phone.png --width 400
  dekchi curve 12 -o then.svg --until 2h30
  dekchi curve 12 -o wall.svg --width 1920 --dark

A recording's kitchen and batch files are found beside it: NAME.kitchen.toml and NAME.batch.toml for
NAME.csv, kitchen.toml and batch.toml for recording.csv.")]
pub struct Args {
    /// A recording (CSV), or the number of a batch in the store
    #[arg(value_name = "RECORDING|BATCH")]
    what: String,
    #[command(flatten)]
    source: Source,
    /// The drawing's file, .svg or .png
    #[arg(short, long, value_name = "FILE")]
    output: PathBuf,
    #[command(flatten)]
    look: Look,
}

/// How large and how light.
#[derive(Debug, ClapArgs)]
pub struct Look {
    /// Width in px; the height follows (upright under 600)
    #[arg(long, default_value_t = 1000, value_parser = clap::value_parser!(u32).range(320..=4000))]
    width: u32,
    /// Light on dark, for night kitchens
    #[arg(long)]
    dark: bool,
}

impl Look {
    #[must_use]
    pub fn style(&self) -> Style {
        Style { dark: self.dark, ..Style::new(Size::wide(self.width)) }
    }
}

/// How a drawing is written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Format {
    Svg,
    Png,
}

impl Format {
    /// By what the file's name ends in; `others` names what else the command writes.
    pub fn of(path: &Path, others: &str) -> Result<Self, Failure> {
        match path.extension().and_then(|end| end.to_str()).map(str::to_lowercase).as_deref() {
            Some("svg") => Ok(Self::Svg),
            Some("png") => Ok(Self::Png),
            _ => Err(Failure::usage(format!(
                "{}: the name of a drawing ends in .svg{others} or .png",
                path.display()
            ))),
        }
    }
}

/// Draws the batch and says where.
pub fn run(args: &Args) -> Result<(), Failure> {
    let format = Format::of(&args.output, "")?;
    let told = args.source.tell(&args.what)?;
    let style = Style { clock: told.clock, ..args.look.style() };
    let bytes = match format {
        Format::Svg => curve::svg(&told.story, &style).map(String::into_bytes),
        Format::Png => curve::png(&told.story, &style),
    };
    write(&args.output, &bytes.map_err(|unpainted| Failure::failed(unpainted.to_string()))?)
}

/// Writes a file whole and says so.
pub fn write(path: &Path, bytes: &[u8]) -> Result<(), Failure> {
    std::fs::write(path, bytes)
        .map_err(|error| Failure::io(format!("{} cannot be written: {error}", path.display())))?;
    output::say(&format!("written: {}", path.display()));
    Ok(())
}
