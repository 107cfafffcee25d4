//! The batch in a sentence and in figures.

use maud::{Markup, html};

use crate::moment::Moment;
use crate::show::clock::length;
use crate::show::comparison::figures::{COLUMNS, Column, FORETOLD, Figures, TOLD};
use crate::show::escape::printable;
use crate::show::words::{self, kilograms};
use crate::watch::action::What;
use crate::watch::event::CookSays;

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
pub fn figures(sheet: &Sheet<'_>) -> Markup {
    let story = sheet.story;
    let tally = &story.tally;
    let start = story.contents.first().map(|(_, kg)| ("started with".into(), kilograms(kg)));
    let in_out = [("put in", tally.added_kg), ("taken out", tally.taken_kg)];
    let in_out = in_out.map(|(name, kg)| Some((name.into(), kilograms(kg))));
    let solids = story.now.as_ref().and_then(|now| now.total_solids);
    let solids =
        solids.map(|share| ("solids at the end".into(), format!("{:.1} %", share * 100.0)));
    let own = Figures::of(story, None);
    let columns = COLUMNS.iter().filter(|c| c.key != TOLD);
    let compared = columns.map(|c| Some((name(c, sheet), (c.words)((c.value)(&own)?))));
    let all = std::iter::once(start).chain(in_out).chain([solids]).chain(compared);
    html! {
        dl { @for (name, value) in all.flatten() { dt { (name) } dd { (value) } } }
    }
}

/// A figure's name; of what was foretold, when that was.
fn name(column: &Column, sheet: &Sheet<'_>) -> String {
    match sheet.story.first_forecast {
        Some((at, _)) if column.key == FORETOLD => {
            format!("target as foretold at {}", sheet.time(at))
        }
        _ => column.name.to_owned(),
    }
}

/// A stir this long after the bottom was last seen at risk has ended the risk, s.
const ENDED_S: f64 = 30.0;
/// What the cook says of the bottom this long after it is of that risk, s.
const VERDICT_S: f64 = 900.0;

/// Each time that the bottom may have caught, what ended that, and what the cook found.
pub fn caught(sheet: &Sheet<'_>) -> Vec<String> {
    let spans = sheet.story.may_have_caught.seconds();
    spans.map(|(from_s, to_s)| may_have_caught(sheet, from_s, to_s)).collect()
}

fn may_have_caught(sheet: &Sheet<'_>, from_s: f64, to_s: f64) -> String {
    let time = |s: f64| Moment::from_seconds(s).map_or_else(String::new, |at| sheet.time(at));
    let stirs = sheet.story.happenings.iter().filter_map(|h| match h.what {
        What::Stirred { .. } | What::Blended { .. } => Some(h.at.seconds()),
        _ => None,
    });
    let stir = stirs.filter(|s| (from_s..=to_s + ENDED_S).contains(s)).reduce(f64::min);
    let verdict = sheet.said.iter().find_map(|(at, _, says)| {
        let of_this = (from_s..=to_s + VERDICT_S).contains(&at.seconds());
        let found = match says {
            CookSays::BottomClean => "the cook found the bottom clean",
            CookSays::ItCaught => "the cook said that it had caught",
            _ => return None,
        };
        of_this.then(|| format!("; {found} at {}", sheet.time(*at)))
    });
    let ended = match stir {
        Some(stir) => format!("before the stir at {}", time(stir)),
        None => "and no stir was seen then".to_owned(),
    };
    format!("May have caught at {}, {ended}{}.", time(from_s), verdict.unwrap_or_default())
}
