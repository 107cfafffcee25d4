//! The record of a batch as one HTML file, for the wall or for an inspector: the curve, what
//! happened and when, temperatures, holding and cooling against the rule, what the cook said, alerts
//! and sensor faults. Prints on A4; nothing from elsewhere, no script.

mod events;
mod facts;
mod safety;

use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;
use maud::{Markup, PreEscaped, html};

use crate::batch::rules::DEFER;
use crate::moment::Moment;
use crate::watch::action::{AlarmState, Notice, What};
use crate::watch::event::CookSays;

use super::clock::{Clock, length};
use super::curve::{self, Size, Style};
use super::escape::printable;
use super::lettering::{BOLD_WOFF2, REGULAR_WOFF2};
use super::paint::{Type, Unpainted};
use super::plan::page::{STYLE, whole};
use super::story::Story;
use super::words;

pub use safety::{Cooled, Held, Safety};

/// What the record holds.
#[derive(Debug, Clone, Copy)]
pub struct Sheet<'s> {
    pub kitchen: Option<&'s str>,
    /// Its number in the store.
    pub number: Option<i64>,
    /// How it ended, where it did.
    pub outcome: Option<&'s str>,
    pub story: &'s Story,
    pub clock: Option<Clock>,
    /// What the cook said: when, through what, and what.
    pub said: &'s [(Moment, String, CookSays)],
    /// Alerts as they changed.
    pub notices: &'s [Notice],
    pub safety: &'s Safety,
}

/// The drawing on the sheet, px of the page.
const CURVE: Size = Size { width: 860, height: 430, density: 1 };

const OWN_STYLE: &str = "
body { font-family: 'DejaVu Sans', Verdana, sans-serif; font-size: 13px; }
.who { color: var(--muted); margin: 0 0 10px; }
.curve svg { width: 100%; height: auto; display: block; }
table.events td { padding: 2px 8px 2px 0; }
table.events th { text-align: left; font-weight: 400; font-size: 11px; color: var(--muted);
  padding: 2px 8px 2px 0; }
table.events .number { text-align: right; white-space: nowrap; }
table.events td.time { white-space: nowrap; color: var(--muted); width: 1%; }
tr { break-inside: avoid; }
thead { display: table-header-group; }
section { break-inside: auto; margin-top: 8px; }
section.whole { break-inside: avoid; }
dl { display: grid; grid-template-columns: repeat(4, auto); gap: 3px 10px; margin: 4px 0; }
dt { color: var(--muted); } dd { margin: 0; font-weight: 700; }
.broken { color: var(--hand); font-weight: 700; }
.sign { display: grid; grid-template-columns: 2fr 1fr 1fr; gap: 12mm; margin-top: 14mm; }
.sign span { border-top: 1px solid var(--ink); padding-top: 2px; font-size: 11px; }
@media screen and (max-width: 760px) { .curve { overflow-x: auto; } .curve svg { width: 720px; } }
@media (max-width: 640px) { dl { grid-template-columns: repeat(2, auto); } }
@media print { body { font-size: 8.5pt; } table.events th, .sign span { font-size: 7.5pt; } }
";

/// The whole file.
///
/// # Errors
/// When the curve could not be painted.
pub fn html(sheet: &Sheet<'_>) -> Result<String, Unpainted> {
    let style =
        Style { clock: sheet.clock, heading: false, set_in: Type::FromPage, ..Style::new(CURVE) };
    let curve = curve::svg(&past_only(sheet.story), &style)?;
    let title = title(sheet);
    let body = html! {
        h1 { (title) }
        p.lead { (facts::ending(sheet)) }
        p.who { (facts::who(sheet)) }
        @for caught in facts::caught(sheet) { p.broken { (printable(&caught)) } }
        div.curve { (PreEscaped(curve)) }
        section.whole { h2 { "In figures" } (facts::figures(sheet)) }
        section { h2 { "What happened" } (events::table(sheet)) }
        (safety::section(sheet))
        (said(sheet))
        (alerts(sheet))
        (faults(sheet))
        section.whole {
            p { "Temperatures are the pot's own probe; weights are the platform's under it. " (DEFER) }
            div.sign {
                span { "Checked by" } span { "Date and time" } span { "Probe held against" }
            }
        }
    };
    Ok(whole(&title, &(faces() + STYLE + OWN_STYLE), &body))
}

/// A record tells what was; what was foretold at its end is left out.
fn past_only(story: &Story) -> Story {
    let mut story = story.clone();
    if let Some(now) = &mut story.now {
        now.target_in_s = None;
    }
    story
}

fn title(sheet: &Sheet<'_>) -> String {
    let name = printable(&sheet.story.batch);
    sheet.number.map_or_else(|| name.clone(), |number| format!("{name}, batch {number}"))
}

/// The bundled face, so that the drawing and the words look the same everywhere.
fn faces() -> String {
    let face = |weight: u32, woff2: &[u8]| {
        let data = STANDARD.encode(woff2);
        format!(
            "@font-face{{font-family:'DejaVu Sans';font-weight:{weight};\
             src:url(data:font/woff2;base64,{data}) format('woff2')}}\n"
        )
    };
    face(400, REGULAR_WOFF2) + &face(700, BOLD_WOFF2)
}

impl Sheet<'_> {
    /// A moment as the clock on the wall, or as time since the start.
    fn time(&self, at: Moment) -> String {
        match (self.clock, self.story.began) {
            (Some(clock), _) => clock.hh_mm(at),
            (None, Some(began)) => length((at - began).max(0.0)),
            (None, None) => length(at.seconds()),
        }
    }

    fn probe_words(&self, at: Moment) -> String {
        let c = self.story.probe.at(at.seconds());
        c.map_or_else(String::new, |c| format!("{c:.1}"))
    }
}

fn said(sheet: &Sheet<'_>) -> Markup {
    html! {
        @if !sheet.said.is_empty() {
            section {
                h2 { "What the cook said and corrected" }
                table.events {
                    @for (at, by, says) in sheet.said {
                        tr {
                            td.time { (sheet.time(*at)) }
                            td { (printable(&words::said(says))) }
                            td.note { "by " (printable(by)) }
                        }
                    }
                }
            }
        }
    }
}

/// Each alert from its raising to its end.
fn alerts(sheet: &Sheet<'_>) -> Markup {
    let raised = sheet.notices.iter().enumerate().filter(|(_, n)| n.state == AlarmState::Raised);
    let ends = |n: usize, notice: &Notice| {
        let mut later = sheet.notices.iter().skip(n + 1).filter(|l| l.alarm == notice.alarm);
        later.find(|l| l.state == AlarmState::Cleared).map(|l| l.at)
    };
    let rows: Vec<(&Notice, Option<Moment>)> =
        raised.map(|(n, notice)| (notice, ends(n, notice))).collect();
    html! {
        @if !rows.is_empty() {
            section {
                h2 { "Alerts" }
                table.events {
                    @for (notice, end) in rows {
                        tr {
                            td.time { (sheet.time(notice.at)) }
                            td { (notice.alarm.name().replace('-', " ")) }
                            td.note { (printable(&notice.why)) }
                            td.number {
                                @match end {
                                    Some(end) => { "for " (length((end - notice.at).max(0.0))) }
                                    None => { "not cleared" }
                                }
                            }
                        }
                    }
                }
            }
        }
    }
}

fn faults(sheet: &Sheet<'_>) -> Markup {
    let faults: Vec<_> = sheet.story.happenings.iter().filter(|h| is_fault(&h.what)).collect();
    html! {
        section.whole {
            h2 { "Sensors" }
            @if faults.is_empty() { p { "No fault was seen." } }
            table.events {
                @for fault in faults {
                    tr {
                        td.time { (sheet.time(fault.at)) }
                        td { (words::happened(&fault.what)) }
                    }
                }
            }
        }
    }
}

const fn is_fault(what: &What) -> bool {
    matches!(
        what,
        What::SensorFault { .. } | What::SensorBack { .. } | What::ProbeOut | What::ProbeIn
    )
}

#[cfg(test)]
mod tests;
