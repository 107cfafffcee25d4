//! `dekchi demo`: the virtual pot of the Harbour Lane Kitchen, watched for real.
//!
//! The kitchen, the pot and its cook are invented; everything from the samples on is what `dekchi run`
//! does. The same seed gives the same batch at any speed: its times are the virtual pot's own.

use std::fs;
use std::io::{self, IsTerminal};
use std::net::{Ipv4Addr, SocketAddr};
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, PoisonError};
use std::time::Duration;

use clap::Args as ClapArgs;

use crate::config::batch;
use crate::config::kitchen::Kitchen;
use crate::daemon::begin::{BatchFile, Grounds, Opening};
use crate::daemon::calibrations::Calibrations;
use crate::daemon::clock::{Clock, boot_id};
use crate::daemon::page::{self, NoCode, Page};
use crate::daemon::pot::{PotLife, Rhythm};
use crate::daemon::source::{Script, Source};
use crate::daemon::stove::Fittings;
use crate::daemon::{self, Alerting, Setup, StationSetup, Telling};
use crate::keep::library::Library;
use crate::keep::phones::{self, Phones};
use crate::moment::Moment;
use crate::serve;
use crate::serve::broker::LoopbackBroker;
use crate::show::clock::Clock as WallClock;
use crate::show::clock::length;
use crate::show::curve::{self, Size, Style};
use crate::show::idle::Begins;
use crate::show::words;
use crate::tell::lamp::Lamp;
use crate::tell::mqtt::Settings;
use crate::tell::terminal_lamp::TerminalLamp;
use crate::virtual_pot::{Kind, Sample, VirtualPot, recording};
use crate::watch::event::Event;

use super::failure::Failure;
use super::progress::{Progress, TO_THE_LEFT_AND_CLEAR};
use super::{environment, log, output, run};

/// When the virtual kitchen's day begins: Tuesday, 3 March 2026, 08:00 UTC.
const MORNING_UTC_MS: i64 = 1_772_524_800_000;
const BOARD: &str = "harbour-lane";
const POT: &str = "big";

/// Cook a whole virtual batch in the Harbour Lane Kitchen and watch it
///
/// A simulated pot, cook and scale stand in for real ones; judgement, store, MQTT and curve are those
/// of a real kitchen.
#[derive(Debug, ClapArgs)]
#[command(after_help = "Examples:
  dekchi demo
  dekchi demo --speed 600 --until 2h
  dekchi demo --seed 7 --keep harbour-lane
  dekchi demo --mqtt-port 18883    (and: mosquitto_sub -V 5 -p 18883 -t 'dekchi/#' -v)")]
pub struct Args {
    /// How many times as fast as life
    #[arg(long, default_value_t = 60.0, value_parser = run::speed)]
    speed: f64,
    /// Stop after this much of the pot's time, such as 2h, 90m or 30s
    #[arg(long, value_name = "TIME", value_parser = time)]
    until: Option<Duration>,
    /// Which batch: the same seed gives the same batch
    #[arg(long, default_value_t = 1)]
    seed: u64,
    /// Keep store, curve, kitchen and batch file in this directory; made if it is not there
    #[arg(long, value_name = "DIR")]
    keep: Option<PathBuf>,
    /// The port of the demo's MQTT broker on this machine; 0 takes a free one
    #[arg(long, default_value_t = 0, value_name = "PORT")]
    mqtt_port: u16,
    /// The port of the demo's page on this machine; 0 takes a free one
    #[arg(long, default_value_t = 0, value_name = "PORT")]
    page_port: u16,
}

fn time(text: &str) -> Result<Duration, String> {
    let wrong = || "allowed: a time such as 2h, 90m or 30s".to_owned();
    let unit = text.chars().next_back().filter(|unit| "hms".contains(*unit)).ok_or_else(wrong)?;
    let seconds = match unit {
        'h' => 3600.0,
        'm' => 60.0,
        _ => 1.0,
    };
    let number: f64 = text[..text.len() - 1].trim().parse().map_err(|_| wrong())?;
    let fair = (1.0..=7.0 * 86_400.0).contains(&(number * seconds));
    fair.then(|| Duration::from_secs_f64(number * seconds)).ok_or_else(wrong)
}

/// Cooks until the batch is over, until the time is up, or until it is interrupted.
pub fn run(args: &Args) -> Result<(), Failure> {
    log::begin("error", "off");
    let place = place(args)?;
    let pot = VirtualPot::new(Kind::Whole, args.seed);
    let texts = Texts::of(&pot);
    texts.write(&place)?;
    let broker = LoopbackBroker::start(args.mqtt_port).map_err(|error| {
        Failure::unavailable(format!("port {} cannot be listened to: {error}", args.mqtt_port))
    })?;
    greet(args, broker.port);
    let lives = cook(args, &place, pot, &texts, broker.port)?;
    drop(broker);
    let life = lives.first().ok_or_else(|| Failure::failed("the virtual pot was not watched"))?;
    draw(&place, life)?;
    farewell(&place, life)
}

fn place(args: &Args) -> Result<PathBuf, Failure> {
    let usual = || std::env::temp_dir().join(format!("dekchi-demo-{}", std::process::id()));
    let place = args.keep.clone().unwrap_or_else(usual);
    fs::create_dir_all(&place).map_err(|error| io_failure(&place, &error))?;
    Ok(place)
}

fn io_failure(path: &Path, error: &std::io::Error) -> Failure {
    Failure::io(format!("{}: {error}", path.display()))
}

/// The virtual kitchen's files, as a cook would have written them.
struct Texts {
    kitchen: String,
    batch: String,
}

impl Texts {
    fn of(pot: &VirtualPot) -> Self {
        let named = |key: &str, name: &str| format!("{key} = \"{name}\"");
        let site = "[site]\nname = \"Harbour Lane Kitchen\"";
        let (batch, stove) = (pot.plan.name.as_str(), pot.pot.name.as_str());
        Self {
            kitchen: recording::kitchen(pot)
                .replacen(&named("name", stove), &named("name", POT), 1)
                .replacen("[site]", site, 1),
            batch: recording::batch(pot, pot.plan.start.lid_on)
                .replacen(&named("name", batch), &named("name", "Base gravy"), 1)
                .replacen(&named("pot", stove), &named("pot", POT), 1),
        }
    }

    fn write(&self, place: &Path) -> Result<(), Failure> {
        for (name, text) in [("kitchen.toml", &self.kitchen), ("batch.toml", &self.batch)] {
            let path = place.join(name);
            fs::write(&path, text).map_err(|error| io_failure(&path, &error))?;
        }
        Ok(())
    }
}

fn greet(args: &Args, port: u16) {
    output::say(&format!(
        "The Harbour Lane Kitchen (invented), Tuesday 08:00. Batch {}, {} times as fast as life.\n\
         Its broker listens on 127.0.0.1:{port} (MQTT 5), topics dekchi/{BOARD}/…\n",
        args.seed, args.speed
    ));
}

/// The daemon's real path, from the virtual samples on.
fn cook(
    args: &Args,
    place: &Path,
    pot: VirtualPot,
    texts: &Texts,
    port: u16,
) -> Result<Vec<PotLife>, Failure> {
    let kitchen = Kitchen::parse("kitchen.toml", &texts.kitchen)?;
    let plan = batch::parse("batch.toml", &texts.batch, &kitchen)?;
    let file = BatchFile { plan, text: texts.batch.clone() };
    let grounds =
        Grounds { kitchen, kitchen_text: texts.kitchen.clone(), show_every_ms: run::SHOW_EVERY_MS };
    let kitchen = &grounds.kitchen;
    let clock = Clock::fast(args.speed, Some(MORNING_UTC_MS));
    let (keeper, report) = run::open_store(&store(place), &clock)?;
    let began = clock.now();
    let opening = Opening {
        grounds: &grounds,
        keeper: &keeper,
        library: None,
        unfinished: &report.unfinished,
        now: began,
        wall: clock.wall(began),
        boot: "",
        fresh: true,
    };
    let nothing = || Failure::failed("the virtual kitchen has no pot");
    let stove = kitchen.pots.first().cloned().ok_or_else(nothing)?;
    let begun = opening.begin(&stove, Some(file), None);
    let source = Source::Script { script: script(pot, args.until), silent: vec![] };
    let sources = vec![("virtual pot".to_owned(), source)];
    let stations = vec![StationSetup {
        pot: stove,
        begun,
        usual: None,
        begins: Begins::Given,
        sources,
        calibrations: Calibrations::default(),
    }];
    let page = page(args, place, kitchen, &clock)?;
    let telling = Telling { settings: settings(port, kitchen), larder: kitchen.larder.clone() };
    let progress = Arc::new(Mutex::new(Progress::new(wall_clock(), args.speed)));
    let shown = Arc::clone(&progress);
    let setup = Setup {
        clock,
        boot: boot_id(),
        began,
        keeper,
        grounds,
        stations,
        common: vec![],
        telling: Some(telling),
        alerting: Alerting::default(),
        door: Some(place.join("say.sock")),
        page: Some(page),
        rhythm: Rhythm { reading_s: 5.0, curve_s: 60.0 },
        observer: Some(Box::new(move |actions, story, _| {
            shown.lock().unwrap_or_else(PoisonError::into_inner).note(actions, story);
        })),
        fittings: Fittings { lamp: Some(lamp()), button: None },
        ends_when_over: true,
    };
    let ended = daemon::run(setup, run::told_to_stop());
    progress.lock().unwrap_or_else(PoisonError::into_inner).end();
    let ended = ended.map_err(|error| Failure::failed(run::no_room(&error)))?;
    match ended.store.trouble {
        Some(trouble) => Err(Failure::io(format!("the batch was not kept: {trouble}"))),
        None => Ok(ended.pots),
    }
}

/// The page for this machine alone: whoever is on it may read, and speaks by the code that is said.
fn page(args: &Args, place: &Path, kitchen: &Kitchen, clock: &Clock) -> Result<Page, Failure> {
    let listen = SocketAddr::from((Ipv4Addr::LOCALHOST, args.page_port));
    let settings = serve::Settings { listen, names: vec![], open: true, tls: None };
    let page = page::open(settings, kitchen, &store(place), clock, None)?;
    let url = page.url();
    let phones = Phones::open(&phones::beside(&store(place))).map_err(NoCode::from);
    let code = phones.and_then(|phones| page::offer(&phones))?;
    output::say(&format!(
        "Its page: {url}  (to speak to the pot, within ten minutes: {url}pair?code={code})\n"
    ));
    Ok(page)
}

/// A lamp in words, each line over the one that progress writes over.
fn lamp() -> Box<dyn Lamp + Send> {
    let terminal = io::stderr().is_terminal();
    let before = if terminal { TO_THE_LEFT_AND_CLEAR } else { "" };
    Box::new(TerminalLamp::new(io::stderr(), before, terminal && environment::may_colour()))
}

fn store(place: &Path) -> PathBuf {
    place.join("dekchi.sqlite")
}

const fn wall_clock() -> WallClock {
    WallClock { utc_ms_at_zero: MORNING_UTC_MS, offset_s: 0 }
}

fn script(pot: VirtualPot, until: Option<Duration>) -> Script {
    let end = until.map_or(i64::MAX, |until| until.as_millis() as i64);
    let samples = pot.take_while(move |(at, _)| at.ms() <= end);
    Box::new(samples.map(|(at, sample)| Ok((at, event(sample)))))
}

/// What a reading of the virtual pot is to the watch.
#[must_use]
pub const fn event(sample: Sample) -> Event {
    match sample {
        Sample::Load(reading) => Event::Load(reading),
        Sample::Probe(reading) => Event::Probe(reading),
        Sample::Base(reading) => Event::Base(reading),
        Sample::Platform(reading) => Event::Platform(reading),
    }
}

fn settings(port: u16, kitchen: &Kitchen) -> Settings {
    Settings {
        host: "127.0.0.1".to_owned(),
        port,
        client_id: format!("dekchi-{BOARD}"),
        board: BOARD.to_owned(),
        pots: kitchen.pots.iter().map(|pot| pot.name.clone()).collect(),
        version: env!("CARGO_PKG_VERSION"),
        login: None,
        tls: None,
        homie: None,
        commands: true,
    }
}

fn draw(place: &Path, life: &PotLife) -> Result<(), Failure> {
    let style = Style { clock: Some(wall_clock()), ..Style::new(Size::PAGE) };
    let unpainted = |why: crate::show::paint::Unpainted| Failure::failed(why.to_string());
    let svg = curve::svg(&life.story, &style).map_err(unpainted)?;
    let png = curve::png(&life.story, &style).map_err(unpainted)?;
    for (name, bytes) in [("curve.svg", svg.as_bytes()), ("curve.png", &png[..])] {
        let path = place.join(name);
        fs::write(&path, bytes).map_err(|error| io_failure(&path, &error))?;
    }
    Ok(())
}

fn farewell(place: &Path, life: &PotLife) -> Result<(), Failure> {
    let newest = Library::open(&store(place))?.list()?.first().map_or(1, |batch| batch.number);
    let lasted = length(life.last - Moment::default());
    let said = words::of(&life.story, Some(wall_clock()));
    let place = place.display();
    output::print(|out| {
        writeln!(out, "After {lasted} of cooking: {}.", said.first)?;
        if let Some(last) = &said.last {
            writeln!(out, "The last that happened: {last}.")?;
        }
        writeln!(out, "The curve: {place}/curve.svg and curve.png")?;
        writeln!(out, "The batch: number {newest} in {place}/dekchi.sqlite")?;
        writeln!(out, "\nTry next:")?;
        writeln!(out, "  dekchi batches show {newest} --store {place}/dekchi.sqlite")?;
        writeln!(
            out,
            "  dekchi batches export {newest} --into tuesday --store {place}/dekchi.sqlite"
        )?;
        writeln!(out, "  dekchi demo --seed 2 --speed 600")?;
        writeln!(out, "  dekchi check config/kitchen.toml config/tuesday-base.toml")
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::watch::action::{Happening, Notice};

    #[test]
    fn a_time_is_a_number_with_its_unit() {
        assert_eq!(time("2h"), Ok(Duration::from_secs(7200)));
        assert_eq!(time("1.5m"), Ok(Duration::from_secs(90)));
        for bad in ["2", "h", "-1h", "nanh", "1e99h", "2 days", "2µ", ""] {
            assert!(time(bad).is_err(), "{bad}");
        }
    }

    struct Cooked {
        svg: Vec<u8>,
        png: Vec<u8>,
        happenings: Vec<Happening>,
        notices: Vec<Notice>,
    }

    fn cooked(speed: f64, seed: u64) -> Cooked {
        let directory = tempfile::tempdir().unwrap();
        let place = directory.path().to_owned();
        let until = Some(Duration::from_secs(2400));
        run(&Args { speed, until, seed, keep: Some(place.clone()), mqtt_port: 0, page_port: 0 })
            .unwrap();
        let library = Library::open(&store(&place)).unwrap();
        Cooked {
            svg: fs::read(place.join("curve.svg")).unwrap(),
            png: fs::read(place.join("curve.png")).unwrap(),
            happenings: library.happenings(1).unwrap(),
            notices: library.notices(1).unwrap(),
        }
    }

    #[test]
    fn the_same_seed_gives_the_same_batch_at_any_speed() {
        let (slow, fast) = (cooked(600.0, 3), cooked(100_000.0, 3));
        assert!(!fast.happenings.is_empty(), "nothing happened in forty minutes");
        assert_eq!(slow.happenings, fast.happenings);
        assert_eq!(slow.notices, fast.notices);
        assert!(slow.svg == fast.svg, "the curves differ");
        assert!(slow.png == fast.png, "the pictures differ");
    }

    #[test]
    fn another_seed_gives_another_batch() {
        assert!(cooked(100_000.0, 4).svg != cooked(100_000.0, 5).svg);
    }
}
