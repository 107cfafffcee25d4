//! The converter's registers, by the names of its data sheet (Nuvoton, revision 1.7, section 11;
//! addresses and bits of 00 to 02 and 12 to 15 agree with the Linux kernel's driver, those of 11 and
//! 1C are from memory of the sheet).

/// The only address of the converter on its bus.
pub const ADDRESS: u8 = 0x2A;

pub const PU_CTRL: u8 = 0x00;
pub const CTRL1: u8 = 0x01;
pub const CTRL2: u8 = 0x02;
/// Offset calibration of channel 1, three bytes, the highest first.
pub const OCAL1: u8 = 0x03;
pub const I2C_CTRL: u8 = 0x11;
/// The conversion, three bytes, the highest first.
pub const ADCO: u8 = 0x12;
pub const ADC_CTRL: u8 = 0x15;
pub const PGA_PWR: u8 = 0x1C;

/// PU_CTRL: reset all registers.
pub const RESET: u8 = 1 << 0;
/// PU_CTRL: digital part on.
pub const DIGITAL_ON: u8 = 1 << 1;
/// PU_CTRL: analogue part on.
pub const ANALOG_ON: u8 = 1 << 2;
/// PU_CTRL: power is up (read only).
pub const POWER_READY: u8 = 1 << 3;
/// PU_CTRL: convert; conversions begin with its rising edge.
pub const CONVERT: u8 = 1 << 4;
/// PU_CTRL: a conversion waits to be read (read only).
pub const READY: u8 = 1 << 5;
/// PU_CTRL: the bridge is fed by the converter's own regulator.
pub const OWN_SUPPLY: u8 = 1 << 7;

/// CTRL2: where the rate stands.
pub const RATE_SHIFT: u8 = 4;
/// CTRL2: the last calibration failed (read only).
pub const CAL_FAILED: u8 = 1 << 3;
/// CTRL2: calibrate the offset with the input shorted inside; falls when done.
pub const CALIBRATE: u8 = 1 << 2;

/// I2C_CTRL: the amplifier looks at the chip's temperature sensor.
pub const TEMPERATURE: u8 = 1 << 1;

/// ADC_CTRL: amplifier clock chopping off, as the sheet's start-up sequence asks.
pub const CHOPPER_OFF: u8 = 0x30;
/// PGA_PWR: the capacitor on the second channel's pins steadies the amplifier.
pub const AMPLIFIER_CAPACITOR: u8 = 1 << 7;
