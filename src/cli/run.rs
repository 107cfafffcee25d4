//! `dekchi run`: the pots of a kitchen are watched.

mod stations;

use std::path::{Path, PathBuf};

use clap::Args as ClapArgs;
use tokio::signal::unix::{SignalKind, signal};

use crate::config::file;
use crate::config::kitchen::Kitchen;
use crate::daemon::begin::{BatchFile, Grounds, Opening};
use crate::daemon::board;
use crate::daemon::clock::{Clock, boot_id};
use crate::daemon::page::{self, Page};
use crate::daemon::pocket::Push;
use crate::daemon::pot::Rhythm;
use crate::daemon::sensors::Deaf;
use crate::daemon::telling::{self, Places, Unusable};
use crate::daemon::ways::{self, Closed};
use crate::daemon::{self, Alerting, Setup, Telling};
use crate::keep::Start;
use crate::keep::keeper::{Keeper, Report, Room};
use crate::keep::library::Library;
use crate::serve::CannotServe;

use super::failure::Failure;
use super::store::Store;
use super::{environment, log};

/// The judgement shows a pot this often, ms of its time.
pub(super) const SHOW_EVERY_MS: i64 = 1000;

/// Watch the pots of a kitchen
///
/// A batch file begins in the pot that it names. After a restart the same batch goes on; a pot without
/// a given batch goes on with the one that it had, or begins the one that the kitchen file names.
#[derive(Debug, ClapArgs)]
#[command(after_help = "Examples:
  dekchi run --kitchen config/kitchen.toml --batch config/tuesday-base.toml
  dekchi run --kitchen /etc/dekchi/kitchen.toml
  dekchi run --kitchen trial.toml --batch trial-batch.toml --speed 60

A pot's sensors, its usual batch file and the broker stand in the kitchen file. When the usual batch
file changes, its batch begins. dekchi advises: never leave a flame
unattended because of it.")]
pub struct Args {
    /// The kitchen file, TOML
    #[arg(long)]
    kitchen: PathBuf,
    /// A batch file, TOML; may be given once for each pot
    #[arg(long)]
    batch: Vec<PathBuf>,
    /// Begin anew even where the same batch was not finished
    #[arg(long)]
    fresh: bool,
    /// Run the pot's time this many times as fast, for recordings in place of sensors
    #[arg(long, default_value_t = 1.0, value_parser = speed)]
    speed: f64,
    /// How much is logged: error, warn, info, debug or trace
    #[arg(long, default_value = "info", value_parser = ["error", "warn", "info", "debug", "trace"])]
    log: String,
    #[command(flatten)]
    store: Store,
}

/// How many times as fast as life a recording or the virtual pot may run.
pub fn speed(text: &str) -> Result<f64, String> {
    let speed: f64 = text.parse().map_err(|_| "not a number".to_owned())?;
    let fair = (0.1..=100_000.0).contains(&speed);
    fair.then_some(speed).ok_or_else(|| "allowed: 0.1 to 100000".to_owned())
}

/// Watches until it is told to stop.
pub fn run(args: &Args) -> Result<(), Failure> {
    log::begin(&args.log, "warn");
    let text = file::text(&args.kitchen)?;
    let kitchen = Kitchen::parse(&args.kitchen.display().to_string(), &text)?;
    let given = batches(&args.batch, &kitchen)?;
    let directory = args.kitchen.parent().unwrap_or(Path::new("")).to_owned();
    let places = Places { kitchen: directory.clone(), credentials: environment::credentials() };
    let telling = telling(&kitchen, &places)?;
    let rhythm = rhythm(&kitchen);
    stations::can_hear(&kitchen, &given, &directory)?;
    let clock =
        if args.speed == 1.0 { Clock::of_the_board() } else { Clock::fast(args.speed, None) };
    let grounds = Grounds { kitchen, kitchen_text: text, show_every_ms: SHOW_EVERY_MS };
    // What is missing ends it before anything is written: systemd may try again for days.
    let hung = stations::Hung::open(&grounds.kitchen, &given, &directory)?;
    let fittings = board::fittings(&grounds.kitchen.board)?;
    let (keeper, report) = open_store(&args.store.to_write(), &clock)?;
    let began = clock.now();
    let library = Library::open(&args.store.to_write()).ok();
    let (alerting, push) = alerting(&grounds.kitchen, &places, library.as_ref())?;
    let boot = boot_id();
    let opening = Opening {
        grounds: &grounds,
        keeper: &keeper,
        library: library.as_ref(),
        unfinished: &report.unfinished,
        now: began,
        wall: clock.wall(began),
        boot: &boot,
        fresh: args.fresh,
    };
    let page = page(&grounds.kitchen, &args.store.to_write(), &clock, push)?;
    // This begins the batches: a page that cannot be has ended it before.
    let (stations, common) = stations::open(&opening, hung, given, &directory)?;
    let setup = Setup {
        clock,
        boot,
        began,
        keeper,
        grounds,
        stations,
        common,
        telling,
        alerting,
        door: Some(args.store.door_to_open()),
        page,
        rhythm,
        observer: None,
        fittings,
        ends_when_over: false,
    };
    let ended = daemon::run(setup, told_to_stop()).map_err(|e| Failure::failed(no_room(&e)))?;
    match ended.store.trouble {
        Some(trouble) => Err(Failure::io(format!("the store was not written: {trouble}"))),
        None => Ok(()),
    }
}

pub(super) fn no_room(error: &std::io::Error) -> String {
    format!("this machine cannot run dekchi: {error}")
}

fn batches(paths: &[PathBuf], kitchen: &Kitchen) -> Result<Vec<BatchFile>, Failure> {
    let mut files: Vec<BatchFile> = Vec::new();
    for path in paths {
        let file = BatchFile::read(path, kitchen)?;
        let pot = &file.plan.pot;
        if files.iter().any(|other| other.plan.pot == *pot) {
            let path = path.display();
            return Err(Failure::usage(format!("{path}: the pot \"{pot}\" has a batch already")));
        }
        files.push(file);
    }
    Ok(files)
}

pub(super) fn open_store(path: &Path, clock: &Clock) -> Result<(Keeper, Report), Failure> {
    let at = clock.now();
    let start = Start { boot: boot_id(), at, wall: clock.wall(at) };
    let opened = Keeper::open(path, start, Room::default());
    let (keeper, report) = opened.map_err(|why| Failure::config(why.to_string()))?;
    if let Some(copy) = &report.copied_before_migration {
        tracing::warn!("the store was brought up to date; as it was before: {}", copy.display());
    }
    Ok((keeper, report))
}

fn alerting(
    kitchen: &Kitchen,
    places: &Places,
    library: Option<&Library>,
) -> Result<(Alerting, Option<Push>), Failure> {
    let board = telling::board_name(kitchen.broker.as_ref());
    let Some(alerts) = &kitchen.alerts else {
        return Ok((Alerting { board, ..Alerting::default() }, None));
    };
    let browsers = library.and_then(|library| library.browsers().ok()).unwrap_or_default();
    let ways = ways::open(alerts, places, &board, browsers)?;
    let push = Push::of(&ways, &alerts.people);
    let alerting = Alerting {
        people: alerts.people.clone(),
        channels: ways.channels,
        heartbeat_s: alerts.webhook.as_ref().and_then(|webhook| webhook.heartbeat_s),
        board,
    };
    Ok((alerting, push))
}

fn telling(kitchen: &Kitchen, places: &Places) -> Result<Option<Telling>, Failure> {
    let Some(broker) = &kitchen.broker else { return Ok(None) };
    let pots = kitchen.pots.iter().map(|pot| pot.name.clone()).collect();
    let settings = telling::settings(broker, places, pots)?;
    Ok(Some(Telling { settings, larder: kitchen.larder.clone() }))
}

fn page(
    kitchen: &Kitchen,
    store: &Path,
    clock: &Clock,
    push: Option<Push>,
) -> Result<Option<Page>, Failure> {
    let Some(settings) = kitchen.page.clone() else { return Ok(None) };
    let page = page::open(settings, kitchen, store, clock, push)?;
    tracing::info!("the page is at {}", page.url());
    Ok(Some(page))
}

fn rhythm(kitchen: &Kitchen) -> Rhythm {
    let broker = kitchen.broker.as_ref();
    Rhythm {
        reading_s: broker.map_or(5.0, |broker| broker.reading_every_s),
        curve_s: broker.map_or(60.0, |broker| broker.curve_every_s),
    }
}

/// Ready when somebody asks this process to end.
pub async fn told_to_stop() {
    tokio::select! {
        () = told(SignalKind::terminate()) => {}
        () = told(SignalKind::interrupt()) => {}
    }
}

async fn told(kind: SignalKind) {
    if let Ok(mut signal) = signal(kind) {
        signal.recv().await;
    } else {
        std::future::pending::<()>().await;
    }
}

impl From<Deaf> for Failure {
    fn from(deaf: Deaf) -> Self {
        match deaf {
            Deaf::Recording(bad) => bad.into(),
            Deaf::Device(words) => Self::unavailable(words),
        }
    }
}

impl From<CannotServe> for Failure {
    fn from(why: CannotServe) -> Self {
        match why {
            CannotServe::Listen { .. } => Self::unavailable(why.to_string()),
            CannotServe::Tls { .. } => Self::config(why.to_string()),
            CannotServe::Thread(_) => Self::failed(why.to_string()),
        }
    }
}

impl From<Closed> for Failure {
    fn from(why: Closed) -> Self {
        match why {
            Closed::Unreadable { .. } => Self::io(why.to_string()),
            _ => Self::config(why.to_string()),
        }
    }
}

impl From<Unusable> for Failure {
    fn from(why: Unusable) -> Self {
        match why {
            Unusable::Unreadable { .. } => Self::io(why.to_string()),
            Unusable::NoLogin { .. } | Unusable::Tls(_) => Self::config(why.to_string()),
        }
    }
}
