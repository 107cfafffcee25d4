//! The flame under a pot: how much heat, from which gas, and how much of it reaches the food.
//!
//! Heat is net: the water in the burnt gas leaves as vapour. Propane's and butane's heating values
//! are those of [`crate::physics::heat::FUELS`]. Mains gas differs from day to day: the UK's is 37.5
//! to 43 MJ/m³ gross, 39.5 usual (from memory; the bill says), and its net value is taken as
//! methane's share of that.

use crate::physics::heat::{FUELS, GAS_EFFICIENCY, GAS_EFFICIENCY_SD};

/// UK mains gas as billed, J/m³ gross (from memory).
const MAINS_GROSS_J_M3: f64 = 39.5e6;

/// What burns.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Gas {
    Propane,
    Butane,
    Mains,
}

impl Gas {
    pub const NAMES: [(&'static str, Self); 3] =
        [("propane", Self::Propane), ("butane", Self::Butane), ("mains", Self::Mains)];

    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Propane => "propane",
            Self::Butane => "butane",
            Self::Mains => "mains gas",
        }
    }

    /// What it is sold by: kg from a bottle, m³ from the main.
    #[must_use]
    pub const fn unit(self) -> &'static str {
        match self {
            Self::Propane | Self::Butane => "kg",
            Self::Mains => "m³",
        }
    }

    /// Net heating value of one kg or m³, J.
    #[must_use]
    pub fn net_j(self) -> f64 {
        let [methane, _, propane, butane, _] = &FUELS;
        match self {
            Self::Propane => propane.net_j_kg,
            Self::Butane => butane.net_j_kg,
            Self::Mains => MAINS_GROSS_J_M3 * methane.net_j_kg / methane.gross_j_kg,
        }
    }
}

/// A pot's place on the stove.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Stove {
    /// What the gas gives at the usual flame, W net.
    pub flame_w: f64,
    pub gas: Gas,
    /// Share of it that warms the food or boils its water.
    pub efficiency: f64,
    /// Standard deviation of that share.
    pub efficiency_sd: f64,
}

impl Stove {
    /// `efficiency` where it was measured on this stove; else the handbook's guess with its doubt.
    #[must_use]
    pub fn new(flame_w: f64, gas: Gas, efficiency: Option<f64>) -> Self {
        let (efficiency, efficiency_sd) = match efficiency {
            Some(measured) => (measured, 0.08 * measured),
            None => (GAS_EFFICIENCY, GAS_EFFICIENCY_SD),
        };
        Self { flame_w, gas, efficiency, efficiency_sd }
    }

    /// Heat that reaches the food at the usual flame, W.
    #[must_use]
    pub fn heat_w(&self) -> f64 {
        self.flame_w * self.efficiency
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    // Heats of formation: propane 46.34 and butane 45.72 MJ/kg net; methane 50.03 of 55.51 MJ/kg.
    #[test]
    fn a_kilogram_of_bottled_gas_and_a_cubic_metre_of_mains_gas() {
        assert!((Gas::Propane.net_j() / 46.34e6 - 1.0).abs() < 0.001);
        assert!((Gas::Butane.net_j() / 45.72e6 - 1.0).abs() < 0.001);
        assert!((Gas::Mains.net_j() / 35.60e6 - 1.0).abs() < 0.001);
    }

    #[test]
    fn a_measured_efficiency_is_doubted_less() {
        let guessed = Stove::new(8000.0, Gas::Propane, None);
        assert_eq!(guessed.heat_w(), 3200.0);
        let measured = Stove::new(8000.0, Gas::Propane, Some(0.45));
        assert!(measured.efficiency_sd < guessed.efficiency_sd / 2.0);
    }
}
