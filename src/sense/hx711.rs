//! Load cells by an HX711 on two pins: the second way.
//!
//! The chip pulls its data line low when a conversion waits; 24 clock pulses shift it out, the
//! highest bit first, and one to three more choose the next input and let the line go high again.
//! The data sheet allows a pulse to stay high for 0.2 to 50 µs; beyond 60 µs the chip powers down,
//! and the falling edge then resets it to channel A at gain 128, with 400 ms (50 ms at the fast rate)
//! until its output has settled.
//!
//! A program on Linux can be put aside in the middle of a pulse at any time. So every pulse is timed
//! around both its edges, which can only overstate it; past 50 µs the sample is `Mistimed` and thrown
//! away, the chip is reset on purpose by a pulse of 100 µs, and nothing is believed until it has
//! settled. A readout longer than a conversion may mix two of them and is thrown away too. After the
//! last pulse the line must be high; low means that it is held: `Shorted`.

use embedded_hal::digital::{InputPin, OutputPin};

use super::counts::{Counts, LoadConverter, Tally};
use super::timing::Timing;
use crate::reading::{Fault, Reading};

/// What the next conversion looks at: the value is the number of pulses that choose it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Input {
    /// Channel A, gain 128: ±20 mV at a 5 V supply.
    A128 = 25,
    /// Channel B, gain 32.
    B32 = 26,
    /// Channel A, gain 64: ±40 mV at a 5 V supply.
    A64 = 27,
}

/// The rate that the chip's pin is strapped to.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Rate {
    Sps10,
    Sps80,
}

impl Rate {
    /// Time of one conversion, µs.
    #[must_use]
    pub const fn period_us(self) -> u64 {
        match self {
            Self::Sps10 => 100_000,
            Self::Sps80 => 12_500,
        }
    }

    /// Time from a reset until the output has settled, ms (data sheet: four conversions).
    #[must_use]
    pub const fn settling_ms(self) -> u32 {
        match self {
            Self::Sps10 => 400,
            Self::Sps80 => 50,
        }
    }
}

/// A pulse's high and its low time, µs: the sheet's typical 1, at least 0.2.
const PULSE_US: u32 = 1;
/// The longest pulse that the data sheet allows, µs.
const PULSE_MAX_US: u64 = 50;
/// A pulse that powers the chip down for certain, µs (the sheet: longer than 60).
const RESET_PULSE_US: u32 = 100;
/// The inside oscillator may run slow by this much; how slow is not in the sheet (assumed).
const SLOW_PERCENT: u64 = 50;

/// The converter.
#[derive(Debug)]
pub struct Hx711<D, C, T> {
    data: D,
    clock: C,
    timing: T,
    input: Input,
    rate: Rate,
    armed: bool,
    tally: Tally,
}

impl<D: InputPin, C: OutputPin, T: Timing> Hx711<D, C, T> {
    pub fn new(data: D, clock: C, timing: T, input: Input, rate: Rate) -> Self {
        Self { data, clock, timing, input, rate, armed: false, tally: Tally::default() }
    }

    /// How the conversions came out so far.
    #[must_use]
    pub const fn tally(&self) -> Tally {
        self.tally
    }

    /// Waits for the next conversion, one and a half periods at most (longer after a reset).
    ///
    /// # Errors
    /// Any fault of the module's list; the next call resets the chip and tries again.
    pub fn read(&mut self) -> Reading<Counts> {
        let outcome = self.conversion();
        self.tally.count(&outcome);
        if matches!(outcome, Err(Fault::Mistimed | Fault::Shorted | Fault::Late)) {
            self.armed = false;
        }
        outcome
    }

    fn conversion(&mut self) -> Reading<Counts> {
        if !self.armed {
            self.arm()?;
        }
        self.shift_out().and_then(Counts::from_bits)
    }

    /// Resets the chip, waits until it has settled, and chooses the input.
    fn arm(&mut self) -> Reading<()> {
        self.tally.started += 1;
        self.drive(true)?;
        self.timing.delay_us(RESET_PULSE_US);
        self.drive(false)?;
        self.timing.delay_ms(self.rate.settling_ms());
        if self.input != Input::A128 {
            // The reset chose channel A at 128: this readout is only for its last pulses.
            self.shift_out()?;
            self.timing.delay_ms(self.rate.settling_ms());
            self.shift_out()?;
        }
        self.armed = true;
        Ok(())
    }

    fn shift_out(&mut self) -> Reading<u32> {
        self.wait_until_ready()?;
        let start = self.timing.now_us();
        let mut word = 0;
        let mut stretched = false;
        for pulse in 1..=self.input as u32 {
            let (bit, high_us) = self.pulse()?;
            stretched |= high_us > PULSE_MAX_US;
            if pulse <= 24 {
                word = word << 1 | u32::from(bit);
            }
        }
        let took = self.timing.now_us() - start;
        if stretched || took >= self.rate.period_us() {
            return Err(Fault::Mistimed);
        }
        if self.line()? { Ok(word) } else { Err(Fault::Shorted) }
    }

    /// One clock pulse: the bit, and at most how long the clock was high, µs.
    fn pulse(&mut self) -> Reading<(bool, u64)> {
        let before = self.timing.now_us();
        self.drive(true)?;
        self.timing.delay_us(PULSE_US);
        self.drive(false)?;
        let after = self.timing.now_us();
        self.timing.delay_us(PULSE_US);
        Ok((self.line()?, after - before))
    }

    fn wait_until_ready(&mut self) -> Reading<()> {
        let period = self.rate.period_us();
        let until = self.timing.now_us() + period * (100 + SLOW_PERCENT) / 100;
        while self.line()? {
            if self.timing.now_us() >= until {
                return Err(Fault::Late);
            }
            self.timing.delay_us(u32::try_from(period / 100).unwrap_or(1));
        }
        Ok(())
    }

    fn line(&mut self) -> Reading<bool> {
        self.data.is_high().map_err(|_| Fault::Absent)
    }

    fn drive(&mut self, high: bool) -> Reading<()> {
        let set = if high { self.clock.set_high() } else { self.clock.set_low() };
        set.map_err(|_| Fault::Absent)
    }
}

impl<D, C, T> LoadConverter for Hx711<D, C, T>
where
    D: InputPin + Send,
    C: OutputPin + Send,
    T: Timing + Send,
{
    fn counts(&mut self) -> Reading<Counts> {
        self.read()
    }

    fn tally(&self) -> Tally {
        self.tally
    }
}
