//! Sensors, one file a device.
