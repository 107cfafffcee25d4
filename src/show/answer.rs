//! What a word of the cook changed, in a sentence or two: which addition, when, from what to what.
//!
//! The additions are held against how they stood before the word. What the scale saw of one is said too
//! where it is more than [`FAR`] times what the cook says, or less than that share of it: a slip of the
//! tongue, or another addition than was meant.

use crate::moment::Moment;
use crate::watch::action::What;
use crate::watch::event::CookSays;
use crate::watch::words::said_back;

use super::clock::{Clock, length};
use super::story::{Addition, HAPPENINGS, Story};
use super::words::{capital, kilograms, weighed};

/// So many times as much as the scale saw, or as little, is asked about: judgement, no source.
const FAR: f64 = 2.0;
/// Amounts that differ less than this are the same, kg.
const SAME_KG: f64 = 5e-4;

/// What stood before the cook spoke.
#[derive(Debug, Clone, PartialEq)]
pub struct Before {
    additions: Vec<Stood>,
    /// The last word that can be taken back.
    last: Option<CookSays>,
}

/// An addition as it stood.
#[derive(Debug, Clone, PartialEq)]
struct Stood {
    at: Moment,
    kg: f64,
    name: Option<String>,
}

impl Before {
    #[must_use]
    pub fn of(story: &Story) -> Self {
        let stood = |a: Addition<'_>| Stood { at: a.at, kg: a.kg, name: a.name.map(str::to_owned) };
        let changes =
            |says: &&CookSays| !matches!(says, CookSays::Acknowledge(_) | CookSays::Shelve { .. });
        let last = story.words.iter().rev().map(|word| &word.says).find(changes).cloned();
        Self { additions: story.additions().into_iter().map(stood).collect(), last }
    }

    /// What is answered to a word, by the story in which it stands. `None` where it is about no
    /// addition and takes nothing back.
    #[must_use]
    pub fn answer(&self, says: &CookSays, after: &Story, clock: Option<Clock>) -> Option<String> {
        let changed: Vec<String> = self.changes(says, after, clock);
        let noted = || format!("Noted: {}.", said_back(says));
        let said = match (says, changed.is_empty()) {
            (CookSays::TakeBack, _) => {
                let back = self.last.as_ref().map(said_back).filter(|back| !back.is_empty());
                let back = back.map_or_else(noted, |back| format!("Taken back: \"{back}\"."));
                let changed = changed.iter().map(|changed| capital(changed));
                return Some(std::iter::once(back).chain(changed).collect::<Vec<_>>().join(" "));
            }
            (_, false) => "Put right:".to_owned(),
            (CookSays::ThatWas { .. } | CookSays::Was { .. }, true) => {
                match self.stands_so(says, after, clock) {
                    Some(stands) => stands,
                    None => noted() + " Nothing is changed until the scale has seen it.",
                }
            }
            (CookSays::Added { .. }, true) => noted() + " It waits for the scale to see it.",
            (CookSays::Nothing { .. }, true) => noted(),
            _ => return None,
        };
        Some(std::iter::once(said).chain(changed).collect::<Vec<_>>().join(" "))
    }

    /// A sentence for each addition that is another now.
    fn changes(&self, says: &CookSays, after: &Story, clock: Option<Clock>) -> Vec<String> {
        let additions = after.additions();
        let changed = additions.iter().enumerate().filter_map(|(turn, is)| {
            let was = self.additions.iter().find(|was| was.at == is.at)?;
            let same = was.kg == is.kg && was.name.as_deref() == is.name;
            let from = weighed(Some(was.kg), was.name.as_deref());
            let to = weighed(Some(is.kg), is.name);
            let which = which(after, turn, is, clock);
            let far = spoken_kg(says).and_then(|kg| far(kg, seen_kg(after, is.at)?));
            let far = far.unwrap_or_default();
            (!same).then(|| format!("{which}, from {from} to {to}.{far}"))
        });
        changed.collect()
    }

    /// Where the addition that is meant stands as the cook says already, that.
    fn stands_so(&self, says: &CookSays, after: &Story, clock: Option<Clock>) -> Option<String> {
        let (CookSays::ThatWas { kg, name } | CookSays::Was { kg, name, .. }) = says else {
            return None;
        };
        let additions = after.additions();
        let so = |a: &Addition<'_>| {
            let called = |name: &str| {
                a.name.is_some_and(|is| is.to_lowercase().contains(&name.to_lowercase()))
            };
            kg.is_none_or(|kg| (kg - a.kg).abs() < SAME_KG) && name.as_deref().is_none_or(called)
        };
        let turn = match says {
            CookSays::ThatWas { .. } => additions.len().checked_sub(1),
            _ => additions.iter().rposition(so),
        };
        let (turn, is) = turn.and_then(|turn| Some((turn, additions.get(turn)?)))?;
        let which = which(after, turn, is, clock);
        so(is).then(|| format!("{} is {} already.", capital(&which), weighed(Some(is.kg), is.name)))
    }
}

/// "addition 4 (at 09:17)"
fn which(story: &Story, turn: usize, addition: &Addition<'_>, clock: Option<Clock>) -> String {
    let began = story.began.unwrap_or_default();
    let when = match clock {
        Some(clock) => format!("at {}", clock.hh_mm(addition.at)),
        None => format!("{} after the start", length((addition.at - began).max(0.0))),
    };
    // Of a long day the first are forgotten, and with them their turns.
    match story.happenings.len() < HAPPENINGS {
        true => format!("addition {} ({when})", turn + 1),
        false => format!("the addition {when}"),
    }
}

/// What the scale saw of an addition; `None` where that stands on the cook's word alone.
fn seen_kg(story: &Story, at: Moment) -> Option<f64> {
    story.happenings.iter().rev().filter(|h| h.at == at).find_map(|h| match h.what {
        What::Added { kg, sd_kg, .. } | What::PouredBack { kg, sd_kg } => {
            (sd_kg > 0.0 && kg > 0.0).then_some(kg)
        }
        _ => None,
    })
}

/// How much the cook says it was.
const fn spoken_kg(says: &CookSays) -> Option<f64> {
    match says {
        CookSays::ThatWas { kg, .. } | CookSays::Was { kg, .. } => *kg,
        CookSays::Added { kg, .. } => Some(*kg),
        _ => None,
    }
}

fn far(spoken_kg: f64, seen_kg: f64) -> Option<String> {
    let how = match spoken_kg / seen_kg {
        ratio if ratio > FAR => "less than half of that",
        ratio if ratio < 1.0 / FAR => "more than twice that",
        _ => return None,
    };
    let seen = kilograms(seen_kg);
    Some(format!(
        " The scale saw {seen}, {how}: if another addition was meant, say \"take that back\"."
    ))
}

#[cfg(test)]
mod tests;
