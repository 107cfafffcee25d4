//! Each driver against its device: by expected transactions, and by a device emulated at bus or bit level.

#![cfg(test)]

mod calibrate;
mod clock;
mod hx711;
mod hx711_chip;
mod nau7802;
mod nau7802_chip;
mod onewire_kernel;
#[cfg(feature = "onewire-pin")]
mod onewire_line;
#[cfg(feature = "onewire-pin")]
mod onewire_pin;
