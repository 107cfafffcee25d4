//! What a sensor said: a value, or why there is none.
//!
//! A fault is an outcome like any other and is handed on with the moment at which it was met; how
//! long a value may be trusted after its sensor fell silent is the judgement's business.

use std::fmt;

/// A sensor's outcome.
pub type Reading<T> = Result<T, Fault>;

/// Why a sensor gave no value.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Fault {
    /// Nothing answers: unplugged, or never there.
    Absent,
    /// An answer came damaged: a checksum failed or the text was cut.
    Garbled,
    /// The device does answer but did not finish in its time.
    Late,
    /// The sensor lost power: a DS18B20's 85 °C before its first conversion.
    PowerOn,
    /// A line is held low or high: all bits alike.
    Shorted,
    /// At the end of the converter's scale.
    Saturated,
    /// Outside what the device can measure.
    OutOfRange,
    /// Unchanged for longer than a live sensor can be.
    Stuck,
    /// Faster than the pot can change.
    Jumped,
    /// The converter's own timing was broken, so the number means nothing.
    Mistimed,
    /// It answers, but what its numbers mean was never learnt.
    Uncalibrated,
}

impl Fault {
    /// Every fault. New ones go to the end: the place of each is its number in stored batches.
    pub const ALL: [Self; 11] = [
        Self::Absent,
        Self::Garbled,
        Self::Late,
        Self::PowerOn,
        Self::Shorted,
        Self::Saturated,
        Self::OutOfRange,
        Self::Stuck,
        Self::Jumped,
        Self::Mistimed,
        Self::Uncalibrated,
    ];

    /// Its fixed name, as recordings have it.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Absent => "absent",
            Self::Garbled => "garbled",
            Self::Late => "late",
            Self::PowerOn => "power-on",
            Self::Shorted => "shorted",
            Self::Saturated => "saturated",
            Self::OutOfRange => "out-of-range",
            Self::Stuck => "stuck",
            Self::Jumped => "jumped",
            Self::Mistimed => "mistimed",
            Self::Uncalibrated => "uncalibrated",
        }
    }

    /// The fault of this name, where there is one.
    #[must_use]
    pub fn by_name(name: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|fault| fault.name() == name)
    }

    /// In words for the cook and the person with the screwdriver.
    #[must_use]
    pub const fn words(self) -> &'static str {
        match self {
            Self::Absent => "does not answer: is it plugged in?",
            Self::Garbled => "answers damaged: check the cable and its length",
            Self::Late => "answers too late",
            Self::PowerOn => "lost its power and started again",
            Self::Shorted => "line is shorted",
            Self::Saturated => "is at the end of its scale",
            Self::OutOfRange => "reads what it cannot measure",
            Self::Stuck => "has not changed for too long",
            Self::Jumped => "jumped faster than a pot can",
            Self::Mistimed => "was read with broken timing",
            Self::Uncalibrated => "was never calibrated: it has no kilograms yet",
        }
    }
}

impl fmt::Display for Fault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.words())
    }
}
