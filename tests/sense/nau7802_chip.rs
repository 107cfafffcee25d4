//! An NAU7802 as its bus sees it: a file of registers, and conversions that take their time.

use super::clock::Clock;
use dekchi::sense::nau7802::registers as reg;
use embedded_hal::i2c::{ErrorKind, ErrorType, I2c, NoAcknowledgeSource, Operation};
use std::cell::{Cell, RefCell};
use std::rc::Rc;

/// The chip on its bus; clones are the same chip.
#[derive(Debug, Clone)]
pub struct Chip {
    inner: Rc<RefCell<Inside>>,
    pub clock: Clock,
    pub faults: Rc<Faults>,
}

/// What may be wrong with chip and bus.
#[derive(Debug, Default)]
pub struct Faults {
    /// Nobody acknowledges.
    pub unplugged: Cell<bool>,
    /// The data line is held low: every transfer times out.
    pub held: Cell<bool>,
    /// The next so many transfers lose arbitration.
    pub collisions: Cell<u32>,
    /// No conversion ever ends.
    pub frozen: Cell<bool>,
    /// Calibration ends in CAL_ERR.
    pub uncalibratable: Cell<bool>,
}

#[derive(Debug)]
struct Inside {
    registers: [u8; 0x20],
    /// When "power ready" comes, once the digital part is on.
    power_at_us: Option<u64>,
    calibrated_at_us: Option<u64>,
    /// When conversions began, and how many were read or overwritten since.
    converting_since_us: Option<u64>,
    seen: u64,
    /// Conversions since the input was changed still hold some of the old one.
    changed_at: u64,
    bridge: i32,
    chip_c: f64,
    /// The chip's own offset at gain 128, which calibration finds.
    offset: i32,
}

/// Conversions until a changed input shows fully.
const SETTLING: u64 = 4;

impl Chip {
    pub fn new(clock: Clock) -> Self {
        let inside = Inside {
            registers: reset_registers(),
            power_at_us: None,
            calibrated_at_us: None,
            converting_since_us: None,
            seen: 0,
            changed_at: 0,
            bridge: 0,
            chip_c: 25.0,
            offset: 1_234,
        };
        Self { inner: Rc::new(RefCell::new(inside)), clock, faults: Rc::default() }
    }

    /// What the bridge gives, in counts at gain 128 of a chip without offset.
    pub fn load(&self, counts: i32) {
        self.inner.borrow_mut().bridge = counts;
    }

    pub fn warm(&self, celsius: f64) {
        self.inner.borrow_mut().chip_c = celsius;
    }

    /// The supply fails for a moment: every register is as at power-on.
    pub fn brown_out(&self) {
        let mut inside = self.inner.borrow_mut();
        inside.registers = reset_registers();
        inside.power_at_us = None;
        inside.converting_since_us = None;
    }

    pub fn register(&self, register: u8) -> u8 {
        self.inner.borrow().registers[usize::from(register)]
    }
}

fn reset_registers() -> [u8; 0x20] {
    [0; 0x20]
}

impl Inside {
    fn period_us(&self) -> u64 {
        match self.registers[usize::from(reg::CTRL2)] >> reg::RATE_SHIFT & 7 {
            7 => 3_125,
            rate => 100_000 >> rate,
        }
    }

    fn write(&mut self, register: u8, value: u8, now: u64, faults: &Faults) {
        let at = usize::from(register);
        match register {
            reg::PU_CTRL => self.power(value, now),
            reg::CTRL2 => {
                self.registers[at] = value;
                if value & reg::CALIBRATE != 0 {
                    self.calibrated_at_us = Some(now + 4 * self.period_us());
                    let failed = faults.uncalibratable.get();
                    self.registers[at] = value | if failed { reg::CAL_FAILED } else { 0 };
                }
            }
            reg::CTRL1 | reg::I2C_CTRL => {
                self.registers[at] = value;
                self.changed_at = self.made(now);
            }
            _ => self.registers[at] = value,
        }
    }

    fn power(&mut self, value: u8, now: u64) {
        if value & reg::RESET != 0 {
            self.registers = reset_registers();
            self.power_at_us = None;
            self.converting_since_us = None;
            return;
        }
        if value & reg::DIGITAL_ON != 0 && self.power_at_us.is_none() {
            self.power_at_us = Some(now + 200);
        }
        let all = reg::DIGITAL_ON | reg::ANALOG_ON | reg::CONVERT;
        if value & all == all && self.converting_since_us.is_none() {
            self.converting_since_us = Some(now);
            self.seen = 0;
            self.changed_at = 0;
        }
        self.registers[0] = value & !(reg::POWER_READY | reg::READY);
    }

    /// Conversions finished since they began.
    fn made(&self, now: u64) -> u64 {
        self.converting_since_us.map_or(0, |since| (now - since) / self.period_us())
    }

    fn read(&mut self, register: u8, now: u64, faults: &Faults) -> u8 {
        match register {
            reg::PU_CTRL => {
                let power = self.power_at_us.is_some_and(|at| now >= at);
                let ready = !faults.frozen.get() && self.made(now) > self.seen;
                self.registers[0]
                    | if power { reg::POWER_READY } else { 0 }
                    | if ready { reg::READY } else { 0 }
            }
            reg::CTRL2 => {
                if self.calibrated_at_us.is_some_and(|at| now >= at) {
                    self.calibrated_at_us = None;
                    self.registers[2] &= !reg::CALIBRATE;
                    let [_, high, middle, low] = self.offset.to_be_bytes();
                    self.registers[3..6].copy_from_slice(&[high, middle, low]);
                }
                self.registers[2]
            }
            _ => self.registers[usize::from(register)],
        }
    }

    /// The newest conversion, as three bytes.
    fn output(&mut self, now: u64) -> [u8; 3] {
        let made = self.made(now);
        self.seen = made;
        let settled = made.saturating_sub(self.changed_at) >= SETTLING;
        let raw = self.signal() - if settled { 0 } else { 50_000 };
        let [_, high, middle, low] = raw.clamp(-0x80_0000, 0x7F_FFFF).to_be_bytes();
        [high, middle, low]
    }

    /// The measured signal less what the offset registers take off.
    fn signal(&self) -> i32 {
        let [high, middle, low] = [self.registers[3], self.registers[4], self.registers[5]];
        let taken_off = i32::from_be_bytes([0, high, middle, low]);
        let at_gain_1 = self.registers[1] & 7 == 0;
        if self.registers[usize::from(reg::I2C_CTRL)] & reg::TEMPERATURE != 0 {
            assert!(at_gain_1, "the temperature sensor would saturate the amplifier");
            let volts = 0.109 + (self.chip_c - 25.0) * 390e-6;
            return (volts / 1.5 * 8_388_608.0).round() as i32 - taken_off;
        }
        self.bridge.saturating_add(self.offset).saturating_sub(taken_off)
    }
}

impl ErrorType for Chip {
    type Error = ErrorKind;
}

impl I2c for Chip {
    fn transaction(&mut self, address: u8, steps: &mut [Operation<'_>]) -> Result<(), ErrorKind> {
        // A byte at 100 kHz takes 90 µs; a held line, the kernel's time-out.
        let bytes: usize = steps
            .iter()
            .map(|s| match s {
                Operation::Read(b) => b.len() + 1,
                Operation::Write(b) => b.len() + 1,
            })
            .sum();
        self.clock.pass_us(90 * bytes as u64);
        if self.faults.held.get() {
            self.clock.pass_us(1_000_000);
            return Err(ErrorKind::Bus);
        }
        if self.faults.collisions.get() > 0 {
            self.faults.collisions.set(self.faults.collisions.get() - 1);
            return Err(ErrorKind::ArbitrationLoss);
        }
        if self.faults.unplugged.get() || address != reg::ADDRESS {
            return Err(ErrorKind::NoAcknowledge(NoAcknowledgeSource::Address));
        }
        self.answer(steps);
        Ok(())
    }
}

impl Chip {
    fn answer(&self, steps: &mut [Operation<'_>]) {
        let (mut inside, now) = (self.inner.borrow_mut(), self.clock.us());
        let mut register = 0;
        for step in steps {
            match step {
                Operation::Write([at, values @ ..]) => {
                    register = *at;
                    for value in values.iter().copied() {
                        inside.write(register, value, now, &self.faults);
                        register += 1;
                    }
                }
                Operation::Write([]) => {}
                Operation::Read(buffer) if register == reg::ADCO => {
                    buffer.copy_from_slice(&inside.output(now)[..buffer.len()]);
                }
                Operation::Read(buffer) => {
                    for byte in buffer.iter_mut() {
                        *byte = inside.read(register, now, &self.faults);
                        register += 1;
                    }
                }
            }
        }
    }
}
