//! I²C through Linux's `/dev/i2c-N`, for boards that have no pins we know.
//!
//! One transaction is one `I2C_RDWR` call, so a register's number and its bytes go with a repeated
//! start and nobody else on the bus comes between.

use embedded_hal::i2c::{ErrorType, I2c, Operation};
use i2cdev::core::I2CMessage;
use i2cdev::core::I2CTransfer;
use i2cdev::linux::{LinuxI2CBus, LinuxI2CError, LinuxI2CMessage};
use std::io;

use super::i2c_errno::BusError;

/// A bus of the kernel's.
pub struct I2cDev(LinuxI2CBus);

impl I2cDev {
    /// Opens `/dev/i2c-<bus>`.
    ///
    /// # Errors
    /// Where the bus is not there or may not be used.
    pub fn open(bus: u8) -> io::Result<Self> {
        LinuxI2CBus::new(format!("/dev/i2c-{bus}")).map(Self).map_err(io::Error::from)
    }
}

impl ErrorType for I2cDev {
    type Error = BusError;
}

impl I2c for I2cDev {
    fn transaction(&mut self, address: u8, steps: &mut [Operation<'_>]) -> Result<(), BusError> {
        let address = u16::from(address);
        let mut messages: Vec<LinuxI2CMessage<'_>> = steps
            .iter_mut()
            .map(|step| match step {
                Operation::Read(buffer) => LinuxI2CMessage::read(buffer).with_address(address),
                Operation::Write(bytes) => LinuxI2CMessage::write(bytes).with_address(address),
            })
            .collect();
        self.0.transfer(&mut messages).map(drop).map_err(|error| bus_error(&error))
    }
}

fn bus_error(error: &LinuxI2CError) -> BusError {
    match error {
        LinuxI2CError::Errno(number) => BusError::of_number(*number),
        LinuxI2CError::Io(error) => BusError::from(error),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_bus_that_is_not_there_is_told_as_such() {
        let error = I2cDev::open(250).err().map(|e| e.kind());
        assert_eq!(error, Some(io::ErrorKind::NotFound));
    }
}
