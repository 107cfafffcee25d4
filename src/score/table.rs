//! Figures of merit as text, Markdown and JSON.

use std::fmt::Write;

use serde_json::{Map, Value, json};

use super::figure::{Figure, Must, Unit, of_the_curve, of_the_events};
use super::tally::Tally;

/// What one family, recording or all of them came to.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Row {
    pub judgement: Tally,
    pub straight_line: Tally,
    pub trend_filter: Tally,
}

impl Row {
    pub fn add(&mut self, other: &Self) {
        self.judgement.add(&other.judgement);
        self.straight_line.add(&other.straight_line);
        self.trend_filter.add(&other.trend_filter);
    }
}

/// All rows: the whole first, then each part by its name.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Score {
    pub all: Row,
    pub parts: Vec<(String, Row)>,
}

/// What the text's columns and signs mean.
const LEGEND: &str = "\
line, trend: a ten-minute straight line and a textbook trend filter on the same recordings; the\n\
columns after them: recordings by the first part of their name. ✗ short of what must be reached,\n\
– nothing to measure, ∞ no forecast. A share of a handful of recordings says little: --misses\n\
lists the cases. samples per second counts for a release build.\n";

/// Headings and cells, all text.
struct Grid {
    head: Vec<String>,
    rows: Vec<Vec<String>>,
}

impl Score {
    #[must_use]
    pub fn text(&self) -> String {
        let mut text = String::new();
        let grid = self.grid();
        let wide = |column: usize| {
            let cells = grid.rows.iter().chain([&grid.head]).map(|row| row[column].chars().count());
            cells.max().unwrap_or(0)
        };
        let widths: Vec<_> = (0..grid.head.len()).map(wide).collect();
        for row in [&grid.head].into_iter().chain(&grid.rows) {
            let cells = row.iter().zip(&widths).enumerate().map(|(column, (cell, width))| {
                if column == 0 { format!("{cell:<width$}") } else { format!("{cell:>width$}") }
            });
            let line = cells.collect::<Vec<_>>().join("  ");
            let _ = writeln!(text, "{}", line.trim_end());
        }
        text + "\n" + LEGEND
    }

    #[must_use]
    pub fn markdown(&self) -> String {
        let grid = self.grid();
        let line = |cells: &[String]| format!("| {} |\n", cells.join(" | "));
        let rule = format!("|---|{}\n", "---:|".repeat(grid.head.len() - 1));
        line(&grid.head) + &rule + &grid.rows.iter().map(|row| line(row)).collect::<String>()
    }

    #[must_use]
    pub fn json(&self) -> Value {
        let parts: Map<_, _> =
            self.parts.iter().map(|(name, row)| (name.clone(), row_json(row))).collect();
        json!({ "all": row_json(&self.all), "parts": parts })
    }

    fn grid(&self) -> Grid {
        let mut head: Vec<String> =
            ["figure", "dekchi", "must reach", "line", "trend"].map(str::to_owned).into();
        head.extend(self.parts.iter().map(|(name, _)| name.clone()));
        let figures = |tally| [of_the_curve(tally), of_the_events(tally)].concat();
        let parts: Vec<_> = self.parts.iter().map(|(_, row)| figures(&row.judgement)).collect();
        let line = of_the_curve(&self.all.straight_line);
        let trend = of_the_curve(&self.all.trend_filter);
        let rows = figures(&self.all.judgement).into_iter().enumerate().map(|(at, figure)| {
            let mut row = vec![figure.words.to_owned(), judged(&figure), must(&figure)];
            row.push(line.get(at).map(written).unwrap_or_default());
            row.push(trend.get(at).map(written).unwrap_or_default());
            row.extend(parts.iter().map(|part| written(&part[at])));
            row
        });
        Grid { head, rows: rows.collect() }
    }
}

/// The value with a mark where it misses what it must reach.
fn judged(figure: &Figure) -> String {
    let missed = figure.value.is_some_and(|value| !figure.must.is_met(value));
    if missed { format!("✗ {}", written(figure)) } else { written(figure) }
}

fn written(figure: &Figure) -> String {
    figure.value.map_or_else(|| "–".to_owned(), |value| number(value, figure.unit))
}

fn number(value: f64, unit: Unit) -> String {
    match unit {
        _ if value.is_infinite() => "∞".to_owned(),
        // Less than half of the last digit is zero and has no sign.
        Unit::Share if value.abs() < 5e-4 => "0.0 %".to_owned(),
        Unit::Share => format!("{:.1} %", 100.0 * value),
        Unit::Grams => format!("{:.0} g", 1000.0 * value),
        Unit::Seconds => format!("{value:.0} s"),
        Unit::Count if value.abs() >= 1e5 => format!("{:.2} M", value / 1e6),
        Unit::Count => format!("{value:.1}"),
    }
}

fn must(figure: &Figure) -> String {
    let number = |value| number(value, figure.unit);
    match figure.must {
        Must::Open => String::new(),
        Must::AtMost(most) => format!("≤ {}", number(most)),
        Must::AtLeast(least) => format!("≥ {}", number(least)),
        Must::Within(least, most) => format!("{} to {}", number(least), number(most)),
    }
}

fn row_json(row: &Row) -> Value {
    json!({
        "hours": rounded(row.judgement.hours),
        "dekchi": values(&[of_the_curve(&row.judgement), of_the_events(&row.judgement)].concat()),
        "straight_line": values(&of_the_curve(&row.straight_line)),
        "trend_filter": values(&of_the_curve(&row.trend_filter)),
    })
}

/// An infinite error is written as `null`, as JSON has no other word for it.
fn values(figures: &[Figure]) -> Map<String, Value> {
    let value = |figure: &Figure| figure.value.map_or(Value::Null, rounded);
    figures.iter().map(|figure| (figure.key.to_owned(), value(figure))).collect()
}

fn rounded(value: f64) -> Value {
    json!((value * 1e5).round() / 1e5)
}
