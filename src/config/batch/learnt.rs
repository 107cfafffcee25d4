//! What was known of the pot before: `dekchi batches export` writes it, so that a replay begins where
//! the batch began.

use crate::config::section::Section;
use crate::watch::setting::Learnt;

pub const KEYS: &[&str] = &["bottom_log_scale", "bottom_verdicts"];

/// More than this no cook's verdicts can move a bottom: a factor of twenty either way.
const MOST_LOG_SCALE: f64 = 3.0;

/// Reads `[learnt]`; nothing was learnt where it is left out.
pub fn read(root: &Section<'_>) -> Option<Learnt> {
    let Some(section) = root.table_or_none("learnt", KEYS) else {
        return Some(Learnt::default());
    };
    let range = -MOST_LOG_SCALE..=MOST_LOG_SCALE;
    let bottom_log_scale = section.number("bottom_log_scale", range, "");
    let bottom_verdicts = section.whole("bottom_verdicts", 0..=1_000_000);
    Some(Learnt {
        bottom_log_scale: bottom_log_scale?,
        bottom_verdicts: u32::try_from(bottom_verdicts?).ok()?,
    })
}

/// The table as text, to be put below a batch file's own.
#[must_use]
pub fn write(learnt: Learnt) -> String {
    let Learnt { bottom_log_scale, bottom_verdicts } = learnt;
    format!(
        "\n[learnt]                     # what was known of the pot when the batch began\n\
         bottom_log_scale = {bottom_log_scale:?}\nbottom_verdicts = {bottom_verdicts}\n"
    )
}
