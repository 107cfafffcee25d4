//! A recording: what the sensors said, as comma-separated text with one row a moment.
//!
//! The header names the columns. `t_s` (seconds since the recording began, never decreasing),
//! `probe_c` (°C) and `load_kg` (kg) must be there; `base_c` and `platform_c` (°C) may be, and
//! `dekchi_note`, in which a batch that dekchi kept has what no number can say (see [`note`]); any
//! other column is passed over. A row with nothing but a time says that time went by. An empty cell
//! means that no reading was made at that moment. A value that is there is handed on as it stands:
//! whether it is stuck, at the rail or a probe's 85 °C after a power cut is for the judgement to say.
//! Only what no sensor can mean (see [`TEMPERATURE_C`] and [`LOAD_KG`]) becomes
//! [`Fault::OutOfRange`] here.
//!
//! A cell may stand in double quotes (RFC 4180), but a row never runs over a line's end. A last row
//! that was cut off in the middle, as by a power cut, is left out.
//!
//! Rows are read one at a time, so a recording may be of any length.

mod bad;
mod line;

use std::io::{BufRead, Read};
use std::ops::RangeInclusive;

use crate::moment::Moment;
use crate::quantity::{Celsius, Kilograms};
use crate::reading::{Fault, Reading};
use crate::watch::event::Event;
use crate::watch::note;

pub use bad::{Bad, Wrong};
use line::{Cells, drop_last, number, pick, shown, unquoted};

/// The longest line that is read, bytes.
pub const LONGEST_LINE: usize = 16_384;

/// The times that a recording may hold, s: about three years.
pub const TIME_S: RangeInclusive<f64> = 0.0..=1.0e8;

/// What a thermometer of any make can mean, °C.
pub const TEMPERATURE_C: RangeInclusive<f64> = -273.15..=2000.0;

/// What a kitchen's scale of any make can mean, kg.
pub const LOAD_KG: RangeInclusive<f64> = -1.0e5..=1.0e5;

const COLUMNS: [&str; 6] = ["t_s", "probe_c", "load_kg", "base_c", "platform_c", "dekchi_note"];
const T: usize = 0;
const PROBE: usize = 1;
const LOAD: usize = 2;
const BASE: usize = 3;
const PLATFORM: usize = 4;
const NOTE: usize = 5;
/// The first so many of [`COLUMNS`] must be there.
const NEEDED: usize = 3;

/// A recording, read row by row.
#[derive(Debug)]
pub struct Recording<R> {
    reader: R,
    file: String,
    columns: [Option<usize>; COLUMNS.len()],
    width: usize,
    line: Vec<u8>,
    line_number: u64,
    rows: u64,
    last: Moment,
    cut_off: bool,
}

/// What was read at one moment; `None` where no reading was made.
#[derive(Debug, Clone, PartialEq)]
pub struct Row {
    pub at: Moment,
    pub platform: Option<Reading<Celsius>>,
    pub base: Option<Reading<Celsius>>,
    pub probe: Option<Reading<Celsius>>,
    pub load: Option<Reading<Kilograms>>,
    /// What no number says.
    pub note: Option<Event>,
}

impl Row {
    /// What the judgement is told, slow things first: platform, base, probe, load, note; a tick
    /// where there is nothing.
    pub fn events(&self) -> impl Iterator<Item = Event> + use<> {
        let told = [
            self.platform.map(Event::Platform),
            self.base.map(Event::Base),
            self.probe.map(Event::Probe),
            self.load.map(Event::Load),
            self.note.clone(),
        ];
        let silent = told.iter().all(Option::is_none);
        told.into_iter().chain([silent.then_some(Event::Tick)]).flatten()
    }
}

impl<R: BufRead> Recording<R> {
    /// Reads the header. `file` is the name by which complaints call the recording.
    pub fn open(file: impl Into<String>, reader: R) -> Result<Self, Bad> {
        let mut recording = Self {
            reader,
            file: file.into(),
            columns: [None; COLUMNS.len()],
            width: 0,
            line: Vec::with_capacity(256),
            line_number: 0,
            rows: 0,
            last: Moment::default(),
            cut_off: false,
        };
        if !recording.next_line()? {
            return Err(recording.bad(None, Wrong::Empty));
        }
        recording.header()?;
        Ok(recording)
    }

    /// The next row; `None` after the last. A recording without any row is refused.
    pub fn next_row(&mut self) -> Result<Option<Row>, Bad> {
        loop {
            if !self.next_line()? {
                return self.end();
            }
            if !self.line.is_empty() {
                break;
            }
        }
        let mut cells = [&[][..]; COLUMNS.len()];
        let found = pick(&self.line, &self.columns, &mut cells);
        if found != self.width {
            return self.short_or_broken(found);
        }
        if self.cut_off && self.rows > 0 && note_of(cells[NOTE]).is_none() {
            return Ok(None);
        }
        let row = self.row(&cells)?;
        self.last = row.at;
        self.rows += 1;
        Ok(Some(row))
    }

    /// Whether the last row was cut off in the middle and left out.
    #[must_use]
    pub const fn cut_off(&self) -> bool {
        self.cut_off
    }

    /// How many rows were read so far.
    #[must_use]
    pub const fn rows(&self) -> u64 {
        self.rows
    }

    fn row(&self, cells: &[&[u8]; COLUMNS.len()]) -> Result<Row, Bad> {
        Ok(Row {
            at: self.time(cells[T])?,
            platform: self.celsius(PLATFORM, cells)?,
            base: self.celsius(BASE, cells)?,
            probe: self.celsius(PROBE, cells)?,
            load: self.number(LOAD, cells[LOAD])?.map(|kg| {
                Kilograms::new(kg).filter(|_| LOAD_KG.contains(&kg)).ok_or(Fault::OutOfRange)
            }),
            note: note_of(cells[NOTE]).ok_or_else(|| {
                self.bad(Some(NOTE), Wrong::Note { cell: shown(unquoted(cells[NOTE])) })
            })?,
        })
    }

    fn time(&self, cell: &[u8]) -> Result<Moment, Bad> {
        let t_s = self.number(T, cell)?.ok_or_else(|| self.bad(Some(T), Wrong::NoTime))?;
        let at = Moment::from_seconds(t_s)
            .filter(|_| TIME_S.contains(&t_s))
            .ok_or_else(|| self.bad(Some(T), Wrong::Time { t_s }))?;
        if self.rows > 0 && at < self.last {
            return Err(self.bad(Some(T), Wrong::Backwards { t_s, after_s: self.last.seconds() }));
        }
        Ok(at)
    }

    fn celsius(
        &self,
        column: usize,
        cells: &[&[u8]; COLUMNS.len()],
    ) -> Result<Option<Reading<Celsius>>, Bad> {
        Ok(self.number(column, cells[column])?.map(|c| {
            Celsius::new(c).filter(|_| TEMPERATURE_C.contains(&c)).ok_or(Fault::OutOfRange)
        }))
    }

    fn number(&self, column: usize, cell: &[u8]) -> Result<Option<f64>, Bad> {
        let cell = unquoted(cell);
        if cell.is_empty() {
            return Ok(None);
        }
        match number(cell) {
            Some(value) => Ok(Some(value)),
            None => Err(self.bad(Some(column), Wrong::Number { cell: shown(cell) })),
        }
    }

    /// Takes the next line into `self.line`, without its end; false at the recording's end.
    fn next_line(&mut self) -> Result<bool, Bad> {
        self.line.clear();
        self.line_number += 1;
        let mut limited = (&mut self.reader).take(LONGEST_LINE as u64 + 1);
        match limited.read_until(b'\n', &mut self.line) {
            Err(error) => return Err(self.bad(None, Wrong::Io(error))),
            Ok(0) => return Ok(false),
            Ok(read) if read > LONGEST_LINE => return Err(self.bad(None, Wrong::TooLong)),
            Ok(_) => {}
        }
        self.cut_off = !drop_last(&mut self.line, b'\n');
        drop_last(&mut self.line, b'\r');
        if std::str::from_utf8(&self.line).is_err() {
            return Err(self.bad(None, Wrong::NotUtf8));
        }
        Ok(true)
    }

    fn header(&mut self) -> Result<(), Bad> {
        let line = self.line.strip_prefix(b"\xEF\xBB\xBF").unwrap_or(&self.line);
        let names: Vec<&[u8]> = Cells { rest: Some(line) }.map(unquoted).collect();
        self.width = names.len();
        for (column, name) in COLUMNS.iter().enumerate() {
            let mut places = names.iter().enumerate().filter(|(_, n)| **n == name.as_bytes());
            self.columns[column] = places.next().map(|(place, _)| place);
            if places.next().is_some() {
                return Err(self.bad(Some(column), Wrong::Twice));
            }
        }
        match (0..NEEDED).find(|column| self.columns[*column].is_none()) {
            Some(missing) => Err(self.bad(Some(missing), Wrong::Missing)),
            None => Ok(()),
        }
    }

    /// A row of another width than the header is broken, unless it is the recording's cut-off end.
    fn short_or_broken(&mut self, found: usize) -> Result<Option<Row>, Bad> {
        let is_beginning_of_a_row = found < self.width
            && Cells { rest: Some(&self.line) }
                .all(|cell| cell.iter().all(|b| b.is_ascii_digit() || b"+-.eE".contains(b)));
        if self.cut_off && self.rows > 0 && is_beginning_of_a_row {
            return Ok(None);
        }
        Err(self.bad(None, Wrong::Width { found, width: self.width }))
    }

    fn end(&mut self) -> Result<Option<Row>, Bad> {
        self.cut_off = false;
        if self.rows == 0 {
            return Err(self.bad(None, Wrong::NoRows));
        }
        Ok(None)
    }

    fn bad(&self, column: Option<usize>, wrong: Wrong) -> Bad {
        let column = column.map(|column| COLUMNS[column]);
        Bad { file: self.file.clone(), line: self.line_number, column, wrong }
    }
}

/// What a note says, which may be nothing; `None` where it cannot be understood.
fn note_of(cell: &[u8]) -> Option<Option<Event>> {
    match unquoted(cell) {
        [] => Some(None),
        cell => note::event(std::str::from_utf8(cell).ok()?).ok().map(Some),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn rows(text: &str) -> Result<Vec<Row>, String> {
        let told = |bad: Bad| bad.to_string();
        let mut recording = Recording::open("r.csv", text.as_bytes()).map_err(told)?;
        let mut rows = Vec::new();
        while let Some(row) = recording.next_row().map_err(told)? {
            rows.push(row);
        }
        Ok(rows)
    }

    #[test]
    fn an_empty_cell_is_no_reading_at_all() {
        let rows = rows("t_s,probe_c,load_kg\n0.0,45.0,54.973\n0.1,,54.977\n").unwrap();
        assert_eq!(rows[0].events().count(), 2);
        assert_eq!(rows[1].at, Moment::from_ms(100));
        let load = Event::Load(Ok(Kilograms::new(54.977).unwrap()));
        assert_eq!(rows[1].events().collect::<Vec<_>>(), [load]);
    }

    #[test]
    fn a_row_is_told_platform_first_and_load_last_whatever_the_columns_order() {
        let rows =
            rows("load_kg,note,probe_c,t_s,base_c,platform_c\n1,\"a, b\",2,0,3,4\n").unwrap();
        let c = |c| Ok(Celsius::new(c).unwrap());
        let told: Vec<_> = rows[0].events().collect();
        let load = Event::Load(Ok(Kilograms::new(1.0).unwrap()));
        assert_eq!(
            told,
            [Event::Platform(c(4.0)), Event::Base(c(3.0)), Event::Probe(c(2.0)), load]
        );
    }

    #[test]
    fn what_no_sensor_can_mean_is_a_fault_and_not_a_number() {
        let rows = rows("t_s,probe_c,load_kg\n0,-400,1e9\n").unwrap();
        assert_eq!(rows[0].probe, Some(Err(Fault::OutOfRange)));
        assert_eq!(rows[0].load, Some(Err(Fault::OutOfRange)));
    }

    #[test]
    fn a_note_is_told_last_and_a_row_without_anything_is_a_tick() {
        let text = "t_s,probe_c,load_kg,dekchi_note\n0,,,fault probe absent\n1,,,\n2,,7,tick\n";
        let told: Vec<_> = rows(text).unwrap().iter().flat_map(Row::events).collect();
        let load = Event::Load(Ok(Kilograms::new(7.0).unwrap()));
        assert_eq!(told, [Event::Probe(Err(Fault::Absent)), Event::Tick, load, Event::Tick]);
    }

    #[test]
    fn a_note_that_was_cut_off_is_left_out_and_a_broken_one_is_refused() {
        let text = "t_s,probe_c,load_kg,dekchi_note\n0,1,2,\n1,,,cook stir";
        assert_eq!(rows(text).unwrap().len(), 1);
        let sentence = rows(&format!("{text}\n")).unwrap_err();
        assert!(
            sentence.starts_with("r.csv, line 3, column dekchi_note: \"cook stir\" is no note")
        );
    }

    #[test]
    fn line_ends_a_byte_order_mark_quotes_and_blank_lines_do_no_harm() {
        let text = "\u{feff}\"t_s\", probe_c ,load_kg\r\n0,1,2\r\n\r\n\"1\", 1 ,2\r\n";
        assert_eq!(rows(text).unwrap().len(), 2);
    }

    #[test]
    fn a_last_row_that_was_cut_off_is_left_out() {
        let text = "t_s,probe_c,load_kg\n0,1,2\n1.0,9";
        let mut recording = Recording::open("r.csv", text.as_bytes()).unwrap();
        assert!(recording.next_row().unwrap().is_some());
        assert!(recording.next_row().unwrap().is_none());
        assert!(recording.cut_off());
    }

    #[test]
    fn a_last_row_that_is_whole_needs_no_line_end() {
        assert_eq!(rows("t_s,probe_c,load_kg\n0,1,2\n1,,2").unwrap().len(), 2);
    }

    #[test]
    fn each_bad_thing_has_its_sentence() {
        let header = "t_s,probe_c,load_kg\n";
        let cases = [
            (String::new(), "r.csv, line 1: the file is empty"),
            (header.into(), "r.csv, line 2: there are no rows"),
            ("t_s,load_kg\n0,1\n".into(), "r.csv, line 1, column probe_c: the header does not"),
            ("t_s,t_s,probe_c,load_kg\n".into(), "r.csv, line 1, column t_s: the header names"),
            (
                format!("{header}0,1,2\n1,2\n2,1,2\n"),
                "r.csv, line 3: cells in this row: 2; allowed: 3,",
            ),
            (format!("{header}0,1,2,\n"), "r.csv, line 2: cells in this row: 4;"),
            (
                format!("{header}0,nan,2\n"),
                "r.csv, line 2, column probe_c: \"nan\" is not a number",
            ),
            (format!("{header}0,1,-inf\n"), "r.csv, line 2, column load_kg: \"-inf\" is not"),
            (format!("{header}0,1,1.2.3\n"), "r.csv, line 2, column load_kg: \"1.2.3\" is not"),
            (format!("{header}0,1,1e999\n"), "r.csv, line 2, column load_kg: \"1e999\" is not"),
            (format!("{header},1,2\n"), "r.csv, line 2, column t_s: the row has no time"),
            (format!("{header}-1,1,2\n"), "r.csv, line 2, column t_s: -1 s cannot be"),
            (
                format!("{header}5,1,2\n4.9,1,2\n"),
                "r.csv, line 3, column t_s: 4.9 s comes after 5 s",
            ),
            (format!("{header}0,1,2\noops"), "r.csv, line 3: cells in this row: 1;"),
            (
                format!("{header}0,1,{}\n", "2".repeat(LONGEST_LINE)),
                "r.csv, line 2: the line is too",
            ),
        ];
        for (text, begins) in cases {
            let sentence = rows(&text).unwrap_err();
            assert!(sentence.starts_with(begins), "{sentence}");
            assert!(sentence.contains("allowed: ") && !sentence.contains('\n'), "{sentence}");
        }
    }

    #[test]
    fn bytes_that_are_not_text_are_refused() {
        let bad = Recording::open("r.csv", &b"t_s,probe_c,load_kg,\xff\n"[..]).unwrap_err();
        assert_eq!(bad.to_string(), "r.csv, line 1: the line is not UTF-8 text; allowed: UTF-8");
    }
}
