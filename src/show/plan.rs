//! The plan of a batch, as text and as JSON; as a sheet to print in [`page`].
//!
//! Text and sheet are made from the same [`Part`]s, so that they say the same.

pub mod json;
pub mod page;
pub mod parts;

use std::fmt::Write;

use crate::batch::outlook::Outlook;
use crate::batch::pot::Pot;
use crate::batch::rules::Rules;
use crate::batch::stove::Stove;

/// A plan and the kitchen that it is for.
#[derive(Debug, Clone, Copy)]
pub struct Planned<'p> {
    pub outlook: &'p Outlook,
    pub kitchen: Option<&'p str>,
    pub pot: &'p Pot,
    pub stove: Option<&'p Stove>,
    pub rules: &'p Rules,
    /// Water's boiling point in the kitchen, °C.
    pub boil_c: f64,
}

/// A part of the plan under its own heading.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Part {
    pub heading: String,
    pub rows: Vec<Row>,
    /// Whole sentences below the rows.
    pub sentences: Vec<String>,
}

/// One line of a part.
#[derive(Debug, Clone, PartialEq)]
pub struct Row {
    pub what: String,
    pub value: String,
    pub note: String,
}

impl Row {
    pub fn new(what: impl Into<String>, value: impl Into<String>, note: impl Into<String>) -> Self {
        Self { what: what.into(), value: value.into(), note: note.into() }
    }
}

/// The plan as text, at most about 90 columns wide.
#[must_use]
pub fn text(planned: &Planned<'_>) -> String {
    let mut text = format!("{}\n\n", parts::title(planned));
    for sentence in parts::summary(planned) {
        wrap(&mut text, &sentence, 0);
    }
    for part in parts::all(planned) {
        let _ = write!(text, "\n{}\n", part.heading);
        let what = width(part.rows.iter().map(|row| row.what.as_str()));
        let value = width(part.rows.iter().map(|row| row.value.as_str()));
        for Row { what: name, value: says, note } in &part.rows {
            // Figures stand right, words left.
            let says = if value > 24 { pad(says, value) } else { pad_left(says, value) };
            let line = format!("  {}  {says}  {note}", pad(name, what));
            let _ = writeln!(text, "{}", line.trim_end());
        }
        for sentence in &part.sentences {
            wrap(&mut text, sentence, 2);
        }
    }
    text
}

fn width<'t>(texts: impl Iterator<Item = &'t str>) -> usize {
    texts.map(|text| text.chars().count()).max().unwrap_or(0)
}

fn pad(text: &str, width: usize) -> String {
    format!("{text}{}", " ".repeat(width - text.chars().count().min(width)))
}

fn pad_left(text: &str, width: usize) -> String {
    format!("{}{text}", " ".repeat(width - text.chars().count().min(width)))
}

/// Adds a sentence, broken between words at 88 columns and indented.
fn wrap(text: &mut String, sentence: &str, indent: usize) {
    let mut column = 0;
    for word in sentence.split(' ') {
        let letters = word.chars().count();
        if column == 0 || column + 1 + letters > 88 {
            text.push_str(if column == 0 { "" } else { "\n" });
            text.push_str(&" ".repeat(indent));
            column = indent;
        } else {
            text.push(' ');
            column += 1;
        }
        text.push_str(word);
        column += letters;
    }
    text.push('\n');
}
