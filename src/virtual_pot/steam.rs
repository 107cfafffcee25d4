//! Steam and air as the virtual kitchen has them.
//!
//! An assembly of its own, so that a slip in the handbook does not hide behind the same slip here.
//!
//! | quantity | formula | source |
//! |---|---|---|
//! | saturation pressure | ln(p/p_c) = (T_c/T) Σ aᵢ τ^eᵢ, τ = 1 − T/T_c | Wagner and Pruß 1993, IAPWS SR1-86(1992); coefficients from memory, checked below |
//! | latent heat | cubic in °C | fitted to IAPWS-IF97 over 0–120 °C, error under 0.06 kJ/kg |
//! | air with altitude | p = 101 325 (1 − 0.0065 H/288.15)^5.25588 | ISO 2533:1975 |
//!
//! Range: 0–120 °C and 0–5 km.

/// Saturation pressure of water at `t_c`, kPa.
#[must_use]
pub fn saturation_kpa(t_c: f64) -> f64 {
    const TERMS: [(f64, f64); 6] = [
        (-7.859_517_83, 1.0),
        (1.844_082_59, 1.5),
        (-11.786_649_7, 3.0),
        (22.680_741_1, 3.5),
        (-15.961_871_9, 4.0),
        (1.801_225_02, 7.5),
    ];
    const CRITICAL_K: f64 = 647.096;
    const CRITICAL_KPA: f64 = 22_064.0;
    let t_k = t_c + 273.15;
    let tau = 1.0 - t_k / CRITICAL_K;
    let root = tau.sqrt();
    let powers = TERMS.iter().map(|(a, e)| {
        let whole = tau.powi(*e as i32);
        a * if e.fract() > 0.0 { whole * root } else { whole }
    });
    CRITICAL_KPA * (CRITICAL_K / t_k * powers.sum::<f64>()).exp()
}

/// Temperature at which water boils under `kpa`, °C, by halving 0–130 °C.
#[must_use]
pub fn boiling_c(kpa: f64) -> f64 {
    let (mut low, mut high) = (0.0, 130.0);
    for _ in 0..40 {
        let middle = 0.5 * (low + high);
        if saturation_kpa(middle) < kpa { low = middle } else { high = middle }
    }
    0.5 * (low + high)
}

/// Latent heat of water at `t_c`, J/kg.
#[must_use]
pub fn latent_j_kg(t_c: f64) -> f64 {
    let kj = 2500.948 + t_c * (-2.378_220 + t_c * (6.274_24e-4 - 1.295_651e-5 * t_c));
    1000.0 * kj
}

/// Pressure of the standard atmosphere at `altitude_m`, kPa.
#[must_use]
pub fn air_kpa(altitude_m: f64) -> f64 {
    const EARTH_M: f64 = 6_356_766.0;
    let geopotential_m = EARTH_M * altitude_m / (EARTH_M + altitude_m);
    101.325 * (1.0 - 0.0065 * geopotential_m / 288.15).powf(5.255_88)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn saturation_pressure_is_that_of_the_steam_tables() {
        // IAPWS-IF97 (iapws 1.5.5).
        for (t_c, kpa) in
            [(20.0, 2.3392), (60.0, 19.9458), (80.0, 47.4147), (100.0, 101.418), (110.0, 143.376)]
        {
            assert!((saturation_kpa(t_c) / kpa - 1.0).abs() < 3e-4, "{t_c} °C");
        }
    }

    #[test]
    fn water_boils_where_the_altitude_says() {
        // ISO 2533 pressure into IF97: 0, 1000 and 2250 m.
        for (altitude_m, t_c) in [(0.0, 99.974), (1000.0, 96.649), (2250.0, 92.483)] {
            assert!((boiling_c(air_kpa(altitude_m)) - t_c).abs() < 0.02, "{altitude_m} m");
        }
    }

    #[test]
    fn latent_heat_is_that_of_the_steam_tables() {
        for (t_c, kj) in [(20.0, 2453.55), (80.0, 2308.07), (100.0, 2256.47)] {
            assert!((latent_j_kg(t_c) / 1000.0 - kj).abs() < 0.1, "{t_c} °C");
        }
    }
}
