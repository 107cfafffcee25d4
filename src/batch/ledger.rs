//! What is in the pot: a running balance of water, solids, fat and salt, in kilograms.
//!
//! Four things can happen to it. Something is *added* with its own composition. Something is
//! *taken* (ladled out), and leaves with the composition that the pot has then. Water
//! *evaporates*, and leaves everything else behind. Or the contents are *set* to what a scale or a
//! cook says: dry matter was weighed in and does not boil away, so the whole difference is put down
//! to water, the one part whose way out nobody weighs. What is known to be a ladleful is *taken*,
//! never *set*.
//!
//! For every part, what went in less what went out is what is there: to a gram over any order of
//! these, which the property tests hold it to. No part ever falls below zero: each method says
//! how much it could really move. An amount that is negative or no number moves nothing.

use super::composition::Composition;

/// The pot's contents by part, kg.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Ledger {
    water_kg: f64,
    solids_kg: f64,
    fat_kg: f64,
    salt_kg: f64,
}

impl Ledger {
    #[must_use]
    pub fn start(contents_kg: f64, composition: Composition) -> Self {
        let mut ledger = Self::default();
        ledger.add(contents_kg, composition);
        ledger
    }

    /// Puts `kg` of something in; returns the kg added.
    pub fn add(&mut self, kg: f64, of: Composition) -> f64 {
        let kg = amount(kg);
        self.water_kg += kg * of.water();
        self.solids_kg += kg * of.solids();
        self.fat_kg += kg * of.fat();
        self.salt_kg += kg * of.salt();
        kg
    }

    /// Puts all of another balance in.
    pub fn put_in(&mut self, other: &Self) {
        self.water_kg += other.water_kg;
        self.solids_kg += other.solids_kg;
        self.fat_kg += other.fat_kg;
        self.salt_kg += other.salt_kg;
    }

    /// Makes `kg` of the water solids instead, or, where it is negative, solids water: the same
    /// mass of drier or wetter vegetables. Neither goes below zero.
    pub fn make_drier(&mut self, kg: f64) {
        let kg = if kg.is_finite() { kg.clamp(-self.solids_kg, self.water_kg) } else { 0.0 };
        self.water_kg -= kg;
        self.solids_kg += kg;
    }

    /// Ladles out `kg` at the present composition; returns the kg taken, at most what was there.
    pub fn take(&mut self, kg: f64) -> f64 {
        let before_kg = self.contents_kg();
        let kg = amount(kg).min(before_kg);
        let left = if before_kg > 0.0 { (before_kg - kg) / before_kg } else { 0.0 };
        self.water_kg *= left;
        self.solids_kg *= left;
        self.fat_kg *= left;
        self.salt_kg *= left;
        kg
    }

    /// Lets `kg` of water boil off; returns the kg gone, at most the water that was there.
    pub fn evaporate(&mut self, kg: f64) -> f64 {
        let kg = amount(kg).min(self.water_kg);
        self.water_kg -= kg;
        kg
    }

    /// Makes the contents `kg` by letting water in or out; returns the water's change in kg,
    /// negative where it left. Contents below the dry matter leave no water and all dry matter.
    pub fn set_contents(&mut self, kg: f64) -> f64 {
        let water_kg = amount(kg - self.dry_kg());
        let change_kg = water_kg - self.water_kg;
        if kg.is_finite() {
            self.water_kg = water_kg;
            return change_kg;
        }
        0.0
    }

    #[must_use]
    pub fn contents_kg(&self) -> f64 {
        self.water_kg + self.dry_kg()
    }

    #[must_use]
    pub const fn water_kg(&self) -> f64 {
        self.water_kg
    }

    /// Solids that are neither fat nor salt.
    #[must_use]
    pub const fn solids_kg(&self) -> f64 {
        self.solids_kg
    }

    #[must_use]
    pub const fn fat_kg(&self) -> f64 {
        self.fat_kg
    }

    #[must_use]
    pub const fn salt_kg(&self) -> f64 {
        self.salt_kg
    }

    /// Everything that is not water: solids, fat and salt.
    #[must_use]
    pub const fn dry_kg(&self) -> f64 {
        self.solids_kg + self.fat_kg + self.salt_kg
    }

    /// Dry matter as a fraction of the contents; `None` for an empty pot.
    #[must_use]
    pub fn total_solids(&self) -> Option<f64> {
        self.share(self.dry_kg())
    }

    /// Salt as a fraction of the contents; `None` for an empty pot.
    #[must_use]
    pub fn salt(&self) -> Option<f64> {
        self.share(self.salt_kg)
    }

    /// The contents as mass fractions; `None` for an empty pot.
    #[must_use]
    pub fn composition(&self) -> Option<Composition> {
        Composition::of_masses(self.water_kg, self.solids_kg, self.fat_kg, self.salt_kg)
    }

    fn share(&self, kg: f64) -> Option<f64> {
        let contents_kg = self.contents_kg();
        (contents_kg > 0.0).then(|| kg / contents_kg)
    }
}

/// `kg` where it is a positive finite number, else nothing.
fn amount(kg: f64) -> f64 {
    if kg.is_finite() { kg.max(0.0) } else { 0.0 }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// USDA SR28, NDB 01050, light cream, with sodium as salt.
    fn cream() -> Composition {
        Composition::new(0.7451, 0.0620, 0.1910, 0.0018).unwrap()
    }

    fn sauce() -> Composition {
        Composition::new(0.874, 0.067, 0.053, 0.006).unwrap()
    }

    #[test]
    fn boiling_leaves_the_dry_matter() {
        let mut pot = Ledger::start(19.58, sauce());
        let dry_kg = pot.dry_kg();
        assert_eq!(pot.evaporate(5.9), 5.9);
        assert!((pot.dry_kg() - dry_kg).abs() < 1e-12);
        assert!((pot.contents_kg() - 13.68).abs() < 1e-12);
        assert!((pot.total_solids().unwrap() - 0.126 * 19.58 / 13.68).abs() < 1e-12);
    }

    #[test]
    fn a_ladleful_leaves_with_the_pots_own_composition() {
        let mut pot = Ledger::start(10.0, sauce());
        let before = pot.composition().unwrap();
        pot.take(3.0);
        assert!((pot.contents_kg() - 7.0).abs() < 1e-12);
        assert!((pot.composition().unwrap().salt() - before.salt()).abs() < 1e-12);
    }

    #[test]
    fn a_correction_of_the_contents_is_water() {
        let mut pot = Ledger::start(10.0, sauce());
        assert!((pot.set_contents(9.4) + 0.6).abs() < 1e-12);
        assert!((pot.dry_kg() - 1.26).abs() < 1e-12);
        assert!((pot.set_contents(10.0) - 0.6).abs() < 1e-12);
        assert!((pot.salt().unwrap() - 0.006).abs() < 1e-12);
    }

    #[test]
    fn nothing_is_taken_from_an_empty_pot_and_nonsense_moves_nothing() {
        let mut pot = Ledger::default();
        assert_eq!(pot.take(1.0), 0.0);
        assert_eq!(pot.composition(), None);
        pot.add(2.0, sauce());
        let before = pot;
        for odd in [f64::NAN, f64::INFINITY, f64::NEG_INFINITY, -1.0] {
            pot.add(odd, cream());
            pot.take(odd);
            pot.evaporate(odd);
        }
        pot.set_contents(f64::NAN);
        assert_eq!(pot, before);
    }

    #[derive(Debug, Clone)]
    enum Deed {
        Add(f64, Composition),
        Take(f64),
        Evaporate(f64),
        Set(f64),
    }

    fn deeds() -> impl Strategy<Value = Deed> {
        let of = prop_oneof![Just(Composition::WATER), Just(cream()), Just(sauce())];
        prop_oneof![
            (0.0..8.0, of).prop_map(|(kg, of)| Deed::Add(kg, of)),
            (0.0..6.0).prop_map(Deed::Take),
            (0.0..3.0).prop_map(Deed::Evaporate),
            (0.0..30.0).prop_map(Deed::Set),
        ]
    }

    /// What went in less what went out, by part, kept beside the ledger in its own way.
    #[derive(Default)]
    struct Account([f64; 4]);

    impl Account {
        fn book(&mut self, kg: f64, of: Composition) {
            for (part, share) in
                self.0.iter_mut().zip([of.water(), of.solids(), of.fat(), of.salt()])
            {
                *part += kg * share;
            }
        }
    }

    proptest! {
        #[test]
        fn every_part_balances_to_a_gram_over_any_order(
            deeds in proptest::collection::vec(deeds(), 1..200)
        ) {
            let mut pot = Ledger::start(20.0, sauce());
            let mut account = Account::default();
            account.book(20.0, sauce());
            for deed in deeds {
                let present = pot.composition();
                match deed {
                    Deed::Add(kg, of) => account.book(pot.add(kg, of), of),
                    Deed::Take(kg) => {
                        let taken_kg = pot.take(kg);
                        if let Some(of) = present {
                            account.book(-taken_kg, of);
                        }
                    }
                    Deed::Evaporate(kg) => account.book(-pot.evaporate(kg), Composition::WATER),
                    Deed::Set(kg) => account.book(pot.set_contents(kg), Composition::WATER),
                }
                let parts = [pot.water_kg(), pot.solids_kg(), pot.fat_kg(), pot.salt_kg()];
                for (part, booked) in parts.iter().zip(account.0) {
                    prop_assert!(*part >= 0.0);
                    prop_assert!((part - booked).abs() < 0.001);
                }
                prop_assert!((parts.iter().sum::<f64>() - pot.contents_kg()).abs() < 1e-9);
            }
        }

        #[test]
        fn only_additions_and_ladlings_move_dry_matter(
            kg in 0.1..30.0, gone in 0.0..40.0, set in 0.0..40.0
        ) {
            let mut pot = Ledger::start(kg, sauce());
            let dry_kg = pot.dry_kg();
            pot.evaporate(gone);
            pot.set_contents(set);
            prop_assert!((pot.dry_kg() - dry_kg).abs() < 1e-12);
        }
    }
}
