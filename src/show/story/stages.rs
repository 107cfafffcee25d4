//! What the pot was doing when: the kitchen's own stages where the batch names them, else what the
//! probe saw of it.
//!
//! A stage that is meant begins with what can be seen of it: the boil that ends the one before, the
//! blender, the addition that opens it, the target. Where nothing can be seen it begins when the usual
//! minutes of the one before are over, or, where a later one has begun, its own usual minutes before
//! that. A stage that cannot be told yet is not shown, nor is any after it.

use std::ops::Range;

use crate::batch::plan::PlannedStage;
use crate::batch::recipe::Until;
use crate::watch::action::What;

use super::Story;

/// Boiling for less than this is no stage, s.
const LEAST_BOIL_S: f64 = 120.0;
/// A stage of less than this is not named, s.
const LEAST_S: f64 = 60.0;

/// A part of the batch with a name.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Stage<'s> {
    pub from_s: f64,
    pub to_s: f64,
    pub name: &'s str,
    pub short: &'s str,
}

impl Story {
    /// What the pot was doing, in order.
    #[must_use]
    pub fn stages(&self) -> Vec<Stage<'_>> {
        let Some((began, end)) = self.extent_s() else { return vec![] };
        let mut stages = if self.planned.is_empty() {
            self.seen(began, end)
        } else {
            self.meant_stages(began, end)
        };
        stages.retain(|stage| stage.to_s - stage.from_s > LEAST_S);
        stages
    }

    /// By what the probe saw.
    fn seen(&self, began: f64, end: f64) -> Vec<Stage<'_>> {
        let stage = |from_s, to_s, name, short| Stage { from_s, to_s, name, short };
        let mut stages = Vec::new();
        let boiled = self.boiling.seconds().next().is_some();
        let (mut at, mut name, mut short) =
            if boiled { (began, "heating", "heat") } else { (began, "below the boil", "") };
        for (from, to) in self.boiling.seconds().filter(|(from, to)| to - from >= LEAST_BOIL_S) {
            stages.push(stage(at, from, name, short));
            stages.push(stage(from, to, "at the boil", "boil"));
            (at, name, short) = (to, "off the boil", "off");
        }
        stages.push(stage(at, end, name, short));
        stages
    }

    /// By what the kitchen meant.
    fn meant_stages(&self, began: f64, end: f64) -> Vec<Stage<'_>> {
        let mut begins = vec![began];
        for n in 1..self.planned.len() {
            let Some(at) = self.begins_s(n, begins[n - 1]).filter(|at| *at < end) else { break };
            begins.push(at);
        }
        let ends = begins.iter().skip(1).copied().chain([end]);
        let spans = begins.iter().copied().zip(ends).zip(&self.planned);
        spans
            .map(|((from_s, to_s), meant)| Stage { from_s, to_s, name: &meant.name, short: "" })
            .collect()
    }

    /// When stage `n` began, s, where the one before it began at `from_s`.
    fn begins_s(&self, n: usize, from_s: f64) -> Option<f64> {
        if let Some(seen) = self.opened_s(&self.planned[n], from_s) {
            return Some(seen);
        }
        let later = (n + 1..self.planned.len())
            .find_map(|m| Some((m, self.opened_s(&self.planned[m], from_s)?)));
        let by_the_last = self.ended_s(&self.planned[n - 1], from_s);
        match later {
            Some((_, opened_s)) if by_the_last.is_some_and(|at| at < opened_s) => by_the_last,
            // Its beginning was not seen, and what comes after it has begun: back by the usual time.
            Some((m, opened_s)) => Some((opened_s - self.usual_s(n..m)).clamp(from_s, opened_s)),
            None => by_the_last,
        }
    }

    /// What is surely seen of a stage's beginning: the addition that opens it, or the blender.
    fn opened_s(&self, stage: &PlannedStage, from_s: f64) -> Option<f64> {
        let opened = stage.opens_with.as_deref().and_then(|name| self.went_in_s(name, from_s));
        opened.or_else(|| self.blended_s(from_s).filter(|_| stage.blends).map(|(began, _)| began))
    }

    /// When a stage that began at `from_s` ended.
    fn ended_s(&self, stage: &PlannedStage, from_s: f64) -> Option<f64> {
        if stage.blends {
            return self.blended_s(from_s).map(|(_, ended)| ended);
        }
        match stage.until {
            Until::Boil => self.boiled_s(from_s),
            Until::Target => self.reached.map(|at| at.seconds()).filter(|at| *at > from_s),
            Until::Minutes(minutes) => Some(from_s + minutes * 60.0),
        }
    }

    /// The usual time of stages whose time is given.
    fn usual_s(&self, stages: Range<usize>) -> f64 {
        let minutes = self.planned[stages].iter().map(|stage| match stage.until {
            Until::Minutes(minutes) => minutes,
            _ => 0.0,
        });
        minutes.sum::<f64>() * 60.0
    }

    fn went_in_s(&self, name: &str, after_s: f64) -> Option<f64> {
        let mut additions = self.additions().into_iter();
        let same = additions.find(|a| a.name == Some(name) && a.at.seconds() >= after_s)?;
        Some(same.at.seconds())
    }

    fn boiled_s(&self, after_s: f64) -> Option<f64> {
        let boiled = |(from, to): &(f64, f64)| *to > after_s && to - from >= LEAST_BOIL_S;
        self.boiling.seconds().find(boiled).map(|(from, _)| from.max(after_s))
    }

    /// From the first to the last of the blending after `after_s`.
    fn blended_s(&self, after_s: f64) -> Option<(f64, f64)> {
        let mut blended = self.happenings.iter().filter_map(|h| match h.what {
            What::Blended { for_s } if h.at.seconds() >= after_s => {
                Some((h.at.seconds(), h.at.seconds() + for_s))
            }
            _ => None,
        });
        let first = blended.next()?;
        Some((first.0, blended.next_back().map_or(first.1, |last| last.1)))
    }
}
