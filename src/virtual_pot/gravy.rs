//! What is in the virtual pot: four parts by mass, mixed.

use crate::batch::composition::Composition;

/// The contents, kg of each part.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Gravy {
    pub water_kg: f64,
    pub solids_kg: f64,
    pub fat_kg: f64,
    pub salt_kg: f64,
}

impl Gravy {
    #[must_use]
    pub fn new(kg: f64, made_of: Composition) -> Self {
        Self {
            water_kg: kg * made_of.water(),
            solids_kg: kg * made_of.solids(),
            fat_kg: kg * made_of.fat(),
            salt_kg: kg * made_of.salt(),
        }
    }

    #[must_use]
    pub fn kg(&self) -> f64 {
        self.water_kg + self.solids_kg + self.fat_kg + self.salt_kg
    }

    /// Dry matter as a fraction of the whole.
    #[must_use]
    pub fn total_solids(&self) -> f64 {
        1.0 - self.water_kg / self.kg().max(1e-9)
    }

    /// Solids that are neither fat nor salt, as a fraction of what is not fat: what makes it thick.
    #[must_use]
    pub fn thick_fraction(&self) -> f64 {
        self.solids_kg / (self.kg() - self.fat_kg).max(1e-9)
    }

    /// Heat capacity, J/K: water by 4.21 and the dry parts by their Choi and Okos (1986) values
    /// near 90 °C (carbohydrate 1.68, fat 2.08, salt as ash 1.23 kJ/kg K).
    #[must_use]
    pub fn heat_capacity_j_k(&self) -> f64 {
        4210.0 * self.water_kg
            + 1680.0 * self.solids_kg
            + 2080.0 * self.fat_kg
            + 1230.0 * self.salt_kg
    }

    /// By how much dissolved salt and sugar lift the boiling point, K.
    ///
    /// Ideal solution, K_b 0.513 K kg/mol: salt as two ions of 58.44 g/mol; half of the solids taken
    /// as sugars of 180 g/mol (an assumption: raw onion has 4.2 of 9.3 % as sugars).
    #[must_use]
    pub fn boiling_rise_k(&self) -> f64 {
        let water_kg = self.water_kg.max(0.05 * self.kg()).max(1e-6);
        let moles = 2.0 * self.salt_kg / 0.058_44 + 0.5 * self.solids_kg / 0.180;
        0.513 * moles / water_kg
    }

    pub fn add(&mut self, other: Self) {
        self.water_kg += other.water_kg;
        self.solids_kg += other.solids_kg;
        self.fat_kg += other.fat_kg;
        self.salt_kg += other.salt_kg;
    }

    /// Takes out up to `kg` of the mixture and gives it.
    pub fn take(&mut self, kg: f64) -> Self {
        let share = (kg / self.kg().max(1e-9)).clamp(0.0, 1.0);
        let out = Self {
            water_kg: share * self.water_kg,
            solids_kg: share * self.solids_kg,
            fat_kg: share * self.fat_kg,
            salt_kg: share * self.salt_kg,
        };
        self.water_kg -= out.water_kg;
        self.solids_kg -= out.solids_kg;
        self.fat_kg -= out.fat_kg;
        self.salt_kg -= out.salt_kg;
        out
    }

    /// The parts as mass fractions; `None` where the pot is empty.
    #[must_use]
    pub fn composition(&self) -> Option<Composition> {
        let kg = self.kg();
        Composition::new(
            self.water_kg / kg,
            self.solids_kg / kg,
            self.fat_kg / kg,
            self.salt_kg / kg,
        )
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_ladle_takes_the_gravy_as_it_is() {
        let made_of = Composition::new(0.89, 0.076, 0.03, 0.004).unwrap();
        let mut pot = Gravy::new(20.0, made_of);
        let ladle = pot.take(0.5);
        assert!((ladle.kg() - 0.5).abs() < 1e-12 && (pot.kg() - 19.5).abs() < 1e-12);
        assert!((ladle.total_solids() - pot.total_solids()).abs() < 1e-12);
    }

    #[test]
    fn salt_and_sugar_lift_the_boiling_point_by_tenths() {
        // Between the 0.23 K of a base sauce at its start and the 0.48 K at its end that an ideal
        // solution of its measured sugars and salt gives.
        let made_of = Composition::new(0.89, 0.076, 0.03, 0.004).unwrap();
        let rise = Gravy::new(20.0, made_of).boiling_rise_k();
        assert!((0.15..0.35).contains(&rise), "{rise}");
    }
}
