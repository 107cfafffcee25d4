//! The pot and where it stands.

use crate::physics::{air, water};
use crate::quantity::Pascals;

/// A pot with its lid, as the kitchen file describes it.
#[derive(Debug, Clone, PartialEq)]
pub struct Pot {
    pub name: String,
    /// Inner diameter of the base, m.
    pub base_diameter_m: f64,
    /// The pot and whatever else always stands on the platform, kg.
    pub tare_kg: f64,
    pub lid_kg: f64,
    /// Inner height, m, where it is known: for dip depths and for headroom.
    pub height_m: Option<f64>,
}

impl Pot {
    /// Area of the base and of a cylindrical pot's surface, m².
    #[must_use]
    pub fn area_m2(&self) -> f64 {
        std::f64::consts::FRAC_PI_4 * self.base_diameter_m * self.base_diameter_m
    }
}

/// Where the kitchen stands.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Site {
    /// Height above sea level, m.
    pub altitude_m: f64,
    /// Station pressure (not reduced to sea level) where somebody read a barometer there; it beats
    /// the altitude.
    pub pressure: Option<Pascals>,
}

impl Site {
    /// Where water boils here, °C, and what boiling it takes there, J/kg; `None` outside the handbook.
    #[must_use]
    pub fn boil(&self) -> Option<(f64, f64)> {
        let by_height = || air::pressure_at_altitude_pa(self.altitude_m);
        let boil_c = water::boiling_point_c(self.pressure.map(Pascals::get).or_else(by_height)?)?;
        Some((boil_c, water::latent_heat_j_kg(boil_c)?))
    }
}
