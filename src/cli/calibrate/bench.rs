//! The devices that are calibrated, and their time.

use crate::config::board::{Board, PlatformTemperature, Sensors};
use crate::daemon::board::{NotThere, Opener};
use crate::reading::{Fault, Reading};
use crate::sense::Probe;
use crate::sense::counts::{Counts, LoadConverter};
use crate::sense::ds18b20::RomId;
use crate::sense::timing::{HostTiming, Timing};

/// A converter on the bench: samples with their time, and the platform's temperature.
pub trait Bench {
    /// The next conversion and when it came, s.
    fn sample(&mut self) -> (f64, Reading<Counts>);
    /// Temperature of the platform, °C; `None` where nothing measures it.
    fn platform_c(&mut self) -> Option<f64>;
}

/// A pot's own converter.
pub struct DeviceBench {
    converter: Box<dyn LoadConverter>,
    platform: Option<Box<dyn Probe>>,
    own_temperature: bool,
    timing: HostTiming,
}

impl DeviceBench {
    /// Opens the converter of the pot called `pot`, and what measures its platform's temperature.
    pub fn open(board: &Board, sensors: &Sensors, pot: &str) -> Result<Self, NotThere> {
        let kind = sensors.scale.ok_or_else(|| {
            NotThere(format!("the kitchen file names no scale in [pot.sensors] of \"{pot}\""))
        })?;
        let mut opener = Opener::new(board)?;
        let platform = match &sensors.platform {
            Some(PlatformTemperature::Probe(rom)) => Some(opener.probe(rom)?),
            _ => None,
        };
        Ok(Self {
            converter: opener.converter(kind)?,
            platform,
            own_temperature: sensors.platform == Some(PlatformTemperature::Converter),
            timing: HostTiming::default(),
        })
    }
}

impl Bench for DeviceBench {
    fn sample(&mut self) -> (f64, Reading<Counts>) {
        let counts = self.converter.counts();
        (self.timing.now_us() as f64 / 1e6, counts)
    }

    fn platform_c(&mut self) -> Option<f64> {
        let reading = match &mut self.platform {
            Some(probe) => probe.read(),
            None if self.own_temperature => self.converter.temperature()?,
            None => return None,
        };
        reading.ok().map(|celsius| celsius.get())
    }
}

/// A probe and its number.
pub type OpenProbe = (RomId, Box<dyn Probe>);

/// The pot's probe as it reads by itself.
pub fn probe(board: &Board, sensors: &Sensors, pot: &str) -> Result<OpenProbe, NotThere> {
    let rom = sensors.probe.clone().ok_or_else(|| {
        NotThere(format!("the kitchen file names no probe in [pot.sensors] of \"{pot}\""))
    })?;
    let probe = Opener::new(board)?.untrimmed(&rom)?;
    Ok((rom, probe))
}

/// Station pressure by the barometer, Pa; `None` where the kitchen has none.
pub fn barometer(board: &Board) -> Result<Option<f64>, NotThere> {
    let Some(mut barometer) = Opener::new(board)?.barometer()? else { return Ok(None) };
    let told = |fault: Fault| NotThere(format!("the barometer {fault}"));
    barometer.read().map(|pascals| Some(pascals.get())).map_err(told)
}
