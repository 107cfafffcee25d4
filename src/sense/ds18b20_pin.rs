//! DS18B20 probes pulsed on a pin, for boards whose kernel has no 1-Wire: the second way.
//!
//! 1-Wire is an open-drain line: a master pulls it low or lets go, never drives it high. The
//! `ds18b20` crate pulses it through embedded-hal 0.2 pins, so a small shim turns "high" into "let
//! go". Three of that crate's habits are guarded here: it reads temperatures as unsigned and scales
//! them wrongly below 12 bits (we take its scratchpad and decode it ourselves), and it talks on when
//! nobody answered the reset (we look for the presence pulse first).
//!
//! Linux may put us aside within a slot of 60 µs. A bit read late is wrong, and the checksum finds it:
//! `Garbled`. A pulse kept low too long turns a written 1 into 0, never 0 into 1: no command of ours
//! becomes a write that way. A conversion that the probes did not take up would give the old
//! temperature again, so the line is asked right after the order: a probe at work holds it low.

use ds18b20::Ds18b20;
use embedded_hal_0::blocking::delay::DelayUs;
use embedded_hal_0::digital::v2::{InputPin, OutputPin};
use one_wire_bus::{Address, OneWire, OneWireError};
use std::convert::Infallible;

use super::ds18b20::{Resolution, RomId, temperature};
use super::timing::Timing;
use crate::quantity::Celsius;
use crate::reading::{Fault, Reading};

/// A line with a pull-up that many may hold low.
pub trait OpenDrain {
    fn pull_low(&mut self);
    fn let_go(&mut self);
    fn is_high(&self) -> bool;
}

/// A probe's own number with its checksum, as the line wants it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct PinProbe(u64);

impl PinProbe {
    #[must_use]
    pub fn rom(self) -> RomId {
        RomId::of_bits(self.0)
    }
}

/// All probes on one pin.
pub struct ProbeLine<L: OpenDrain, T> {
    wire: OneWire<Shim<L>>,
    delay: Microseconds<T>,
    resolution: Resolution,
}

impl<L: OpenDrain, T: Timing> ProbeLine<L, T> {
    /// Takes the line and lets it go.
    ///
    /// # Errors
    /// None in practice: the shim's pins cannot fail.
    pub fn open(line: L, timing: T, resolution: Resolution) -> Reading<Self> {
        let wire = OneWire::new(Shim(line)).map_err(fault)?;
        Ok(Self { wire, delay: Microseconds(timing), resolution })
    }

    /// The DS18B20 probes that answer, lowest number first.
    ///
    /// # Errors
    /// `Absent` where nothing answers, `Shorted` where the line is held low, `Garbled` where the
    /// answers contradict each other.
    pub fn search(&mut self) -> Reading<Vec<PinProbe>> {
        self.expect_presence()?;
        let found: Result<Vec<Address>, _> = self.wire.devices(false, &mut self.delay).collect();
        let found = found.map_err(fault)?;
        let probes = found.into_iter().filter(|a| a.family_code() == ds18b20::FAMILY_CODE);
        Ok(probes.map(|address| PinProbe(address.0)).collect())
    }

    /// Sets a probe's resolution (lost at power-off unless its memory already says so).
    ///
    /// # Errors
    /// `Absent`, `Shorted`, or `Garbled` where the number is not a DS18B20's.
    pub fn set_resolution(&mut self, probe: PinProbe) -> Reading<()> {
        self.expect_presence()?;
        let device = Ds18b20::new(Address(probe.0)).map_err(fault)?;
        let bits = match self.resolution {
            Resolution::Bits9 => ds18b20::Resolution::Bits9,
            Resolution::Bits10 => ds18b20::Resolution::Bits10,
            Resolution::Bits11 => ds18b20::Resolution::Bits11,
            Resolution::Bits12 => ds18b20::Resolution::Bits12,
        };
        device.set_config(-55, 125, bits, &mut self.wire, &mut self.delay).map_err(fault)
    }

    /// Converts on all probes at once and waits until they are done.
    ///
    /// # Errors
    /// `Absent` and `Shorted` as above; `Garbled` where no probe took the order up.
    pub fn convert(&mut self) -> Reading<()> {
        self.expect_presence()?;
        ds18b20::start_simultaneous_temp_measurement(&mut self.wire, &mut self.delay)
            .map_err(fault)?;
        if self.wire.read_bit(&mut self.delay).map_err(fault)? {
            return Err(Fault::Garbled);
        }
        self.delay.0.delay_ms(self.resolution.conversion_ms());
        Ok(())
    }

    /// What a probe measured at the last conversion; a damaged answer is asked for once more.
    ///
    /// # Errors
    /// As [`temperature`], and `Absent` where the probe does not answer.
    pub fn read(&mut self, probe: PinProbe) -> Reading<Celsius> {
        match self.ask(probe) {
            Err(Fault::Garbled) => self.ask(probe),
            outcome => outcome,
        }
    }

    fn ask(&mut self, probe: PinProbe) -> Reading<Celsius> {
        self.expect_presence()?;
        let address = Address(probe.0);
        match ds18b20::read_scratchpad(&address, &mut self.wire, &mut self.delay) {
            Ok(scratchpad) => temperature(&scratchpad),
            Err(error) => Err(fault(error)),
        }
    }

    fn expect_presence(&mut self) -> Reading<()> {
        match self.wire.reset(&mut self.delay).map_err(fault)? {
            true => Ok(()),
            false => Err(Fault::Absent),
        }
    }
}

/// The probes of one line for many readers: a reader that asks again starts the next conversion.
pub struct SharedProbes<L: OpenDrain, T> {
    line: ProbeLine<L, T>,
    known: Vec<PinProbe>,
    conversions: u64,
    last: Reading<()>,
}

impl<L: OpenDrain, T: Timing> SharedProbes<L, T> {
    pub const fn new(line: ProbeLine<L, T>) -> Self {
        Self { line, known: Vec::new(), conversions: 0, last: Err(Fault::Absent) }
    }

    /// The probe of this number at the newest conversion; `taken` is what its reader took before.
    ///
    /// # Errors
    /// As [`ProbeLine::convert`] and [`ProbeLine::read`].
    pub fn read(&mut self, rom: &RomId, taken: &mut u64) -> Reading<Celsius> {
        if *taken == self.conversions {
            self.conversions += 1;
            self.last = self.line.convert();
        }
        *taken = self.conversions;
        self.last?;
        let probe = self.find(rom)?;
        self.line.read(probe)
    }

    /// Searches the line anew for a number that is not known yet.
    fn find(&mut self, rom: &RomId) -> Reading<PinProbe> {
        if !self.known.iter().any(|probe| probe.rom() == *rom) {
            self.known = self.line.search()?;
        }
        self.known.iter().copied().find(|probe| probe.rom() == *rom).ok_or(Fault::Absent)
    }
}

fn fault(error: OneWireError<Infallible>) -> Fault {
    match error {
        OneWireError::BusNotHigh => Fault::Shorted,
        OneWireError::Timeout => Fault::Late,
        _ => Fault::Garbled,
    }
}

/// "High" means letting go.
struct Shim<L>(L);

impl<L: OpenDrain> OutputPin for Shim<L> {
    type Error = Infallible;

    fn set_low(&mut self) -> Result<(), Infallible> {
        self.0.pull_low();
        Ok(())
    }

    fn set_high(&mut self) -> Result<(), Infallible> {
        self.0.let_go();
        Ok(())
    }
}

impl<L: OpenDrain> InputPin for Shim<L> {
    type Error = Infallible;

    fn is_high(&self) -> Result<bool, Infallible> {
        Ok(self.0.is_high())
    }

    fn is_low(&self) -> Result<bool, Infallible> {
        Ok(!self.0.is_high())
    }
}

struct Microseconds<T>(T);

impl<T: Timing> DelayUs<u16> for Microseconds<T> {
    fn delay_us(&mut self, us: u16) {
        self.0.delay_us(u32::from(us));
    }
}
