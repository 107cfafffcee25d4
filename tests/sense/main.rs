//! Each driver against its device: by transcript, and by a device emulated at bus or bit level.

mod clock;
#[cfg(test)]
mod hx711;
mod hx711_chip;
#[cfg(test)]
mod nau7802;
mod nau7802_chip;
#[cfg(feature = "onewire-pin")]
mod onewire_line;
#[cfg(feature = "onewire-pin")]
#[cfg(test)]
mod onewire_pin;
