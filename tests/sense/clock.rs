//! Time that a test owns: it goes on only when somebody waits or a bus works.

use dekchi::sense::timing::Timing;
use embedded_hal::delay::DelayNs;
use std::cell::Cell;
use std::rc::Rc;

/// One time for a driver and the device it talks to, ns.
#[derive(Debug, Clone, Default)]
pub struct Clock(Rc<Cell<u64>>);

impl Clock {
    pub fn ns(&self) -> u64 {
        self.0.get()
    }

    pub fn us(&self) -> u64 {
        self.ns() / 1_000
    }

    pub fn pass_ns(&self, ns: u64) {
        self.0.set(self.ns() + ns);
    }

    pub fn pass_us(&self, us: u64) {
        self.pass_ns(us * 1_000);
    }
}

impl DelayNs for Clock {
    fn delay_ns(&mut self, ns: u32) {
        self.pass_ns(u64::from(ns));
    }
}

impl Timing for Clock {
    fn now_us(&mut self) -> u64 {
        self.pass_ns(50);
        self.us()
    }
}

/// Seeded chance: splitmix64 (Steele, Lea and Flood, 2014).
#[derive(Debug, Clone)]
pub struct Chance(pub u64);

impl Chance {
    pub fn bits(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let z = (self.0 ^ (self.0 >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        let z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        z ^ (z >> 31)
    }

    /// True once in `n`.
    pub fn one_in(&mut self, n: u64) -> bool {
        self.bits() % n == 0
    }

    pub fn below(&mut self, n: u64) -> u64 {
        self.bits() % n
    }
}
