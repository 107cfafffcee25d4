//! What went in, as it stands after the cook's corrections.

use crate::moment::Moment;
use crate::watch::action::{Happening, POURED_BACK, What};

use super::Story;

/// An addition as it stands, and what was seen of it at first where the cook corrected it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Addition<'s> {
    pub at: Moment,
    pub kg: f64,
    pub name: Option<&'s str>,
    /// kg and name as they were told at first.
    pub was: Option<(f64, Option<&'s str>)>,
}

impl Story {
    /// What went in, in the order in which it was seen.
    #[must_use]
    pub fn additions(&self) -> Vec<Addition<'_>> {
        let mut additions: Vec<Addition<'_>> = Vec::new();
        for happening in &self.happenings {
            match &happening.what {
                What::Added { kg, name, .. } => {
                    let (at, kg, name) = (happening.at, *kg, name.as_deref());
                    additions.push(Addition { at, kg, name, was: None });
                }
                What::PouredBack { kg, .. } => {
                    let (at, name) = (happening.at, Some(POURED_BACK));
                    additions.push(Addition { at, kg: *kg, name, was: None });
                }
                What::Corrected { kg, name, ago_s } => {
                    let meant = put_in_at(happening, *ago_s);
                    if let Some(addition) = additions.iter_mut().rev().find(|a| a.at == meant) {
                        addition.was.get_or_insert((addition.kg, addition.name));
                        (addition.kg, addition.name) = (*kg, name.as_deref());
                    }
                }
                _ => {}
            }
        }
        additions
    }

    /// The addition that began `ago_s` before `at`.
    pub(super) fn addition_at(&self, at: Moment, ago_s: f64) -> Option<Addition<'_>> {
        let meant = before(at, ago_s);
        self.additions().into_iter().rev().find(|addition| addition.at == meant)
    }

    /// What was told of an addition at first, where this corrects one.
    #[must_use]
    pub fn corrected(&self, happening: &Happening) -> Option<(f64, Option<&str>)> {
        let What::Corrected { ago_s, .. } = happening.what else { return None };
        let meant = before(happening.at, ago_s);
        self.happenings.iter().rev().find_map(|told| match &told.what {
            What::Added { kg, name, .. } if told.at == meant => Some((*kg, name.as_deref())),
            What::PouredBack { kg, .. } if told.at == meant => Some((*kg, Some(POURED_BACK))),
            _ => None,
        })
    }
}

fn put_in_at(happening: &Happening, ago_s: f64) -> Moment {
    before(happening.at, ago_s)
}

fn before(at: Moment, ago_s: f64) -> Moment {
    // No batch is so long that this would wrap.
    at.plus_ms(-((ago_s.clamp(0.0, 1e9) * 1000.0).round() as i64))
}
