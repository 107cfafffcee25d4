//! The rules that a kitchen keeps to, in its kitchen file.
//!
//! ```toml
//! [rules]                      # may be left out
//! place = "england"            # whose rules for holding, cooling and heating again
//! chilled_days = 2             # the kitchen's own: how long a batch is kept cold,
//! frozen_days = 45             # and frozen
//! ```

use crate::batch::rules::Rules;

use super::section::Section;

pub const KEYS: &[&str] = &["place", "chilled_days", "frozen_days"];

/// What a kitchen keeps to.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Habits {
    pub rules: Rules,
    /// Days that a batch without cream is kept cold after the day that it was made.
    pub chilled_days: i64,
    /// Days that it is kept frozen: one to two months is common practice, no source.
    pub frozen_days: i64,
}

impl Default for Habits {
    fn default() -> Self {
        Self { rules: Rules::DEFAULT, chilled_days: 2, frozen_days: 45 }
    }
}

/// Reads `[rules]`.
#[must_use]
pub fn read(section: &Section<'_>) -> Option<Habits> {
    let usual = Habits::default();
    let place = section.text_or("place", usual.rules.name);
    let chilled_days = section.whole_or("chilled_days", usual.chilled_days, 0..=7);
    let frozen_days = section.whole_or("frozen_days", usual.frozen_days, 0..=180);
    let place = place?;
    let rules = Rules::by_name(&place);
    if rules.is_none() {
        section.refuse("place", format!("\"{place}\" has no rules here"), Rules::names());
    }
    Some(Habits { rules: rules?, chilled_days: chilled_days?, frozen_days: frozen_days? })
}
