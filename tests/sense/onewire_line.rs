//! A 1-Wire line at bit level: DS18B20s that answer by how long the line was held low.
//!
//! Slot times are the data sheet's: reset from 480 µs, presence 15 to 60 µs after it for 60 to 240 µs,
//! a written 1 is let go within 15 µs, a written 0 held from 60 µs, a read bit holds the line 15 µs
//! from the slot's start. A device samples a written bit somewhere between 15 and 60 µs: here at 30.

use super::clock::{Chance, Clock};
use dekchi::sense::ds18b20::crc8;
use dekchi::sense::ds18b20_pin::OpenDrain;
use dekchi::sense::timing::Timing;
use embedded_hal::delay::DelayNs;
use std::cell::RefCell;
use std::rc::Rc;

/// The line, as the master holds it.
#[derive(Debug, Clone)]
pub struct Line {
    pub clock: Clock,
    pub inner: Rc<RefCell<Inside>>,
}

#[derive(Debug)]
pub struct Inside {
    pub probes: Vec<Chip>,
    low_since_us: Option<u64>,
    /// Devices hold the line low during these times.
    held: Vec<(u64, u64)>,
    /// Something holds the line low all the time.
    pub shorted: bool,
}

/// One DS18B20.
#[derive(Debug, Clone)]
pub struct Chip {
    pub rom: [u8; 8],
    pub celsius: f64,
    pub plugged: bool,
    scratchpad: [u8; 8],
    converting_until_us: u64,
    state: State,
}

#[derive(Debug, Clone, PartialEq)]
enum State {
    /// Waits for a reset.
    Idle,
    /// Gathers bits of a command or an address.
    Rom {
        bits: u32,
        byte: u8,
    },
    Match {
        bit: u32,
        same: bool,
    },
    Search {
        bit: u32,
        step: u32,
    },
    Function {
        bits: u32,
        byte: u8,
    },
    WriteScratchpad {
        bits: u32,
    },
    ReadScratchpad {
        bit: u32,
    },
    Converting,
}

impl Chip {
    pub fn new(serial: u64, celsius: f64) -> Self {
        let mut rom = [0; 8];
        rom[0] = 0x28;
        rom[1..7].copy_from_slice(&serial.to_le_bytes()[..6]);
        rom[7] = crc8(&rom[..7]);
        let mut chip = Self {
            rom,
            celsius,
            plugged: true,
            scratchpad: [0; 8],
            converting_until_us: 0,
            state: State::Idle,
        };
        chip.power_on();
        chip
    }

    /// The supply fails for a moment: 85 °C until the next conversion.
    pub fn power_on(&mut self) {
        self.scratchpad = [0x50, 0x05, 0x4B, 0x46, 0x7F, 0xFF, 0x0C, 0x10];
        self.converting_until_us = 0;
        self.state = State::Idle;
    }

    fn convert(&mut self, now_us: u64) {
        let above_nine = self.scratchpad[4] >> 5 & 3;
        self.converting_until_us = now_us + (93_750 << above_nine);
        let undefined = 3 - above_nine;
        let raw = (self.celsius * 16.0).round() as i16;
        // Below 12 bits the lowest bits are undefined: here they are ones.
        let raw = raw | ((1 << undefined) - 1);
        self.scratchpad[..2].copy_from_slice(&raw.to_le_bytes());
        self.scratchpad[6] = 0x10 - (raw as u8 & 0x0F);
    }

    /// A slot in which the master may read: true where the chip holds the line low.
    fn pulls_in_slot(&mut self, now_us: u64) -> bool {
        match self.state {
            State::Search { bit, step: 0 } => !self.rom_bit(bit),
            State::Search { bit, step: 1 } => self.rom_bit(bit),
            State::ReadScratchpad { bit } => {
                let mut pad = [0; 9];
                pad[..8].copy_from_slice(&self.scratchpad);
                pad[8] = crc8(&self.scratchpad);
                pad[(bit / 8 % 9) as usize] >> (bit % 8) & 1 == 0
            }
            State::Converting => now_us < self.converting_until_us,
            _ => false,
        }
    }

    fn rom_bit(&self, bit: u32) -> bool {
        self.rom[(bit / 8) as usize] >> (bit % 8) & 1 == 1
    }

    /// The slot is over: `bit` is what the master wrote.
    fn take(&mut self, bit: bool, now_us: u64) {
        self.state = match self.state.clone() {
            State::Rom { bits, byte } => match gather(bits, byte, bit) {
                (8, 0x55) => State::Match { bit: 0, same: true },
                (8, 0xCC) => State::Function { bits: 0, byte: 0 },
                (8, 0xF0) => State::Search { bit: 0, step: 0 },
                (8, _) => State::Idle,
                (bits, byte) => State::Rom { bits, byte },
            },
            State::Match { bit: at, same } => match (at, same && bit == self.rom_bit(at)) {
                (63, true) => State::Function { bits: 0, byte: 0 },
                (63, false) => State::Idle,
                (at, same) => State::Match { bit: at + 1, same },
            },
            State::Search { bit: at, step: 2 } => match (at, bit == self.rom_bit(at)) {
                (63, _) | (_, false) => State::Idle,
                _ => State::Search { bit: at + 1, step: 0 },
            },
            State::Search { bit, step } => State::Search { bit, step: step + 1 },
            State::Function { bits, byte } => match gather(bits, byte, bit) {
                (8, 0x44) => {
                    self.convert(now_us);
                    State::Converting
                }
                (8, 0x4E) => State::WriteScratchpad { bits: 0 },
                (8, 0xBE) => State::ReadScratchpad { bit: 0 },
                (8, _) => State::Idle,
                (bits, byte) => State::Function { bits, byte },
            },
            State::WriteScratchpad { bits } if bits < 24 => {
                let at = 2 + (bits / 8) as usize;
                let mask = 1 << (bits % 8);
                self.scratchpad[at] = self.scratchpad[at] & !mask | if bit { mask } else { 0 };
                self.scratchpad[4] = self.scratchpad[4] & 0x60 | 0x1F;
                State::WriteScratchpad { bits: bits + 1 }
            }
            State::ReadScratchpad { bit } => State::ReadScratchpad { bit: bit + 1 },
            other => other,
        };
    }
}

fn gather(bits: u32, byte: u8, bit: bool) -> (u32, u8) {
    (bits + 1, byte | u8::from(bit) << bits)
}

impl Line {
    pub fn new(clock: Clock, probes: Vec<Chip>) -> Self {
        let inside = Inside { probes, low_since_us: None, held: Vec::new(), shorted: false };
        Self { clock, inner: Rc::new(RefCell::new(inside)) }
    }
}

impl OpenDrain for Line {
    fn pull_low(&mut self) {
        let mut inside = self.inner.borrow_mut();
        let now = self.clock.us();
        inside.low_since_us = Some(now);
        // A reading slot begins with this edge.
        let pulls = inside.probes.iter_mut().any(|p| p.plugged && p.pulls_in_slot(now));
        inside.held.retain(|&(_, to)| to > now);
        if pulls {
            inside.held.push((now, now + 30));
        }
    }

    fn let_go(&mut self) {
        let mut inside = self.inner.borrow_mut();
        let now = self.clock.us();
        let Some(since) = inside.low_since_us.take() else { return };
        let low_us = now - since;
        let mut answers = false;
        for probe in inside.probes.iter_mut().filter(|p| p.plugged) {
            if low_us >= 480 {
                probe.state = State::Rom { bits: 0, byte: 0 };
                answers = true;
            } else {
                probe.take(low_us < 30, now);
            }
        }
        if answers {
            inside.held.push((now + 30, now + 150));
        }
    }

    fn is_high(&self) -> bool {
        let inside = self.inner.borrow();
        let now = self.clock.us();
        let held = inside.held.iter().any(|&(from, to)| (from..to).contains(&now));
        inside.low_since_us.is_none() && !held && !inside.shorted
    }
}

/// A clock whose waits are now and then stretched by a scheduler.
#[derive(Debug, Clone)]
pub struct Unsteady {
    pub clock: Clock,
    pub chance: Chance,
    /// Waits of a million that take 20 to 300 µs longer.
    pub stalls_ppm: u64,
}

impl DelayNs for Unsteady {
    fn delay_ns(&mut self, ns: u32) {
        self.clock.pass_ns(u64::from(ns));
        if self.stalls_ppm > 0 && self.chance.below(1_000_000) < self.stalls_ppm {
            self.clock.pass_us(20 + self.chance.below(280));
        }
    }

    fn delay_us(&mut self, us: u32) {
        self.delay_ns(us * 1_000);
    }

    fn delay_ms(&mut self, ms: u32) {
        self.clock.pass_us(u64::from(ms) * 1_000);
    }
}

impl Timing for Unsteady {
    fn now_us(&mut self) -> u64 {
        self.clock.us()
    }
}
