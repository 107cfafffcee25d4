//! The ledger with its history, so that what was put down wrongly can be put right.
//!
//! Every deed is kept in order. When the cook says that the last addition was something else ("that
//! was 1.2 kg cream"), the balance is reckoned again from the start with the corrected deed in its
//! place; the deed as it was first put down stays beside it. Ladlings that came later are reckoned
//! again at the composition that the pot then really had.
//!
//! Evaporation and settings of the contents arrive all the time: those between two other deeds are
//! kept as one, so the history is as long as the batch is eventful, not as it is long.

use super::composition::Composition;
use super::ledger::Ledger;
use crate::moment::Moment;

/// One thing that happened to the contents.
#[derive(Debug, Clone, PartialEq)]
pub enum Deed {
    /// `name` where it is known what it was.
    Added {
        kg: f64,
        of: Composition,
        name: Option<String>,
    },
    Taken {
        kg: f64,
    },
    /// Water that boiled off.
    Evaporated {
        kg: f64,
    },
    /// The contents are this, as a scale or the cook says.
    Set {
        kg: f64,
    },
}

/// A deed as it stands, and as it was put down before the cook corrected it.
#[derive(Debug, Clone, PartialEq)]
pub struct Entry {
    pub at: Moment,
    pub deed: Deed,
    pub was: Option<Deed>,
}

/// A ledger and everything that made it.
#[derive(Debug, Clone, PartialEq)]
pub struct Book {
    start: Ledger,
    entries: Vec<Entry>,
    now: Ledger,
}

impl Book {
    #[must_use]
    pub const fn new(start: Ledger) -> Self {
        Self { start, entries: Vec::new(), now: start }
    }

    /// The balance as it stands.
    #[must_use]
    pub const fn now(&self) -> &Ledger {
        &self.now
    }

    /// What happened, oldest first.
    #[must_use]
    pub fn entries(&self) -> &[Entry] {
        &self.entries
    }

    /// Puts a deed down.
    pub fn record(&mut self, at: Moment, deed: Deed) {
        apply(&mut self.now, &deed);
        match (self.entries.last_mut().map(|last| &mut last.deed), deed) {
            (Some(Deed::Evaporated { kg }), Deed::Evaporated { kg: more }) => *kg += more,
            (Some(Deed::Set { kg }), Deed::Set { kg: newer }) => *kg = newer,
            (_, deed) => self.entries.push(Entry { at, deed, was: None }),
        }
    }

    /// Makes the last addition `kg` and `what`, each left as it stands where it is `None`. False,
    /// and nothing changed, where nothing has been added yet or `kg` is not above zero.
    ///
    /// The contents that the balance then shows rest on the deeds alone: where a scale stands by,
    /// put down its contents ([`Deed::Set`]) next.
    pub fn correct_last_addition(
        &mut self,
        kg: Option<f64>,
        what: Option<(String, Composition)>,
    ) -> bool {
        let is_addition = |entry: &&mut Entry| matches!(entry.deed, Deed::Added { .. });
        let fair = kg.is_none_or(|kg| kg.is_finite() && kg > 0.0);
        let Some(entry) = self.entries.iter_mut().rev().find(is_addition).filter(|_| fair) else {
            return false;
        };
        let before = entry.deed.clone();
        if let Deed::Added { kg: stands, of, name } = &mut entry.deed {
            *stands = kg.unwrap_or(*stands);
            if let Some((called, composition)) = what {
                (*of, *name) = (composition, Some(called));
            }
        }
        if entry.deed != before {
            entry.was.get_or_insert(before);
        }
        self.reckon();
        true
    }

    fn reckon(&mut self) {
        self.now = self.start;
        for entry in &self.entries {
            apply(&mut self.now, &entry.deed);
        }
    }
}

fn apply(ledger: &mut Ledger, deed: &Deed) {
    match deed {
        Deed::Added { kg, of, .. } => ledger.add(*kg, *of),
        Deed::Taken { kg } => ledger.take(*kg),
        Deed::Evaporated { kg } => ledger.evaporate(*kg),
        Deed::Set { kg } => ledger.set_contents(*kg),
    };
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn cream() -> Composition {
        Composition::new(0.7451, 0.0620, 0.1910, 0.0018).unwrap()
    }

    fn gravy() -> Ledger {
        Ledger::start(20.0, Composition::new(0.90, 0.06, 0.035, 0.005).unwrap())
    }

    fn added(kg: f64, of: Composition, name: &str) -> Deed {
        Deed::Added { kg, of, name: Some(name.into()) }
    }

    fn kept(deeds: &[Deed]) -> Book {
        let mut book = Book::new(gravy());
        for (n, deed) in deeds.iter().enumerate() {
            book.record(Moment::from_ms(n as i64), deed.clone());
        }
        book
    }

    #[test]
    fn that_was_cream_makes_the_pot_as_if_it_had_been_cream_all_along() {
        let after = [Deed::Evaporated { kg: 0.8 }, Deed::Taken { kg: 2.0 }, Deed::Set { kg: 17.0 }];
        let with = |first: Deed| kept(&[&[first][..], &after].concat());
        let mut book = with(Deed::Added { kg: 1.0, of: Composition::WATER, name: None });
        assert!(book.correct_last_addition(Some(1.2), Some(("cream".into(), cream()))));
        assert_eq!(book.now(), with(added(1.2, cream(), "cream")).now());
    }

    #[test]
    fn both_the_first_word_and_the_correction_are_kept() {
        let first = Deed::Added { kg: 1.0, of: Composition::WATER, name: None };
        let mut book = kept(std::slice::from_ref(&first));
        book.correct_last_addition(Some(1.1), None);
        book.correct_last_addition(None, Some(("cream".into(), cream())));
        let entry = &book.entries()[0];
        assert_eq!(entry.deed, added(1.1, cream(), "cream"));
        assert_eq!(entry.was, Some(first));
    }

    #[test]
    fn there_must_be_an_addition_to_correct_and_it_must_weigh_something() {
        let mut book = kept(&[Deed::Taken { kg: 1.0 }]);
        assert!(!book.correct_last_addition(Some(1.0), None));
        let mut book = kept(&[added(1.0, cream(), "cream")]);
        for kg in [0.0, -1.0, f64::NAN, f64::INFINITY] {
            assert!(!book.correct_last_addition(Some(kg), None));
        }
        assert_eq!(book.entries()[0].was, None);
    }

    #[test]
    fn a_long_simmer_is_one_line_of_history() {
        let mut book = Book::new(gravy());
        for ms in 0..10_000 {
            book.record(Moment::from_ms(ms), Deed::Evaporated { kg: 0.0005 });
        }
        assert_eq!(book.entries().len(), 1);
        assert!((book.now().contents_kg() - 15.0).abs() < 1e-6);
    }

    proptest! {
        #[test]
        fn a_correction_that_changes_nothing_leaves_the_balance_to_a_gram(
            kgs in proptest::collection::vec((0..4u8, 0.001..4.0), 1..60)
        ) {
            let deeds: Vec<Deed> = kgs.into_iter().map(|(kind, kg)| match kind {
                0 => added(kg, cream(), "cream"),
                1 => Deed::Taken { kg },
                2 => Deed::Evaporated { kg },
                _ => Deed::Set { kg: kg * 5.0 },
            }).collect();
            let mut book = kept(&deeds);
            let before = *book.now();
            book.correct_last_addition(None, None);
            prop_assert!((book.now().water_kg() - before.water_kg()).abs() < 0.001);
            prop_assert!((book.now().solids_kg() - before.solids_kg()).abs() < 0.001);
            prop_assert!((book.now().fat_kg() - before.fat_kg()).abs() < 0.001);
            prop_assert!((book.now().salt_kg() - before.salt_kg()).abs() < 0.001);
        }
    }
}
