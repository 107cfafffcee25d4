//! `dekchi practise`: virtual batches with the truth beside them.

use std::fs;
use std::path::{Path, PathBuf};

use clap::Args as ClapArgs;

use crate::virtual_pot::recording::{self, Texts};
use crate::virtual_pot::{Kind, VirtualPot};

use super::failure::Failure;
use super::output;

/// Cook virtual batches and write them as recordings with the truth beside them
///
/// Each batch is four files: NAME.csv, NAME.kitchen.toml and NAME.batch.toml as replay reads them, and
/// NAME.truth.json, what truly happened. The same kind and seed give the same files.
#[derive(Debug, ClapArgs)]
#[command(after_help = "Examples:
  dekchi practise --kind reduce --seed 7 -o practice
  dekchi practise --kind neglect --seed 1 --count 20 --load-hz 1 -o practice
  dekchi replay practice/reduce-7.csv --kitchen practice/reduce-7.kitchen.toml --batch practice/reduce-7.batch.toml")]
pub struct Args {
    /// What happens: reduce, whole, tended, neglect or day
    #[arg(long, value_parser = kind)]
    kind: Kind,
    /// Which batch of its kind
    #[arg(long, default_value_t = 1)]
    seed: u64,
    /// How many, with the seeds that follow
    #[arg(long, default_value_t = 1)]
    count: u64,
    /// How often the load is read; without it 10 Hz, in one batch of eight 1 Hz
    #[arg(long, value_parser = clap::value_parser!(u8).range(1..=80))]
    load_hz: Option<u8>,
    /// No sensor ever fails
    #[arg(long)]
    no_faults: bool,
    /// Where the files go; made if it is not there
    #[arg(short, long, value_name = "DIR")]
    output: PathBuf,
}

fn kind(name: &str) -> Result<Kind, String> {
    Kind::by_name(name).ok_or_else(|| {
        let known = Kind::ALL.map(Kind::name).join(", ");
        format!("no such kind of batch; there are {known}")
    })
}

/// Writes the batches one after the other and names their files.
pub fn run(args: &Args) -> Result<(), Failure> {
    fs::create_dir_all(&args.output).map_err(|e| trouble(&args.output, &e))?;
    for seed in (0..args.count).map(|n| args.seed.wrapping_add(n)) {
        let pot = pot(args, seed);
        let name = pot.plan.name.clone();
        write(&args.output, &name, &recording::write(pot))?;
        let csv = args.output.join(format!("{name}.csv"));
        output::print(|out| writeln!(out, "{}", csv.display()))?;
    }
    Ok(())
}

fn pot(args: &Args, seed: u64) -> VirtualPot {
    let mut pot = VirtualPot::new(args.kind, seed);
    if let Some(hz) = args.load_hz {
        pot = pot.with_load_hz(hz);
    }
    if args.no_faults { pot.without_faults() } else { pot }
}

fn write(dir: &Path, name: &str, texts: &Texts) -> Result<(), Failure> {
    let files = [
        ("csv", &texts.csv),
        ("kitchen.toml", &texts.kitchen),
        ("batch.toml", &texts.batch),
        ("truth.json", &texts.truth),
    ];
    for (ending, text) in files {
        let path = dir.join(format!("{name}.{ending}"));
        fs::write(&path, text).map_err(|e| trouble(&path, &e))?;
    }
    Ok(())
}

fn trouble(path: &Path, error: &std::io::Error) -> Failure {
    Failure::io(format!("{}: {error}", path.display()))
}
