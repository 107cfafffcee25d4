//! `dekchi test-alerts`: does an alert reach everybody by every way that is set up?

use std::path::{Path, PathBuf};
use std::time::Duration;

use clap::Args as ClapArgs;
use serde_json::json;

use crate::config::kitchen::Kitchen;
use crate::daemon::board;
use crate::daemon::clock::Clock;
use crate::daemon::courier::Open;
use crate::daemon::halt::Halt;
use crate::daemon::telling::{self, Places};
use crate::daemon::ways;
use crate::keep::library::Library;
use crate::moment::Wall;
use crate::tell::channel::{Address, Word};
use crate::tell::lamp::{Lamp, Signal, Urgency};
use crate::tell::route::Person;
use crate::watch::urgency::Priority;

use super::failure::Failure;
use super::store::Store;
use super::{environment, output};

/// How long lamp and buzzer are tried.
const SHINE_MS: u64 = 3200;

/// Send one trial alert to each person by each way, and say what happened
///
/// Lamp and buzzer are tried too, where the kitchen file has them. A broker is told by `dekchi run`:
/// its status topic says whether that works. Nothing is written to the store.
#[derive(Debug, ClapArgs)]
#[command(after_help = "Examples:
  dekchi test-alerts --kitchen /etc/dekchi/kitchen.toml
  dekchi test-alerts --kitchen config/kitchen.toml --person pass

Exit codes: 0 all arrived, 1 something did not, 74 or 78 a secret or the kitchen file is unfit.")]
pub struct Args {
    /// The kitchen file, TOML
    #[arg(long)]
    kitchen: PathBuf,
    /// Only this person
    #[arg(long)]
    person: Option<String>,
    #[command(flatten)]
    store: Store,
}

/// Tries every way once; the first failure does not keep the others from being tried.
pub fn run(args: &Args) -> Result<(), Failure> {
    let kitchen = Kitchen::read(&args.kitchen)?;
    let directory = args.kitchen.parent().unwrap_or(Path::new("")).to_owned();
    let places = Places { kitchen: directory, credentials: environment::credentials() };
    let mut lines = Vec::new();
    if let Some(lamp) = board::fittings(&kitchen.board)?.lamp {
        shine(lamp);
        lines.push("lamp and buzzer: shown for three seconds, red and sounding".to_owned());
    }
    let failed = people(args, &kitchen, &places, &mut lines)?;
    if lines.is_empty() {
        let words = "nobody is to be told: the kitchen file has no lamp and no [[alerts.person]]";
        return Err(Failure::config(words));
    }
    output::print(|out| lines.iter().try_for_each(|line| writeln!(out, "{line}")))?;
    match failed {
        0 => Ok(()),
        1 => Err(Failure::failed("1 trial alert did not arrive")),
        _ => Err(Failure::failed(format!("{failed} trial alerts did not arrive"))),
    }
}

/// How many words did not arrive.
fn people(
    args: &Args,
    kitchen: &Kitchen,
    places: &Places,
    lines: &mut Vec<String>,
) -> Result<u32, Failure> {
    let Some(alerts) = &kitchen.alerts else { return Ok(0) };
    let board = telling::board_name(kitchen.broker.as_ref());
    let browsers = Library::open(&args.store.to_read()).and_then(|library| library.browsers());
    let mut ways = ways::open(alerts, places, &board, browsers.unwrap_or_default())?;
    let clock = Clock::of_the_board();
    let wall = clock.wall(clock.now());
    let wanted = |person: &&Person| args.person.as_ref().is_none_or(|name| *name == person.name);
    let mut failed = 0;
    for person in alerts.people.iter().filter(wanted) {
        for way in &person.ways {
            let Some(open) = ways.channels.iter_mut().find(|(open, _)| open == way) else {
                continue;
            };
            let (line, arrived) = trial(open, person, &board, wall);
            lines.push(line);
            failed += u32::from(!arrived);
        }
    }
    Ok(failed)
}

fn trial((way, channel): &mut Open, person: &Person, board: &str, wall: Wall) -> (String, bool) {
    let to = Address { name: person.name.clone(), mail: person.mail.clone() };
    let outcome = channel.send(&to, &word(board, wall), wall.utc_ms.div_euclid(1000));
    let (name, way) = (&person.name, way.name());
    match outcome {
        Ok(answer) => (format!("{name} by {way}: arrived ({answer})"), true),
        Err(why) => (format!("{name} by {way}: did not arrive: {why}"), false),
    }
}

fn word(board: &str, wall: Wall) -> Word {
    let json = json!({
        "kind": "trial", "board": board, "utc_ms": wall.utc_ms, "clock_set": wall.set,
    });
    Word {
        key: format!("{board} trial {}", wall.utc_ms),
        priority: Priority::Low,
        act_within_s: 300.0,
        about: format!("{board} trial"),
        title: format!("Trial alert of the board {board}: nothing is to be done"),
        text: "This is a trial. Where you read it, alerts reach you by this way.\n".to_owned(),
        json: json.as_object().cloned().unwrap_or_default(),
    }
}

fn shine(mut lamp: Box<dyn Lamp + Send>) {
    let (signal, pace) = (Signal::of(Urgency::Now, false), Halt::default());
    for ms in (0..SHINE_MS).step_by(50) {
        lamp.show(signal, ms);
        // Nobody tells this stop: it only paces the flashing.
        let _ = pace.wait(Duration::from_millis(50));
    }
    lamp.show(Signal::DARK, 0);
}
