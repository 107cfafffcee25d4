//! What happened, in order, with the temperature and the contents then.
//!
//! A long service has hundreds of stirs and ladles, which nobody reads one by one: those between two
//! other happenings share a line each.

use maud::{Markup, html};

use crate::moment::Moment;
use crate::show::clock::length;
use crate::show::escape::printable;
use crate::show::words::{happened, kilograms, weighed};
use crate::watch::action::{Happening, What};

use super::{Sheet, is_fault};

/// One line: when, until when, when the pot was at rest after it, and what.
#[derive(Debug, PartialEq)]
struct Line {
    at: Moment,
    till: Option<Moment>,
    rest: Moment,
    words: String,
}

pub fn table(sheet: &Sheet<'_>) -> Markup {
    let lines = lines(sheet);
    html! {
        @if lines.is_empty() { p { "Nothing was recognised." } }
        @else {
            table.events {
                thead {
                    tr { th {} th {} th.number { "°C" } th.number { "kg in the pot" } }
                }
                @for line in &lines {
                    tr {
                        td.time {
                            (sheet.time(line.at))
                            @if let Some(till) = line.till { " to " (sheet.time(till)) }
                        }
                        td { (printable(&line.words)) }
                        td.number { (sheet.probe_words(line.at)) }
                        td.number { (contents(sheet, line)) }
                    }
                }
            }
        }
    }
}

/// The contents a little after it, when the pot has come to rest.
fn contents(sheet: &Sheet<'_>, line: &Line) -> String {
    let t = line.rest.seconds();
    let trace = &sheet.story.contents;
    let kg = [20.0, 10.0, 0.0].into_iter().find_map(|after| trace.at(t + after));
    kg.map_or_else(String::new, |kg| format!("{kg:.2}"))
}

fn lines(sheet: &Sheet<'_>) -> Vec<Line> {
    let mut sorted: Vec<&Happening> =
        sheet.story.happenings.iter().filter(|h| !is_fault(&h.what)).collect();
    sorted.sort_by_key(|h| h.at);
    let most = sheet.story.contents.extent().map_or(f64::INFINITY, |e| e.1);
    let mut lines = Vec::new();
    let (mut stirs, mut ladles) = (Vec::new(), Vec::new());
    for happening in sorted {
        match happening.what {
            What::Stirred { .. } => stirs.push(happening),
            What::Taken { kg, .. } if kg < most * 0.03 => ladles.push(happening),
            _ => {
                together(&mut lines, &mut stirs, &mut ladles);
                lines.push(corrected(sheet, happening).unwrap_or_else(|| single(happening)));
            }
        }
    }
    together(&mut lines, &mut stirs, &mut ladles);
    lines.sort_by_key(|line| line.at);
    lines
}

fn single(happening: &Happening) -> Line {
    Line { at: happening.at, till: None, rest: happening.seen, words: happened(&happening.what) }
}

/// A correction with what stood before it.
fn corrected(sheet: &Sheet<'_>, happening: &Happening) -> Option<Line> {
    let (was_kg, was) = sheet.story.corrected(happening)?;
    let What::Corrected { kg, name, ago_s } = &happening.what else { return None };
    let when = sheet.time(happening.at.plus_ms(-((ago_s * 1000.0).round() as i64)));
    let is = weighed(Some(*kg), name.as_deref());
    let first = weighed(Some(was_kg), was);
    let words = match is == first {
        true => format!("Put right: what went in at {when} is {is} after all"),
        false => format!("Put right: what went in at {when} is {is}, not {first}"),
    };
    Some(Line { at: happening.at, till: None, rest: happening.seen, words })
}

/// Empties the two heaps into a line each.
fn together(lines: &mut Vec<Line>, stirs: &mut Vec<&Happening>, ladles: &mut Vec<&Happening>) {
    let several = |heap: &[&Happening], words: String| match heap {
        [] => None,
        [only] => Some(single(only)),
        [first, .., last] => {
            Some(Line { at: first.at, till: Some(last.at), rest: last.seen, words })
        }
    };
    let apart = stirs.windows(2).map(|pair| pair[1].at - pair[0].at).fold(0.0, f64::max);
    let words = format!("Stirred {} times, at most {} apart", stirs.len(), length(apart));
    lines.extend(several(stirs, words));
    let kg: f64 =
        ladles.iter().map(|h| if let What::Taken { kg, .. } = h.what { kg } else { 0.0 }).sum();
    let words = format!("Taken out {} times, {} in all", ladles.len(), kilograms(kg));
    lines.extend(several(ladles, words));
    stirs.clear();
    ladles.clear();
}
