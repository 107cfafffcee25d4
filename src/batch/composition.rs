//! What food is made of, as mass fractions.
//!
//! The pot's balance keeps four parts: water, fat, salt and all other solids (protein,
//! carbohydrate, fibre, ash). They sum to one. *Total solids* is dry matter as a fraction of the
//! contents, TS = 1 − w_water, fat and salt included.

/// Mass fractions of a food, summing to 1.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Composition {
    water: f64,
    solids: f64,
    fat: f64,
    salt: f64,
}

/// How far from one a sum of fractions may be: a label's rounding to three decimals.
pub const SUM_TOLERANCE: f64 = 0.005;

impl Composition {
    pub const WATER: Self = Self { water: 1.0, solids: 0.0, fat: 0.0, salt: 0.0 };

    /// `None` unless every part is in 0..=1 and they sum to 1 within [`SUM_TOLERANCE`]; the sum is
    /// then made exact.
    #[must_use]
    pub fn new(water: f64, solids: f64, fat: f64, salt: f64) -> Option<Self> {
        let parts = [water, solids, fat, salt];
        let sum: f64 = parts.iter().sum();
        let fair = parts.iter().all(|p| (0.0..=1.0).contains(p));
        (fair && (sum - 1.0).abs() <= SUM_TOLERANCE).then(|| Self {
            water: water / sum,
            solids: solids / sum,
            fat: fat / sum,
            salt: salt / sum,
        })
    }

    /// Mass fractions of a whole made of these masses, kg; `None` unless each is zero or more and
    /// their sum is a positive finite number.
    #[must_use]
    pub fn of_masses(water_kg: f64, solids_kg: f64, fat_kg: f64, salt_kg: f64) -> Option<Self> {
        let parts = [water_kg, solids_kg, fat_kg, salt_kg];
        let sum: f64 = parts.iter().sum();
        let fair = parts.iter().all(|p| *p >= 0.0) && sum.is_finite() && sum > 0.0;
        fair.then(|| Self {
            water: water_kg / sum,
            solids: solids_kg / sum,
            fat: fat_kg / sum,
            salt: salt_kg / sum,
        })
    }

    #[must_use]
    pub const fn water(&self) -> f64 {
        self.water
    }

    /// Solids that are neither fat nor salt.
    #[must_use]
    pub const fn solids(&self) -> f64 {
        self.solids
    }

    #[must_use]
    pub const fn fat(&self) -> f64 {
        self.fat
    }

    #[must_use]
    pub const fn salt(&self) -> f64 {
        self.salt
    }

    /// Dry matter as a fraction of the whole.
    #[must_use]
    pub fn total_solids(&self) -> f64 {
        1.0 - self.water
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn fractions_that_do_not_make_a_whole_are_refused() {
        assert_eq!(Composition::new(0.9, 0.2, 0.0, 0.0), None);
        assert_eq!(Composition::new(1.1, -0.1, 0.0, 0.0), None);
        assert_eq!(Composition::new(f64::NAN, 0.1, 0.0, 0.0), None);
    }

    #[test]
    fn a_label_rounded_to_three_decimals_is_made_whole() {
        let c = Composition::new(0.894, 0.072, 0.030, 0.003).unwrap();
        assert!((c.water() + c.solids() + c.fat() + c.salt() - 1.0).abs() < 1e-12);
    }
}
