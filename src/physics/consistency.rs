//! How thick it is, in the trade's measures: total solids, Brix, flow, Bostwick.
//!
//! **Total solids** TS is dry matter as a fraction of the whole. Boiling removes water only, so the
//! mass at a target is m = m_solids/TS.
//!
//! **Brix** is what a refractometer at 20 °C reads from the filtered serum, as if all dissolved
//! matter were sucrose: a cubic in n − 1.33299 fitted to the ICUMSA table (0 to 30 °Bx as printed in
//! the OIV method OIV-MA-AS2-02 and the French arrêté of 14 September 2011, 0 and 5 from memory)
//! within 0.004 °Bx. Oil and insoluble fibre are not in the serum: with u their share of the whole,
//! TS = u + (1 − u) Brix/100. Brix is not TS.
//!
//! **Flow** (Steffe 1996): Herschel–Bulkley σ = σ₀ + K γ̇ⁿ, Pa; power law with σ₀ = 0; apparent
//! viscosity σ/γ̇, Pa·s. K(T) = K_r exp[E_a/R (1/T − 1/T_r)], E_a 5 to 22 kJ/mol for ketchup
//! (Koocheki 2009, 25 to 55 °C); K grows with TS^2.5, σ₀ with about the cube (Rao, from memory).
//! Onion paste: no published figures found.
//!
//! **Bostwick** (ASTM F1080): a gate lets 50 × 50 × 38 mm loose into a level trough 24 cm long; the
//! reading is how far it got in 30 s, at 20 °C. Two limits bound it, each a shallow layer of
//! q = 1.9e-3 m² per width:
//!
//! ```text
//! viscous        L = 1.411 (g q³/(3ν))^⅕ t^⅕        (Huppert 1982), ν = µ/ρ
//! yield-limited  L = (9 q² ρ g/(8 σ₀))^⅓
//! reading = min(L) − 5 cm
//! ```
//!
//! A curry base that pours runs off the end: use it for thick stages only; below, total solids and
//! the ladle serve.

use super::arrhenius::rate_ratio;
use super::{GRAVITY_M_S2, finite, polynomial, positive, within};

/// Refractive index of water at 20 °C, sodium D line (ICUMSA).
const WATER_INDEX: f64 = 1.332_99;
/// °Bx per power of n − n_water.
const BRIX_FIT: [f64; 4] = [0.0, 700.630_26, -1_853.629_56, 4997.589];

const BOSTWICK_AREA_M2: f64 = 0.05 * 0.038;
const BOSTWICK_LOCK_M: f64 = 0.05;
const BOSTWICK_TROUGH_CM: f64 = 24.0;
const HUPPERT: f64 = 1.411;

/// Tomato juice and concentrate at 32 °C: total solids, K Pa·sⁿ, n (Harper and El Sahrigi 1965 as
/// tabulated by Steffe 1996; from memory).
pub const TOMATO_32_C: [(f64, f64, f64); 4] =
    [(0.058, 0.223, 0.59), (0.128, 2.0, 0.43), (0.25, 12.9, 0.405), (0.30, 18.7, 0.40)];

/// Mass at which `solids_kg` of dry matter make `total_solids`, kg. Solids 0 to 1000 kg, target above
/// 0 to 1.
#[must_use]
pub fn mass_at_total_solids_kg(solids_kg: f64, total_solids: f64) -> Option<f64> {
    within(within(solids_kg, 0.0..=1000.0)? / within(total_solids, 1e-3..=1.0)?, 0.0..=1e6)
}

/// °Brix of a refractive index at 20 °C. n 1.33299 to 1.38115 (0 to 30 °Bx).
#[must_use]
pub fn brix(refractive_index_20_c: f64) -> Option<f64> {
    let n = within(refractive_index_20_c, WATER_INDEX..=1.38115)?;
    Some(polynomial(n - WATER_INDEX, &BRIX_FIT))
}

/// °Brix of a serum: dissolved matter over dissolved matter and water, taken as sucrose. Both 0 to
/// 1000 kg, not both 0.
#[must_use]
pub fn serum_brix(water_kg: f64, dissolved_kg: f64) -> Option<f64> {
    let dissolved = within(dissolved_kg, 0.0..=1000.0)?;
    finite(100.0 * dissolved / positive(within(water_kg, 0.0..=1000.0)? + dissolved)?)
}

/// Total solids behind a Brix reading when `unseen` (0 to 1) of the whole is oil and insoluble
/// fibre. 0 to 100 °Bx.
#[must_use]
pub fn total_solids_behind_brix(brix: f64, unseen: f64) -> Option<f64> {
    let unseen = within(unseen, 0.0..=1.0)?;
    Some(unseen + (1.0 - unseen) * within(brix, 0.0..=100.0)? / 100.0)
}

/// Herschel–Bulkley flow; a power law where the yield stress is 0, Newtonian where n is 1 too.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Flow {
    yield_pa: f64,
    consistency_pa_sn: f64,
    index: f64,
}

impl Flow {
    /// σ₀ 0 to 1000 Pa, K above 0 to 10 000 Pa·sⁿ, n 0.05 to 2; `None` else.
    #[must_use]
    pub fn new(yield_pa: f64, consistency_pa_sn: f64, index: f64) -> Option<Self> {
        Some(Self {
            yield_pa: within(yield_pa, 0.0..=1000.0)?,
            consistency_pa_sn: within(consistency_pa_sn, 1e-6..=1e4)?,
            index: within(index, 0.05..=2.0)?,
        })
    }

    /// Shear stress, Pa, at a shear rate of 1e-4 to 1e5 1/s.
    #[must_use]
    pub fn stress_pa(&self, shear_rate_per_s: f64) -> Option<f64> {
        let rate = within(shear_rate_per_s, 1e-4..=1e5)?;
        Some(self.yield_pa + self.consistency_pa_sn * rate.powf(self.index))
    }

    /// Apparent viscosity, Pa·s, at a shear rate of 1e-4 to 1e5 1/s.
    #[must_use]
    pub fn apparent_pa_s(&self, shear_rate_per_s: f64) -> Option<f64> {
        Some(self.stress_pa(shear_rate_per_s)? / shear_rate_per_s)
    }

    /// The same food at another temperature: K by Arrhenius, yield stress and n kept (a purée's yield
    /// stress hardly moves, Kyereme 1999). 0 to 200 °C.
    #[must_use]
    pub fn at_temperature(&self, activation_j_mol: f64, from_c: f64, to_c: f64) -> Option<Self> {
        let slower = rate_ratio(activation_j_mol, from_c, to_c)?;
        Self::new(self.yield_pa, self.consistency_pa_sn * slower, self.index)
    }

    /// The same food boiled down: K by the power 2.5 of total solids, σ₀ by the cube. Both 0.01 to 1.
    #[must_use]
    pub fn at_total_solids(&self, from: f64, to: f64) -> Option<Self> {
        let ratio = within(to, 0.01..=1.0)? / within(from, 0.01..=1.0)?;
        let consistency = self.consistency_pa_sn * ratio.powf(2.5);
        Self::new(self.yield_pa * ratio.powi(3), consistency, self.index)
    }
}

/// A Bostwick reading.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Bostwick {
    /// cm after 30 s.
    Reads(f64),
    /// It ran past the 24 cm of the trough.
    OffScale,
}

/// Bostwick reading after 30 s of a food of Newtonian `viscosity_pa_s` (that at the low shear of the
/// trough) and `yield_pa`, whichever stops it first; 0 cm where it does not leave the lock. Viscosity
/// 1e-4 to 1e5 Pa·s, yield 0 to 1000 Pa, density 500 to 2000 kg/m³.
#[must_use]
pub fn bostwick(viscosity_pa_s: f64, yield_pa: f64, density_kg_m3: f64) -> Option<Bostwick> {
    let weight = GRAVITY_M_S2 * within(density_kg_m3, 500.0..=2000.0)?;
    let mu = within(viscosity_pa_s, 1e-4..=1e5)?;
    let viscous_m = HUPPERT * (weight * BOSTWICK_AREA_M2.powi(3) / (3.0 * mu) * 30.0).powf(0.2);
    let sigma = within(yield_pa, 0.0..=1000.0)?;
    let stop_m = (9.0 * BOSTWICK_AREA_M2.powi(2) * weight / (8.0 * sigma)).cbrt();
    let cm = 100.0 * (viscous_m.min(stop_m) - BOSTWICK_LOCK_M);
    Some(if cm > BOSTWICK_TROUGH_CM { Bostwick::OffScale } else { Bostwick::Reads(cm.max(0.0)) })
}

/// Yield stress that would stop a sample at `reading_cm`: an upper bound, Pa, since viscosity may
/// have held it too. Above 0 to 24 cm, density 500 to 2000 kg/m³.
#[must_use]
pub fn yield_from_bostwick_pa(reading_cm: f64, density_kg_m3: f64) -> Option<f64> {
    let length_m = within(reading_cm, 0.0..=BOSTWICK_TROUGH_CM)? / 100.0 + BOSTWICK_LOCK_M;
    let weight = GRAVITY_M_S2 * within(density_kg_m3, 500.0..=2000.0)?;
    finite(9.0 * BOSTWICK_AREA_M2.powi(2) * weight / (8.0 * length_m.powi(3)))
}

#[cfg(test)]
mod tests {
    use super::super::trial::{any_number, fair, near};
    use super::*;
    use proptest::prelude::*;

    // OIV-MA-AS2-02 table as printed in the French arrêté of 14 September 2011, annex IV; 1.34026
    // and 1.36384 (5 and 20 °Bx) from memory.
    #[test]
    fn brix_agrees_with_the_official_table() {
        let rows = [
            (1.33299, 0.0),
            (1.34026, 5.0),
            (1.34782, 10.0),
            (1.35234, 12.9),
            (1.35568, 15.0),
            (1.36054, 18.0),
            (1.36384, 20.0),
            (1.37250, 25.1),
            (1.37758, 28.0),
            (1.38115, 30.0),
        ];
        for (n, degrees) in rows {
            near(brix(n), degrees, 0.006);
        }
        assert_eq!(brix(1.3329), None);
    }

    // US tomato sauce: refractive index at least 1.3455 at 20 °C, 8.4 to 8.5 °Bx.
    #[test]
    fn a_tomato_sauce_by_its_refractive_index() {
        near(brix(1.3455), 8.46, 0.03);
    }

    // A base of 17.12 kg water, 1.03 oil, 0.24 fibre, and the rest dissolved or nearly so.
    #[test]
    fn brix_does_not_see_oil_and_fibre() {
        let seen = serum_brix(17.117, 1.186).unwrap();
        near(Some(seen), 6.48, 0.01);
        near(total_solids_behind_brix(seen, (1.033 + 0.244) / 19.58), 0.1258, 0.0002);
    }

    // 2.463 kg of solids in 19.58 kg: water to boil off, kg.
    #[test]
    fn what_must_boil_off_to_reach_a_target() {
        for (ts, kg) in [(0.16, 4.19), (0.18, 5.90), (0.20, 7.27), (0.22, 8.38)] {
            near(mass_at_total_solids_kg(2.463, ts).map(|m| 19.58 - m), kg, 0.01);
        }
    }

    // Harper and El Sahrigi through Steffe: apparent viscosity at 10, 50, 100 1/s.
    #[test]
    fn tomato_thins_when_stirred() {
        let wanted = [
            (0.058, [0.086_76, 0.044_85, 0.033_75]),
            (0.128, [0.5383, 0.2151, 0.1449]),
            (0.25, [3.2779, 1.2581, 0.8329]),
            (0.30, [4.6972, 1.7884, 1.1799]),
        ];
        for ((solids, k, n), (wanted_solids, viscosities)) in TOMATO_32_C.into_iter().zip(wanted) {
            assert_eq!(solids, wanted_solids);
            let flow = Flow::new(0.0, k, n).unwrap();
            for (rate, mu) in [10.0, 50.0, 100.0].into_iter().zip(viscosities) {
                near(flow.apparent_pa_s(rate), mu, 0.001 * mu + 1e-5);
            }
        }
    }

    // K goes with TS to the power 2.5 to 2.8 between measured concentrates.
    #[test]
    fn boiling_down_thickens_as_measured() {
        let (thin, thick) = (TOMATO_32_C[1], TOMATO_32_C[2]);
        let juice = Flow::new(0.0, thin.1, thin.2).unwrap();
        let paste = juice.at_total_solids(thin.0, thick.0).unwrap();
        let ratio = paste.consistency_pa_sn / thick.1;
        assert!((0.75..1.05).contains(&ratio), "{ratio}");
    }

    // Rao's powers by hand: 2^2.5 = 5.657, 2³ = 8.
    #[test]
    fn twice_the_solids_flow_five_times_and_yield_eight_times_as_stiffly() {
        let twice = Flow::new(5.0, 2.0, 0.43).unwrap().at_total_solids(0.10, 0.20).unwrap();
        near(Some(twice.consistency_pa_sn), 2.0 * 5.657, 0.001);
        near(Some(twice.yield_pa), 40.0, 1e-9);
    }

    // Harper and El Sahrigi found n near 0.4 over a wide range of concentration: K carries it.
    #[test]
    fn a_concentrate_s_index_hardly_changes() {
        for (solids, _, n) in &TOMATO_32_C[1..] {
            assert!((0.38..0.45).contains(n), "{solids}: {n}");
        }
    }

    // exp[E_a/R (1/T − 1/T_r)] by hand: 0.46 and 0.22 of the viscosity at 25 °C.
    #[test]
    fn what_is_right_at_95_is_two_to_four_times_thicker_cold() {
        for (e_a, share) in [(10e3, 0.464), (20e3, 0.215)] {
            let hot = Flow::new(10.0, 1.0, 0.4).unwrap().at_temperature(e_a, 25.0, 95.0).unwrap();
            near(Some(hot.consistency_pa_sn), share, 0.003);
            assert_eq!(hot.yield_pa, 10.0);
        }
    }

    // Huppert 1982, worked in Python with ρ 1030 kg/m³.
    #[test]
    fn bostwick_of_a_viscous_food() {
        assert_eq!(bostwick(1.0, 0.0, 1030.0), Some(Bostwick::OffScale));
        // The trough ends at 24 cm: 1.95 Pa·s reaches 23.8, 1.80 24.3 cm.
        near(reading(bostwick(1.95, 0.0, 1030.0)), 23.8, 0.05);
        assert_eq!(bostwick(1.80, 0.0, 1030.0), Some(Bostwick::OffScale));
        for (mu, cm) in [(5.0, 18.9), (10.0, 15.8), (50.0, 10.1)] {
            near(reading(bostwick(mu, 0.0, 1030.0)), cm, 0.1);
        }
    }

    // Balmforth and others 2007 give the same limit; worked in Python with ρ 1030 kg/m³.
    #[test]
    fn bostwick_of_a_food_with_a_yield_stress() {
        for (pa, cm) in
            [(5.0, 15.2), (10.0, 11.0), (15.0, 9.0), (20.0, 7.7), (30.0, 6.1), (50.0, 4.4)]
        {
            near(reading(bostwick(1e-3, pa, 1030.0)), cm, 0.1);
        }
        for (cm, pa) in [(14.0, 6.0), (10.0, 12.2), (6.0, 30.8)] {
            near(yield_from_bostwick_pa(cm, 1030.0), pa, 0.1);
        }
        near(reading(bostwick(1e5, 1000.0, 1030.0)), 0.0, 1e-9);
    }

    fn reading(bostwick: Option<Bostwick>) -> Option<f64> {
        match bostwick? {
            Bostwick::Reads(cm) => Some(cm),
            Bostwick::OffScale => None,
        }
    }

    proptest! {
        #[test]
        fn every_answer_is_a_number_or_none(
            a in any_number(), b in any_number(), c in any_number(), d in any_number(),
        ) {
            prop_assert!(fair(brix(a)) && fair(brix(1.33 + a.abs() * 1e-4)) && fair(serum_brix(a, b)));
            prop_assert!(fair(mass_at_total_solids_kg(a, b)) && fair(total_solids_behind_brix(a, b)));
            prop_assert!(fair(reading(bostwick(a, b, c))) && fair(yield_from_bostwick_pa(a, b)));
            prop_assert!(fair(reading(bostwick(a, b, 1030.0))));
            for flow in [Flow::new(a, b, c), Flow::new(5.0, 2.0, 0.4)].into_iter().flatten() {
                prop_assert!(fair(flow.apparent_pa_s(d)));
                let moved = flow.at_temperature(a * 1e3, c, d).and_then(|f| f.at_total_solids(a, b));
                prop_assert!(moved.is_none_or(|f| fair(f.stress_pa(d))));
            }
        }
    }
}
