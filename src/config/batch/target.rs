//! What a batch file asks of the gravy: one key of `[target]`.

use crate::batch::wanted::{BOSTWICK_END_CM, Seen, Wanted};
use crate::config::section::Section;

use super::MOST_KG;

/// The keys of `[target]`: each asks for one thing; the last two say what was measured once.
pub const KEYS: &[&str] = &[
    "total_solids",
    "contents_kg",
    "litres",
    "dip_cm",
    "reduced_by",
    "brix",
    "bostwick_cm",
    "line_spread_cm",
    "like_batch",
    "measured_cm",
    "measured_total_solids",
];

/// How many of [`KEYS`] ask for something.
const WISHES: usize = 9;

/// Reads `[target]` and says under which key the wish stands.
#[must_use]
pub fn read(section: &Section<'_>) -> Option<(&'static str, Wanted)> {
    let given: Vec<_> = KEYS[..WISHES].iter().filter(|key| section.has(key)).collect();
    let [key] = given.as_slice() else {
        let wrong = if given.is_empty() { "no target is given" } else { "two targets are given" };
        let at = given.first().map_or(KEYS[0], |key| key);
        section.refuse(at, wrong, format!("one of {}", KEYS[..WISHES].join(", ")));
        return None;
    };
    let number = |range, unit| section.number(key, range, unit);
    let wanted = match **key {
        "total_solids" => Wanted::TotalSolids(number(0.01..=0.95, "")?),
        "contents_kg" => Wanted::ContentsKg(number(0.05..=MOST_KG, "kg")?),
        "litres" => Wanted::Litres(number(0.05..=MOST_KG, "l")?),
        "dip_cm" => Wanted::DipCm(number(0.5..=200.0, "cm")?),
        "reduced_by" => Wanted::ReducedBy(number(0.01..=0.9, "of all that went in")?),
        "brix" => Wanted::Brix(number(0.5..=60.0, "°Brix")?),
        "bostwick_cm" => {
            let cm = number(0.5..=BOSTWICK_END_CM, "cm, where the trough ends")?;
            Wanted::Bostwick { cm, seen: seen(section)? }
        }
        "line_spread_cm" => {
            Wanted::LineSpread { cm: number(1.0..=25.0, "cm")?, seen: seen(section)? }
        }
        _ => {
            let number = u32::try_from(section.whole(key, 1..=9_999_999)?).ok()?;
            let total_solids = match section.has("measured_total_solids") {
                true => Some(section.number("measured_total_solids", 0.01..=0.95, "")?),
                false => None,
            };
            Wanted::LikeBatch { number, total_solids }
        }
    };
    Some((key, wanted))
}

/// The outer `None` where something is wrong, the inner where nothing was measured.
fn seen(section: &Section<'_>) -> Option<Option<Seen>> {
    if !section.has("measured_cm") && !section.has("measured_total_solids") {
        return Some(None);
    }
    let cm = section.number("measured_cm", 0.5..=25.0, "cm");
    let total_solids = section.number("measured_total_solids", 0.01..=0.95, "");
    Some(Some(Seen { cm: cm?, total_solids: total_solids? }))
}
