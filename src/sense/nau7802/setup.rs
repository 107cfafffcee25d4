//! How the converter is set: gain, rate and the bridge's supply.

/// The amplifier's gain: the register holds its base-two logarithm.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Gain {
    X1 = 0,
    X2 = 1,
    X4 = 2,
    X8 = 3,
    X16 = 4,
    X32 = 5,
    X64 = 6,
    X128 = 7,
}

/// Conversions a second.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Rate {
    Sps10 = 0,
    Sps20 = 1,
    Sps40 = 2,
    Sps80 = 3,
    Sps320 = 7,
}

impl Rate {
    /// Time of one conversion, µs.
    #[must_use]
    pub const fn period_us(self) -> u64 {
        match self {
            Self::Sps10 => 100_000,
            Self::Sps20 => 50_000,
            Self::Sps40 => 25_000,
            Self::Sps80 => 12_500,
            Self::Sps320 => 3_125,
        }
    }
}

/// What feeds the bridge.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Supply {
    /// An outside supply on the AVDD pin.
    Outside,
    /// The converter's regulator at 3.0 V (0.3 V below a 3.3 V board is the sheet's least margin).
    Own3V0,
    /// The regulator at 3.3 V, on a 5 V board.
    Own3V3,
    /// The regulator at 4.5 V, on a 5 V board.
    Own4V5,
}

impl Supply {
    /// The regulator's code: 4.5 V less 0.3 V a step.
    pub(super) const fn code(self) -> u8 {
        match self {
            Self::Outside | Self::Own4V5 => 0,
            Self::Own3V3 => 4,
            Self::Own3V0 => 5,
        }
    }
}

/// How the converter is set.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Setup {
    pub gain: Gain,
    pub rate: Rate,
    pub supply: Supply,
}

impl Default for Setup {
    fn default() -> Self {
        Self { gain: Gain::X128, rate: Rate::Sps10, supply: Supply::Own3V0 }
    }
}
