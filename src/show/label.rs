//! Labels for boxes of gravy: as text, and eight to an A4 sheet to cut.

use maud::{Markup, html};

use crate::batch::allergen;
use crate::batch::label::Label;
use crate::batch::rules::DEFER;
use crate::show::escape::printable;
use crate::show::plan::page::whole;

/// A label with its dates, already written as the kitchen writes them.
#[derive(Debug, Clone, Copy)]
pub struct Dated<'l> {
    pub label: &'l Label,
    pub kitchen: Option<&'l str>,
    pub made: &'l str,
    /// The time of that day, "14:30", where it is known.
    pub made_at: Option<&'l str>,
    pub use_by: &'l str,
    /// The spice mix's lot or whatever else is to be found again.
    pub lot: Option<&'l str>,
}

const STYLE: &str = "
@page { size: A4; margin: 10mm; }
:root { --ink: #1c1b19; --muted: #5f5b53; }
* { box-sizing: border-box; }
body { margin: 0; color: var(--ink); background: #fff;
  font: 10pt/1.25 'Noto Sans', 'DejaVu Sans', sans-serif; font-variant-numeric: tabular-nums; }
.sheet { display: grid; grid-template-columns: 95mm 95mm; grid-auto-rows: 69mm; width: 190mm; }
.label { border: 0.3mm dashed #8a857b; padding: 4.5mm; overflow: hidden; break-inside: avoid;
  display: flex; flex-direction: column; }
h1 { font-size: 14pt; line-height: 1.1; margin: 0; overflow: hidden; display: -webkit-box;
  -webkit-line-clamp: 2; -webkit-box-orient: vertical; overflow-wrap: anywhere; }
.from { color: var(--muted); font-size: 8.5pt; margin: 0.5mm 0 1.5mm; overflow-wrap: anywhere; }
.dates { display: flex; justify-content: space-between; gap: 4mm; border-top: 0.4mm solid var(--ink);
  border-bottom: 0.4mm solid var(--ink); padding: 1.2mm 0; }
.dates b { display: block; font-size: 11.5pt; white-space: nowrap; }
.dates small { font-size: 7.5pt; color: var(--muted); white-space: nowrap; }
p { margin: 1.2mm 0 0; }
.contains { font-size: 10.5pt; }
.contains b { text-transform: uppercase; }
.small { font-size: 7.5pt; line-height: 1.2; }
.end { margin-top: auto; }
@media screen { body { padding: 8mm; } }
";

/// So many labels on sheets of paper.
#[must_use]
pub fn sheet(dated: &Dated<'_>, copies: usize) -> String {
    let body = html! {
        div.sheet { @for _ in 0..copies { (one(dated)) } }
    };
    whole(&format!("Labels: {}", printable(&dated.label.name)), STYLE, &body)
}

fn one(dated: &Dated<'_>) -> Markup {
    let label = dated.label;
    let (contains, note) = allergen::told(&label.contains, label.all_told);
    html! {
        div.label {
            h1 { (printable(&label.name)) }
            p.from {
                @if let Some(kitchen) = dated.kitchen { (printable(kitchen)) }
                @if let Some(lot) = dated.lot { " · lot " (printable(lot)) }
            }
            div.dates {
                div { small { "made " (dated.made_at.unwrap_or_default()) } b { (dated.made) } }
                div { small { "use by (" (label.why) ")" } b { (dated.use_by) } }
            }
            p.contains {
                @if label.contains.is_empty() && label.all_told {
                    "Contains none of the 14 allergens that is known"
                } @else { "Contains: " b { (contains) } strong { (note) } }
            }
            @if !label.may_contain.is_empty() {
                p.small { "See the packets for: " (allergen::words(&label.may_contain)) }
            }
            p.small.end { (label.keep) " " (DEFER) }
        }
    }
}

/// One label as text.
#[must_use]
pub fn text(dated: &Dated<'_>) -> String {
    let label = dated.label;
    let kitchen = dated.kitchen.map(|name| format!(", {}", printable(name))).unwrap_or_default();
    let at = dated.made_at.map(|at| format!(" at {at}")).unwrap_or_default();
    let lot = dated.lot.map(|lot| format!("Lot: {}\n", printable(lot))).unwrap_or_default();
    let see = match label.may_contain.as_slice() {
        [] => String::new(),
        may => format!("See the packets for: {}\n", allergen::words(may)),
    };
    let (contains, note) = allergen::told(&label.contains, label.all_told);
    format!(
        "{}{kitchen}\nMade: {}{at}\nUse by: {} ({})\n{lot}Contains: {}{note}\n{see}{}\n{DEFER}\n",
        printable(&label.name),
        dated.made,
        dated.use_by,
        label.why,
        contains.to_uppercase(),
        label.keep
    )
}
