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
use crate::sense::calibrated::CalibratedScale;
use crate::sense::calibration::book::Book;
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
        let mut scale = self.scale(pot, sensors)?;
        let platform = match &sensors.platform {
            Some(PlatformTemperature::Probe(rom)) => Some(self.probe(rom)?),
            _ => None,
        };
        let platform = match (platform, &mut scale) {
            (Some(probe), Some(scale)) => Some(scale.corrected_by(probe)),
            (platform, _) => platform,
        };
        let scale = scale.map(|scale| Box::new(scale) as Box<dyn Scale>);
        Ok(Devices { probe, base, platform, scale })
    }

    /// The scale of the pot of this name; `None` where it has none.
    ///
    /// # Errors
    /// Where the converter cannot be opened or was never calibrated.
    pub fn scale(&self, pot: &str, sensors: &Sensors) -> Result<Option<CalibratedScale>, NotThere> {
        let Some(kind) = sensors.scale else { return Ok(None) };
        let entry = self.book.scale(pot).ok_or_else(|| {
            NotThere(format!(
                "the scale of \"{pot}\" was never calibrated: run `dekchi calibrate scale --pot {pot}`"
            ))
        })?;
        let own = sensors.platform == Some(PlatformTemperature::Converter);
        Ok(Some(CalibratedScale::new(self.converter(kind)?, entry.calibration(), own)))
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
    pub scale: Option<Box<dyn Scale>>,
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
    fn a_scale_without_calibration_says_what_to_do() {
        let board = Board::default();
        let opener = Opener::new(&board).unwrap();
        let sensors = Sensors { scale: Some(Converter::Nau7802), ..Sensors::default() };
        let error = opener.scale("big", &sensors).err().unwrap();
        assert!(error.0.contains("dekchi calibrate scale --pot big"));
        assert!(opener.scale("big", &Sensors::default()).is_ok_and(|scale| scale.is_none()));
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
