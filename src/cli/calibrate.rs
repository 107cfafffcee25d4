//! `dekchi calibrate`: teach a platform its kilograms and a probe its degrees.

mod bench;
mod dialog;
pub mod drift;
mod probe;
pub mod scale;

use std::fs;
use std::io::{self, Write};
use std::path::{Path, PathBuf};

use clap::{Args as ClapArgs, Subcommand};

use crate::batch::pot::Site;
use crate::config::board::Sensors;
use crate::config::kitchen::Kitchen;
use crate::daemon::board::{NotThere, read_book};
use crate::daemon::clock::Clock;
use crate::sense::calibration::book::{
    self, Book, PROBE_DAYS, age_warning, date_of_day, day_number,
};

use super::failure::Failure;
use super::output;

pub use bench::Bench;
pub use dialog::Dialog;

/// Teach a platform its kilograms and a probe its degrees
#[derive(Debug, ClapArgs)]
#[command(after_help = "Examples:
  dekchi calibrate scale --kitchen /etc/dekchi/kitchen.toml --pot big
  dekchi calibrate probe --kitchen /etc/dekchi/kitchen.toml --pot big
  dekchi calibrate drift --kitchen /etc/dekchi/kitchen.toml --pot big --minutes 60
  dekchi calibrate show --kitchen /etc/dekchi/kitchen.toml

Stop the service first (systemctl stop dekchi): a converter answers one reader. A scale that was
never calibrated is not read by the service, and is from when it is.
Hot pots and open flames are near: keep cables clear, lift with two hands or two people.")]
pub struct Args {
    #[command(subcommand)]
    what: What,
}

#[derive(Debug, Subcommand)]
enum What {
    /// Span, straightness and class of a platform, by two or more known weights
    Scale(ScaleArgs),
    /// Trim of a pot's probe, by ice water and by the boil
    Probe(PotArgs),
    /// How a platform's zero follows its temperature, with a constant load and the burner on
    Drift(DriftArgs),
    /// What was learnt so far, with its age
    Show(KitchenArgs),
}

#[derive(Debug, ClapArgs)]
struct KitchenArgs {
    /// The kitchen file, TOML
    #[arg(long)]
    kitchen: PathBuf,
}

#[derive(Debug, ClapArgs)]
struct PotArgs {
    #[command(flatten)]
    kitchen: KitchenArgs,
    /// Name of the pot; may be left out where there is one
    #[arg(long)]
    pot: Option<String>,
}

#[derive(Debug, ClapArgs)]
struct ScaleArgs {
    #[command(flatten)]
    pot: PotArgs,
    /// How long the heaviest weight is watched for creep, minutes
    #[arg(long, default_value_t = 5, value_parser = clap::value_parser!(u32).range(1..=240))]
    creep_minutes: u32,
}

#[derive(Debug, ClapArgs)]
struct DriftArgs {
    #[command(flatten)]
    pot: PotArgs,
    /// How long the platform is watched, minutes
    #[arg(long, default_value_t = 60, value_parser = clap::value_parser!(u32).range(15..=720))]
    minutes: u32,
}

pub fn run(args: &Args) -> Result<(), Failure> {
    match &args.what {
        What::Scale(args) => scale(args),
        What::Probe(args) => probe(args),
        What::Drift(args) => drift(args),
        What::Show(args) => show(args),
    }
}

fn scale(args: &ScaleArgs) -> Result<(), Failure> {
    let place = Place::open(&args.pot)?;
    let mut bench = place.bench()?;
    let mut dialog = Dialog::at_the_terminal();
    let done = scale::walk(&mut bench, &mut dialog, place.pot(), args.creep_minutes)?;
    let entry = done.entry(place.pot(), &today());
    output::print(|out| write!(out, "{}", done.report(place.pot(), &today())))?;
    if dialog.yes("Keep this calibration?")? {
        place.keep(|book| book.scale.push(entry))?;
    }
    Ok(())
}

fn probe(args: &PotArgs) -> Result<(), Failure> {
    let place = Place::open(args)?;
    let (rom, mut probe) = place.probe()?;
    let boil_c = place.boiling_point_c()?;
    let mut dialog = Dialog::at_the_terminal();
    let trim = probe::walk(probe.as_mut(), &mut dialog, &rom.to_string(), boil_c)?;
    output::print(|out| write!(out, "{}", probe::report(&rom.to_string(), trim, boil_c)))?;
    if dialog.yes("Keep this trim?")? {
        let entry = book::ProbeEntry {
            rom: rom.to_string(),
            made: today(),
            offset_k: trim.offset_k,
            slope: trim.slope,
        };
        place.keep(|book| book.probe.push(entry))?;
    }
    Ok(())
}

fn drift(args: &DriftArgs) -> Result<(), Failure> {
    let place = Place::open(&args.pot)?;
    let book = read_book(&place.kitchen.board.calibrations)?;
    let Some(entry) = book.scale(place.pot()) else {
        return Err(Failure::unavailable(format!(
            "the scale of \"{0}\" was never calibrated: run `dekchi calibrate scale --pot {0}` first",
            place.pot()
        )));
    };
    let mut bench = place.bench()?;
    let mut dialog = Dialog::at_the_terminal();
    let learnt = drift::walk(&mut bench, &mut dialog, &entry.calibration(), args.minutes)?;
    output::print(|out| write!(out, "{}", drift::report(place.pot(), &learnt)))?;
    if dialog.yes("Keep this?")? {
        let kept = drift::with(entry, &learnt, &today());
        place.keep(|book| book.scale.push(kept))?;
    }
    Ok(())
}

fn show(args: &KitchenArgs) -> Result<(), Failure> {
    let kitchen = Kitchen::read(&args.kitchen)?;
    let book = read_book(&kitchen.board.calibrations)?;
    let today = today();
    if day_number(&today).is_none() {
        output::say("How old they are is not known: the board's clock is not set.");
    }
    output::print(|out| write!(out, "{}", shown(&kitchen, &book, Some(&today))))
}

/// What is in force for every pot, with its age.
fn shown(kitchen: &Kitchen, book: &Book, today: Option<&str>) -> String {
    let mut text = String::new();
    for (pot, sensors) in kitchen.pots.iter().zip(&kitchen.sensors) {
        let scale = match book.scale(&pot.name) {
            Some(entry) => {
                let drift = match entry.drift_kg_per_k == 0.0 {
                    true => "drift not learnt".to_owned(),
                    false => format!("drift {:+.1} g/K", entry.drift_kg_per_k * 1_000.0),
                };
                let head = format!("{}, {drift}, of {}", entry.behaves, entry.made);
                let warning = entry.age_warning(today);
                [head].into_iter().chain(warning).collect::<Vec<_>>().join("; ")
            }
            None => "not calibrated".to_owned(),
        };
        text += &format!("{}  scale  {scale}\n", pot.name);
        for rom in sensors.probe.iter().chain(&sensors.base) {
            text += &format!("{}  probe {rom}  {}\n", pot.name, probe_words(book, rom, today));
        }
    }
    text
}

fn probe_words(book: &Book, rom: &crate::sense::ds18b20::RomId, today: Option<&str>) -> String {
    let Some(entry) = book.probe(rom.as_str()) else {
        return "not trimmed: within 0.5 °C to 85 °C and 2 °C above, by its maker".to_owned();
    };
    let head = format!("{:+.2} °C at 0 °C, of {}", entry.offset_k, entry.made);
    match age_warning(&entry.made, today, PROBE_DAYS) {
        Some(warning) => format!("{head}; {warning}"),
        None => head,
    }
}

/// The kitchen and the pot that is calibrated.
struct Place {
    kitchen: Kitchen,
    at: usize,
}

impl Place {
    fn open(args: &PotArgs) -> Result<Self, Failure> {
        let kitchen = Kitchen::read(&args.kitchen.kitchen)?;
        let at = match &args.pot {
            Some(name) => kitchen.pots.iter().position(|pot| pot.name == *name),
            None => (kitchen.pots.len() == 1).then_some(0),
        };
        match at {
            Some(at) => Ok(Self { kitchen, at }),
            None => {
                let names = kitchen.pot_names();
                Err(Failure::usage(format!("say which pot by --pot: there are {names}")))
            }
        }
    }

    fn pot(&self) -> &str {
        &self.kitchen.pots[self.at].name
    }

    fn sensors(&self) -> &Sensors {
        &self.kitchen.sensors[self.at]
    }

    fn bench(&self) -> Result<bench::DeviceBench, Failure> {
        Ok(bench::DeviceBench::open(&self.kitchen.board, self.sensors(), self.pot())?)
    }

    fn probe(&self) -> Result<bench::OpenProbe, Failure> {
        Ok(bench::probe(&self.kitchen.board, self.sensors(), self.pot())?)
    }

    /// Boiling point of water here and now, °C: by the barometer, or as the kitchen file says.
    fn boiling_point_c(&self) -> Result<f64, Failure> {
        let pascals = match bench::barometer(&self.kitchen.board)? {
            Some(pascals) => Some(pascals),
            None => site_pressure_pa(&self.kitchen.site),
        };
        pascals
            .and_then(crate::physics::water::boiling_point_c)
            .ok_or_else(|| Failure::failed("the boiling point here is not known"))
    }

    /// Adds to the book; the new file replaces the old one in one step.
    fn keep(&self, add: impl FnOnce(&mut Book)) -> Result<(), Failure> {
        let path = &self.kitchen.board.calibrations;
        let mut book = read_book(path)?;
        add(&mut book);
        let text = book.text().map_err(Failure::failed)?;
        replace(path, &text).map_err(|error| {
            Failure::io(format!("{} cannot be written: {error}", path.display()))
        })?;
        output::say(&format!(
            "Kept in {}. A service that was stopped: systemctl start dekchi",
            path.display()
        ));
        Ok(())
    }
}

/// As somebody read a barometer there, or by the altitude in the standard atmosphere.
fn site_pressure_pa(site: &Site) -> Option<f64> {
    match site.pressure {
        Some(pascals) => Some(pascals.get()),
        None => crate::physics::air::pressure_at_altitude_pa(site.altitude_m),
    }
}

fn replace(path: &Path, text: &str) -> io::Result<()> {
    let new = path.with_extension("toml.new");
    let mut file = fs::File::create(&new)?;
    file.write_all(text.as_bytes())?;
    file.sync_all()?;
    fs::rename(&new, path)
}

/// The board's date, or `unset` where its clock was not set.
pub fn today() -> String {
    let clock = Clock::of_the_board();
    let wall = clock.wall(clock.now());
    match wall.set {
        true => date_of_day(wall.utc_ms.div_euclid(86_400_000)),
        false => "unset".to_owned(),
    }
}

impl From<NotThere> for Failure {
    fn from(NotThere(sentence): NotThere) -> Self {
        Self::unavailable(sentence)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const KITCHEN: &str = "[site]\naltitude_m = 40.0\n[[pot]]\nname = \"big\"\n\
        base_diameter_m = 0.40\ntare_kg = 6.2\nlid_kg = 1.35\n[pot.sensors]\n\
        probe = \"28-0316a2795f01\"\nscale = \"nau7802\"\n";

    #[test]
    fn what_is_in_force_is_shown_with_its_age() {
        let kitchen = Kitchen::parse("kitchen.toml", KITCHEN).unwrap();
        let text = shown(&kitchen, &Book::default(), Some("2026-11-25"));
        assert!(text.contains("big  scale  not calibrated"), "{text}");
        assert!(text.contains("28-0316a2795f01  not trimmed"), "{text}");
        let book = Book::parse(
            "[[scale]]\nname = \"big\"\nmade = \"2026-01-01\"\nzero_counts = 0.0\n\
             counts_per_kg = 1e4\ntop_kg = 30.0\nbehaves = \"e = 10 g up to 30 kg\"\n\
             [[probe]]\nrom = \"28-0316a2795f01\"\nmade = \"2026-11-01\"\noffset_k = -0.4\n",
        )
        .unwrap();
        let text = shown(&kitchen, &book, Some("2026-11-25"));
        assert!(text.contains(
            "e = 10 g up to 30 kg, drift not learnt, of 2026-01-01; its calibration is 328 days"
        ));
        assert!(text.contains("-0.40 °C at 0 °C, of 2026-11-01\n"), "{text}");
    }

    #[test]
    fn a_kept_book_replaces_the_old_one_whole() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("calibrations.toml");
        replace(&path, "old").unwrap();
        replace(&path, "new").unwrap();
        assert_eq!(fs::read_to_string(&path).unwrap(), "new");
        assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 1);
    }
}
