//! What a recording may be refused for.

use std::fmt;
use std::io;

use super::{LONGEST_LINE, TIME_S};

/// Why a recording is refused: one sentence with the file, the line and the column.
#[derive(Debug)]
pub struct Bad {
    pub file: String,
    /// Counted from 1.
    pub line: u64,
    pub column: Option<&'static str>,
    pub wrong: Wrong,
}

impl fmt::Display for Bad {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Self { file, line, column, wrong } = self;
        write!(f, "{file}, line {line}")?;
        if let Some(column) = column {
            write!(f, ", column {column}")?;
        }
        write!(f, ": {wrong}")
    }
}

impl std::error::Error for Bad {}

/// What is wrong with a recording.
#[derive(Debug, thiserror::Error)]
pub enum Wrong {
    #[error(
        "the file is empty; allowed: a header that names the columns t_s, probe_c and load_kg, then one row a moment"
    )]
    Empty,
    #[error("there are no rows; allowed: at least one row below the header")]
    NoRows,
    #[error(
        "the header does not name this column; allowed: t_s, probe_c and load_kg must be there, base_c and platform_c may be"
    )]
    Missing,
    #[error("the header names this column twice; allowed: once")]
    Twice,
    #[error("cells in this row: {found}; allowed: {width}, as many as in the header")]
    Width { found: usize, width: usize },
    #[error(
        "\"{cell}\" is not a number; allowed: a finite decimal number, or nothing where no reading was made"
    )]
    Number { cell: String },
    #[error(
        "\"{cell}\" is no note of dekchi; allowed: what dekchi batches export wrote there, or nothing"
    )]
    Note { cell: String },
    #[error("the row has no time; allowed: seconds since the recording began")]
    NoTime,
    #[error("{t_s} s cannot be; allowed: {} to {} s since the recording began", TIME_S.start(), TIME_S.end())]
    Time { t_s: f64 },
    #[error("{t_s} s comes after {after_s} s; allowed: times that never decrease")]
    Backwards { t_s: f64, after_s: f64 },
    #[error("the line is not UTF-8 text; allowed: UTF-8")]
    NotUtf8,
    #[error("the line is too long; allowed: at most {LONGEST_LINE} bytes")]
    TooLong,
    #[error("cannot be read: {0}")]
    Io(io::Error),
}
