//! The air over the pot: its pressure at an altitude, its moisture and its drag.
//!
//! **Pressure with altitude**, ISO 2533:1975 (the ICAO standard atmosphere, Doc 7488), lowest layer,
//! −2 to 11 km of geopotential altitude H:
//!
//! ```text
//! p = p₀ (1 − L H/T₀)^(g M/(R L))      p₀ 101 325 Pa, T₀ 288.15 K, L 0.0065 K/m,
//!                                      exponent 5.255 88
//! H = r z/(r + z)                      z geometric altitude, r = 6 356 766 m
//! ```
//!
//! Weather moves the real pressure by ±4 kPa, about ±1 K at the boil: where there is a barometer its
//! station pressure is better than any altitude. A forecast's figure is reduced to sea level and is
//! brought back with [`station_pressure_pa`].
//!
//! **Moist air** is taken as an ideal mixture: ρ = [(p − e) M_a + e M_w]/(R T). Its viscosity is
//! Sutherland's formula for dry air, µ = 1.458e-6 T^1.5/(T + 110.4) Pa·s (US Standard Atmosphere
//! 1976). Diffusion of water vapour in it: D = 1.87e-10 T^2.072/p m²/s, p in atm, 282 to 450 K
//! (Marrero and Mason 1972).

use super::water::saturation_pressure_pa;
use super::{GAS_CONSTANT_J_MOL_K, ICE_POINT_K, WATER_KG_MOL, finite, within};

/// Standard pressure at sea level, Pa.
pub const STANDARD_PRESSURE_PA: f64 = 101_325.0;

const EARTH_RADIUS_M: f64 = 6_356_766.0;
const SEA_LEVEL_K: f64 = 288.15;
const LAPSE_K_M: f64 = 0.0065;
const EXPONENT: f64 = 5.255_88;
const DRY_AIR_KG_MOL: f64 = 0.028_964_4;

/// Geopotential altitude of the geometric altitude `z_m`, m. −5 to 100 km; ISO 2533 equation 8.
#[must_use]
pub fn geopotential_m(z_m: f64) -> Option<f64> {
    let z = within(z_m, -5_000.0..=100_000.0)?;
    Some(EARTH_RADIUS_M * z / (EARTH_RADIUS_M + z))
}

/// Standard pressure at a geopotential altitude, Pa. −2 to 11 km; ISO 2533.
#[must_use]
pub fn pressure_at_geopotential_pa(h_m: f64) -> Option<f64> {
    let h = within(h_m, -2_000.0..=11_000.0)?;
    Some(STANDARD_PRESSURE_PA * (1.0 - LAPSE_K_M * h / SEA_LEVEL_K).powf(EXPONENT))
}

/// Standard pressure at an altitude above sea level as maps give it, Pa. −2 to 11 km; ISO 2533.
#[must_use]
pub fn pressure_at_altitude_pa(z_m: f64) -> Option<f64> {
    pressure_at_geopotential_pa(geopotential_m(z_m)?)
}

/// Geopotential altitude at which the standard atmosphere has `pressure_pa`, m. −2 to 11 km.
#[must_use]
pub fn pressure_altitude_m(pressure_pa: f64) -> Option<f64> {
    let p = within(pressure_pa, 22_632.0..=127_800.0)?;
    let ratio = (p / STANDARD_PRESSURE_PA).powf(1.0 / EXPONENT);
    within(SEA_LEVEL_K / LAPSE_K_M * (1.0 - ratio), -2_000.0..=11_000.0)
}

/// Pressure in a kitchen at `z_m` when the weather service gives `sea_level_pa` reduced to sea level
/// by the standard atmosphere (the aviation QNH), Pa. The pressure altitude of the place is its
/// altitude plus that of the reduced pressure. 87 to 109 kPa at sea level (the extremes on record),
/// −400 to 6000 m. Services that reduce with the real air temperature differ by up to 0.3 kPa per
/// 1000 m.
#[must_use]
pub fn station_pressure_pa(sea_level_pa: f64, z_m: f64) -> Option<f64> {
    let weather = pressure_altitude_m(within(sea_level_pa, 87_000.0..=109_000.0)?)?;
    pressure_at_geopotential_pa(geopotential_m(within(z_m, -400.0..=6_000.0)?)? + weather)
}

/// Partial pressure of water vapour in air of `t_c` °C and relative humidity 0 to 1, Pa. 0 to
/// 100 °C.
#[must_use]
pub fn vapour_pressure_pa(t_c: f64, relative_humidity: f64) -> Option<f64> {
    let share = within(relative_humidity, 0.0..=1.0)?;
    Some(share * saturation_pressure_pa(within(t_c, 0.0..=100.0)?)?)
}

/// Density of moist air, kg/m³. −50 to 150 °C, up to 200 kPa, vapour not above the total.
#[must_use]
pub fn density_kg_m3(t_c: f64, pressure_pa: f64, vapour_pa: f64) -> Option<f64> {
    let t_k = within(t_c, -50.0..=150.0)? + ICE_POINT_K;
    let p = within(pressure_pa, 1_000.0..=200_000.0)?;
    let e = within(vapour_pa, 0.0..=p)?;
    Some(((p - e) * DRY_AIR_KG_MOL + e * WATER_KG_MOL) / (GAS_CONSTANT_J_MOL_K * t_k))
}

/// Dynamic viscosity of air, Pa·s. −50 to 150 °C; Sutherland.
#[must_use]
pub fn viscosity_pa_s(t_c: f64) -> Option<f64> {
    let t_k = within(t_c, -50.0..=150.0)? + ICE_POINT_K;
    Some(1.458e-6 * t_k.powf(1.5) / (t_k + 110.4))
}

/// Diffusion coefficient of water vapour in air, m²/s. 9 to 177 °C; Marrero and Mason 1972.
#[must_use]
pub fn vapour_diffusivity_m2_s(t_c: f64, pressure_pa: f64) -> Option<f64> {
    let t_k = within(t_c, 9.0..=177.0)? + ICE_POINT_K;
    let p_atm = within(pressure_pa, 1_000.0..=200_000.0)? / STANDARD_PRESSURE_PA;
    finite(1.87e-10 * t_k.powf(2.072) / p_atm)
}

#[cfg(test)]
mod tests {
    use super::super::trial::{any_number, fair, near};
    use super::super::water::boiling_point_c;
    use super::*;
    use proptest::prelude::*;

    // ISO 2533:1975 table values by geometric altitude, through fluids 1.3.1 (US 1976, the same
    // layer) within 0.1 Pa; boiling points by IAPWS-IF97 through iapws 1.5.5.
    #[test]
    fn pressure_and_boiling_point_fall_with_altitude() {
        let rows = [
            (0.0, 101_325.0, 99.974),
            (500.0, 95_461.0, 98.312),
            (1000.0, 89_876.0, 96.649),
            (1500.0, 84_560.0, 94.984),
            (2250.0, 77_066.0, 92.483),
            (3000.0, 70_121.0, 89.977),
        ];
        for (z, p, boil) in rows {
            near(pressure_at_altitude_pa(z), p, 0.6);
            near(pressure_at_altitude_pa(z).and_then(boiling_point_c), boil, 0.001);
        }
    }

    // The top of the layer in ISO 2533 is 22 632 Pa at 11 000 m geopotential.
    #[test]
    fn the_tropopause_is_where_the_standard_has_it() {
        near(pressure_at_geopotential_pa(11_000.0), 22_632.0, 1.0);
        near(geopotential_m(11_019.07), 11_000.0, 0.05);
        near(geopotential_m(5000.0), 4996.07, 0.01);
    }

    #[test]
    fn a_standard_day_at_sea_level_is_the_standard_atmosphere_above_it() {
        for z in [0.0, 700.0, 2250.0] {
            let standard = pressure_at_altitude_pa(z).unwrap();
            near(station_pressure_pa(STANDARD_PRESSURE_PA, z), standard, 1e-6);
        }
        near(station_pressure_pa(97_000.0, 0.0), 97_000.0, 0.01);
    }

    // iapws 1.5.5; CoolProp 8.0.0 HAPropsSI (dry air at 20 °C 1.2046 kg/m³, a real gas) and its
    // viscosity of air, 18.206e-6 Pa·s; D by the other usual correlation, Fuller, Schettler and
    // Giddings 1966 (diffusion volumes 19.7 and 13.1; from memory), worked in Python: 2 % at 40 °C.
    #[test]
    fn moist_air_agrees_with_other_codes() {
        near(vapour_pressure_pa(28.0, 0.5), 1891.4, 0.5);
        near(density_kg_m3(20.0, 101_325.0, 0.0), 1.2046, 0.001);
        near(viscosity_pa_s(20.0), 18.206e-6, 0.1e-6);
        near(vapour_diffusivity_m2_s(25.0, 101_325.0), 2.5037e-5, 0.01e-5);
        near(vapour_diffusivity_m2_s(40.0, 101_325.0), 2.7283e-5, 0.06e-5);
        near(vapour_diffusivity_m2_s(25.0, 50_662.5), 2.0 * 2.5037e-5, 0.02e-5);
    }

    proptest! {
        #[test]
        fn every_answer_is_a_number_or_none(a in any_number(), b in any_number(), c in any_number()) {
            for f in [geopotential_m, pressure_at_geopotential_pa, pressure_at_altitude_pa,
                      pressure_altitude_m, viscosity_pa_s] {
                prop_assert!(fair(f(a)));
            }
            for f in [station_pressure_pa, vapour_pressure_pa, vapour_diffusivity_m2_s] {
                prop_assert!(fair(f(a, b)));
            }
            prop_assert!(fair(density_kg_m3(a, b, c)));
        }

        #[test]
        fn altitude_there_and_back(h in -2000.0..11_000.0) {
            let back = pressure_at_geopotential_pa(h).and_then(pressure_altitude_m);
            prop_assert!(back.is_none_or(|b| (b - h).abs() < 1e-6));
        }
    }
}
