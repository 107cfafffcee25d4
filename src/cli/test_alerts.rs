//! `dekchi test-alerts`: does an alert reach everybody by every way that is set up?

use std::io::{self, BufRead, BufReader, Read, Write};
use std::net::{IpAddr, Ipv4Addr, Ipv6Addr, SocketAddr, TcpStream};
use std::path::{Path, PathBuf};
use std::time::Duration;

use clap::Args as ClapArgs;
use serde_json::json;

use crate::config::kitchen::Kitchen;
use crate::daemon::board::{self, NotThere};
use crate::daemon::clock::Clock;
use crate::daemon::courier::Open;
use crate::daemon::halt::Halt;
use crate::daemon::telling::{self, Places};
use crate::daemon::ways;
use crate::keep::library::Library;
use crate::moment::Wall;
use crate::serve::Settings;
use crate::tell::channel::{Address, Word};
use crate::tell::lamp::{Lamp, Signal, Urgency};
use crate::tell::mqtt::trial;
use crate::tell::route::Person;
use crate::tell::terminal_lamp;
use crate::watch::urgency::Priority;

use super::failure::Failure;
use super::store::Store;
use super::{environment, output};

/// How long lamp and buzzer are tried.
const SHINE_MS: u64 = 3200;
/// How long the page may take to answer.
const PAGE_ANSWERS: Duration = Duration::from_secs(3);

/// Send one trial alert to each person by each way, and say what happened
///
/// Lamp and buzzer are tried too, where the kitchen file has them, and where they cannot be it is said
/// what they would show; the broker is told on the board's `trial` topic; of the page it is asked
/// whether it is served. Nothing is written to the store.
#[derive(Debug, ClapArgs)]
#[command(after_help = "Examples:
  dekchi test-alerts --kitchen /etc/dekchi/kitchen.toml
  dekchi test-alerts --kitchen config/kitchen.toml --person pass

Exit codes: 0 all arrived, 1 something did not, 2 no such person, 74 a secret cannot be read, 78 the
kitchen file or a secret is unfit, or nobody is named who would be told.")]
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
    let named = kitchen.alerts.as_ref().map_or(&[][..], |alerts| &alerts.people);
    known(args.person.as_deref(), named)?;
    let mut lines = Vec::new();
    let failed = at_the_stove(&kitchen, &mut lines)
        + broker(&kitchen, &places, &mut lines)?
        + people(args, &kitchen, &places, &mut lines)?;
    lines.extend(kitchen.page.as_ref().map(page));
    output::print(|out| lines.iter().try_for_each(|line| writeln!(out, "{line}")))?;
    match failed {
        0 if named.is_empty() => Err(Failure::config(nobody(&args.kitchen))),
        0 => Ok(()),
        1 => Err(Failure::failed("1 trial alert did not arrive")),
        _ => Err(Failure::failed(format!("{failed} trial alerts did not arrive"))),
    }
}

/// What is missing where nobody would be told away from the stove.
fn nobody(kitchen: &Path) -> String {
    format!(
        "{}: [[alerts.person]] is missing, so no alert is told away from the stove: name who is told \
         there, and by what way in [alerts.webhook], [alerts.mail] or [alerts.push]",
        kitchen.display()
    )
}

/// Whether this person is one of those.
fn known(person: Option<&str>, named: &[Person]) -> Result<(), Failure> {
    let Some(wanted) = person else { return Ok(()) };
    if named.iter().any(|person| person.name == wanted) {
        return Ok(());
    }
    let names: Vec<&str> = named.iter().map(|person| person.name.as_str()).collect();
    let who = if names.is_empty() { "nobody".to_owned() } else { names.join(", ") };
    Err(Failure::usage(format!("\"{wanted}\" is not told of alerts; the kitchen file names {who}")))
}

/// Tries lamp and buzzer where the kitchen file has them; how many could not be tried. On a machine
/// without their pins it is said what they would do.
fn at_the_stove(kitchen: &Kitchen, lines: &mut Vec<String>) -> u32 {
    let signal = Signal::of(Urgency::Now, false);
    match board::fittings(&kitchen.board) {
        Ok(fittings) => {
            lines.extend(fittings.lamp.map(|lamp| {
                shine(lamp, signal);
                "lamp and buzzer: shown for three seconds, red and sounding".to_owned()
            }));
            0
        }
        Err(NotThere(why)) => {
            let would = terminal_lamp::words(signal);
            lines.push(format!("lamp and buzzer: not tried ({why}); they would show: {would}"));
            1
        }
    }
}

/// How many words the broker did not take: one at most.
fn broker(kitchen: &Kitchen, places: &Places, lines: &mut Vec<String>) -> Result<u32, Failure> {
    let Some(broker) = &kitchen.broker else { return Ok(0) };
    let settings = telling::settings(broker, places, Vec::new())?;
    let clock = Clock::of_the_board();
    let word = word(&settings.board, clock.wall(clock.now()));
    let outcome = trial::send(&settings, serde_json::Value::Object(word.json).to_string());
    let (line, failed) = match outcome {
        Ok(answer) => (format!("broker: arrived ({answer})"), 0),
        Err(why) => (format!("broker: did not arrive: {why}"), 1),
    };
    lines.push(line);
    Ok(failed)
}

/// Whether the page is there to be looked at.
fn page(settings: &Settings) -> String {
    let mut at = settings.listen;
    if at.ip().is_unspecified() {
        at.set_ip(match at.ip() {
            IpAddr::V4(_) => Ipv4Addr::LOCALHOST.into(),
            IpAddr::V6(_) => Ipv6Addr::LOCALHOST.into(),
        });
    }
    let scheme = if settings.tls.is_some() { "https" } else { "http" };
    let outcome = if settings.tls.is_some() {
        TcpStream::connect_timeout(&at, PAGE_ANSWERS)
            .map(|_| "listens (a browser judges its certificate)".to_owned())
    } else {
        health(at)
    };
    match outcome {
        Ok(answer) => {
            format!("page at {scheme}://{at}: {answer}; alerts show there while they stand")
        }
        Err(why) => {
            format!("page at {scheme}://{at}: not served now: {why} (dekchi run serves it)")
        }
    }
}

/// What the page says of its health.
fn health(at: SocketAddr) -> io::Result<String> {
    let mut line = TcpStream::connect_timeout(&at, PAGE_ANSWERS)?;
    line.set_read_timeout(Some(PAGE_ANSWERS))?;
    write!(line, "GET /health HTTP/1.1\r\nhost: {at}\r\nconnection: close\r\n\r\n")?;
    let mut first = String::new();
    BufReader::new(line.take(1024)).read_line(&mut first)?;
    Ok(match first.split_whitespace().nth(1) {
        Some("200") => "answers, all is well".to_owned(),
        Some(status) => format!("answers {status}; see /health"),
        None => "says nothing that a page would".to_owned(),
    })
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

fn shine(mut lamp: Box<dyn Lamp + Send>, signal: Signal) {
    let pace = Halt::default();
    for ms in (0..SHINE_MS).step_by(50) {
        lamp.show(signal, ms);
        // Nobody tells this stop: it only paces the flashing.
        let _ = pace.wait(Duration::from_millis(50));
    }
    lamp.show(Signal::DARK, 0);
}
