//! The stages of a batch file, and when in them something is added.

use crate::batch::recipe::{Stage, Until};
use crate::config::section::Section;

pub const KEYS: &[&str] = &["name", "minutes", "until", "lid", "flame", "blend"];

const FLAMES: [(&str, f64); 4] = [("full", 1.0), ("half", 0.5), ("low", 0.25), ("off", 0.0)];
const LID: [(&str, bool); 2] = [("off", false), ("on", true)];
const WHEN: [(&str, f64); 3] = [("start", 0.0), ("halfway", 0.5), ("end", 1.0)];

/// Reads one `[[stage]]`.
#[must_use]
pub fn read(section: &Section<'_>) -> Option<Stage> {
    let name = section.text("name");
    let until = match (section.has("minutes"), section.has("until")) {
        (true, false) => section.number("minutes", 0.1..=1440.0, "min").map(Until::Minutes),
        (false, true) => {
            section.choice("until", &[("boil", Until::Boil), ("target", Until::Target)])
        }
        (both, _) => {
            let wrong = if both { "both are given" } else { "how long it takes is missing" };
            section.refuse("minutes", wrong, "one of minutes and until");
            None
        }
    };
    let lid_on = if section.has("lid") { section.choice("lid", &LID) } else { Some(false) };
    let flame = if section.has("flame") { section.choice("flame", &FLAMES) } else { Some(1.0) };
    let blends = section.flag_or("blend", false);
    Some(Stage { name: name?, until: until?, lid_on: lid_on?, flame: flame?, blends: blends? })
}

/// In which stage and how far into it an addition is meant: keys `stage` and `when`. `stages` is
/// `None` where they are wrong themselves, and then nothing is said of them again.
#[must_use]
pub fn when(section: &Section<'_>, stages: Option<&[Stage]>) -> Option<(Option<usize>, f64)> {
    let at = if section.has("when") { section.choice("when", &WHEN)? } else { 0.0 };
    let Some(name) = section.text_or_none("stage") else {
        if section.has("when") {
            section.refuse("when", "says nothing without a stage", "with stage = \"…\"");
        }
        return Some((None, at));
    };
    let stages = stages?;
    let stage = stages.iter().position(|stage| stage.name == name);
    if stage.is_none() {
        let names: Vec<_> = stages.iter().map(|stage| format!("\"{}\"", stage.name)).collect();
        let allowed = if names.is_empty() { "a [[stage]] first".into() } else { names.join(", ") };
        section.refuse("stage", format!("\"{name}\" is no stage of this batch"), allowed);
        return None;
    }
    Some((stage, at))
}
