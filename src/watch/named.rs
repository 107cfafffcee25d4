//! Which addition a cook means, and what the name stands for.
//!
//! An addition is meant by its name ("the infusion" for "spice infusion"; of several the last), or by
//! its turn among all that went in: "addition 2", "first addition", "last addition". A name is that
//! of a planned addition or of an ingredient; anything else is refused with the nearest names.

use crate::batch::larder::Larder;
use crate::batch::near;

use super::action::Alarm;
use super::event::CookSays;
use super::words::NotUnderstood;

/// What the names of a batch are.
#[derive(Debug, Clone, Copy)]
pub struct Known<'k> {
    /// What went in, in order, `None` where it was not named.
    pub went_in: &'k [Option<&'k str>],
    pub planned: &'k [&'k str],
    pub larder: &'k Larder,
    /// The alerts that stand.
    pub standing: &'k [Alarm],
    /// Whether something was said that can be taken back.
    pub spoken: bool,
}

const TURNS: [&str; 6] = ["first", "second", "third", "fourth", "fifth", "sixth"];

impl Known<'_> {
    /// The turn of the addition that is meant, from 0.
    #[must_use]
    pub fn which(&self, said: &str) -> Option<usize> {
        let turn = match said.strip_suffix(" addition") {
            Some("last") => self.went_in.len().checked_sub(1),
            Some(word) => TURNS.iter().position(|turn| *turn == word),
            None => said
                .strip_prefix("addition ")
                .and_then(|number| number.parse::<usize>().ok()?.checked_sub(1)),
        };
        if let Some(turn) = turn {
            return (turn < self.went_in.len()).then_some(turn);
        }
        let named = |fits: fn(&str, &str) -> bool| {
            self.went_in.iter().rposition(|name| name.is_some_and(|name| fits(name, said)))
        };
        named(same).or_else(|| named(has))
    }

    /// The whole name of what is spoken of: a planned addition's, else an ingredient's as it was said.
    #[must_use]
    pub fn name(&self, said: &str) -> Option<String> {
        let planned = |fits: fn(&str, &str) -> bool| {
            self.planned.iter().find(|name| fits(name, said)).map(|name| (*name).to_owned())
        };
        planned(same)
            .or_else(|| self.larder.find(said).map(|_| said.to_owned()))
            .or_else(|| planned(has))
    }

    /// Whether everything that is spoken of is known here.
    ///
    /// # Errors
    /// The addition or the ingredient that is not.
    pub fn check(&self, says: &CookSays) -> Result<(), NotUnderstood> {
        match says {
            CookSays::Was { which, name, .. } => {
                self.which(which).ok_or_else(|| self.no_addition(which))?;
                self.check_name(name.as_deref())
            }
            CookSays::ThatWas { name, .. } | CookSays::Added { name, .. } => {
                self.check_name(name.as_deref())
            }
            CookSays::Nothing { which } => {
                let which = which.as_deref().unwrap_or("last addition");
                self.which(which).map(drop).ok_or_else(|| self.no_addition(which))
            }
            CookSays::TakeBack if !self.spoken => Err(NotUnderstood::NothingSaid),
            CookSays::Acknowledge(alarm) | CookSays::Shelve { alarm, .. }
                if !self.standing.contains(alarm) =>
            {
                let standing = self.standing.to_vec();
                Err(NotUnderstood::NotStanding { alarm: *alarm, standing })
            }
            _ => Ok(()),
        }
    }

    fn check_name(&self, name: Option<&str>) -> Result<(), NotUnderstood> {
        let Some(said) = name.filter(|said| self.name(said).is_none()) else { return Ok(()) };
        let meant = near::nearest(said, self.planned.iter().copied());
        let near = match meant.first() {
            Some(planned) => format!("did you mean \"{planned}\"?"),
            None => self.larder.did_you_mean(said),
        };
        let own = "an [[ingredient]] of the kitchen file can name it".to_owned();
        let near = if near.is_empty() { own } else { near };
        Err(NotUnderstood::Name { said: said.to_owned(), near })
    }

    fn no_addition(&self, said: &str) -> NotUnderstood {
        let went_in = self.went_in.iter().enumerate().map(|(turn, name)| {
            let number = turn + 1;
            name.map_or_else(|| format!("addition {number}"), str::to_owned)
        });
        NotUnderstood::Addition { said: said.to_owned(), went_in: went_in.collect() }
    }
}

fn same(name: &str, said: &str) -> bool {
    name.eq_ignore_ascii_case(said)
}

/// Whether every word that was said is a word of the name.
fn has(name: &str, said: &str) -> bool {
    let name = name.to_lowercase();
    !said.is_empty() && said.split(' ').all(|word| name.split([' ', ',']).any(|own| own == word))
}

#[cfg(test)]
mod tests {
    use super::*;

    const IN: [Option<&str>; 4] = [Some("Spice infusion"), None, Some("water"), Some("water")];
    const PLANNED: [&str; 2] = ["Spice infusion", "thinning water"];

    fn which(said: &str) -> Option<usize> {
        known(&Larder::bundled()).which(said)
    }

    fn refused(says: &CookSays) -> String {
        let larder = Larder::bundled();
        known(&larder).check(says).unwrap_err().to_string()
    }

    fn known(larder: &Larder) -> Known<'_> {
        let standing = &[Alarm::Catching];
        Known { went_in: &IN, planned: &PLANNED, larder, standing, spoken: false }
    }

    #[test]
    fn an_addition_is_meant_by_its_name_or_its_turn() {
        assert_eq!(which("spice infusion"), Some(0));
        assert_eq!(which("infusion"), Some(0));
        assert_eq!(which("water"), Some(3), "the last of two");
        assert_eq!(which("addition 2"), Some(1));
        assert_eq!((which("second addition"), which("last addition")), (Some(1), Some(3)));
        for said in ["cream", "addition 0", "addition 5", "fifth addition", "addition", ""] {
            assert_eq!(which(said), None, "{said}");
        }
    }

    #[test]
    fn a_name_is_a_planned_addition_or_an_ingredient() {
        let larder = Larder::bundled();
        let known = known(&larder);
        assert_eq!(known.name("infusion").as_deref(), Some("Spice infusion"));
        assert_eq!(known.name("water").as_deref(), Some("water"), "not the thinning water");
        assert_eq!(known.name("moon"), None);
    }

    #[test]
    fn what_is_not_known_is_refused_with_the_nearest_names() {
        let said = |name: &str| CookSays::ThatWas { kg: Some(1.2), name: Some(name.into()) };
        assert!(refused(&said("creem")).contains("cream"));
        assert!(refused(&said("spice infushion")).contains("did you mean \"Spice infusion\"?"));
        let was = CookSays::Was { which: "cream".into(), kg: Some(1.2), name: None };
        let words = refused(&was);
        assert!(words.contains("no \"cream\" went in"), "{words}");
        assert!(words.contains("Spice infusion, addition 2, water, water"), "{words}");
    }

    #[test]
    fn an_alert_that_does_not_stand_cannot_be_acknowledged() {
        let words = refused(&CookSays::Acknowledge(Alarm::StirDue));
        assert_eq!(words, "stir-due does not stand; what stands: catching");
        let larder = Larder::bundled();
        assert_eq!(known(&larder).check(&CookSays::Acknowledge(Alarm::Catching)), Ok(()));
    }

    #[test]
    fn who_said_nothing_takes_nothing_back() {
        assert_eq!(refused(&CookSays::TakeBack), "nothing was said that could be taken back");
    }
}
