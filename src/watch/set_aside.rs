//! Gravy that was poured out to be blended or sieved in another vessel, and comes back.
//!
//! It is what it was when it left, less what stays in the sieve or the blender: so its water, solids,
//! fat and salt are kept in a balance of their own until it returns.
//!
//! ```text
//! out in one go, > a quarter of the pot    surely to be worked on: it comes back, in parts or whole
//! out in one go, > a ladle                 perhaps: it does where nearly all of it comes back soon
//! ```
//!
//! While more of the gravy is out than in, or once some of it came back, whatever fits is it; before that a
//! planned addition that the scale recognises comes first, unless it is nearly all that is out.
//!
//! Shares and times are judgement (a jug blender is filled to half, so that a big pot takes many jugs).

use crate::batch::composition::Composition;
use crate::batch::ledger::Ledger;

/// More than this taken at once was not ladled out to be served, as a share of the contents.
pub const LARGE_SHARE: f64 = 0.25;
/// More than this at once is no ladle, kg.
pub const LADLE_KG: f64 = 2.5;
/// How long a large part is expected back after something last went out or came back, s.
const LARGE_WITHIN_S: f64 = 2700.0;
/// How long a smaller part is, s.
const SMALL_WITHIN_S: f64 = 1200.0;
/// A little more may come back than went out: a scale's error, a rinsed jug.
const MOST: f64 = 1.05;
/// Nearly all of what is out comes back with a smaller part: the rest is at most this share.
const FAIR: f64 = 0.15;
/// Less than this share of all that went out stays in sieve and blender, or went to waste.
const RESIDUE: f64 = 0.1;

/// What is out of the pot and expected back.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct SetAside {
    out: Ledger,
    /// All that went out since nothing was, kg.
    all_kg: f64,
    large: bool,
    came_back: bool,
    moved_s: f64,
}

impl SetAside {
    /// `kg` of what the pot of `contents_kg` was made of went out at `now_s`.
    pub fn pour_out(&mut self, kg: f64, of: Composition, contents_kg: f64, now_s: f64) {
        self.forget_what_is_late(now_s);
        let large = kg > LARGE_SHARE * contents_kg;
        if !large && kg < LADLE_KG && !self.large {
            return;
        }
        self.out.add(kg, of);
        self.all_kg += kg;
        self.large |= large;
        self.moved_s = now_s;
    }

    /// What `kg` that came in at `now_s` are made of, where they are what was poured out. `in_kg` is in
    /// the pot without them; `planned` is whether they are recognised as a planned addition.
    pub fn pour_back(
        &mut self,
        kg: f64,
        planned: bool,
        in_kg: f64,
        now_s: f64,
    ) -> Option<Composition> {
        self.forget_what_is_late(now_s);
        let out_kg = self.out.contents_kg();
        let stays_out = if self.large { RESIDUE * self.all_kg } else { FAIR * out_kg };
        let nearly_all = out_kg - kg <= stays_out;
        let in_part = self.large && (self.came_back || out_kg > in_kg || !planned);
        if kg > MOST * out_kg || !(nearly_all || in_part) {
            return None;
        }
        let of = self.out.composition()?;
        self.out.take(kg);
        self.came_back = true;
        self.moved_s = now_s;
        if self.out.contents_kg() < RESIDUE * self.all_kg {
            *self = Self::default();
        }
        Some(of)
    }

    /// Whether a large part of the pot is out.
    #[must_use]
    pub fn is_expected(&self, now_s: f64) -> bool {
        self.large && !self.is_late(now_s)
    }

    fn is_late(&self, now_s: f64) -> bool {
        now_s - self.moved_s > if self.large { LARGE_WITHIN_S } else { SMALL_WITHIN_S }
    }

    fn forget_what_is_late(&mut self, now_s: f64) {
        if self.is_late(now_s) {
            *self = Self::default();
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn gravy() -> Composition {
        Composition::new(0.88, 0.075, 0.04, 0.005).unwrap()
    }

    /// Whether it is the gravy.
    fn is_gravy(of: Option<Composition>) -> bool {
        of.is_some_and(|of| {
            let parts = [of.water() - 0.88, of.solids() - 0.075, of.fat() - 0.04];
            parts.iter().all(|off| off.abs() < 1e-9)
        })
    }

    /// A pot of 20 kg with so much of it poured out.
    fn poured_out(kg: f64) -> SetAside {
        let mut aside = SetAside::default();
        aside.pour_out(kg, gravy(), 20.0, 0.0);
        aside
    }

    #[test]
    fn most_of_a_pot_that_is_sieved_comes_back_as_itself() {
        let mut aside = poured_out(14.0);
        assert!(aside.is_expected(600.0));
        assert!(is_gravy(aside.pour_back(13.8, false, 6.0, 600.0)));
        assert_eq!(aside, SetAside::default(), "what stayed in the sieve is not expected");
    }

    #[test]
    fn it_comes_back_jug_by_jug_though_a_jug_weighs_what_the_thinning_water_will() {
        let mut aside = poured_out(14.0);
        let mut in_kg = 6.0;
        for (jug, planned) in [(4.0, true), (3.0, false), (5.0, false), (1.9, true)] {
            let back = aside.pour_back(jug, planned, in_kg, 900.0);
            assert!(is_gravy(back), "{jug} kg: {back:?}");
            in_kg += jug;
        }
    }

    #[test]
    fn a_portion_for_the_blender_comes_back_soon_and_whole_or_is_not_it() {
        assert!(is_gravy(poured_out(3.0).pour_back(2.9, false, 17.0, 300.0)));
        assert_eq!(poured_out(3.0).pour_back(1.0, false, 17.0, 300.0), None, "a litre of water");
        assert_eq!(poured_out(3.0).pour_back(2.9, false, 17.0, 1300.0), None, "for the fridge");
        assert_eq!(poured_out(0.9).pour_back(0.9, false, 19.1, 300.0), None, "it was served");
    }

    #[test]
    fn more_than_went_out_is_something_else() {
        assert_eq!(poured_out(6.0).pour_back(6.5, false, 14.0, 300.0), None);
    }

    #[test]
    fn water_that_was_planned_is_water_where_most_of_the_gravy_is_in_the_pot() {
        let mut aside = poured_out(8.0);
        assert_eq!(aside.pour_back(5.0, true, 12.0, 300.0), None);
        assert!(is_gravy(aside.pour_back(7.8, false, 17.0, 400.0)));
    }

    #[test]
    fn what_was_never_brought_back_is_forgotten_within_the_hour() {
        let mut aside = poured_out(8.0);
        assert!(!aside.is_expected(3600.0));
        assert_eq!(aside.pour_back(7.8, false, 12.0, 3600.0), None);
    }

    proptest! {
        #[test]
        fn nothing_is_lost_or_made_between_pot_and_sieve(
            jugs in proptest::collection::vec((0.05..1.0_f64, any::<bool>()), 1..12),
            share in 0.3..0.95_f64,
        ) {
            let mut pot = Ledger::start(20.0, gravy());
            let mut aside = SetAside::default();
            let out_kg = 20.0 * share;
            let of = pot.composition().unwrap();
            aside.pour_out(pot.take(out_kg), of, 20.0, 0.0);
            let mut back_kg = 0.0;
            for (part, planned) in jugs {
                let kg = part * (out_kg - back_kg);
                let of = aside.pour_back(kg, planned, pot.contents_kg(), 10.0);
                if let Some(of) = of {
                    pot.add(kg, of);
                    back_kg += kg;
                }
            }
            // What is in the pot is the gravy that it was, all but what stayed out.
            let stayed_kg = out_kg - back_kg;
            let parts = [pot.water_kg(), pot.solids_kg(), pot.fat_kg(), pot.salt_kg()];
            let was = [0.88, 0.075, 0.04, 0.005].map(|part| part * (20.0 - stayed_kg));
            for (part, was) in parts.iter().zip(was) {
                prop_assert!((part - was).abs() < 0.001, "{parts:?} for {was:?}");
            }
        }
    }
}
