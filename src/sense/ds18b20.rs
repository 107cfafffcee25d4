//! What a DS18B20's nine scratchpad bytes mean, however they were read.
//!
//! ```text
//! 0, 1  temperature, two's complement, 1/16 °C a step at every resolution
//! 2, 3  alarm limits (not used)
//! 4     resolution: bits 5 and 6, the others fixed
//! 6     after a conversion at 12 bits: 16 - the temperature's low nibble; 0C hex at power-on
//! 8     CRC-8 of the eight before it (x^8 + x^5 + x^4 + 1, least significant bit first)
//! ```
//!
//! Source: Maxim DS18B20 data sheet (register map, conversion times, range -55 to 125 °C); byte 6 at
//! power-on from the Linux driver's `features` test, w1_therm. Accuracy is ±0.5 °C from -10 to 85 °C
//! and ±2 °C to 125 °C: a trim at the boil removes most of the second.

use std::fmt;

use crate::quantity::Celsius;
use crate::reading::{Fault, Reading};

/// The number that a probe was born with, as the kernel writes it: `28-0316a2795fff`.
#[derive(Debug, Clone, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct RomId(String);

impl RomId {
    /// `None` unless `text` is the family code 28, a dash and twelve hex digits.
    #[must_use]
    pub fn new(text: &str) -> Option<Self> {
        let number = text.strip_prefix("28-")?;
        let fair = number.len() == 12 && number.bytes().all(|b| b.is_ascii_hexdigit());
        fair.then(|| Self(text.to_ascii_lowercase()))
    }

    /// The number of these 64 bits: family lowest, then the serial number, then its checksum.
    #[must_use]
    pub fn of_bits(bits: u64) -> Self {
        Self(format!("{:02x}-{:012x}", bits & 0xFF, bits >> 8 & 0xFFFF_FFFF_FFFF))
    }

    /// As the kernel writes it.
    #[must_use]
    pub fn as_str(&self) -> &str {
        &self.0
    }
}

impl fmt::Display for RomId {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

/// Bits of the temperature.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Resolution {
    Bits9,
    Bits10,
    Bits11,
    Bits12,
}

impl Resolution {
    /// The resolution with this many bits, where there is one.
    #[must_use]
    pub const fn with_bits(bits: u8) -> Option<Self> {
        match bits {
            9 => Some(Self::Bits9),
            10 => Some(Self::Bits10),
            11 => Some(Self::Bits11),
            12 => Some(Self::Bits12),
            _ => None,
        }
    }

    #[must_use]
    pub const fn bits(self) -> u8 {
        9 + self.above_nine()
    }

    /// Longest time of a conversion, ms (93.75 at 9 bits, doubling with each).
    #[must_use]
    pub const fn conversion_ms(self) -> u32 {
        match self {
            Self::Bits9 => 94,
            Self::Bits10 => 188,
            Self::Bits11 => 375,
            Self::Bits12 => 750,
        }
    }

    /// The smallest step, °C.
    #[must_use]
    pub fn step_c(self) -> f64 {
        0.5 / f64::from(1_u8 << self.above_nine())
    }

    const fn above_nine(self) -> u8 {
        match self {
            Self::Bits9 => 0,
            Self::Bits10 => 1,
            Self::Bits11 => 2,
            Self::Bits12 => 3,
        }
    }

    const fn of_register(register: u8) -> Option<Self> {
        match register {
            0x1F => Some(Self::Bits9),
            0x3F => Some(Self::Bits10),
            0x5F => Some(Self::Bits11),
            0x7F => Some(Self::Bits12),
            _ => None,
        }
    }
}

/// Temperature register of a probe that has not converted since power-on: 85 °C, and 127.94 °C in
/// some copies of the chip.
const POWER_ON_TEMPERATURES: [i16; 2] = [0x0550, 0x07FF];
/// Byte 6 of such a probe.
const POWER_ON_MARK: u8 = 0x0C;
const LOWEST_C: f64 = -55.0;
const HIGHEST_C: f64 = 125.0;

/// The temperature in a scratchpad.
///
/// # Errors
/// `Shorted` where all bits are zero, `Absent` where nobody pulled the line down, `Garbled` where the checksum or the fixed bits are wrong,
/// `PowerOn` for the 85 °C of a probe that lost its supply (a pot that really passes 85 °C is let
/// through by byte 6), `OutOfRange` beyond -55 to 125 °C.
pub fn temperature(scratchpad: &[u8; 9]) -> Reading<Celsius> {
    if scratchpad.iter().all(|&byte| byte == 0) {
        return Err(Fault::Shorted);
    }
    if scratchpad.iter().all(|&byte| byte == 0xFF) {
        return Err(Fault::Absent);
    }
    if crc8(scratchpad) != 0 {
        return Err(Fault::Garbled);
    }
    let resolution = Resolution::of_register(scratchpad[4]).ok_or(Fault::Garbled)?;
    let raw = i16::from_le_bytes([scratchpad[0], scratchpad[1]]);
    if POWER_ON_TEMPERATURES.contains(&raw) && scratchpad[6] == POWER_ON_MARK {
        return Err(Fault::PowerOn);
    }
    // Below 12 bits the lowest bits are undefined.
    let undefined = 3 - resolution.above_nine();
    let celsius = f64::from(raw >> undefined << undefined) / 16.0;
    if !(LOWEST_C..=HIGHEST_C).contains(&celsius) {
        return Err(Fault::OutOfRange);
    }
    Celsius::new(celsius).ok_or(Fault::OutOfRange)
}

/// The resolution that a scratchpad says its probe is set to.
#[must_use]
pub fn resolution(scratchpad: &[u8; 9]) -> Option<Resolution> {
    Resolution::of_register(scratchpad[4])
}

/// CRC-8 of 1-Wire devices; 0 over bytes that end with their own checksum.
#[must_use]
pub fn crc8(bytes: &[u8]) -> u8 {
    bytes.iter().fold(0, |crc, byte| (0..8).fold(crc ^ byte, |c, _| (c >> 1) ^ ((c & 1) * 0x8C)))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A scratchpad as a probe at 12 bits would answer it.
    fn scratchpad(raw: i16, mark: u8) -> [u8; 9] {
        let [low, high] = raw.to_le_bytes();
        let mut pad = [low, high, 0x4B, 0x46, 0x7F, 0xFF, mark, 0x10, 0];
        pad[8] = crc8(&pad[..8]);
        pad
    }

    fn celsius(pad: &[u8; 9]) -> Reading<f64> {
        temperature(pad).map(Celsius::get)
    }

    #[test]
    fn temperatures_of_the_data_sheets_table_come_out() {
        // DS18B20 data sheet, table 1: temperature and data relationship.
        for (raw, c) in [
            (0x07D0, 125.0),
            (0x0191, 25.0625),
            (0x00A2, 10.125),
            (0x0008, 0.5),
            (0x0000, 0.0),
            (0xFFF8_u16 as i16, -0.5),
            (0xFF5E_u16 as i16, -10.125),
            (0xFE6F_u16 as i16, -25.0625),
            (0xFC90_u16 as i16, -55.0),
        ] {
            assert_eq!(celsius(&scratchpad(raw, 0x10)), Ok(c));
        }
    }

    #[test]
    fn the_checksum_is_that_of_a_probe_seen_by_the_kernel() {
        // Linux 6.12's w1_therm at 96.25 °C: "04 06 4b 46 7f ff 0c 10 53: crc=53 YES".
        assert_eq!(crc8(&[0x04, 0x06, 0x4B, 0x46, 0x7F, 0xFF, 0x0C, 0x10]), 0x53);
        // The worked example of Maxim's application note 27: A2 closes 02 1C B8 01 00 00 00.
        assert_eq!(crc8(&[0x02, 0x1C, 0xB8, 0x01, 0x00, 0x00, 0x00]), 0xA2);
    }

    #[test]
    fn a_probe_that_lost_power_is_not_a_pot_at_85() {
        assert_eq!(celsius(&scratchpad(0x0550, 0x0C)), Err(Fault::PowerOn));
        assert_eq!(celsius(&scratchpad(0x0550, 0x10)), Ok(85.0));
        assert_eq!(celsius(&scratchpad(0x0551, 0x0C)), Ok(85.0625));
    }

    #[test]
    fn any_single_flipped_bit_is_noticed() {
        let good = scratchpad(0x0604, 0x0C);
        for bit in 0..72 {
            let mut bad = good;
            bad[bit / 8] ^= 1 << (bit % 8);
            assert_eq!(celsius(&bad), Err(Fault::Garbled), "bit {bit}");
        }
    }

    #[test]
    fn a_held_line_is_not_a_temperature() {
        assert_eq!(celsius(&[0; 9]), Err(Fault::Shorted));
        assert_eq!(celsius(&[0xFF; 9]), Err(Fault::Absent));
    }

    #[test]
    fn below_twelve_bits_a_step_is_still_a_sixteenth() {
        let mut pad = scratchpad(0x0191, 0x10);
        pad[4] = 0x1F;
        pad[8] = crc8(&pad[..8]);
        assert_eq!(celsius(&pad), Ok(25.0));
        assert_eq!(resolution(&pad), Some(Resolution::Bits9));
        assert_eq!(Resolution::Bits9.step_c(), 0.5);
        assert_eq!(Resolution::Bits12.step_c(), 0.0625);
    }

    #[test]
    fn what_the_probe_cannot_measure_is_refused() {
        assert_eq!(celsius(&scratchpad(0x07FF, 0x10)), Err(Fault::OutOfRange));
        assert_eq!(celsius(&scratchpad(0xF920_u16 as i16, 0x10)), Err(Fault::OutOfRange));
    }

    #[test]
    fn a_rom_number_is_the_kernels() {
        assert!(RomId::new("28-0316a2795f01").is_some());
        for bad in ["28-0316a2795f0", "10-0316a2795f01", "28-0316a2795g01", "28-../../../../x", ""]
        {
            assert!(RomId::new(bad).is_none(), "{bad}");
        }
    }

    #[test]
    fn a_rom_number_reads_the_same_from_its_bits() {
        let bits = 0x5A03_16A2_795F_0128;
        assert_eq!(Some(RomId::of_bits(bits)), RomId::new("28-0316a2795f01"));
    }
}
