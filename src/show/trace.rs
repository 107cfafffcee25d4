//! A quantity over time in bounded memory.
//!
//! Values fall into slots of equal length. Each slot keeps its first, lowest, highest and last
//! value, so a spike of one sample survives whatever the scale; when there are more than [`SLOTS`]
//! slots their length doubles and neighbours join. What is kept depends only on what was taken in,
//! so the same values give the same trace on every machine.

use crate::moment::Moment;

/// Slots at most: about the columns of a drawing.
pub const SLOTS: usize = 480;

/// A silence is a gap when it is longer than this and than three times the silence before it, ms.
const SILENCE_MS: i64 = 180_000;

/// So is a shorter one in which the quantity was said to be unknown.
const UNKNOWN_MS: i64 = 45_000;

/// A value and its time, ms.
type Sample = (i64, f64);

#[derive(Debug, Clone, PartialEq)]
struct Slot {
    number: i64,
    /// The quantity was not known at some time just before this slot's first value.
    after_gap: bool,
    first: Sample,
    low: Sample,
    high: Sample,
    last: Sample,
}

impl Slot {
    fn of(number: i64, after_gap: bool, sample: Sample) -> Self {
        Self { number, after_gap, first: sample, low: sample, high: sample, last: sample }
    }

    fn join(&mut self, later: &Self) {
        if later.low.1 < self.low.1 {
            self.low = later.low;
        }
        if later.high.1 > self.high.1 {
            self.high = later.high;
        }
        self.last = later.last;
    }

    /// In order of time, each once.
    fn samples(&self) -> Vec<Sample> {
        let mut all = vec![self.first, self.low, self.high, self.last];
        all.sort_by_key(|sample| sample.0);
        all.dedup();
        all
    }
}

/// One quantity over time.
#[derive(Debug, Clone, PartialEq)]
pub struct Trace {
    slot_ms: i64,
    slots: Vec<Slot>,
    unknown: bool,
    spacing_ms: Option<i64>,
}

impl Default for Trace {
    fn default() -> Self {
        Self { slot_ms: 1000, slots: Vec::new(), unknown: false, spacing_ms: None }
    }
}

impl Trace {
    /// Takes in a value, or that it is not known. What is not finite counts as not known; a moment
    /// before the last one is taken as the last one.
    pub fn take(&mut self, at: Moment, value: Option<f64>) {
        let Some(value) = value.filter(|v| v.is_finite()) else {
            self.unknown = true;
            return;
        };
        let last_ms = self.slots.last().map(|slot| slot.last.0);
        let ms = last_ms.map_or(at.ms(), |last| last.max(at.ms()));
        let gap = self.silent_for(last_ms.map(|last| ms - last));
        self.unknown = false;
        self.put(Slot::of(ms.div_euclid(self.slot_ms), gap, (ms, value)));
        while self.slots.len() > SLOTS {
            self.coarsen();
        }
    }

    fn silent_for(&mut self, spacing_ms: Option<i64>) -> bool {
        let usual = std::mem::replace(&mut self.spacing_ms, spacing_ms);
        let (least, usual) = match (self.unknown, usual) {
            (true, usual) => (UNKNOWN_MS, usual.unwrap_or(0)),
            (false, Some(usual)) => (SILENCE_MS, usual),
            (false, None) => return false,
        };
        spacing_ms.is_some_and(|now| now > least.max(3 * usual))
    }

    fn put(&mut self, slot: Slot) {
        match self.slots.last_mut() {
            Some(last) if last.number == slot.number => last.join(&slot),
            _ => self.slots.push(slot),
        }
    }

    fn coarsen(&mut self) {
        self.slot_ms *= 2;
        for mut slot in std::mem::take(&mut self.slots) {
            slot.number = slot.number.div_euclid(2);
            self.put(slot);
        }
    }

    /// The unbroken runs of (time in s, value), in order.
    #[must_use]
    pub fn runs(&self) -> Vec<Vec<(f64, f64)>> {
        let mut runs: Vec<Vec<(f64, f64)>> = Vec::new();
        for slot in &self.slots {
            if slot.after_gap || runs.is_empty() {
                runs.push(Vec::new());
            }
            if let Some(run) = runs.last_mut() {
                run.extend(slot.samples().into_iter().map(|(ms, v)| (ms as f64 / 1000.0, v)));
            }
        }
        runs
    }

    /// Lowest and highest value so far.
    #[must_use]
    pub fn extent(&self) -> Option<(f64, f64)> {
        self.slots.iter().fold(None, |extent, slot| match extent {
            None => Some((slot.low.1, slot.high.1)),
            Some((low, high)) => Some((slot.low.1.min(low), slot.high.1.max(high))),
        })
    }

    /// The last value and when it was, s.
    #[must_use]
    pub fn last(&self) -> Option<(f64, f64)> {
        self.slots.last().map(|slot| (slot.last.0 as f64 / 1000.0, slot.last.1))
    }

    /// The first value and when it was, s.
    #[must_use]
    pub fn first(&self) -> Option<(f64, f64)> {
        self.slots.first().map(|slot| (slot.first.0 as f64 / 1000.0, slot.first.1))
    }

    /// The value at `t_s`, between its neighbours; `None` before the first, after the last and in a
    /// gap.
    #[must_use]
    pub fn at(&self, t_s: f64) -> Option<f64> {
        self.runs().iter().find_map(|run| between(run, t_s))
    }
}

fn between(run: &[(f64, f64)], t_s: f64) -> Option<f64> {
    let after = run.partition_point(|p| p.0 < t_s);
    let b = run.get(after)?;
    if b.0 == t_s {
        return Some(b.1);
    }
    let a = run.get(after.checked_sub(1)?)?;
    Some(a.1 + (b.1 - a.1) * (t_s - a.0) / (b.0 - a.0))
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn at(t_s: i64) -> Moment {
        Moment::from_ms(t_s * 1000)
    }

    #[test]
    fn a_day_of_samples_stays_small_and_keeps_its_spike() {
        let mut trace = Trace::default();
        for t in 0..86_400 {
            trace.take(at(t), Some(if t == 40_001 { 99.0 } else { 20.0 }));
        }
        assert!(trace.slots.len() <= SLOTS);
        assert_eq!(trace.extent(), Some((20.0, 99.0)));
        assert_eq!(trace.at(40_001.0), Some(99.0));
    }

    #[test]
    fn a_gap_breaks_the_line_and_nothing_is_made_up_in_it() {
        let mut trace = Trace::default();
        for t in 0..100 {
            trace.take(at(t), (!(20..80).contains(&t)).then_some(1.0));
        }
        assert_eq!(trace.runs().len(), 2);
        assert_eq!(trace.at(50.0), None);
        assert_eq!(trace.at(10.0), Some(1.0));
    }

    #[test]
    fn one_missing_sample_is_no_gap() {
        let mut trace = Trace::default();
        for t in 0..100 {
            trace.take(at(t * 10), (t != 50).then_some(1.0));
        }
        assert_eq!(trace.runs().len(), 1);
    }

    #[test]
    fn a_long_silence_is_a_gap() {
        let mut trace = Trace::default();
        trace.take(at(0), Some(1.0));
        trace.take(at(60), Some(1.0));
        trace.take(at(600), Some(1.0));
        assert_eq!(trace.runs().len(), 2);
    }

    proptest! {
        #[test]
        fn any_values_give_runs_in_order_within_their_extent(
            values in prop::collection::vec((0i64..100_000, prop::option::of(-1e6..1e6f64)), 0..800)
        ) {
            let mut trace = Trace::default();
            for (t, v) in values {
                trace.take(at(t), v);
            }
            prop_assert!(trace.slots.len() <= SLOTS);
            let points: Vec<_> = trace.runs().concat();
            prop_assert!(points.windows(2).all(|w| w[0].0 <= w[1].0));
            if let Some((low, high)) = trace.extent() {
                prop_assert!(points.iter().all(|p| (low..=high).contains(&p.1)));
            } else {
                prop_assert!(points.is_empty());
            }
        }
    }
}
