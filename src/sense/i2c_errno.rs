//! What Linux's error numbers mean on an I²C bus (Documentation/i2c/fault-codes.rst).

use embedded_hal::i2c::{Error, ErrorKind, NoAcknowledgeSource};
use std::io;

/// An error of the bus, in embedded-hal's terms.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct BusError(ErrorKind);

impl Error for BusError {
    fn kind(&self) -> ErrorKind {
        self.0
    }
}

const EIO: i32 = 5;
const ENXIO: i32 = 6;
const EAGAIN: i32 = 11;
const EBUSY: i32 = 16;
const ENODEV: i32 = 19;
const EPROTO: i32 = 71;
const EBADMSG: i32 = 74;
const EOVERFLOW: i32 = 75;
const ETIMEDOUT: i32 = 110;
const EREMOTEIO: i32 = 121;

impl BusError {
    /// From an error number.
    #[must_use]
    pub const fn of_number(number: i32) -> Self {
        Self(match number {
            // ENXIO is what the documents ask for; the Raspberry Pi's driver says EREMOTEIO.
            ENXIO | ENODEV | EREMOTEIO => ErrorKind::NoAcknowledge(NoAcknowledgeSource::Unknown),
            ETIMEDOUT | EBUSY => ErrorKind::Bus,
            EAGAIN => ErrorKind::ArbitrationLoss,
            EIO | EPROTO | EBADMSG | EOVERFLOW => ErrorKind::Overrun,
            _ => ErrorKind::Other,
        })
    }
}

impl From<&io::Error> for BusError {
    fn from(error: &io::Error) -> Self {
        error.raw_os_error().map_or(Self(ErrorKind::Other), Self::of_number)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_chip_that_does_not_acknowledge_is_told_from_a_bus_that_hangs() {
        let kind = |number| BusError::from(&io::Error::from_raw_os_error(number)).kind();
        assert_eq!(kind(121), ErrorKind::NoAcknowledge(NoAcknowledgeSource::Unknown));
        assert_eq!(kind(110), ErrorKind::Bus);
        assert_eq!(kind(11), ErrorKind::ArbitrationLoss);
        assert_eq!(kind(2), ErrorKind::Other);
        assert_eq!(BusError::from(&io::Error::other("?")).kind(), ErrorKind::Other);
    }
}
