//! The ledger with its history, so that what was put down wrongly can be put right.
//!
//! Every deed is kept in order. When the cook says that an addition was something else ("that was
//! 1.2 kg cream"), the balance is reckoned again from the start with the corrected deed in its
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

    /// What was added, in order: kg and name as they stand.
    pub fn additions(&self) -> impl Iterator<Item = (f64, Option<&str>)> {
        self.entries.iter().filter_map(|entry| match &entry.deed {
            Deed::Added { kg, name, .. } => Some((*kg, name.as_deref())),
            _ => None,
        })
    }

    /// Makes an addition, by its turn from 0, `kg` and `what`, each left as it stands where it is
    /// `None`. False, and nothing changed, where there is no such addition, `kg` is not above zero, or
    /// it stands so already.
    ///
    /// The contents that the balance then shows rest on the deeds alone: where a scale stands by,
    /// put down its contents ([`Deed::Set`]) next.
    pub fn correct(
        &mut self,
        turn: usize,
        kg: Option<f64>,
        what: Option<(String, Composition)>,
    ) -> bool {
        let is_addition = |entry: &&mut Entry| matches!(entry.deed, Deed::Added { .. });
        let fair = kg.is_none_or(|kg| kg.is_finite() && kg > 0.0);
        let Some(entry) = self.entries.iter_mut().filter(is_addition).nth(turn).filter(|_| fair)
        else {
            return false;
        };
        let before = entry.deed.clone();
        if let Deed::Added { kg: stands, of, name } = &mut entry.deed {
            *stands = kg.unwrap_or(*stands);
            if let Some((called, composition)) = what {
                (*of, *name) = (composition, Some(called));
            }
        }
        let changed = entry.deed != before;
        if changed {
            entry.was.get_or_insert(before);
            self.reckon();
        }
        changed
    }

    /// Nothing went in: the addition of this turn, from 0, weighs nothing and is called nothing. What was
    /// first put down stays beside it, and the turns of the others stay. False where there is none that
    /// weighs something.
    pub fn strike(&mut self, turn: usize) -> bool {
        let is_addition = |entry: &&mut Entry| matches!(entry.deed, Deed::Added { .. });
        let Some(entry) = self.entries.iter_mut().filter(is_addition).nth(turn) else {
            return false;
        };
        let nothing = Deed::Added { kg: 0.0, of: Composition::WATER, name: None };
        if matches!(entry.deed, Deed::Added { kg, .. } if kg <= 0.0) {
            return false;
        }
        let before = std::mem::replace(&mut entry.deed, nothing);
        entry.was.get_or_insert(before);
        self.reckon();
        true
    }

    /// Nothing was ladled out: the first taking since `from` that weighs `kg` to within `within_kg`
    /// weighs nothing. Returns what it weighed, kg.
    pub fn strike_taking(&mut self, from: Moment, kg: f64, within_kg: f64) -> Option<f64> {
        let later = self.entries.iter_mut().filter(|entry| entry.at >= from);
        let mut taken = later.filter_map(|entry| match &mut entry.deed {
            Deed::Taken { kg } => Some((kg, &mut entry.was)),
            _ => None,
        });
        let (stands, was) = taken.find(|(taken_kg, _)| (**taken_kg - kg).abs() <= within_kg)?;
        let weighed_kg = std::mem::take(stands);
        was.get_or_insert(Deed::Taken { kg: weighed_kg });
        self.reckon();
        Some(weighed_kg)
    }

    /// Additions and takings stand again as they stood in `then`, an earlier state of this book; what
    /// came since stays.
    pub fn as_they_stood_in(&mut self, then: &Self) {
        for (now, then) in self.entries.iter_mut().zip(&then.entries) {
            if matches!(then.deed, Deed::Added { .. } | Deed::Taken { .. }) {
                now.clone_from(then);
            }
        }
        self.reckon();
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
        assert!(book.correct(0, Some(1.2), Some(("cream".into(), cream()))));
        assert_eq!(book.now(), with(added(1.2, cream(), "cream")).now());
    }

    #[test]
    fn both_the_first_word_and_the_correction_are_kept() {
        let first = Deed::Added { kg: 1.0, of: Composition::WATER, name: None };
        let mut book = kept(std::slice::from_ref(&first));
        book.correct(0, Some(1.1), None);
        book.correct(0, None, Some(("cream".into(), cream())));
        let entry = &book.entries()[0];
        assert_eq!(entry.deed, added(1.1, cream(), "cream"));
        assert_eq!(entry.was, Some(first));
    }

    #[test]
    fn there_must_be_an_addition_to_correct_and_it_must_weigh_something() {
        let mut book = kept(&[Deed::Taken { kg: 1.0 }]);
        assert!(!book.correct(0, Some(1.0), None));
        let mut book = kept(&[added(1.0, cream(), "cream")]);
        for kg in [0.0, -1.0, f64::NAN, f64::INFINITY] {
            assert!(!book.correct(0, Some(kg), None));
        }
        assert_eq!(book.entries()[0].was, None);
    }

    #[test]
    fn an_addition_that_was_none_weighs_nothing_and_can_be_one_again() {
        let deeds =
            [added(1.0, cream(), "cream"), Deed::Taken { kg: 0.98 }, Deed::Set { kg: 20.0 }];
        let mut book = kept(&deeds);
        let then = book.clone();
        assert!(book.strike(0) && !book.strike(0) && !book.strike(1));
        assert_eq!(book.strike_taking(Moment::from_ms(0), 1.0, 0.06), Some(0.98));
        assert_eq!(book.additions().collect::<Vec<_>>(), [(0.0, None)]);
        assert_eq!(book.now(), kept(&[Deed::Set { kg: 20.0 }]).now());
        assert_eq!(book.entries()[0].was, Some(deeds[0].clone()));
        book.record(Moment::from_ms(9), Deed::Taken { kg: 2.0 });
        book.as_they_stood_in(&then);
        assert_eq!(book.now(), kept(&[&deeds[..], &[Deed::Taken { kg: 2.0 }]].concat()).now());
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

    #[test]
    fn an_earlier_addition_is_put_right_and_the_later_ones_stay() {
        let deeds = [
            added(1.1, cream(), "infusion"),
            Deed::Taken { kg: 2.0 },
            added(5.0, Composition::WATER, "water"),
            Deed::Set { kg: 23.0 },
        ];
        let mut book = kept(&deeds);
        assert!(book.correct(0, Some(1.2), None));
        let right = [&[added(1.2, cream(), "infusion")][..], &deeds[1..]].concat();
        assert_eq!(book.now(), kept(&right).now());
        assert_eq!(book.entries()[0].was, Some(deeds[0].clone()));
        assert_eq!(book.entries()[2].was, None);
        assert!(!book.correct(2, Some(1.0), None), "there are two");
        assert!(!book.correct(0, Some(1.2), None), "it stands so already");
    }

    /// Something that is done, or the correction of an addition: its turn among all, kg, and whether
    /// it was cream after all.
    #[derive(Debug, Clone)]
    enum Line {
        Done(Deed),
        Put(usize, f64, bool),
    }

    fn lines() -> impl Strategy<Value = Vec<Line>> {
        let kg = || 0.001..4.0;
        let line = prop_oneof![
            kg().prop_map(|kg| Line::Done(added(kg, cream(), "cream"))),
            kg().prop_map(|kg| {
                Line::Done(Deed::Added { kg, of: Composition::WATER, name: None })
            }),
            kg().prop_map(|kg| Line::Done(Deed::Taken { kg })),
            kg().prop_map(|kg| Line::Done(Deed::Evaporated { kg })),
            (0.0..30.0).prop_map(|kg| Line::Done(Deed::Set { kg })),
            (0..12usize, kg(), any::<bool>())
                .prop_map(|(turn, kg, cream)| { Line::Put(turn, kg, cream) }),
        ];
        proptest::collection::vec(line, 1..80)
    }

    /// The balance worked from the deeds as they stand in the end, in its own way: parts in an array,
    /// every movement booked as what went in less what went out.
    fn worked(deeds: &[Deed]) -> [f64; 4] {
        let parts = |of: Composition| [of.water(), of.solids(), of.fat(), of.salt()];
        let start = gravy();
        let mut pot = [start.water_kg(), start.solids_kg(), start.fat_kg(), start.salt_kg()];
        for deed in deeds {
            let all: f64 = pot.iter().sum();
            let dry = all - pot[0];
            match deed {
                Deed::Added { kg, of, .. } => {
                    pot.iter_mut().zip(parts(*of)).for_each(|(part, share)| *part += kg * share);
                }
                Deed::Taken { kg } => {
                    let gone = if all > 0.0 { (kg / all).min(1.0) } else { 0.0 };
                    pot.iter_mut().for_each(|part| *part -= *part * gone);
                }
                Deed::Evaporated { kg } => pot[0] = (pot[0] - kg).max(0.0),
                Deed::Set { kg } => pot[0] = (kg - dry).max(0.0),
            }
        }
        pot
    }

    proptest! {
        #[test]
        fn water_solids_fat_and_salt_balance_to_a_gram_over_any_corrections(lines in lines()) {
            let mut book = Book::new(gravy());
            let mut deeds: Vec<Deed> = Vec::new();
            for (n, line) in lines.into_iter().enumerate() {
                match line {
                    Line::Done(deed) => {
                        book.record(Moment::from_ms(n as i64), deed.clone());
                        deeds.push(deed);
                    }
                    Line::Put(turn, kg, is_cream) => {
                        let what = is_cream.then(|| ("cream".to_owned(), cream()));
                        let put = book.correct(turn, Some(kg), what);
                        let mut additions =
                            deeds.iter_mut().filter(|d| matches!(d, Deed::Added { .. }));
                        match additions.nth(turn) {
                            Some(Deed::Added { kg: stands, of, name }) => {
                                *stands = kg;
                                if is_cream {
                                    (*of, *name) = (cream(), Some("cream".to_owned()));
                                }
                            }
                            _ => prop_assert!(!put),
                        }
                    }
                }
                let now = book.now();
                let got = [now.water_kg(), now.solids_kg(), now.fat_kg(), now.salt_kg()];
                for (got, worked) in got.into_iter().zip(worked(&deeds)) {
                    prop_assert!(got >= 0.0 && (got - worked).abs() < 0.001, "{got} for {worked}");
                }
                prop_assert!((got.iter().sum::<f64>() - now.contents_kg()).abs() < 1e-9);
            }
        }
    }
}
