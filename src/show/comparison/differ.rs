//! What differed most between batches, said in words.
//!
//! Each figure's range is held against a difference that a cook would mind; the two that are
//! largest by that measure, and at least that large, are said.

use super::Batch;
use super::figures::{COLUMNS, Column};

/// A difference and how it is said.
#[derive(Debug, Clone, PartialEq)]
pub struct Difference {
    /// The figure's name in files.
    pub key: &'static str,
    pub sentence: String,
}

/// At most two differences, the largest first.
#[must_use]
pub fn most(batches: &[Batch]) -> Vec<Difference> {
    let mut ranges: Vec<Range> =
        COLUMNS.iter().filter_map(|column| Range::of(column, batches)).collect();
    ranges.retain(|range| range.minded() >= 1.0);
    ranges.sort_by(|a, b| b.minded().total_cmp(&a.minded()));
    if ranges.is_empty() && batches.len() > 1 {
        let sentence = "They went much alike.".into();
        return vec![Difference { key: "none", sentence }];
    }
    ranges.iter().take(2).map(Range::difference).collect()
}

struct Range<'a> {
    column: &'static Column,
    high: (&'a str, f64),
    low: (&'a str, f64),
}

impl<'a> Range<'a> {
    fn of(column: &'static Column, batches: &'a [Batch]) -> Option<Self> {
        let values: Vec<(&str, f64)> = batches
            .iter()
            .filter_map(|b| (column.value)(&b.figures).map(|v| (b.label.as_str(), v)))
            .collect();
        let high = values.iter().max_by(|a, b| a.1.total_cmp(&b.1))?;
        let low = values.iter().min_by(|a, b| a.1.total_cmp(&b.1))?;
        (values.len() > 1).then_some(Self { column, high: *high, low: *low })
    }

    fn minded(&self) -> f64 {
        (self.high.1 - self.low.1) / self.column.matters
    }

    fn difference(&self) -> Difference {
        let Self { column, high, low } = self;
        let (more, less) = ((column.words)(high.1), (column.words)(low.1));
        let sentence = format!("{} {}: {more} against {less} for {}.", high.0, column.most, low.0);
        Difference { key: column.key, sentence }
    }
}
