//! `dekchi score`: how right the judgement was on recordings whose truth is known.

use std::collections::BTreeMap;
use std::fs;
use std::io::{BufReader, Read};
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::time::Instant;

use clap::Args as ClapArgs;

use crate::config::batch;
use crate::config::kitchen::Kitchen;
use crate::moment::Moment;
use crate::score::baseline::{self, Outset};
use crate::score::table::{Row, Score};
use crate::score::tally::Tally;
use crate::score::truth::Truth;
use crate::score::{EVERY_MS, Said};
use crate::sense::recording::Recording;
use crate::watch::Watch;
use crate::watch::setting::Setting;

use super::failure::Failure;
use super::output;

/// Score recordings that have their truth beside them
///
/// Takes each NAME.csv in the folder that has NAME.truth.json, NAME.kitchen.toml and NAME.batch.toml
/// beside it (csv and json may be gzipped, .gz), replays it, and prints how right the judgement was,
/// beside two plain ways of forecasting and for each family (what stands before the first "-").
#[derive(Debug, ClapArgs)]
#[command(after_help = "Examples:
  dekchi score recordings
  dekchi score recordings --misses
  dekchi score recordings --each --json > score.json")]
pub struct Args {
    /// The folder with the recordings
    folder: PathBuf,
    /// Print JSON
    #[arg(long, conflicts_with = "markdown")]
    json: bool,
    /// Print a Markdown table
    #[arg(long)]
    markdown: bool,
    /// A column for each recording instead of for each family
    #[arg(long)]
    each: bool,
    /// Say on standard error what was missed and what was made up
    #[arg(long)]
    misses: bool,
}

/// Scores the folder and prints the figures.
pub fn run(args: &Args) -> Result<(), Failure> {
    let mut parts: BTreeMap<String, Row> = BTreeMap::new();
    let mut score = Score::default();
    for name in names(&args.folder)? {
        let row = score_one(&args.folder, &name)?;
        if args.misses {
            row.judgement.misses.iter().for_each(|miss| output::say(&format!("{name}: {miss}")));
        }
        score.all.add(&row);
        let family = name.split('-').next().unwrap_or(&name);
        let part = if args.each { name.as_str() } else { family };
        parts.entry(part.to_owned()).or_default().add(&row);
    }
    score.parts = parts.into_iter().collect();
    let text = if args.json {
        format!("{:#}\n", score.json())
    } else if args.markdown {
        score.markdown()
    } else {
        score.text()
    };
    output::print(|out| out.write_all(text.as_bytes()))
}

/// The recordings that have a truth beside them.
fn names(folder: &Path) -> Result<Vec<String>, Failure> {
    let refuse = |wrong: String| Failure::usage(format!("{}: {wrong}", folder.display()));
    let entries =
        fs::read_dir(folder).map_err(|error| refuse(format!("cannot be read: {error}")))?;
    let mut names: Vec<String> = entries
        .filter_map(|entry| entry.ok()?.file_name().into_string().ok())
        .filter_map(|file| {
            let file = file.strip_suffix(".gz").unwrap_or(&file);
            file.strip_suffix(".truth.json").map(str::to_owned)
        })
        .collect();
    names.sort();
    names.dedup();
    if names.is_empty() {
        return Err(refuse("no recording with a NAME.truth.json beside it is there".to_owned()));
    }
    Ok(names)
}

fn score_one(folder: &Path, name: &str) -> Result<Row, Failure> {
    let beside = |ending: &str| folder.join(format!("{name}.{ending}"));
    let kitchen = Kitchen::read(&beside("kitchen.toml"))?;
    let plan = batch::read(&beside("batch.toml"), &kitchen)?;
    let (truth_name, text) = contents(&beside("truth.json"))?;
    let truth = String::from_utf8(text)
        .map_err(|_| "is not UTF-8 text".to_owned())
        .and_then(|text| Truth::parse(&text))
        .map_err(|wrong| Failure::usage(format!("{truth_name}: {wrong}")))?;
    let (csv_name, csv) = contents(&beside("csv"))?;
    let pot = kitchen.pot(&plan.pot).cloned();
    let pot = pot.ok_or_else(|| Failure::config(format!("{name}: its pot is not there")))?;
    let outset = Outset::of(&pot, &plan);
    let setting = Setting {
        rules: kitchen.habits.rules,
        larder: kitchen.larder,
        show_every_ms: EVERY_MS,
        ..Setting::of(kitchen.site, pot, plan)
    };
    let loads = loads(&csv_name, &csv)?;
    let seconds = baseline::seconds(loads.into_iter());
    Ok(Row {
        judgement: judge(&csv_name, &csv, setting, &truth)?,
        straight_line: Tally::of(&truth, &baseline::straight_line(&seconds, &outset)),
        trend_filter: Tally::of(&truth, &baseline::trend_filter(&seconds, &outset)),
    })
}

/// Replays the recording, timed from its text to the last action.
#[expect(clippy::disallowed_methods, reason = "how fast the judgement is can only be timed")]
fn judge(name: &str, csv: &[u8], setting: Setting, truth: &Truth) -> Result<Tally, Failure> {
    let began = Instant::now();
    let mut watch = Watch::new(setting);
    let mut said = Said::default();
    let mut samples = 0;
    let mut recording = Recording::open(name, csv)?;
    while let Some(row) = recording.next_row()? {
        for event in row.events() {
            said.note(watch.step(event, row.at));
            samples += 1;
        }
    }
    let wall_s = began.elapsed().as_secs_f64();
    Ok(Tally { samples, wall_s, ..Tally::of(truth, &said) })
}

fn loads(name: &str, csv: &[u8]) -> Result<Vec<(Moment, f64)>, Failure> {
    let mut recording = Recording::open(name, csv)?;
    let mut loads = Vec::new();
    while let Some(row) = recording.next_row()? {
        loads.extend(row.load.and_then(Result::ok).map(|kg| (row.at, kg.get())));
    }
    Ok(loads)
}

/// The file's bytes and its name; gunzipped where only the gzipped one is there.
fn contents(path: &Path) -> Result<(String, Vec<u8>), Failure> {
    let name = path.display().to_string();
    let gzipped = PathBuf::from(format!("{name}.gz"));
    let bytes = if !path.exists() && gzipped.exists() { gunzip(&gzipped) } else { fs::read(path) };
    match bytes {
        Ok(bytes) => Ok((name, bytes)),
        Err(error) => Err(Failure::usage(format!("{name}: cannot be read: {error}"))),
    }
}

fn gunzip(path: &Path) -> std::io::Result<Vec<u8>> {
    let file = fs::File::open(path)?;
    let mut gzip = Command::new("gzip").arg("-dc").stdin(file).stdout(Stdio::piped()).spawn()?;
    let mut bytes = Vec::new();
    if let Some(out) = gzip.stdout.take() {
        BufReader::new(out).read_to_end(&mut bytes)?;
    }
    match gzip.wait()?.success() {
        true => Ok(bytes),
        false => Err(std::io::Error::other("gzip could not unpack it")),
    }
}
