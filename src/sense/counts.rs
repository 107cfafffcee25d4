//! A 24-bit converter's number, before anyone knows what it weighs.
//!
//! Both load-cell converters give two's complement with 23 bits and a sign, the most significant
//! first, and stop at 7FFFFF and 800000 (hex) when the bridge is driven past full scale.

use crate::quantity::Celsius;
use crate::reading::{Fault, Reading};

/// What turns the load cells' signal into numbers.
pub trait LoadConverter: Send {
    /// The next conversion; blocks until it is there or the converter's deadline has passed.
    ///
    /// # Errors
    /// Why there is none.
    fn counts(&mut self) -> Reading<Counts>;

    /// The converter's own temperature; `None` where it has no sensor.
    fn temperature(&mut self) -> Option<Reading<Celsius>> {
        None
    }

    /// How the conversions came out so far.
    fn tally(&self) -> Tally;
}

/// A conversion within the converter's scale.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct Counts(i32);

/// The largest number that a converter can give.
const TOP: i32 = 0x7F_FFFF;
/// The smallest.
const BOTTOM: i32 = -0x80_0000;
/// How near to an end counts as the end: a filter that saturates may settle a little inside it.
const MARGIN: i32 = 16;

impl Counts {
    /// The low 24 bits of `word`, read as two's complement.
    ///
    /// # Errors
    /// `Saturated` at either end; `Shorted` where all bits are ones, which is what a line held high
    /// reads as (one good number, -1, is given up for it).
    pub const fn from_bits(word: u32) -> Reading<Self> {
        let signed = ((word << 8) as i32) >> 8;
        if signed == -1 {
            return Err(Fault::Shorted);
        }
        if signed >= TOP - MARGIN || signed <= BOTTOM + MARGIN {
            return Err(Fault::Saturated);
        }
        Ok(Self(signed))
    }

    /// The number.
    #[must_use]
    pub const fn get(self) -> i32 {
        self.0
    }

    /// The number as a fraction of the converter's half scale, -1 to 1.
    #[must_use]
    pub fn of_scale(self) -> f64 {
        f64::from(self.0) / 8_388_608.0
    }
}

/// How a converter's conversions came out since it was opened.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Tally {
    pub good: u64,
    /// Conversions that were made and not used.
    pub discarded: u64,
    /// Times at which no conversion came.
    pub missed: u64,
    /// Times at which the converter was started anew.
    pub started: u64,
}

impl Tally {
    /// Counts one outcome.
    pub fn count<T>(&mut self, outcome: &Reading<T>) {
        match outcome {
            Ok(_) => self.good += 1,
            Err(Fault::Absent | Fault::Late | Fault::PowerOn) => self.missed += 1,
            Err(_) => self.discarded += 1,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn twenty_four_bits_are_signed() {
        assert_eq!(Counts::from_bits(0x00_0001).map(Counts::get), Ok(1));
        assert_eq!(Counts::from_bits(0xFF_FFFE).map(Counts::get), Ok(-2));
        assert_eq!(Counts::from_bits(0x40_0000).map(Counts::of_scale), Ok(0.5));
    }

    #[test]
    fn the_ends_of_the_scale_are_never_a_weight() {
        assert_eq!(Counts::from_bits(0x7F_FFFF), Err(Fault::Saturated));
        assert_eq!(Counts::from_bits(0x80_0000), Err(Fault::Saturated));
        assert_eq!(Counts::from_bits(0xFF_FFFF), Err(Fault::Shorted));
    }

    #[test]
    fn what_lies_above_the_twenty_fourth_bit_is_ignored() {
        assert_eq!(Counts::from_bits(0xAA00_0007).map(Counts::get), Ok(7));
    }
}
