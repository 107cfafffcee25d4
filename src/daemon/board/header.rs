//! The 40-pin header of a Raspberry Pi, by rppal.
//!
//! The one file that knows rppal, whose author has retired it. Its I²C is Linux's i2c-dev and runs on
//! any board; its pins need a Raspberry Pi. Its numbers for choosing an address kindly or by force are
//! the other way round (0.22), so an address is taken even from a driver of the kernel's: do not load
//! the kernel's own nau7802 beside dekchi.

use embedded_hal::i2c::{ErrorType, I2c, Operation};
use rppal::gpio::{Gpio, InputPin, OutputPin};

use super::NotThere;
use crate::sense::counts::LoadConverter;
use crate::sense::hx711::{Hx711, Input, Rate};
use crate::sense::i2c_errno::BusError;
use crate::sense::nau7802::{Nau7802, Setup};
use crate::sense::timing::{HostTiming, SpinTiming};
use crate::tell::lamp::PinLamp;

#[cfg(feature = "onewire-pin")]
pub use onewire::{PinProbe, SharedLine, onewire};

/// A bus that gives up after this, ms: rather than wait for ever on a line held low.
const BUS_TIMEOUT_MS: u32 = 200;

/// An NAU7802 on this bus.
///
/// # Errors
/// Where the bus cannot be opened.
pub fn nau7802(bus: u8, setup: Setup) -> Result<Box<dyn LoadConverter>, NotThere> {
    let not_there = |error| {
        NotThere(format!(
            "/dev/i2c-{bus} cannot be used: {error}; is I2C on (dtparam=i2c_arm=on) and the user in \
             the group i2c?"
        ))
    };
    let i2c = rppal::i2c::I2c::with_bus(bus).map_err(not_there)?;
    // A kernel without the setting keeps its own time-out of a second.
    drop(i2c.set_timeout(BUS_TIMEOUT_MS));
    Ok(Box::new(Nau7802::new(Bus(i2c), HostTiming::default(), setup)))
}

/// An HX711 on these pins.
///
/// # Errors
/// Where the pins cannot be used.
pub fn hx711(data: u8, clock: u8, fast: bool) -> Result<Box<dyn LoadConverter>, NotThere> {
    let (data, clock) = (input(data)?, output(clock)?);
    let rate = if fast { Rate::Sps80 } else { Rate::Sps10 };
    Ok(Box::new(Hx711::new(data, clock, SpinTiming::default(), Input::A128, rate)))
}

/// Three lamps and a buzzer, all dark.
///
/// # Errors
/// Where a pin cannot be used.
pub fn lamp(red: u8, yellow: u8, green: u8, buzzer: u8) -> Result<PinLamp<OutputPin>, NotThere> {
    Ok(PinLamp {
        red: output(red)?,
        yellow: output(yellow)?,
        green: output(green)?,
        buzzer: output(buzzer)?,
    })
}

/// A contact to ground, pulled up by the board: low while it is pressed.
///
/// # Errors
/// Where the pin cannot be used.
pub fn button(pin: u8) -> Result<InputPin, NotThere> {
    Ok(gpio(pin)?.into_input_pullup())
}

fn input(pin: u8) -> Result<InputPin, NotThere> {
    Ok(gpio(pin)?.into_input())
}

fn output(pin: u8) -> Result<OutputPin, NotThere> {
    Ok(gpio(pin)?.into_output_low())
}

fn gpio(pin: u8) -> Result<rppal::gpio::Pin, NotThere> {
    let not_there = |error| {
        NotThere(format!("pin {pin} cannot be used: {error}; is the user in the group gpio?"))
    };
    Gpio::new().map_err(not_there)?.get(pin).map_err(not_there)
}

/// rppal's bus with a repeated start between a register's number and its bytes.
struct Bus(rppal::i2c::I2c);

impl ErrorType for Bus {
    type Error = BusError;
}

impl I2c for Bus {
    fn transaction(&mut self, address: u8, steps: &mut [Operation<'_>]) -> Result<(), BusError> {
        self.0.set_slave_address(u16::from(address)).map_err(bus_error)?;
        if let [Operation::Write(register), Operation::Read(buffer)] = steps {
            return self.0.write_read(register, buffer).map_err(bus_error);
        }
        for step in steps {
            match step {
                Operation::Read(buffer) => self.0.read(buffer).map(drop),
                Operation::Write(bytes) => self.0.write(bytes).map(drop),
            }
            .map_err(bus_error)?;
        }
        Ok(())
    }
}

fn bus_error(error: rppal::i2c::Error) -> BusError {
    match error {
        rppal::i2c::Error::Io(error) => BusError::from(&error),
        _ => BusError::of_number(0),
    }
}

#[cfg(feature = "onewire-pin")]
mod onewire {
    use std::sync::{Arc, Mutex, PoisonError};

    use rppal::gpio::{IoPin, Mode};

    use super::{NotThere, SpinTiming, gpio};
    use crate::quantity::Celsius;
    use crate::reading::Reading;
    use crate::sense::Probe;
    use crate::sense::ds18b20::{Resolution, RomId};
    use crate::sense::ds18b20_pin::{OpenDrain, ProbeLine, SharedProbes};

    /// One line for all probes.
    pub type SharedLine = Arc<Mutex<SharedProbes<Line, SpinTiming>>>;

    /// Takes the pin for probes.
    ///
    /// # Errors
    /// Where the pin cannot be used.
    pub fn onewire(pin: u8) -> Result<SharedLine, NotThere> {
        let line = Line(gpio(pin)?.into_io(Mode::Input));
        let probes = ProbeLine::open(line, SpinTiming::default(), Resolution::Bits12)
            .map_err(|fault| NotThere(format!("the 1-Wire line on pin {pin} {fault}")))?;
        Ok(Arc::new(Mutex::new(SharedProbes::new(probes))))
    }

    /// A pin that is only ever low or let go.
    pub struct Line(IoPin);

    impl OpenDrain for Line {
        fn pull_low(&mut self) {
            self.0.set_low();
            self.0.set_mode(Mode::Output);
        }

        fn let_go(&mut self) {
            self.0.set_mode(Mode::Input);
        }

        fn is_high(&self) -> bool {
            self.0.is_high()
        }
    }

    /// One probe on the shared line.
    pub struct PinProbe {
        line: SharedLine,
        rom: RomId,
        taken: u64,
    }

    impl PinProbe {
        pub const fn new(line: SharedLine, rom: RomId) -> Self {
            Self { line, rom, taken: 0 }
        }
    }

    impl Probe for PinProbe {
        fn read(&mut self) -> Reading<Celsius> {
            let mut line = self.line.lock().unwrap_or_else(PoisonError::into_inner);
            line.read(&self.rom, &mut self.taken)
        }
    }
}
