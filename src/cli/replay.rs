//! `dekchi replay`: a recording through the judgement, as fast as it goes.

use std::fs::File;
use std::io::BufReader;
use std::path::{Path, PathBuf};

use clap::Args as ClapArgs;

use crate::config::batch::{self, Batch};
use crate::config::complaint::Complaints;
use crate::config::kitchen::Kitchen;
use crate::moment::Moment;
use crate::sense::recording::Recording;
use crate::show::lines;
use crate::watch::Watch;
use crate::watch::action::Action;
use crate::watch::event::Event;
use crate::watch::setting::Setting;

use super::failure::Failure;
use super::output;

/// Run a recording through the judgement and print what it would have said
///
/// Prints JSON Lines in order of time: a reading every so often, each event and each alert.
#[derive(Debug, ClapArgs)]
#[command(after_help = "Examples:
  dekchi replay tuesday.csv --kitchen config/kitchen.toml --batch config/tuesday-base.toml
  dekchi replay tuesday.csv --kitchen kitchen.toml --batch batch.toml --every 60 > tuesday.jsonl

The recording is CSV with a header: t_s, probe_c and load_kg, and if there are any base_c and
platform_c. An empty cell means that no reading was made.")]
pub struct Args {
    /// The recording, CSV
    recording: PathBuf,
    /// The kitchen file, TOML
    #[arg(long)]
    kitchen: PathBuf,
    /// The batch file, TOML
    #[arg(long)]
    batch: PathBuf,
    /// Seconds of the recording between readings
    #[arg(long, default_value_t = 10.0, value_name = "SECONDS", value_parser = seconds)]
    every: f64,
}

fn seconds(text: &str) -> Result<f64, String> {
    let seconds: f64 = text.parse().map_err(|_| "not a number of seconds".to_owned())?;
    let fair = (0.1..=86_400.0).contains(&seconds);
    fair.then_some(seconds).ok_or_else(|| "allowed: 0.1 to 86400 seconds".to_owned())
}

/// Replays the recording to standard output.
pub fn run(args: &Args) -> Result<(), Failure> {
    let setting = setting(&args.kitchen, &args.batch, args.every)?;
    let pot = setting.pot.name.clone();
    let mut said = Said::default();
    let outcome = replay(&args.recording, setting, |_, _, actions| said.note(&pot, actions));
    said.print()?;
    outcome
}

/// What the judgement is given before the recording's first row.
pub(super) fn setting(kitchen: &Path, batch: &Path, every_s: f64) -> Result<Setting, Failure> {
    read(kitchen, batch, every_s).map_err(|complaints| one_line(&complaints))
}

fn read(kitchen: &Path, batch: &Path, every_s: f64) -> Result<Setting, Complaints> {
    let kitchen = Kitchen::read(kitchen)?;
    let Batch { plan, learnt, .. } = batch::read_whole(batch, &kitchen, &|_| None)?;
    let pot = kitchen.pot(&plan.pot).cloned();
    // The batch's reader refuses a pot that is not there.
    let pot = pot.ok_or_else(|| Complaints(Vec::new()))?;
    let show_every_ms = (every_s * 1000.0).round() as i64;
    Ok(Setting {
        rules: kitchen.habits.rules,
        larder: kitchen.larder,
        learnt,
        show_every_ms,
        ..Setting::of(kitchen.site, pot, plan)
    })
}

/// A replay is used by programs, so a bad file is one line and exit code 2.
fn one_line(complaints: &Complaints) -> Failure {
    let first = complaints.0.first().map(ToString::to_string).unwrap_or_default();
    match complaints.0.len() {
        0 | 1 => Failure::usage(first),
        more => Failure::usage(format!("{first} (and {} more: see dekchi check)", more - 1)),
    }
}

/// What the judgement said.
#[derive(Default)]
struct Said(Vec<(Moment, String)>);

impl Said {
    fn note(&mut self, pot: &str, actions: &[Action]) {
        self.0.extend(actions.iter().map(|action| lines::line(pot, action)));
    }

    /// In the order of the moments, as an event is only known after it began.
    fn print(&mut self) -> Result<(), Failure> {
        self.0.sort_by_key(|(at, _)| *at);
        output::print(|out| self.0.iter().try_for_each(|(_, line)| writeln!(out, "{line}")))
    }
}

/// Runs a recording through the judgement; each event and what is said of it goes to `heard`.
pub(super) fn replay(
    path: &Path,
    setting: Setting,
    mut heard: impl FnMut(&Event, Moment, &[Action]),
) -> Result<(), Failure> {
    let name = path.display().to_string();
    let file = File::open(path)
        .map_err(|error| Failure::usage(format!("{name}: cannot be opened: {error}")))?;
    let mut watch = Watch::new(setting);
    let mut recording = Recording::open(&name, BufReader::with_capacity(1 << 16, file))?;
    while let Some(row) = recording.next_row()? {
        for event in row.events() {
            let actions = watch.step(event.clone(), row.at);
            heard(&event, row.at, &actions);
        }
    }
    if recording.cut_off() {
        output::say(&format!("{name}: the last row was cut off and is left out"));
    }
    Ok(())
}
