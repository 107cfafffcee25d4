//! `dekchi sensors`: what every sensor says now, for the person with the screwdriver.

mod meter;

use std::path::PathBuf;
use std::sync::mpsc::{Receiver, RecvTimeoutError, SyncSender, sync_channel};
use std::sync::{Arc, Mutex, PoisonError};
use std::thread;
use std::time::Duration;

use clap::Args as ClapArgs;

use crate::config::board::{Board, OneWire, PlatformTemperature, Sensors};
use crate::config::kitchen::Kitchen;
use crate::daemon::board::{NotThere, Opener};
use crate::daemon::clock::Clock;
use crate::moment::Moment;
use crate::reading::Reading;
use crate::sense::calibration::ScaleCalibration;
use crate::sense::calibration::book::{PROBE_DAYS, ProbeEntry, ScaleEntry, age_warning};
use crate::sense::ds18b20::RomId;
use crate::sense::onewire_setup::Setup;

use super::calibrate::today;
use super::failure::Failure;
use super::output;
use meter::{Meter, Number};

/// Show what every sensor says now: raw, calibrated, noise, rate, age and faults
#[derive(Debug, ClapArgs)]
#[command(after_help = "Examples:
  dekchi sensors --kitchen /etc/dekchi/kitchen.toml
  dekchi sensors --kitchen /etc/dekchi/kitchen.toml --seconds 60
  dekchi sensors --kitchen /etc/dekchi/kitchen.toml --json --once

Stop the service first (systemctl stop dekchi): a converter answers one reader.")]
pub struct Args {
    /// The kitchen file, TOML
    #[arg(long)]
    kitchen: PathBuf,
    /// Stop after this many seconds; 0 goes on until interrupted
    #[arg(long, default_value_t = 0)]
    seconds: u32,
    /// One table after five seconds, then stop
    #[arg(long)]
    once: bool,
    /// One JSON object a sensor and line
    #[arg(long)]
    json: bool,
}

/// How long `--once` listens, s.
const ONCE_S: u32 = 5;
const REPORT_EVERY_MS: i64 = 1_000;
const STACK_BYTES: usize = 256 * 1024;
/// Conversions between two looks at a converter's own temperature, each of which costs about a second.
const TEMPERATURE_EVERY: u32 = 300;

/// One reading of one meter.
struct Heard {
    meter: usize,
    at: Moment,
    reading: Reading<Number>,
}

pub fn run(args: &Args) -> Result<(), Failure> {
    let kitchen = Kitchen::read(&args.kitchen)?;
    let clock = Clock::of_the_board();
    let (heard, readings) = sync_channel(1_024);
    let (mut meters, notes) = open(&kitchen, &clock, &heard)?;
    if meters.is_empty() {
        return Err(Failure::unavailable("the kitchen file names no sensors in [pot.sensors]"));
    }
    drop(heard);
    notes.iter().for_each(|note| output::say(note));
    let seconds = if args.once { ONCE_S } else { args.seconds };
    listen(args, &clock, &readings, &mut meters, seconds)
}

fn listen(
    args: &Args,
    clock: &Clock,
    readings: &Receiver<Heard>,
    meters: &mut [Meter],
    seconds: u32,
) -> Result<(), Failure> {
    let start = clock.now();
    let mut next = start.plus_ms(REPORT_EVERY_MS);
    loop {
        match readings.recv_timeout(clock.until(next)) {
            Ok(Heard { meter, at, reading }) => meters[meter].take(at, reading),
            Err(RecvTimeoutError::Timeout) => {}
            Err(RecvTimeoutError::Disconnected) => {
                return Err(Failure::failed("every sensor stopped"));
            }
        }
        let now = clock.now();
        if now < next {
            continue;
        }
        next = now.plus_ms(REPORT_EVERY_MS);
        let over = seconds > 0 && now - start >= f64::from(seconds);
        if !args.once || over {
            report(args.json, meters, now)?;
        }
        if over {
            return Ok(());
        }
    }
}

fn report(json: bool, meters: &[Meter], now: Moment) -> Result<(), Failure> {
    output::print(|out| {
        if json {
            return meters.iter().try_for_each(|meter| writeln!(out, "{}", meter.json(now)));
        }
        writeln!(out, "{}", meter::HEAD)?;
        meters.iter().try_for_each(|meter| writeln!(out, "{}", meter.line(now)))?;
        writeln!(out)
    })
}

type Opened = (Vec<Meter>, Vec<String>);

fn open(kitchen: &Kitchen, clock: &Clock, heard: &SyncSender<Heard>) -> Result<Opened, Failure> {
    let board = &kitchen.board;
    let mut hall =
        Hall { opener: Opener::new(board)?, clock, heard, meters: Vec::new(), notes: Vec::new() };
    for (pot, sensors) in kitchen.pots.iter().zip(&kitchen.sensors) {
        hall.open_pot(board, &pot.name, sensors)?;
    }
    if let Some(mut barometer) = hall.opener.barometer()? {
        hall.add("barometer", "hPa", Duration::from_secs(1), move || {
            barometer.read().map(|p| Number::plain(p.get() / 100.0))
        })?;
    }
    Ok((hall.meters, hall.notes))
}

/// Where sensors are opened and given their meters and threads.
struct Hall<'h> {
    opener: Opener<'h>,
    clock: &'h Clock,
    heard: &'h SyncSender<Heard>,
    meters: Vec<Meter>,
    notes: Vec<String>,
}

impl Hall<'_> {
    fn open_pot(&mut self, board: &Board, pot: &str, sensors: &Sensors) -> Result<(), Failure> {
        let platform = match &sensors.platform {
            Some(PlatformTemperature::Probe(rom)) => Some(rom),
            _ => None,
        };
        let newest = Newest::default();
        let places = [("probe", sensors.probe.as_ref()), ("base", sensors.base.as_ref())];
        for (place, rom) in places.into_iter().chain([("platform", platform)]) {
            if let Some(rom) = rom {
                let heard = if place == "platform" { &newest } else { &Newest::default() };
                self.open_probe(board, &format!("{pot} {place}"), rom, heard)?;
            }
        }
        self.open_scale(pot, sensors, &newest)
    }

    fn open_probe(
        &mut self,
        board: &Board,
        name: &str,
        rom: &RomId,
        newest: &Newest,
    ) -> Result<(), Failure> {
        let entry = self.opener.book().probe(rom.as_str());
        let trim = entry.map(ProbeEntry::trim);
        let old = entry.and_then(|entry| age_warning(&entry.made, Some(&today()), PROBE_DAYS));
        self.notes.extend(old.map(|words| format!("{name}: {rom}: {words}")));
        let newest = newest.clone();
        let mut probe = self.opener.untrimmed(rom)?;
        if board.onewire == OneWire::Kernel {
            let setup = Setup::look(&board.onewire_root, rom);
            let advice = setup.advice().into_iter().map(|a| format!("{name}: {rom} {a}"));
            self.notes.extend(advice);
        }
        self.add(name, "°C", Duration::from_millis(900), move || {
            let raw = probe.read()?;
            let trimmed = trim.and_then(|trim| trim.apply(raw)).unwrap_or(raw);
            newest.set(trimmed.get());
            Ok(Number { raw: raw.get(), value: Some(trimmed.get()) })
        })
    }

    /// A scale that was never calibrated shows its counts alone. One whose converter tells the
    /// platform's temperature shows that too, and is corrected by it.
    fn open_scale(
        &mut self,
        pot: &str,
        sensors: &Sensors,
        platform: &Newest,
    ) -> Result<(), Failure> {
        let Some(kind) = sensors.scale else { return Ok(()) };
        let mut converter = match self.opener.converter(kind) {
            Ok(converter) => converter,
            // The other sensors are shown all the same.
            Err(NotThere(why)) => {
                self.notes.push(format!("{pot} scale: {why}"));
                return Ok(());
            }
        };
        let calibration = self.calibration(pot);
        let name = format!("{pot} scale");
        let scale = self.meter(&name, "kg");
        let own = sensors.platform == Some(PlatformTemperature::Converter);
        let own = own.then(|| self.meter(&format!("{pot} platform"), "°C"));
        let (platform, mut n) = (platform.clone(), 0_u32);
        self.serve(&name, Duration::ZERO, move || {
            let due = own.filter(|_| n % TEMPERATURE_EVERY == 0);
            n += 1;
            let told = due.and_then(|meter| Some((meter, converter.temperature()?)));
            if let Some((_, Ok(celsius))) = told {
                platform.set(celsius.get());
            }
            let kg = |counts: f64| calibration.map(|c| c.kg(counts, platform.get()));
            let load = converter.counts().map(|counts| f64::from(counts.get()));
            let load = load.map(|counts| Number { raw: counts, value: kg(counts) });
            let told = told.map(|(meter, c)| (meter, c.map(|c| Number::plain(c.get()))));
            told.into_iter().chain([(scale, load)]).collect()
        })
    }

    fn calibration(&mut self, pot: &str) -> Option<ScaleCalibration> {
        let entry = self.opener.book().scale(pot);
        let words = match entry {
            Some(entry) => entry.age_warning(Some(&today())),
            None => Some("never calibrated, counts alone are shown".to_owned()),
        };
        self.notes.extend(words.map(|words| format!("{pot} scale: {words}")));
        entry.map(ScaleEntry::calibration)
    }

    fn meter(&mut self, name: &str, unit: &'static str) -> usize {
        self.meters.push(Meter::new(name, unit));
        self.meters.len() - 1
    }

    /// Gives a sensor its meter and its thread, which asks no more often than `every`.
    fn add(
        &mut self,
        name: &str,
        unit: &'static str,
        every: Duration,
        mut ask: impl FnMut() -> Reading<Number> + Send + 'static,
    ) -> Result<(), Failure> {
        let meter = self.meter(name, unit);
        self.serve(name, every, move || vec![(meter, ask())])
    }

    fn serve(
        &self,
        name: &str,
        every: Duration,
        mut ask: impl FnMut() -> Vec<(usize, Reading<Number>)> + Send + 'static,
    ) -> Result<(), Failure> {
        let (clock, heard) = (self.clock.clone(), self.heard.clone());
        let serve = move || {
            loop {
                let asked = clock.now();
                for (meter, reading) in ask() {
                    if heard.send(Heard { meter, at: clock.now(), reading }).is_err() {
                        return;
                    }
                }
                rest(clock.until(asked.plus_ms(every.as_millis() as i64)));
            }
        };
        let thread = thread::Builder::new().name(name.to_owned()).stack_size(STACK_BYTES);
        thread
            .spawn(serve)
            .map(drop)
            .map_err(|error| NotThere(format!("no thread for {name}: {error}")).into())
    }
}

/// The newest temperature of a platform, °C; clones are the same.
#[derive(Debug, Clone, Default)]
struct Newest(Arc<Mutex<Option<f64>>>);

impl Newest {
    fn set(&self, celsius: f64) {
        *self.0.lock().unwrap_or_else(PoisonError::into_inner) = Some(celsius);
    }

    fn get(&self) -> Option<f64> {
        *self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

#[expect(clippy::disallowed_methods, reason = "a sensor is asked no more often than it can answer")]
fn rest(wait: Duration) {
    thread::sleep(wait);
}
