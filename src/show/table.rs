//! Comma-separated text for spreadsheets (RFC 4180).
//!
//! A spreadsheet takes a cell that begins with `=`, `+`, `-`, `@`, a tab or a line's end as a
//! formula, so a text cell that does is put behind an apostrophe. Numbers are written plainly.

use super::escape::printable;

/// A cell of a table.
#[derive(Debug, Clone, PartialEq)]
pub enum Cell {
    Text(String),
    /// A number with so many decimals.
    Number(f64, usize),
    /// What is not known.
    Empty,
}

impl Cell {
    /// A number where there is one.
    #[must_use]
    pub fn number(value: Option<f64>, decimals: usize) -> Self {
        value.filter(|v| v.is_finite()).map_or(Self::Empty, |v| Self::Number(v, decimals))
    }

    fn csv(&self) -> String {
        match self {
            Self::Text(text) => quoted(&guarded(text)),
            Self::Number(value, decimals) => {
                let text = format!("{value:.decimals$}");
                // Never −0.
                if text.trim_start_matches(['-', '0', '.']).is_empty() {
                    text.trim_start_matches('-').to_owned()
                } else {
                    text
                }
            }
            Self::Empty => String::new(),
        }
    }
}

fn guarded(text: &str) -> String {
    let text = printable(text);
    let formula = text.trim_start().starts_with(['=', '+', '-', '@']);
    if formula || text.starts_with(' ') { format!("'{text}") } else { text }
}

fn quoted(text: &str) -> String {
    if text.contains([',', '"', '\n', '\r']) || text.starts_with('\'') {
        format!("\"{}\"", text.replace('"', "\"\""))
    } else {
        text.to_owned()
    }
}

/// The rows as CSV, each ended by CR LF, the first with the columns' names and units.
#[must_use]
pub fn csv(head: &[&str], rows: &[Vec<Cell>]) -> String {
    let mut text = head.iter().map(|name| quoted(name)).collect::<Vec<_>>().join(",") + "\r\n";
    for row in rows {
        text += &row.iter().map(Cell::csv).collect::<Vec<_>>().join(",");
        text += "\r\n";
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn a_text_that_looks_like_a_formula_is_only_text() {
        for text in ["=1+1", "+cmd", "-2", "@SUM(A1)", "\t=1", " =1"] {
            let csv = csv(&["name"], &[vec![Cell::Text(text.into())]]);
            assert!(csv.lines().nth(1).unwrap().starts_with("\"'"), "{csv}");
        }
    }

    #[test]
    fn unknown_is_empty_and_a_number_keeps_its_sign() {
        let row =
            vec![Cell::number(None, 1), Cell::number(Some(-2.25), 1), Cell::number(Some(-0.01), 1)];
        assert_eq!(csv(&["a", "b", "c"], &[row]), "a,b,c\r\n,-2.2,0.0\r\n");
    }

    proptest! {
        #[test]
        fn any_text_comes_back_from_a_reader(texts in prop::collection::vec(".*", 2..5)) {
            let head = vec!["x"; texts.len()];
            let row = texts.iter().map(|t| Cell::Text(t.clone())).collect();
            let csv = csv(&head, &[row]);
            let mut reader = ::csv::Reader::from_reader(csv.as_bytes());
            let record = reader.records().next().unwrap().unwrap();
            for (cell, text) in record.iter().zip(&texts) {
                let (cell, text) = (cell.trim_start_matches('\''), guarded(text));
                prop_assert_eq!(cell, text.trim_start_matches('\''));
            }
        }
    }
}
