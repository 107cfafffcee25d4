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
    /// Nothing happens that the plan does not foresee: no turned flame, water, ladle or lid
    #[arg(long)]
    no_mishaps: bool,
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
    if args.no_faults {
        pot = pot.without_faults();
    }
    if args.no_mishaps { pot.without_mishaps() } else { pot }
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::config::batch;
    use crate::config::kitchen::Kitchen;
    use crate::score::truth::Truth;
    use crate::sense::recording::Recording;

    /// Rows of a recording that hold any reading, failed or not.
    fn rows(csv: &str) -> Vec<crate::sense::recording::Row> {
        let mut recording = Recording::open("practice", csv.as_bytes()).unwrap();
        std::iter::from_fn(|| recording.next_row().unwrap()).collect()
    }

    #[test]
    fn what_is_practised_can_be_replayed_and_scored() {
        for kind in Kind::ALL {
            let pot = VirtualPot::new(kind, 3).with_load_hz(1);
            let (site, plan) = (pot.site, pot.plan.clone());
            let texts = recording::write(pot);
            let kitchen = Kitchen::parse("kitchen", &texts.kitchen).unwrap();
            let read = batch::parse("batch", &texts.batch, &kitchen).unwrap();
            assert_eq!((kitchen.site, &read.name, &read.pot), (site, &plan.name, &plan.pot));
            assert!((read.start.contents_kg - plan.start.contents_kg).abs() < 1e-9);
            let names = |of: &crate::batch::plan::Plan| {
                of.additions.iter().map(|a| a.name.clone()).collect::<Vec<_>>()
            };
            assert_eq!(names(&read), names(&plan));
            assert_eq!(read.target.is_some(), plan.target.is_some());
            let truth = Truth::parse(&texts.truth).unwrap();
            let last = rows(&texts.csv).last().unwrap().at.seconds();
            assert!(truth.secs <= last + 600.0 && last <= truth.secs + 1.0);
            assert!(truth.start_kg().is_some_and(|kg| (kg - plan.start.contents_kg).abs() < 1e-4));
        }
    }

    #[test]
    fn a_recording_says_what_the_live_pot_says() {
        let live = VirtualPot::new(Kind::Whole, 3).with_load_hz(1).without_faults();
        let texts = recording::write(live.clone());
        let said: usize = rows(&texts.csv).iter().map(|row| row.events().count()).sum();
        assert_eq!(said, live.count());
    }
}
