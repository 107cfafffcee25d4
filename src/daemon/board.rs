//! The board: which device answers for which sensor of which pot.
//!
//! Buses and pins are opened here and nowhere else. What belongs to one maker's board stands in
//! [`header`], so that another board needs one other file.

#[cfg(feature = "board")]
pub mod header;

use std::fs;
use std::io::ErrorKind;
use std::path::Path;
use std::sync::{Arc, Mutex};

#[cfg(feature = "board")]
use crate::config::board::Pins;
use crate::config::board::{Board, Converter, OneWire, PlatformTemperature, Sensors};
use crate::sense::bulk::{Bulk, BulkProbe};
use crate::sense::calibrated::{CalibratedScale, Newest};
use crate::sense::calibration::book::{Book, ScaleEntry};
use crate::sense::calibration::probe::ProbeTrim;
use crate::sense::counts::LoadConverter;
use crate::sense::ds18b20::RomId;
use crate::sense::iio_barometer::IioBarometer;
use crate::sense::onewire_kernel::{self, KernelProbe};
use crate::sense::trimmed::TrimmedProbe;
use crate::sense::{Barometer, Probe, Scale};

use super::stove::Fittings;

/// What could not be opened, and what to do about it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NotThere(pub String);

/// Opens the sensors of a board.
pub struct Opener<'b> {
    board: &'b Board,
    book: Book,
    bulk: Option<Arc<Mutex<Bulk>>>,
    #[cfg(all(feature = "board", feature = "onewire-pin"))]
    line: Option<header::SharedLine>,
}

impl<'b> Opener<'b> {
    /// # Errors
    /// Where the book of calibrations is there but cannot be read.
    pub fn new(board: &'b Board) -> Result<Self, NotThere> {
        let book = read_book(&board.calibrations)?;
        Ok(Self {
            board,
            book,
            bulk: None,
            #[cfg(all(feature = "board", feature = "onewire-pin"))]
            line: None,
        })
    }

    /// The calibrations in force.
    #[must_use]
    pub const fn book(&self) -> &Book {
        &self.book
    }

    /// A probe with its trim. One that is not plugged in is no error: it reads as absent.
    ///
    /// # Errors
    /// Where the way to the probes is not there at all.
    pub fn probe(&mut self, rom: &RomId) -> Result<Box<dyn Probe>, NotThere> {
        let trim = self.book.probe(rom.as_str()).map_or(ProbeTrim::NONE, |entry| entry.trim());
        Ok(Box::new(TrimmedProbe::new(self.untrimmed(rom)?, trim)))
    }

    /// A probe as it reads by itself, for its calibration.
    ///
    /// # Errors
    /// As [`Self::probe`].
    pub fn untrimmed(&mut self, rom: &RomId) -> Result<Box<dyn Probe>, NotThere> {
        match self.board.onewire {
            OneWire::Kernel => self.kernel_probe(rom),
            OneWire::Pin => self.pin_probe(rom),
        }
    }

    fn kernel_probe(&mut self, rom: &RomId) -> Result<Box<dyn Probe>, NotThere> {
        let root = &self.board.onewire_root;
        let thread = |error| NotThere(format!("no thread for the probe {rom}: {error}"));
        let probe = KernelProbe::open(root, rom, onewire_kernel::DEADLINE).map_err(thread)?;
        if self.bulk.is_none() {
            self.bulk = Some(Bulk::open(root, onewire_kernel::DEADLINE).map_err(thread)?);
        }
        Ok(match &self.bulk {
            Some(line) => Box::new(BulkProbe::new(probe, Arc::clone(line))),
            None => Box::new(probe),
        })
    }

    #[cfg(all(feature = "board", feature = "onewire-pin"))]
    fn pin_probe(&mut self, rom: &RomId) -> Result<Box<dyn Probe>, NotThere> {
        if self.line.is_none() {
            self.line = Some(header::onewire(self.board.pins.onewire)?);
        }
        match &self.line {
            Some(line) => Ok(Box::new(header::PinProbe::new(line.clone(), rom.clone()))),
            None => Err(NotThere("the 1-Wire pin cannot be used".to_owned())),
        }
    }

    #[cfg(not(all(feature = "board", feature = "onewire-pin")))]
    #[expect(clippy::unused_self, reason = "the other build needs it")]
    fn pin_probe(&mut self, _: &RomId) -> Result<Box<dyn Probe>, NotThere> {
        let words = "this dekchi was built without probes on a pin: say onewire = \"kernel\" in \
                     [board], or build with the feature onewire-pin";
        Err(NotThere(words.to_owned()))
    }

    /// Everything that the pot of this name has.
    ///
    /// # Errors
    /// The first device that cannot be opened.
    pub fn devices(&mut self, pot: &str, sensors: &Sensors) -> Result<Devices, NotThere> {
        let probe = sensors.probe.as_ref().map(|rom| self.probe(rom)).transpose()?;
        let base = sensors.base.as_ref().map(|rom| self.probe(rom)).transpose()?;
        let newest = Newest::default();
        let platform = match &sensors.platform {
            Some(PlatformTemperature::Probe(rom)) => Some(newest.overhears(self.probe(rom)?)),
            _ => None,
        };
        let scale = sensors.scale.map(|kind| self.scale(pot, kind, sensors, newest)).transpose()?;
        Ok(Devices { probe, base, platform, scale })
    }

    fn scale(
        &self,
        pot: &str,
        kind: Converter,
        sensors: &Sensors,
        newest: Newest,
    ) -> Result<Weighing, NotThere> {
        let (board, pot) = (self.board.clone(), pot.to_owned());
        let own = sensors.platform == Some(PlatformTemperature::Converter);
        let open = move |book: &Book| -> Result<Option<Weighed>, NotThere> {
            let Some(entry) = book.scale(&pot).cloned() else { return Ok(None) };
            let converter = converter(&board, kind)?;
            let scale = CalibratedScale::new(converter, entry.calibration(), own, newest.clone());
            Ok(Some((entry, Box::new(scale))))
        };
        match open(&self.book)? {
            Some((_, scale)) => Ok(Weighing::Scale(scale)),
            None => {
                let book = self.board.calibrations.clone();
                Ok(Weighing::Awaited(Box::new(move || open(&read_book(&book)?))))
            }
        }
    }

    /// A converter as it counts, for its calibration.
    ///
    /// # Errors
    /// Where its bus or pins cannot be used.
    pub fn converter(&self, kind: Converter) -> Result<Box<dyn LoadConverter>, NotThere> {
        converter(self.board, kind)
    }

    /// The barometer; `None` where none is asked for.
    ///
    /// # Errors
    /// Where one is asked for and the kernel shows none.
    pub fn barometer(&self) -> Result<Option<Box<dyn Barometer>>, NotThere> {
        if !self.board.barometer {
            return Ok(None);
        }
        let root = &self.board.iio_root;
        match IioBarometer::find(root) {
            Some(found) => Ok(Some(Box::new(found))),
            None => Err(NotThere(format!("no barometer is shown in {}", root.display()))),
        }
    }
}

/// What hangs on one pot, opened.
#[derive(Default)]
pub struct Devices {
    pub probe: Option<Box<dyn Probe>>,
    pub base: Option<Box<dyn Probe>>,
    /// A probe at the load cells, which corrects the scale's drift too.
    pub platform: Option<Box<dyn Probe>>,
    pub scale: Option<Weighing>,
}

/// A scale and the calibration by which it weighs.
pub type Weighed = (ScaleEntry, Box<dyn Scale>);

/// Looks whether a scale was calibrated meanwhile; `None` where it was not.
pub type Await = Box<dyn FnMut() -> Result<Option<Weighed>, NotThere> + Send>;

/// A pot's scale.
pub enum Weighing {
    Scale(Box<dyn Scale>),
    /// One that was never calibrated. Its converter is left alone, so that it can be.
    Awaited(Await),
}

/// The book at `path`; an empty one where there is none yet.
///
/// # Errors
/// Where it is there but cannot be read or is spoilt.
pub fn read_book(path: &Path) -> Result<Book, NotThere> {
    match fs::read_to_string(path) {
        Ok(text) => Book::parse(&text)
            .map_err(|why| NotThere(format!("{} is spoilt: {why}", path.display()))),
        Err(error) if error.kind() == ErrorKind::NotFound => Ok(Book::default()),
        Err(error) => Err(NotThere(format!("{} cannot be read: {error}", path.display()))),
    }
}

/// Lamp, buzzer and button, where the kitchen file asks for them.
///
/// # Errors
/// Where a pin cannot be used.
#[cfg(feature = "board")]
pub fn fittings(board: &Board) -> Result<Fittings, NotThere> {
    use crate::tell::lamp::Lamp;
    let Pins { red, yellow, green, buzzer, button, .. } = board.pins;
    let mut fittings = Fittings::default();
    if board.lamp {
        let lamp = header::lamp(red, yellow, green, buzzer)?;
        fittings.lamp = Some(Box::new(lamp) as Box<dyn Lamp + Send>);
    }
    if board.button {
        let contact = header::button(button)?;
        fittings.button = Some(Box::new(move || contact.is_low()));
    }
    Ok(fittings)
}

/// # Errors
/// Where the kitchen file asks for any.
#[cfg(not(feature = "board"))]
pub fn fittings(board: &Board) -> Result<Fittings, NotThere> {
    if board.lamp || board.button {
        let words = "this dekchi was built without pins: it has no lamp and no button";
        return Err(NotThere(words.to_owned()));
    }
    Ok(Fittings::default())
}

#[cfg(any(feature = "board", feature = "i2c-dev"))]
fn nau7802_setup(board: &Board) -> crate::sense::nau7802::Setup {
    use crate::sense::nau7802::{Setup, Supply};
    let usual = Setup::default();
    let supply = if board.outside_supply { Supply::Outside } else { usual.supply };
    Setup { supply, ..usual }
}

#[cfg(feature = "board")]
fn converter(board: &Board, kind: Converter) -> Result<Box<dyn LoadConverter>, NotThere> {
    match kind {
        Converter::Nau7802 => header::nau7802(board.i2c_bus, nau7802_setup(board)),
        Converter::Hx711 { fast } => {
            header::hx711(board.pins.hx711_data, board.pins.hx711_clock, fast)
        }
    }
}

#[cfg(all(feature = "i2c-dev", not(feature = "board")))]
fn converter(board: &Board, kind: Converter) -> Result<Box<dyn LoadConverter>, NotThere> {
    use crate::sense::i2c_dev::I2cDev;
    use crate::sense::nau7802::Nau7802;
    use crate::sense::timing::HostTiming;
    if kind != Converter::Nau7802 {
        return Err(NotThere("this dekchi was built without pins: it has no hx711".to_owned()));
    }
    let bus = I2cDev::open(board.i2c_bus)
        .map_err(|error| NotThere(format!("/dev/i2c-{} cannot be used: {error}", board.i2c_bus)))?;
    Ok(Box::new(Nau7802::new(bus, HostTiming::default(), nau7802_setup(board))))
}

#[cfg(not(any(feature = "board", feature = "i2c-dev")))]
fn converter(_: &Board, _: Converter) -> Result<Box<dyn LoadConverter>, NotThere> {
    let words = "this dekchi was built without a way to load cells (features board, i2c-dev)";
    Err(NotThere(words.to_owned()))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_probe_that_is_not_plugged_in_is_absent_and_no_error() {
        let root = tempfile::tempdir().unwrap();
        let board = Board { onewire_root: root.path().into(), ..Board::default() };
        let mut opener = Opener::new(&board).unwrap();
        let rom = RomId::new("28-0316a2795f01").unwrap();
        let mut probe = opener.probe(&rom).unwrap();
        assert_eq!(probe.read(), Err(crate::reading::Fault::Absent));
    }

    #[test]
    fn a_scale_without_calibration_is_left_alone_until_its_calibration_is_there() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("calibrations.toml");
        let board = Board { calibrations: path.clone(), i2c_bus: 250, ..Board::default() };
        let mut opener = Opener::new(&board).unwrap();
        let sensors = Sensors { scale: Some(Converter::Nau7802), ..Sensors::default() };
        let devices = opener.devices("big", &sensors).unwrap();
        let Some(Weighing::Awaited(mut look)) = devices.scale else { panic!() };
        assert!(look().is_ok_and(|scale| scale.is_none()));
        let entry = "[[scale]]\nname = \"big\"\nmade = \"2026-11-01\"\nzero_counts = 0.0\n\
            counts_per_kg = 1e4\ntop_kg = 30.0\n";
        fs::write(&path, entry).unwrap();
        assert!(look().is_err(), "now it is opened, and this machine has no such bus");
        assert!(opener.devices("big", &Sensors::default()).is_ok_and(|d| d.scale.is_none()));
    }

    #[test]
    fn a_spoilt_book_is_not_taken_for_an_empty_one() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("calibrations.toml");
        assert_eq!(read_book(&path), Ok(Book::default()));
        fs::write(&path, "[[scale]]\nname = ").unwrap();
        assert!(read_book(&path).unwrap_err().0.contains("spoilt"));
    }
}
