//! The plan of a batch as one HTML file to print: A4, nothing from elsewhere, no script.

use maud::{DOCTYPE, Markup, PreEscaped, html};

use super::{Part, Planned, parts};

/// Paper and ink as in the drawings; type in the print's own sizes.
pub const STYLE: &str = "
@page { size: A4; margin: 11mm 14mm; }
:root { --ink: #1c1b19; --muted: #5f5b53; --hair: #d8d3c8; --hand: #a84300; }
* { box-sizing: border-box; }
body { margin: 0 auto; padding: 24px; max-width: 190mm; color: var(--ink); background: #fff;
  font: 14px/1.3 'Noto Sans', 'DejaVu Sans', sans-serif; font-variant-numeric: tabular-nums; }
h1 { font-size: 24px; line-height: 1.15; margin: 0 0 6px; }
.lead { font-size: 16px; margin: 0 0 2px; }
.columns { columns: 2; column-gap: 8mm; margin-top: 10px; }
section { break-inside: avoid; padding: 0 0 9px; }
h2 { font-size: 14px; margin: 0 0 2px; padding-bottom: 2px; border-bottom: 1px solid var(--ink);
  break-after: avoid; }
table { width: 100%; border-collapse: collapse; }
td { padding: 1.5px 0; vertical-align: baseline; border-bottom: 1px solid var(--hair); }
td.what { width: 34%; }
td.value { text-align: right; white-space: nowrap; font-weight: 600; padding: 0 7px; width: 22%; }
td.words { font-weight: 600; padding-left: 7px; }
td.note { color: var(--muted); font-size: 12px; }
p { margin: 2px 0; }
section p { font-size: 12px; color: var(--muted); }
section.care { border-top: 2px solid var(--ink); padding-top: 4px; }
section.care h2 { border: 0; color: var(--hand); }
section.care p { color: var(--ink); font-size: 13px; }
@media print { body { padding: 0; max-width: none; font-size: 9.5pt; line-height: 1.25; }
  h1 { font-size: 16pt; } .lead { font-size: 10.5pt; margin: 0; } h2 { font-size: 9.5pt; }
  section { padding-bottom: 4px; } td { padding: 0.6px 0; } section p, td.note { font-size: 8pt; }
  section.care p { font-size: 8.5pt; } }
@media (max-width: 640px) { .columns { columns: 1; } }
";

/// The whole file.
#[must_use]
pub fn page(planned: &Planned<'_>) -> String {
    let title = parts::title(planned);
    let (care, others): (Vec<Part>, Vec<Part>) =
        parts::all(planned).into_iter().partition(|part| part.rows.is_empty());
    let body = html! {
        h1 { (title) }
        @for sentence in parts::summary(planned) { p.lead { (sentence) } }
        div.columns { @for part in &others { (section(part, "part")) } }
        @for part in &care { (section(part, "care")) }
    };
    whole(&title, STYLE, &body)
}

/// A file of its own with this style and body.
#[must_use]
pub fn whole(title: &str, style: &str, body: &Markup) -> String {
    html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                title { (title) }
                style { (PreEscaped(style)) }
            }
            body { (body) }
        }
    }
    .into_string()
}

fn section(part: &Part, class: &str) -> Markup {
    html! {
        section class=(class) {
            h2 { (part.heading) }
            @if !part.rows.is_empty() {
                table {
                    @for row in &part.rows {
                        tr {
                            td.what { (row.what) }
                            @if row.value.chars().count() > 24 || part.heading == "Allergens" {
                                td.words colspan="2" { (row.value) }
                            } @else {
                                td.value { (row.value) }
                                td.note { (row.note) }
                            }
                        }
                    }
                }
            }
            @for sentence in &part.sentences { p { (sentence) } }
        }
    }
}
