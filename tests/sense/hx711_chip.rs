//! An HX711 as its two pins see it: bits shifted out by edges, powered down by a long pulse.

use super::clock::{Chance, Clock};
use embedded_hal::digital::{ErrorType, InputPin, OutputPin};
use std::cell::RefCell;
use std::convert::Infallible;
use std::rc::Rc;

/// The chip; clones are the same chip.
#[derive(Debug, Clone)]
pub struct Chip {
    pub inner: Rc<RefCell<Inside>>,
    pub clock: Clock,
}

#[derive(Debug)]
pub struct Inside {
    period_us: u64,
    settling_us: u64,
    /// What channel A gives at gain 128.
    pub load: i32,
    clock_high_since_ns: Option<u64>,
    /// When the conversion that is read next is (or was) ready.
    ready_at_us: u64,
    /// Until when the output is not settled.
    unsettled_until_us: u64,
    /// The word being shifted out, and how many clock edges it has had.
    word: u32,
    edges: u32,
    last_edge_us: u64,
    /// Pulses that chose the present input.
    input: u32,
    pub faults: Faults,
    pub power_downs: u32,
    chance: Chance,
}

#[derive(Debug, Default)]
pub struct Faults {
    /// The clock pin is put aside in this many pulses of a million, for 10 to 400 µs.
    pub stalls_ppm: u64,
    /// The data line is held low or high.
    pub held: Option<bool>,
    /// Both lines hang in the air; the pull-up keeps the data line high.
    pub unplugged: bool,
}

impl Chip {
    pub fn new(clock: Clock, sps: u64) -> Self {
        let inside = Inside {
            period_us: 1_000_000 / sps,
            settling_us: 4_000_000 / sps,
            load: 0,
            clock_high_since_ns: None,
            ready_at_us: 0,
            unsettled_until_us: 0,
            word: 0,
            edges: 0,
            last_edge_us: 0,
            input: 25,
            faults: Faults::default(),
            power_downs: 0,
            chance: Chance(711),
        };
        Self { inner: Rc::new(RefCell::new(inside)), clock }
    }

    pub fn data(&self) -> Data {
        Data(self.clone())
    }

    pub fn clock_pin(&self) -> ClockPin {
        ClockPin(self.clone())
    }
}

impl Inside {
    fn rise(&mut self, clock: &Clock) {
        self.clock_high_since_ns = Some(clock.ns());
        self.catch_up(clock.us());
        if clock.us() < self.ready_at_us && self.edges == 0 {
            return;
        }
        if self.edges == 0 {
            self.word = self.convert(clock.us());
        }
        self.edges += 1;
        self.last_edge_us = clock.us();
        if self.edges == 25 {
            let periods = (clock.us() - self.ready_at_us) / self.period_us + 1;
            self.ready_at_us += periods * self.period_us;
        }
    }

    fn fall(&mut self, clock: &Clock) {
        let Some(since) = self.clock_high_since_ns.take() else { return };
        // The data sheet's 60 µs, at which the chip powers down; the falling edge then resets it.
        if clock.ns() - since > 60_000 {
            self.power_downs += 1;
            (self.edges, self.input) = (0, 25);
            self.unsettled_until_us = clock.us() + self.settling_us;
            self.ready_at_us = clock.us() + self.period_us;
        }
    }

    /// Read out and converted anew: the pulses beyond 24 have chosen what was looked at.
    fn catch_up(&mut self, now_us: u64) {
        if self.edges >= 25 && now_us >= self.ready_at_us {
            let chosen = self.edges.min(27);
            if chosen != self.input {
                self.unsettled_until_us = self.last_edge_us + self.settling_us;
            }
            (self.input, self.edges) = (chosen, 0);
        }
    }

    /// The newest conversion of the chosen input; settled only after its time.
    fn convert(&self, now_us: u64) -> u32 {
        let signal = match self.input {
            27 => self.load / 2,
            26 => 12_345,
            _ => self.load,
        };
        let unsettled = if now_us < self.unsettled_until_us { 90_000 } else { 0 };
        (signal - unsettled).clamp(-0x80_0000, 0x7F_FFFF) as u32 & 0xFF_FFFF
    }

    fn line(&mut self, clock: &Clock) -> bool {
        if let Some(level) = self.faults.held {
            return level;
        }
        if self.faults.unplugged {
            return true;
        }
        self.catch_up(clock.us());
        match self.edges {
            0 => clock.us() < self.ready_at_us,
            edge @ 1..=24 => self.word >> (24 - edge) & 1 == 1,
            _ => true,
        }
    }
}

pub struct Data(Chip);
pub struct ClockPin(Chip);

impl ErrorType for Data {
    type Error = Infallible;
}

impl InputPin for Data {
    fn is_high(&mut self) -> Result<bool, Infallible> {
        Ok(self.0.inner.borrow_mut().line(&self.0.clock))
    }

    fn is_low(&mut self) -> Result<bool, Infallible> {
        self.is_high().map(|high| !high)
    }
}

impl ErrorType for ClockPin {
    type Error = Infallible;
}

impl OutputPin for ClockPin {
    fn set_high(&mut self) -> Result<(), Infallible> {
        let mut chip = self.0.inner.borrow_mut();
        if !chip.faults.unplugged {
            chip.rise(&self.0.clock);
        }
        let stalls = chip.faults.stalls_ppm;
        if stalls > 0 && chip.chance.below(1_000_000) < stalls {
            let us = 10 + chip.chance.below(390);
            self.0.clock.pass_us(us);
        }
        Ok(())
    }

    fn set_low(&mut self) -> Result<(), Infallible> {
        self.0.inner.borrow_mut().fall(&self.0.clock);
        Ok(())
    }
}
