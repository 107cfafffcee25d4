//! `dekchi batches`: what was cooked, from the store.

use std::fs::File;
use std::io::{self, BufWriter, Write};
use std::path::{Path, PathBuf};

use clap::{Args as ClapArgs, Subcommand};
use jiff::Timestamp;
use jiff::tz::TimeZone;
use serde::Serialize;

use crate::config::batch::learnt;
use crate::keep::About;
use crate::keep::library::{Entry, Library};
use crate::moment::{Moment, Wall};
use crate::show::clock::{Clock, length};
use crate::show::escape::printable;
use crate::show::story::{Spans, may_have_caught};
use crate::show::{lines, recording, words};
use crate::watch::action::{Action, AlarmState};
use crate::watch::setting::Learnt;

use super::failure::Failure;
use super::output;
use super::store::Store;

/// List the batches that were kept, show one, or take one out as a recording
#[derive(Debug, ClapArgs)]
#[command(after_help = "Examples:
  dekchi batches
  dekchi batches show 12
  dekchi batches export 12 --into tuesday
  dekchi replay tuesday/recording.csv --kitchen tuesday/kitchen.toml --batch tuesday/batch.toml
  dekchi batches export 12 --recording tuesday.csv
  dekchi batches back-up /media/stick/dekchi.sqlite")]
pub struct Args {
    #[command(flatten)]
    store: Store,
    /// Print JSON Lines
    #[arg(long, global = true)]
    json: bool,
    #[command(subcommand)]
    what: Option<What>,
}

#[derive(Debug, Subcommand)]
enum What {
    /// Say how one batch went
    Show {
        /// Its number in the list
        number: i64,
    },
    /// Write a batch's samples as a recording, with the kitchen and batch files it ran on
    Export(ExportArgs),
    /// Copy the whole store, compacted, to a new file; the daemon may be running
    BackUp {
        /// The new file
        file: PathBuf,
    },
}

#[derive(Debug, ClapArgs)]
struct ExportArgs {
    /// Its number in the list
    number: i64,
    /// Write recording.csv, kitchen.toml and batch.toml into this directory; made if not there
    #[arg(long, value_name = "DIR", required_unless_present = "recording")]
    into: Option<PathBuf>,
    /// Write the recording to this file
    #[arg(long, value_name = "FILE", conflicts_with = "into")]
    recording: Option<PathBuf>,
    /// Write the kitchen file to this file
    #[arg(long, value_name = "FILE", conflicts_with = "into")]
    kitchen: Option<PathBuf>,
    /// Write the batch file to this file
    #[arg(long, value_name = "FILE", conflicts_with = "into")]
    batch: Option<PathBuf>,
}

/// Reads the store and prints or writes what was asked for.
pub fn run(args: &Args) -> Result<(), Failure> {
    let library = args.store.library()?;
    match &args.what {
        None if args.json => list_json(&library),
        None => list(&library),
        Some(What::Show { number }) if args.json => show_json(&library, *number),
        Some(What::Show { number }) => show(&library, *number),
        Some(What::Export(export)) => run_export(&library, export),
        Some(What::BackUp { file }) => {
            library.back_up(file)?;
            output::say(&format!("copied to {}", file.display()));
            Ok(())
        }
    }
}

#[derive(Serialize)]
struct EntryLine<'a> {
    kind: &'static str,
    number: i64,
    name: &'a str,
    pot: &'a str,
    began_utc_ms: i64,
    clock_set: bool,
    lasted_s: f64,
    outcome: Option<&'a str>,
}

fn entry_json(entry: &Entry) -> String {
    let line = EntryLine {
        kind: "batch",
        number: entry.number,
        name: &entry.name,
        pot: &entry.pot,
        began_utc_ms: entry.began.utc_ms,
        clock_set: entry.began.set,
        lasted_s: entry.lasted_s,
        outcome: entry.outcome.as_deref(),
    };
    // Plain fields cannot fail to be written.
    serde_json::to_string(&line).unwrap_or_default()
}

fn list_json(library: &Library) -> Result<(), Failure> {
    let entries = library.list()?;
    output::print(|out| entries.iter().try_for_each(|entry| writeln!(out, "{}", entry_json(entry))))
}

fn list(library: &Library) -> Result<(), Failure> {
    let entries = library.list()?;
    let head = ["no", "began", "lasted", "pot", "outcome", "name"].map(str::to_owned);
    let rows: Vec<_> = std::iter::once(head).chain(entries.iter().map(cells)).collect();
    if entries.is_empty() {
        output::say("no batch has been kept yet");
        return Ok(());
    }
    let width = |column: usize| rows.iter().map(|row| row[column].chars().count()).max();
    let widths: Vec<usize> = (0..6).map(|column| width(column).unwrap_or(0)).collect();
    output::print(|out| {
        rows.iter().try_for_each(|row| {
            let line: String =
                row.iter().zip(&widths).map(|(cell, width)| format!("{cell:width$}  ")).collect();
            writeln!(out, "{}", line.trim_end())
        })
    })
}

fn cells(entry: &Entry) -> [String; 6] {
    let outcome = entry.outcome.as_deref().unwrap_or("not ended");
    [
        entry.number.to_string(),
        when(entry.began),
        length(entry.lasted_s),
        printable(&entry.pot),
        outcome.to_owned(),
        printable(&entry.name),
    ]
}

fn show_json(library: &Library, number: i64) -> Result<(), Failure> {
    let entry = library.entry(number)?;
    let actions = actions(library, number)?;
    output::print(|out| {
        writeln!(out, "{}", entry_json(&entry))?;
        actions.iter().try_for_each(|action| writeln!(out, "{}", lines::line(&entry.pot, action).1))
    })
}

/// Snapshots, happenings and alerts in order of time.
fn actions(library: &Library, number: i64) -> Result<Vec<Action>, Failure> {
    let shown = library.snapshots(number)?.into_iter().map(|s| Action::Show(Box::new(s)));
    let happened = library.happenings(number)?.into_iter().map(Action::Happened);
    let told = library.notices(number)?.into_iter().map(Action::Tell);
    let mut actions: Vec<_> = shown.chain(happened).chain(told).collect();
    actions.sort_by_key(|action| match action {
        Action::Show(snapshot) => snapshot.at,
        Action::Happened(happening) => happening.at,
        Action::Tell(notice) => notice.at,
    });
    Ok(actions)
}

fn show(library: &Library, number: i64) -> Result<(), Failure> {
    let entry = library.entry(number)?;
    let story = story(library, number)?;
    let last = library.snapshots(number)?.pop();
    let clock = entry.began.set.then(|| clock(entry.began));
    let time = |at: Moment| match clock {
        Some(clock) => clock.hh_mm(at),
        None => length(at.seconds()),
    };
    let [no, began, lasted, pot, outcome, name] = cells(&entry);
    output::print(|out| {
        writeln!(out, "Batch {no}: {name}, in pot {pot}")?;
        writeln!(out, "began {began}, lasted {lasted}, {outcome}\n")?;
        for (at, line) in &story {
            writeln!(out, "{:>8}  {}", time(*at), printable(line))?;
        }
        if let Some(kg) = last.and_then(|last| last.contents_kg) {
            writeln!(out, "\n{} in the pot at the end", words::kilograms(kg))?;
        }
        Ok(())
    })?;
    output::say(&format!("\nIts samples: dekchi batches export {no} --into batch-{no}"));
    Ok(())
}

/// What happened, what was told and what the cook said, in order of time.
fn story(library: &Library, number: i64) -> Result<Vec<(Moment, String)>, Failure> {
    let mut story = Vec::new();
    for happening in library.happenings(number)? {
        story.push((happening.at, words::happened(&happening.what)));
    }
    for notice in library.notices(number)? {
        let (alert, state) = (notice.alarm.name(), notice.state.name());
        let why = if notice.state == AlarmState::Raised { notice.why } else { String::new() };
        let colon = if why.is_empty() { "" } else { ": " };
        story.push((notice.at, format!("alert {alert} {state}{colon}{why}")));
    }
    for word in library.words(number)? {
        story.push((word.at, format!("said by {}: {}", word.by, words::said(&word.says))));
    }
    let mut caught = Spans::default();
    for now in library.snapshots(number)? {
        caught.take(now.at, may_have_caught(&now));
    }
    let began = caught.seconds().filter_map(|(from, _)| Moment::from_seconds(from));
    story.extend(began.map(|at| (at, "The bottom may have caught".to_owned())));
    story.sort_by_key(|(at, _)| *at);
    Ok(story)
}

fn run_export(library: &Library, args: &ExportArgs) -> Result<(), Failure> {
    let about = library.about(args.number)?;
    let samples = library.samples(args.number)?;
    let (recording_csv, kitchen, batch) = match &args.into {
        Some(directory) => {
            std::fs::create_dir_all(directory).map_err(|error| trouble(directory, &error))?;
            let file = |name| Some(directory.join(name));
            (file("recording.csv"), file("kitchen.toml"), file("batch.toml"))
        }
        None => (args.recording.clone(), args.kitchen.clone(), args.batch.clone()),
    };
    write(recording_csv.as_deref(), |out| recording::write(&samples.events, out))?;
    write(kitchen.as_deref(), |out| out.write_all(about.kitchen_toml.as_bytes()))?;
    write(batch.as_deref(), |out| out.write_all(batch_file(&about).as_bytes()))?;
    if samples.damaged > 0 {
        let blocks = samples.damaged;
        output::say(&format!("{blocks} damaged blocks of samples are left out, as gaps"));
    }
    if let (Some(r), Some(k), Some(b)) = (&recording_csv, &kitchen, &batch) {
        let (r, k, b) = (r.display(), k.display(), b.display());
        output::say(&format!("replay it: dekchi replay {r} --kitchen {k} --batch {b}"));
    }
    Ok(())
}

/// The batch file as it was given, and what was known of the pot.
fn batch_file(about: &About) -> String {
    let mut text = about.batch_toml.clone();
    let has_it = text.parse::<toml::Table>().is_ok_and(|table| table.contains_key("learnt"));
    if !has_it && about.learnt != Learnt::default() {
        if !text.ends_with('\n') {
            text.push('\n');
        }
        text.push_str(&learnt::write(about.learnt));
    }
    text
}

fn write(
    path: Option<&Path>,
    fill: impl FnOnce(&mut dyn Write) -> io::Result<()>,
) -> Result<(), Failure> {
    let Some(path) = path else { return Ok(()) };
    let written = File::create(path).and_then(|file| {
        let mut out = BufWriter::new(file);
        fill(&mut out)?;
        out.flush()
    });
    written.map_err(|error| trouble(path, &error))
}

fn trouble(path: &Path, error: &io::Error) -> Failure {
    Failure::io(format!("{} cannot be written: {error}", path.display()))
}

/// The clock on the wall of whoever asks, for a batch that began then.
pub(super) fn clock(began: Wall) -> Clock {
    let offset = Timestamp::from_millisecond(began.utc_ms)
        .map_or(0, |then| TimeZone::system().to_offset(then).seconds());
    Clock { utc_ms_at_zero: began.utc_ms, offset_s: offset }
}

pub(super) fn when(began: Wall) -> String {
    if !began.set {
        return "time not known".to_owned();
    }
    let clock = clock(began);
    format!("{} {}", clock.date(Moment::default()), clock.hh_mm(Moment::default()))
}
