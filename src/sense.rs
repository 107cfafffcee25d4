//! Sensors, one file a device.
//!
//! A device is read by asking it: the call blocks until the device has a value or has shown that it
//! has none, and never longer than the device's own deadline. The daemon gives each device a thread
//! and stamps what comes back. No sensor judges: a value that the device vouches for is handed on
//! as it is, everything else is a [`Fault`](crate::reading::Fault).

pub mod bulk;
pub mod button;
pub mod calibrated;
pub mod calibration;
pub mod counts;
pub mod ds18b20;
#[cfg(feature = "onewire-pin")]
pub mod ds18b20_pin;
pub mod hx711;
#[cfg(feature = "i2c-dev")]
pub mod i2c_dev;
pub mod i2c_errno;
pub mod iio_barometer;
pub mod nau7802;
pub mod onewire_kernel;
pub mod onewire_setup;
pub mod recording;
pub mod timing;
pub mod trimmed;

use crate::quantity::{Celsius, Kilograms, Pascals};
use crate::reading::Reading;

/// A thermometer: in the food, at the pot's base, or at the load cells.
pub trait Probe: Send {
    /// One conversion. Blocks until it is done or the device's deadline has passed.
    fn read(&mut self) -> Reading<Celsius>;
}

/// What the pot stands on.
pub trait Scale: Send {
    /// The next conversion: everything that stands on the platform. Blocks until it is ready, or
    /// the device's deadline has passed; a converter that free-runs at 10 Hz therefore paces its
    /// reader.
    fn read(&mut self) -> Reading<Kilograms>;

    /// The temperature of the load cells or their converter; `None` where it has no such sensor.
    fn platform(&mut self) -> Option<Reading<Celsius>> {
        None
    }
}

/// Station pressure at the kitchen.
pub trait Barometer: Send {
    fn read(&mut self) -> Reading<Pascals>;
}
