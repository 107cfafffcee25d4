//! Load cells by an NAU7802 on I²C: the default way, because nothing in it depends on how promptly
//! Linux runs us.
//!
//! A bridge of load cells gives V = S·U·m/m_max, with S its sensitivity (mV/V) and U its supply. The
//! converter measures V against the same supply, amplified by G, over ±U/2:
//!
//! ```text
//! counts = 2^24 · G · S · m/m_max        (of ±2^23; the supply cancels)
//! ```
//!
//! Start-up by the data sheet (Nuvoton, revision 1.7, section 9.1): reset, digital part on, "power
//! ready" within about 200 µs, analogue part on, gain and rate, offset calibration with the input
//! shorted inside, then convert. The first conversions after a change of input, gain or rate still
//! hold the old signal and are thrown away; the Linux driver waits for six, and so do we.
//!
//! Calibrating again would move zero by the calibration's own noise, so the offset found first is
//! kept and written back whenever the converter has to be started again.
//!
//! Faults: no acknowledge is `Absent`; a bus that times out or is held is `Shorted`; power or
//! conversion bits that fell by themselves mean that the converter lost its supply, `PowerOn`; no
//! conversion in three periods is `Late`; the ends of the scale are `Saturated`. A bit that flips on
//! the bus cannot be seen (there is no checksum): a jump is for the judgement to refuse.

use embedded_hal::i2c::{Error as _, ErrorKind, I2c};

use super::counts::{Counts, LoadConverter, Tally};
use super::timing::Timing;
use crate::quantity::Celsius;
use crate::reading::{Fault, Reading};

pub mod registers;
mod setup;

use registers as reg;
pub use setup::{Gain, Rate, Setup, Supply};

/// Conversions thrown away after a change of input, gain or rate.
const SETTLING: u32 = 6;
/// Periods without a conversion before the converter is called late.
const PATIENCE: u64 = 3;
/// Lates in a row before the converter is started again.
const LATES: u32 = 3;
/// "Power ready" comes after about 200 µs; this long is waited for it, µs.
const POWER_WAIT_US: u64 = 20_000;
/// The bridge's supply and the amplifier's capacitor are given this long to settle, ms.
const ANALOG_SETTLE_MS: u32 = 250;
/// Calibration takes a few conversions; this long is waited for it, µs.
const CALIBRATION_WAIT_US: u64 = 2_000_000;

/// The converter. It starts itself at the first reading, and again whenever it was lost.
#[derive(Debug)]
pub struct Nau7802<B, T> {
    bus: B,
    timing: T,
    setup: Setup,
    started: bool,
    lates: u32,
    last_ready_us: u64,
    offset: Option<[u8; 3]>,
    tally: Tally,
}

impl<B: I2c, T: Timing> Nau7802<B, T> {
    pub fn new(bus: B, timing: T, setup: Setup) -> Self {
        Self {
            bus,
            timing,
            setup,
            started: false,
            lates: 0,
            last_ready_us: 0,
            offset: None,
            tally: Tally::default(),
        }
    }

    /// Gives the bus and the timing back.
    pub fn release(self) -> (B, T) {
        (self.bus, self.timing)
    }

    /// How the conversions came out so far.
    #[must_use]
    pub const fn tally(&self) -> Tally {
        self.tally
    }

    /// Waits for the next conversion, at most three periods (longer where it must be started); a
    /// fault takes at least one.
    ///
    /// # Errors
    /// Any fault of the module's list; the next call tries again.
    pub fn read(&mut self) -> Reading<Counts> {
        let begun = self.timing.now_us();
        let outcome = self.conversion();
        self.tally.count(&outcome);
        self.learn_from(&outcome);
        if outcome.is_err() {
            // A bus that refuses at once must not be asked without rest.
            let took = self.timing.now_us() - begun;
            self.pause(self.setup.rate.period_us().saturating_sub(took));
        }
        outcome
    }

    /// The chip's own temperature, for the drift of the platform.
    ///
    /// The sheet gives 109 mV at 25 °C and 390 µV a kelvin (from memory of section 7.4) without a
    /// tolerance: trust its changes, not its level. Costs twelve conversions of the load.
    ///
    /// # Errors
    /// As [`Self::read`].
    pub fn chip_temperature(&mut self) -> Reading<Celsius> {
        let outcome = self.look_at_temperature();
        self.learn_from(&outcome);
        let counts = outcome?;
        Celsius::new(self.celsius(counts)).ok_or(Fault::OutOfRange)
    }

    fn conversion(&mut self) -> Reading<Counts> {
        if !self.started {
            self.start()?;
        }
        self.next_conversion()
    }

    fn learn_from<V>(&mut self, outcome: &Reading<V>) {
        match outcome {
            Err(Fault::Late) => self.lates += 1,
            Err(Fault::Absent | Fault::PowerOn | Fault::Shorted | Fault::Garbled) => {
                self.started = false;
            }
            _ => self.lates = 0,
        }
        if self.lates >= LATES {
            self.started = false;
            self.lates = 0;
        }
    }

    fn start(&mut self) -> Reading<()> {
        self.tally.started += 1;
        self.write(reg::PU_CTRL, reg::RESET)?;
        self.write(reg::PU_CTRL, reg::DIGITAL_ON)?;
        self.wait_for_power()?;
        self.write(reg::PU_CTRL, self.running() & !reg::CONVERT)?;
        self.write(reg::CTRL1, self.setup.supply.code() << 3 | self.setup.gain as u8)?;
        self.write(reg::CTRL2, (self.setup.rate as u8) << reg::RATE_SHIFT)?;
        self.write(reg::ADC_CTRL, reg::CHOPPER_OFF)?;
        self.write(reg::PGA_PWR, reg::AMPLIFIER_CAPACITOR)?;
        self.timing.delay_ms(ANALOG_SETTLE_MS);
        self.settle_offset()?;
        self.write(reg::PU_CTRL, self.running())?;
        self.last_ready_us = self.timing.now_us();
        self.started = true;
        self.skip(SETTLING)
    }

    /// The bits that we set while conversions run.
    const fn running(&self) -> u8 {
        let own = match self.setup.supply {
            Supply::Outside => 0,
            _ => reg::OWN_SUPPLY,
        };
        own | reg::DIGITAL_ON | reg::ANALOG_ON | reg::CONVERT
    }

    fn wait_for_power(&mut self) -> Reading<()> {
        let until = self.timing.now_us() + POWER_WAIT_US;
        while self.timing.now_us() < until {
            self.timing.delay_us(200);
            if self.byte(reg::PU_CTRL)? & reg::POWER_READY != 0 {
                return Ok(());
            }
        }
        Err(Fault::Late)
    }

    /// Calibrates the first time, and later writes back what was found then.
    fn settle_offset(&mut self) -> Reading<()> {
        if let Some(offset) = self.offset {
            return self.write_offset(offset);
        }
        self.calibrate()?;
        self.offset = Some(self.bytes(reg::OCAL1)?);
        Ok(())
    }

    fn calibrate(&mut self) -> Reading<()> {
        let rate = (self.setup.rate as u8) << reg::RATE_SHIFT;
        self.write(reg::CTRL2, rate | reg::CALIBRATE)?;
        let until = self.timing.now_us() + CALIBRATION_WAIT_US;
        while self.timing.now_us() < until {
            self.timing.delay_ms(10);
            let control = self.byte(reg::CTRL2)?;
            if control & reg::CALIBRATE == 0 {
                let failed = control & reg::CAL_FAILED != 0;
                return if failed { Err(Fault::OutOfRange) } else { Ok(()) };
            }
        }
        Err(Fault::Late)
    }

    fn write_offset(&mut self, offset: [u8; 3]) -> Reading<()> {
        for (register, byte) in (reg::OCAL1..).zip(offset) {
            self.write(register, byte)?;
        }
        Ok(())
    }

    fn skip(&mut self, conversions: u32) -> Reading<()> {
        for _ in 0..conversions {
            match self.next_conversion() {
                Ok(_) | Err(Fault::Saturated) => {}
                Err(fault) => return Err(fault),
            }
        }
        Ok(())
    }

    fn next_conversion(&mut self) -> Reading<Counts> {
        let before = self.last_ready_us;
        self.wait_until_ready()?;
        self.last_ready_us = self.timing.now_us();
        let mut word = self.word()?;
        // Asked late, the next conversion may have landed between the three bytes.
        let late = self.last_ready_us - before > self.setup.rate.period_us() * 3 / 2;
        if late && self.byte(reg::PU_CTRL)? & reg::READY != 0 {
            word = self.word()?;
        }
        Counts::from_bits(word)
    }

    /// Sleeps through most of the period, then asks every twentieth of it.
    fn wait_until_ready(&mut self) -> Reading<()> {
        let period = self.setup.rate.period_us();
        let waited = self.timing.now_us() - self.last_ready_us;
        self.pause((period * 9 / 10).saturating_sub(waited));
        let until = self.timing.now_us() + PATIENCE * period;
        loop {
            let control = self.byte(reg::PU_CTRL)?;
            if control == 0xFF {
                return Err(Fault::Shorted);
            }
            let must = self.running() | reg::POWER_READY;
            if control & must != must {
                return Err(Fault::PowerOn);
            }
            if control & reg::READY != 0 {
                return Ok(());
            }
            if self.timing.now_us() >= until {
                self.last_ready_us = self.timing.now_us();
                return Err(Fault::Late);
            }
            self.pause(period / 20);
        }
    }

    fn pause(&mut self, us: u64) {
        self.timing.delay_us(u32::try_from(us).unwrap_or(u32::MAX));
    }

    fn look_at_temperature(&mut self) -> Reading<Counts> {
        if !self.started {
            self.start()?;
        }
        let kept = self.offset.unwrap_or_default();
        self.write_offset([0; 3])?;
        self.set_input(Gain::X1, reg::TEMPERATURE)?;
        let temperature = self.skip(SETTLING).and_then(|()| self.next_conversion());
        self.set_input(self.setup.gain, 0)?;
        self.write_offset(kept)?;
        self.skip(SETTLING)?;
        temperature
    }

    fn set_input(&mut self, gain: Gain, input: u8) -> Reading<()> {
        self.write(reg::CTRL1, self.setup.supply.code() << 3 | gain as u8)?;
        self.write(reg::I2C_CTRL, input)
    }

    /// Counts at gain 1 against the bridge's supply, read as the temperature sensor's voltage, °C.
    fn celsius(&self, counts: Counts) -> f64 {
        let supply_v = match self.setup.supply {
            Supply::Outside | Supply::Own3V3 => 3.3,
            Supply::Own3V0 => 3.0,
            Supply::Own4V5 => 4.5,
        };
        let volts = counts.of_scale() * supply_v / 2.0;
        25.0 + (volts - 0.109) / 390e-6
    }

    fn word(&mut self) -> Reading<u32> {
        let [high, middle, low] = self.bytes(reg::ADCO)?;
        Ok(u32::from_be_bytes([0, high, middle, low]))
    }

    fn byte(&mut self, register: u8) -> Reading<u8> {
        let mut byte = [0];
        self.bus.write_read(reg::ADDRESS, &[register], &mut byte).map_err(|e| fault(e.kind()))?;
        Ok(byte[0])
    }

    fn bytes(&mut self, register: u8) -> Reading<[u8; 3]> {
        let mut bytes = [0; 3];
        self.bus.write_read(reg::ADDRESS, &[register], &mut bytes).map_err(|e| fault(e.kind()))?;
        Ok(bytes)
    }

    fn write(&mut self, register: u8, value: u8) -> Reading<()> {
        self.bus.write(reg::ADDRESS, &[register, value]).map_err(|e| fault(e.kind()))
    }
}

impl<B: I2c + Send, T: Timing + Send> LoadConverter for Nau7802<B, T> {
    fn counts(&mut self) -> Reading<Counts> {
        self.read()
    }

    fn temperature(&mut self) -> Option<Reading<Celsius>> {
        Some(self.chip_temperature())
    }

    fn tally(&self) -> Tally {
        self.tally
    }
}

const fn fault(kind: ErrorKind) -> Fault {
    match kind {
        ErrorKind::NoAcknowledge(_) => Fault::Absent,
        ErrorKind::Bus => Fault::Shorted,
        ErrorKind::ArbitrationLoss | ErrorKind::Overrun => Fault::Garbled,
        _ => Fault::Absent,
    }
}
