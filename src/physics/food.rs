//! Heat capacity, density and conductivity of food from what it is made of.
//!
//! Choi and Okos 1986 (Food Engineering and Process Applications 1:93; also ASHRAE Handbook,
//! Refrigeration, ch. 19): each proximate part has a property polynomial in t (°C), and parts mix as
//!
//! ```text
//! c = Σ xᵢ cᵢ          heat capacity, J/(kg·K)          xᵢ mass fractions, Σ xᵢ = 1
//! 1/ρ = Σ xᵢ/ρᵢ        density, kg/m³
//! φᵢ = ρ xᵢ/ρᵢ         volume fractions
//! k = Σ φᵢ kᵢ          conductivity, parts side by side (upper bound), W/(m·K)
//! 1/k = Σ φᵢ/kᵢ        parts one behind another (lower bound)
//! ```
//!
//! −40 to 150 °C in the paper; here 0 to 120 °C, liquid water. Coefficients were read in two public
//! codes and a library that quote the paper; each of the three has misprints the others show up:
//! - water's heat capacity is printed with 4.1289 as with 4.1762 kJ/(kg·K): IAPWS-IF97 bears out
//!   4.1762 (the other is 1.3 % low);
//! - fat's slope of heat capacity is 1.4733e-3, not e-4;
//! - water's conductivity begins with 0.57109, not 0.457109.
//!
//! Carbohydrate "by difference", as food tables give it, contains the fibre: take that off first
//! ([`Proximate::from_table`]).

use super::{polynomial, within};

/// Proximate analysis: mass fractions summing to 1, fibre apart from carbohydrate.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Proximate {
    parts: [f64; 6],
}

/// Water, protein, fat, carbohydrate, fibre, ash: kJ/(kg·K).
const HEAT_CAPACITY: [[f64; 3]; 6] = [
    [4.1762, -9.0864e-5, 5.4731e-6],
    [2.0082, 1.2089e-3, -1.3129e-6],
    [1.9842, 1.4733e-3, -4.8008e-6],
    [1.5488, 1.9625e-3, -5.9399e-6],
    [1.8459, 1.8306e-3, -4.6509e-6],
    [1.0926, 1.8896e-3, -3.6817e-6],
];

/// The same order: kg/m³.
const DENSITY: [[f64; 3]; 6] = [
    [997.18, 3.1439e-3, -3.7574e-3],
    [1329.9, -0.5184, 0.0],
    [925.59, -0.417_57, 0.0],
    [1599.1, -0.310_46, 0.0],
    [1311.5, -0.365_89, 0.0],
    [2423.8, -0.280_63, 0.0],
];

/// The same order: W/(m·K).
const CONDUCTIVITY: [[f64; 3]; 6] = [
    [0.571_09, 1.7625e-3, -6.7036e-6],
    [0.178_81, 1.1958e-3, -2.7178e-6],
    [0.180_71, -2.7604e-4, -1.7749e-7],
    [0.201_41, 1.3874e-3, -4.3312e-6],
    [0.183_31, 1.2497e-3, -3.1683e-6],
    [0.329_62, 1.4011e-3, -2.9069e-6],
];

/// Protein, carbohydrate, fibre and ash in the solids of an onion, tomato and carrot base that are
/// neither fat nor salt: onion 8.0, tomato 2.0, carrot 1.0, green pepper 1.0 kg, garlic, ginger and
/// spices by USDA SR28.
const BASE_SOLIDS: [f64; 4] = [0.1135, 0.6519, 0.1835, 0.0511];

impl Proximate {
    pub const WATER: Self = Self { parts: [1.0, 0.0, 0.0, 0.0, 0.0, 0.0] };

    /// `[water, protein, fat, carbohydrate without fibre, fibre, ash]`; `None` unless each is in
    /// 0 to 1 and they sum to 1 within 0.02 (tables are rounded); the sum is then made exact.
    #[must_use]
    pub fn new(parts: [f64; 6]) -> Option<Self> {
        let sum: f64 = parts.iter().sum();
        let fair = parts.iter().all(|p| (0.0..=1.0).contains(p)) && (sum - 1.0).abs() <= 0.02;
        fair.then(|| Self { parts: parts.map(|p| p / sum) })
    }

    /// From a food table's grams per 100 g, its carbohydrate "by difference" (fibre included);
    /// `None` where the fibre is more than the carbohydrate or [`Proximate::new`] refuses.
    #[must_use]
    pub fn from_table(
        water_g: f64,
        protein_g: f64,
        fat_g: f64,
        carbohydrate_g: f64,
        fibre_g: f64,
        ash_g: f64,
    ) -> Option<Self> {
        let sugars_and_starch_g = carbohydrate_g - fibre_g;
        let grams = [water_g, protein_g, fat_g, sugars_and_starch_g, fibre_g, ash_g];
        Self::new(grams.map(|g| g / 100.0))
    }

    /// From a pot's balance of water, other solids, fat and salt (fractions summing to 1): salt is
    /// ash and the other solids are those of an onion and tomato base.
    #[must_use]
    pub fn from_balance(water: f64, solids: f64, fat: f64, salt: f64) -> Option<Self> {
        let [protein, carbohydrate, fibre, ash] = BASE_SOLIDS.map(|share| share * solids);
        Self::new([water, protein, fat, carbohydrate, fibre, ash + salt])
    }

    /// Heat capacity, J/(kg·K). 0 to 120 °C.
    #[must_use]
    pub fn heat_capacity_j_kg_k(&self, t_c: f64) -> Option<f64> {
        let c = at(t_c, &HEAT_CAPACITY)?;
        Some(1e3 * self.parts.iter().zip(c).map(|(x, c)| x * c).sum::<f64>())
    }

    /// Density, kg/m³, without entrained air. 0 to 120 °C.
    #[must_use]
    pub fn density_kg_m3(&self, t_c: f64) -> Option<f64> {
        let rho = at(t_c, &DENSITY)?;
        Some(1.0 / self.parts.iter().zip(rho).map(|(x, rho)| x / rho).sum::<f64>())
    }

    /// Conductivity with the parts side by side, the upper bound, W/(m·K). 0 to 120 °C.
    #[must_use]
    pub fn conductivity_w_m_k(&self, t_c: f64) -> Option<f64> {
        let k = at(t_c, &CONDUCTIVITY)?;
        Some(self.volume_fractions(t_c)?.iter().zip(k).map(|(phi, k)| phi * k).sum())
    }

    /// Conductivity with the parts one behind another, the lower bound, W/(m·K). 0 to 120 °C.
    #[must_use]
    pub fn conductivity_in_series_w_m_k(&self, t_c: f64) -> Option<f64> {
        let k = at(t_c, &CONDUCTIVITY)?;
        let resistance: f64 =
            self.volume_fractions(t_c)?.iter().zip(k).map(|(phi, k)| phi / k).sum();
        Some(1.0 / resistance)
    }

    /// Thermal diffusivity k/(ρ c), m²/s. 0 to 120 °C.
    #[must_use]
    pub fn diffusivity_m2_s(&self, t_c: f64) -> Option<f64> {
        let storage = self.density_kg_m3(t_c)? * self.heat_capacity_j_kg_k(t_c)?;
        Some(self.conductivity_w_m_k(t_c)? / storage)
    }

    fn volume_fractions(&self, t_c: f64) -> Option<[f64; 6]> {
        let mixture = self.density_kg_m3(t_c)?;
        let mut fractions = at(t_c, &DENSITY)?;
        for (phi, x) in fractions.iter_mut().zip(self.parts) {
            *phi = mixture * x / *phi;
        }
        Some(fractions)
    }
}

/// Each part's property at `t_c`.
fn at(t_c: f64, table: &[[f64; 3]; 6]) -> Option<[f64; 6]> {
    let t = within(t_c, 0.0..=120.0)?;
    Some(table.map(|row| polynomial(t, &row)))
}

/// Heat that warms `mass_kg` of food from `from_c` to `to_c`, J (negative for cooling), by the heat
/// capacity midway. 0 to 1000 kg.
#[must_use]
pub fn sensible_heat_j(food: &Proximate, mass_kg: f64, from_c: f64, to_c: f64) -> Option<f64> {
    let c = food.heat_capacity_j_kg_k((from_c + to_c) / 2.0)?;
    Some(within(mass_kg, 0.0..=1000.0)? * c * (within(to_c, 0.0..=120.0)? - from_c))
}

#[cfg(test)]
mod tests {
    use super::super::trial::{any_number, fair, near};
    use super::super::water;
    use super::*;
    use proptest::prelude::*;

    fn gravy() -> Proximate {
        Proximate::new([0.88, 0.012, 0.03, 0.055, 0.015, 0.008]).unwrap()
    }

    fn base() -> Proximate {
        let kg = [17.117, 0.151, 1.033, 0.867, 0.244, 0.168];
        Proximate::new(kg.map(|m| m / 19.58)).unwrap()
    }

    // The coefficients worked independently in Python (numpy 2.4.6).
    #[test]
    fn a_gravy_as_worked_by_hand() {
        let rows = [
            (gravy(), 20.0, 3884.6, 1025.74, 0.5667),
            (gravy(), 95.0, 3930.8, 993.41, 0.6377),
            (base(), 20.0, 3876.4, 1018.1, 0.5608),
            (base(), 95.0, 3922.3, 985.8, 0.6293),
        ];
        for (food, t, c, rho, k) in rows {
            near(food.heat_capacity_j_kg_k(t), c, 0.5);
            near(food.density_kg_m3(t), rho, 0.05);
            near(food.conductivity_w_m_k(t), k, 0.0005);
        }
        near(gravy().conductivity_in_series_w_m_k(20.0), 0.5097, 0.0005);
        near(gravy().diffusivity_m2_s(95.0), 1.633e-7, 0.002e-7);
    }

    // The example in the header of rhonew.m (public repository class-archives/ABE-557), 22 °C. Its
    // words say 12 % carbohydrate and 5 % protein; its component numbers, and its answer, are those
    // of 12 % protein and 5 % carbohydrate.
    #[test]
    fn the_density_example_of_a_published_code() {
        let food = Proximate::new([0.83, 0.12, 0.0, 0.05, 0.0, 0.0]).unwrap();
        near(food.density_kg_m3(22.0), 1045.8, 0.05);
    }

    // Where two printings differ, IAPWS-IF97 decides.
    #[test]
    fn water_as_a_food_agrees_with_the_steam_tables() {
        for t in [20.0, 60.0, 95.0, 100.0] {
            let c = water::heat_capacity_j_kg_k(t).unwrap();
            near(Proximate::WATER.heat_capacity_j_kg_k(t), c, 0.0025 * c);
            near(Proximate::WATER.density_kg_m3(t), water::density_kg_m3(t).unwrap(), 3.0);
            near(
                Proximate::WATER.conductivity_w_m_k(t),
                water::conductivity_w_m_k(t).unwrap(),
                0.01,
            );
        }
    }

    /// One part alone, in the order of [`HEAT_CAPACITY`].
    fn pure(part: usize) -> Proximate {
        let mut parts = [0.0; 6];
        parts[part] = 1.0;
        Proximate::new(parts).unwrap()
    }

    // scisuit 2.5.3, which carries coefficients of its own; water, which it has otherwise (see below),
    // and fibre, which it has not, worked in numpy from coefficients typed anew. At 20 and at 95 °C:
    // c J/(kg·K), ρ kg/m³, k W/(m·K).
    #[test]
    fn each_part_alone_agrees_with_another_code() {
        let rows = [
            (0, [(4176.57, 995.74, 0.60366), (4216.96, 963.57, 0.67803)]),
            (1, [(2031.85, 1319.53, 0.20164), (2111.20, 1280.65, 0.26788)]),
            (2, [(2011.75, 917.24, 0.17512), (2080.84, 885.92, 0.15288)]),
            (3, [(1585.67, 1592.89, 0.22743), (1681.63, 1569.61, 0.29412)]),
            (4, [(1880.65, 1304.18, 0.20704), (1977.83, 1276.74, 0.27344)]),
            (5, [(1128.92, 2418.19, 0.35648), (1238.88, 2397.14, 0.43649)]),
        ];
        for (part, at) in rows {
            for (t, (c, rho, k)) in [20.0, 95.0].into_iter().zip(at) {
                near(pure(part).heat_capacity_j_kg_k(t), c, 0.01);
                near(pure(part).density_kg_m3(t), rho, 0.01);
                near(pure(part).conductivity_w_m_k(t), k, 1e-5);
            }
        }
    }

    // What three public codes print otherwise. IF97 at 20 °C: c 4184.8, k 0.5980; the melting of fats
    // aside, oils have c 2000 to 2100 J/(kg·K) near 100 °C (from memory).
    #[test]
    fn the_misprints_that_go_round_are_not_made_here() {
        let misprinted = polynomial(20.0, &[4.1289, -9.0864e-5, 5.4731e-6]) * 1e3;
        let ours = pure(0).heat_capacity_j_kg_k(20.0).unwrap();
        assert!((ours - 4184.8).abs() < 10.0 && (misprinted - 4184.8).abs() > 50.0, "{ours}");
        let misprinted = polynomial(20.0, &[0.457_109, 1.7625e-3, -6.7036e-6]);
        let ours = pure(0).conductivity_w_m_k(20.0).unwrap();
        assert!((ours - 0.598).abs() < 0.01 && (misprinted - 0.598).abs() > 0.1, "{ours}");
        let warming = |t| pure(2).heat_capacity_j_kg_k(t).unwrap();
        let ours = warming(95.0) - warming(20.0);
        let misprinted = 1e3 * (1.4733e-4 * 75.0 - 4.8008e-6 * (95.0 * 95.0 - 20.0 * 20.0));
        assert!(ours > 60.0 && misprinted < 0.0, "fat warms by {ours} J/(kg·K)");
    }

    // The base's own analysis: 0.151 kg protein, 0.867 carbohydrate, 0.244 fibre and 0.068 ash but salt.
    #[test]
    fn solids_of_the_balance_are_those_of_the_base() {
        let solids_kg = 0.151 + 0.867 + 0.244 + 0.068;
        let dry = Proximate::from_balance(0.0, 1.0, 0.0, 0.0).unwrap();
        let wanted = [0.0, 0.151, 0.0, 0.867, 0.244, 0.068].map(|kg| kg / solids_kg);
        for (got, wanted) in dry.parts.into_iter().zip(wanted) {
            near(Some(got), wanted, 0.0005);
        }
    }

    #[test]
    fn fibre_is_not_counted_twice() {
        // Onion, raw, NDB 11282 of USDA SR28.
        let onion = Proximate::from_table(89.11, 1.10, 0.10, 9.34, 1.7, 0.35).unwrap();
        for (got, wanted) in
            onion.parts.into_iter().zip([0.8911, 0.011, 0.001, 0.0764, 0.017, 0.0035])
        {
            near(Some(got), wanted, 1e-12);
        }
        assert_eq!(Proximate::from_table(95.0, 1.0, 0.1, 1.0, 2.0, 0.9), None);
    }

    #[test]
    fn the_pots_balance_gives_the_same_as_its_ingredients() {
        let balance =
            Proximate::from_balance(17.117 / 19.58, 1.330 / 19.58, 1.033 / 19.58, 0.1 / 19.58);
        near(
            balance.unwrap().heat_capacity_j_kg_k(60.0),
            base().heat_capacity_j_kg_k(60.0).unwrap(),
            1.0,
        );
    }

    // 6101 kJ by integration over the same table; 34, 20 and 13 min at 3, 5 and 8 kW.
    #[test]
    fn heat_to_bring_a_base_to_the_boil() {
        let joules = sensible_heat_j(&base(), 19.58, 20.0, 100.0);
        near(joules, 6.101e6, 0.01e6);
        for (kw, minutes) in [(3.0, 34.0), (5.0, 20.0), (8.0, 13.0)] {
            near(joules.map(|j| j / kw / 60e3), minutes, 0.5);
        }
    }

    proptest! {
        #[test]
        fn every_answer_is_a_number_or_none(
            t in any_number(), m in any_number(), to in any_number(),
            parts in prop::array::uniform6(any_number()),
        ) {
            for food in [Some(gravy()), Proximate::new(parts)].into_iter().flatten() {
                prop_assert!(fair(food.heat_capacity_j_kg_k(t)));
                prop_assert!(fair(food.density_kg_m3(t)));
                prop_assert!(fair(food.conductivity_in_series_w_m_k(t)));
                prop_assert!(fair(food.diffusivity_m2_s(t)));
                prop_assert!(fair(sensible_heat_j(&food, m, t, to)));
            }
        }

        #[test]
        fn side_by_side_conducts_best(water in 0.2..0.95_f64, fat in 0.0..0.05_f64, t in 0.0..110.0) {
            let food = Proximate::from_balance(water, 1.0 - water - fat, fat, 0.0).unwrap();
            prop_assert!(food.conductivity_w_m_k(t) >= food.conductivity_in_series_w_m_k(t));
        }
    }
}
