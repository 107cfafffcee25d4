//! Earlier batches: the list, one of them, and several laid over each other.

use maud::{Markup, html};

use crate::moment::Moment;
use crate::show::board::{Kept, KeptBatch};
use crate::show::clock::length;
use crate::show::comparison::figures::{COLUMNS, Column};
use crate::show::comparison::{Align, Comparison, MOST};

use super::pot::picture;
use super::{Viewer, events, ledger, sentence, t};

/// The list, newest first, from which some can be chosen to be compared.
#[must_use]
pub fn list(kept: &[Kept]) -> Markup {
    html! {
        h1 { "Earlier batches" }
        @if kept.is_empty() { p { "No batch has been kept yet." } } @else {
            form method="get" action="/compare" {
                table.kept {
                    thead { tr {
                        th scope="col" { "Batch" }
                        th scope="col" { "Lasted" }
                        th scope="col" { "Compare" }
                    } }
                    tbody { @for batch in kept { (row(batch)) } }
                }
                (aligned_at(Align::Start))
                p { button { "Lay the chosen ones over each other" } }
            }
        }
    }
}

fn row(batch: &Kept) -> Markup {
    let name = format!("{}. {}", batch.number, batch.name);
    let choose = format!("compare {name}");
    html! {
        tr {
            th scope="row" {
                a href=(format!("/batches/{}", batch.number)) { (t(&name)) }
                " " span.at { (t(&about(batch))) }
            }
            td { (length(batch.lasted_s)) }
            td { input type="checkbox" name="with" value=(batch.number) aria-label=(t(&choose)); }
        }
    }
}

fn about(batch: &Kept) -> String {
    let began = batch.clock.map(|clock| {
        format!("{} {}", clock.date(Moment::default()), clock.hh_mm(Moment::default()))
    });
    let began = began.unwrap_or_else(|| "time not known".into());
    let outcome = batch.outcome.as_deref().unwrap_or("not ended");
    format!("{began}, {}, {outcome}", sentence::pot(&batch.pot).to_lowercase())
}

/// One batch as it went.
#[must_use]
pub fn one(whole: &KeptBatch, viewer: &Viewer) -> Markup {
    let KeptBatch { entry: batch, pot, .. } = whole;
    let base = format!("/batches/{}/curve.svg", batch.number);
    html! {
        article.pot {
            div.glance {
                p.who { (t(&about(batch))) }
                h1 { (t(&batch.name)) }
                p.doubt { "lasted " (length(batch.lasted_s)) }
            }
            figure.curve { (picture(&base, "", &sentence::curve(pot), viewer)) }
            section.events { (events::draw(pot)) }
            section.ledger { (ledger::draw(pot)) }
        }
        p { a.back href="/batches" { "All batches" } }
    }
}

/// The choice of the moment at which batches are laid over each other.
fn aligned_at(chosen: Align) -> Markup {
    html! {
        p.choice {
            label for="at" { "Laid over each other at" }
            select #at name="at" {
                @for align in Align::ALL {
                    option value=(align.name()) selected[align == chosen] { (align.words()) }
                }
            }
        }
    }
}

/// Batches laid over each other; `query` asks for the same ones again.
#[must_use]
pub fn compared(comparison: &Comparison, query: &str, viewer: &Viewer) -> Markup {
    let told = "The curves of the batches, laid over each other; their figures stand below.";
    html! {
        h1 { "Batches compared" }
        @for sentence in comparison.sentences() { p { (t(&sentence)) } }
        @if comparison.batches.len() < 2 {
            p.refused { "Choose two batches or more, " (MOST) " at most." }
        }
        @if !comparison.batches.is_empty() {
            figure.curve { (picture("/compare.svg", &format!("&{query}"), told, viewer)) }
            div.scrolls role="region" tabindex="0" aria-label="Figures of the batches" {
                (figures(comparison))
            }
        }
        form method="get" action="/compare" {
            @for batch in &comparison.batches {
                input type="hidden" name="with" value=(t(&batch.label));
            }
            (aligned_at(comparison.align))
            p { button { "Lay them over each other there" } }
        }
        p { a.back href="/batches" { "All batches" } }
    }
}

/// The figures that are known of any of them.
fn figures(comparison: &Comparison) -> Markup {
    let known =
        |column: &&Column| comparison.batches.iter().any(|b| (column.value)(&b.figures).is_some());
    let name = |label: &str, name: &str| format!("{label}. {name}");
    html! {
        table {
            thead { tr {
                th scope="col" { "Figure" }
                @for batch in &comparison.batches {
                    th scope="col" { (t(&name(&batch.label, &batch.story.batch))) }
                }
            } }
            tbody {
                @for column in COLUMNS.iter().filter(known) {
                    tr {
                        th scope="row" { (column.name) }
                        @for batch in &comparison.batches {
                            td { (t(&(column.value)(&batch.figures).map_or_else(
                                || "not known".to_owned(), column.words))) }
                        }
                    }
                }
            }
        }
    }
}
