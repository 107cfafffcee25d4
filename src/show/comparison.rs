//! Batches compared: their curves on shared axes, aligned at a moment, and their figures.
//!
//! Up to eight curves are told apart without colour: each has its own dash and width, bears its
//! label on the line, and is named again at its end. The strips of the bottom stack below, and the
//! figures stand in a table with a column a batch.

mod chart;
pub mod differ;
pub mod figures;
mod table;

use serde::Serialize;

use crate::batch::stove::Stove;

use super::canvas::Canvas;
use super::drawing::Drawing;
use super::escape::printable;
use super::paint::{self, Type, Unpainted};
use super::palette::{NIGHT, PAPER};
use super::story::Story;
use super::table::{Cell, csv};

use figures::{COLUMNS, Column, Figures};

/// More curves than this cannot be told apart.
pub const MOST: usize = 8;

/// The moment at which batches are laid over each other.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Align {
    Start,
    Boil,
    LastAddition,
}

impl Align {
    pub const ALL: [Self; 3] = [Self::Start, Self::Boil, Self::LastAddition];

    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Start => "start",
            Self::Boil => "boil",
            Self::LastAddition => "last-addition",
        }
    }

    #[must_use]
    pub const fn words(self) -> &'static str {
        match self {
            Self::Start => "the start",
            Self::Boil => "the first boil",
            Self::LastAddition => "the last addition",
        }
    }

    /// When this was in a story, s; `None` where it was not.
    fn moment_s(self, story: &Story) -> Option<f64> {
        let at = match self {
            Self::Start => story.began,
            Self::Boil => story.tally.came_to_boil(),
            Self::LastAddition => story.tally.last_addition,
        };
        at.map(|at| at.seconds())
    }
}

/// A batch to be compared.
#[derive(Debug, Clone, PartialEq)]
pub struct Entry {
    /// How it is called here: its number in the store, or its file's name.
    pub label: String,
    pub story: Story,
    /// Where it was cooked, as far as that is known.
    pub stove: Option<Stove>,
}

/// One of the batches.
#[derive(Debug, Clone, PartialEq)]
pub struct Batch {
    pub label: String,
    pub story: Story,
    /// The moment at which it is aligned, s.
    pub origin_s: f64,
    /// Whether that is the moment asked for, or its start for want of it.
    pub aligned: bool,
    pub figures: Figures,
}

/// Batches laid over each other.
#[derive(Debug, Clone, PartialEq)]
pub struct Comparison {
    pub align: Align,
    pub batches: Vec<Batch>,
}

impl Comparison {
    /// At most the first [`MOST`] of the entries.
    #[must_use]
    pub fn of(entries: Vec<Entry>, align: Align) -> Self {
        let batches = entries.into_iter().take(MOST).map(|Entry { label, story, stove }| {
            let moment = align.moment_s(&story);
            let began = story.began.map_or(0.0, |at| at.seconds());
            let figures = Figures::of(&story, stove.as_ref());
            let (origin_s, aligned) = (moment.unwrap_or(began), moment.is_some());
            Batch { label, story, origin_s, aligned, figures }
        });
        Self { align, batches: batches.collect() }
    }

    /// What differed most, in a sentence or two, and what could not be aligned.
    #[must_use]
    pub fn sentences(&self) -> Vec<String> {
        let mut said: Vec<String> =
            differ::most(&self.batches).into_iter().map(|d| d.sentence).collect();
        let seen = self.batches.iter().any(|b| b.figures.boil_after_s.is_some());
        let missed = |b: &&Batch| seen && b.story.tally.boil_missed;
        let unseen: Vec<&str> =
            self.batches.iter().filter(missed).map(|b| b.label.as_str()).collect();
        if !unseen.is_empty() {
            said.push(format!("When it came to the boil was not seen: {}.", unseen.join(", ")));
        }
        let astray: Vec<&str> =
            self.batches.iter().filter(|b| !b.aligned).map(|b| b.label.as_str()).collect();
        if !astray.is_empty() {
            let (who, what) = (astray.join(", "), self.align.words());
            said.push(format!("Not aligned at {what}, for it had none: {who}."));
        }
        said
    }

    /// The figures, a row a batch.
    #[must_use]
    pub fn csv(&self) -> String {
        let head: Vec<&str> =
            ["batch", "name"].into_iter().chain(COLUMNS.iter().map(|c| c.key)).collect();
        let row = |batch: &Batch| {
            let texts = [&batch.label, &batch.story.batch].map(|t| Cell::Text(t.clone()));
            let numbers =
                COLUMNS.iter().map(|c| Cell::number((c.value)(&batch.figures), c.decimals));
            texts.into_iter().chain(numbers).collect()
        };
        csv(&head, &self.batches.iter().map(row).collect::<Vec<_>>())
    }

    /// Sentences and figures as plain text, a row a figure.
    #[must_use]
    pub fn text(&self) -> String {
        let mut text = String::new();
        for sentence in self.sentences() {
            text += &(printable(&sentence) + "\n");
        }
        let known = |c: &&Column| self.batches.iter().any(|b| (c.value)(&b.figures).is_some());
        let mut rows = vec![vec![String::new()]];
        rows[0].extend(self.batches.iter().map(|batch| printable(&batch.label)));
        for column in COLUMNS.iter().filter(known) {
            let value = |b: &Batch| (column.value)(&b.figures).map_or("–".into(), column.words);
            let cells = self.batches.iter().map(value);
            rows.push(std::iter::once(column.name.to_owned()).chain(cells).collect());
        }
        let chars = |text: &String| text.chars().count();
        let widths: Vec<usize> = (0..rows[0].len())
            .map(|n| rows.iter().map(|row| chars(&row[n])).max().unwrap_or(0))
            .collect();
        for row in &rows {
            text += &format!("\n{:<1$}", row[0], widths[0]);
            for (cell, width) in row.iter().zip(&widths).skip(1) {
                text += &format!("  {cell:>width$}");
            }
        }
        text + "\n"
    }

    /// Figures and aligned curves as one JSON object.
    #[must_use]
    pub fn json(&self) -> String {
        let batches = self.batches.iter().map(|batch| {
            let figures = COLUMNS
                .iter()
                .map(|c| (c.key.to_owned(), (c.value)(&batch.figures).into()))
                .collect::<serde_json::Map<_, _>>();
            BatchJson {
                batch: &batch.label,
                name: &batch.story.batch,
                figures,
                aligned: batch.aligned,
                contents_s_kg: shifted(&batch.story.contents.runs(), batch.origin_s),
                catch_s_index: shifted(&batch.story.catch.runs(), batch.origin_s),
            }
        });
        let whole = ComparisonJson {
            align: self.align.name(),
            differed: self.sentences(),
            batches: batches.collect(),
        };
        // Strings and finite numbers always make JSON.
        serde_json::to_string(&whole).unwrap_or_default()
    }
}

#[derive(Serialize)]
struct ComparisonJson<'a> {
    align: &'static str,
    differed: Vec<String>,
    batches: Vec<BatchJson<'a>>,
}

#[derive(Serialize)]
struct BatchJson<'a> {
    batch: &'a str,
    name: &'a str,
    figures: serde_json::Map<String, serde_json::Value>,
    aligned: bool,
    contents_s_kg: Vec<Vec<(f64, f64)>>,
    catch_s_index: Vec<Vec<(f64, f64)>>,
}

fn shifted(runs: &[Vec<(f64, f64)>], origin_s: f64) -> Vec<Vec<(f64, f64)>> {
    let round = |v: f64| (v * 1e4).round() / 1e4;
    let point = |(t, v): &(f64, f64)| (round(t - origin_s), round(*v));
    runs.iter().map(|run| run.iter().map(point).collect()).collect()
}

/// How a comparison looks.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Look {
    /// px; the height follows from what there is to show.
    pub width: u32,
    pub density: u32,
    pub dark: bool,
    pub set_in: Type,
    /// Without heading, sentences and figures, for where they stand beside it as text.
    pub bare: bool,
}

/// The comparison as SVG.
///
/// # Errors
/// When it could not be painted.
pub fn svg(comparison: &Comparison, look: Look) -> Result<String, Unpainted> {
    paint::svg(&draw(comparison, look), look.set_in)
}

/// The comparison as PNG.
///
/// # Errors
/// When it could not be painted.
pub fn png(comparison: &Comparison, look: Look) -> Result<Vec<u8>, Unpainted> {
    paint::png(&draw(comparison, look), look.density)
}

/// The comparison as shapes.
#[must_use]
pub fn draw(comparison: &Comparison, look: Look) -> Drawing {
    let width = look.width.clamp(320, 4000);
    let p = if look.dark { NIGHT } else { PAPER };
    let f = (f64::from(width) / 72.0).clamp(11.5, 32.0);
    let plan = chart::Plan::new(comparison, f64::from(width), f, look.bare);
    let mut canvas = Canvas::new(width, plan.height.ceil() as u32, p);
    canvas.f = f;
    canvas.drawing.title = "Batches compared".into();
    canvas.drawing.told = comparison.sentences().join(" ");
    chart::draw(&mut canvas, &plan, comparison);
    if !look.bare {
        table::draw(&mut canvas, &plan, comparison);
    }
    canvas.drawing
}

#[cfg(test)]
mod tests;
