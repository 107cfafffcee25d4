//! The batch in a sentence and in figures.

use maud::{Markup, html};

use crate::show::clock::length;
use crate::show::comparison::figures::{COLUMNS, Figures};
use crate::show::escape::printable;
use crate::show::story::Story;
use crate::show::words::{self, kilograms};

use super::Sheet;

/// How it went, in one sentence.
pub fn ending(sheet: &Sheet<'_>) -> String {
    let story = sheet.story;
    let left = story.contents.last().map(|(_, kg)| format!("; {} at the end", kilograms(kg)));
    let first = match (story.reached, story.target) {
        (Some(at), _) => match sheet.clock {
            Some(clock) => format!("Reached its target at {}", clock.hh_mm(at)),
            None => format!("Reached its target after {}", sheet.time(at)),
        },
        (None, Some(_)) => "Did not reach its target".into(),
        (None, None) => "Cooked without a target".into(),
    };
    first + &left.unwrap_or_default()
}

/// Kitchen, pot, day and length.
pub fn who(sheet: &Sheet<'_>) -> String {
    let story = sheet.story;
    let pot = words::pot(&story.pot.name);
    let when = sheet
        .clock
        .zip(story.began)
        .map(|(clock, began)| format!("{}, began {}", clock.date(began), clock.hh_mm(began)));
    let lasted = story.extent_s().map(|(from, to)| format!("lasted {}", length(to - from)));
    let target = story.target.map(|target| format!("target {target}"));
    let parts = [
        sheet.kitchen.map(printable),
        Some(printable(&pot)),
        when,
        lasted,
        target,
        sheet.outcome.map(str::to_owned),
    ];
    parts.into_iter().flatten().collect::<Vec<_>>().join(" · ")
}

/// Start, in, out, and the figures that batches are compared by.
pub fn figures(story: &Story) -> Markup {
    let tally = &story.tally;
    let start = story.contents.first().map(|(_, kg)| ("started with", kilograms(kg)));
    let in_out = [("put in", tally.added_kg), ("taken out", tally.taken_kg)];
    let in_out = in_out.map(|(name, kg)| Some((name, kilograms(kg))));
    let solids = story.now.as_ref().and_then(|now| now.total_solids);
    let solids = solids.map(|share| ("solids at the end", format!("{:.1} %", share * 100.0)));
    let own = Figures::of(story, None);
    let compared = COLUMNS.iter().map(|c| Some((c.name, (c.words)((c.value)(&own)?))));
    let all = std::iter::once(start).chain(in_out).chain([solids]).chain(compared);
    html! {
        dl { @for (name, value) in all.flatten() { dt { (name) } dd { (value) } } }
    }
}
