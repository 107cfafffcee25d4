//! A batch's samples as a recording: comma-separated text that `dekchi replay` reads.
//!
//! Events of the same millisecond share a row where their order allows it, since a row is told to
//! the judgement as platform, base, probe, load; everything else has a row of its own: a tick is a
//! row with nothing but a time, and what has no column is a [`note`] in `dekchi_note`. Loads are
//! written to 0.001 kg and temperatures to 0.0001 °C.

use std::io::{self, Write};

use crate::moment::Moment;
use crate::watch::event::Event;
use crate::watch::note;

/// Columns that are written only where the batch has something for them.
#[derive(Debug, Clone, Copy, Default)]
struct Columns {
    base: bool,
    platform: bool,
    note: bool,
}

/// One row: platform, base, probe and load as text, and a note.
#[derive(Debug, Default)]
struct Row {
    at: Moment,
    cells: [Option<String>; 4],
    note: Option<String>,
}

const PLATFORM: usize = 0;
const BASE: usize = 1;
const PROBE: usize = 2;
const LOAD: usize = 3;

/// Writes events in their order, with times in seconds of their own clock.
pub fn write(events: &[(Moment, Event)], out: &mut dyn Write) -> io::Result<()> {
    let columns = columns(events);
    header(columns, out)?;
    let mut row: Option<Row> = None;
    for (at, event) in events {
        row = match row {
            Some(row) if row.has_room(*at, event) => Some(row.with(event)),
            before => {
                before.map_or(Ok(()), |row| row.write(columns, out))?;
                Some(Row { at: *at, ..Row::default() }.with(event))
            }
        };
    }
    row.map_or(Ok(()), |row| row.write(columns, out))
}

fn columns(events: &[(Moment, Event)]) -> Columns {
    let mut columns = Columns::default();
    for (_, event) in events {
        match place(event) {
            Some((BASE, _)) => columns.base = true,
            Some((PLATFORM, _)) => columns.platform = true,
            Some(_) => {}
            None => columns.note |= *event != Event::Tick,
        }
    }
    columns
}

/// Which cell a value goes to, and its text; `None` for what has no column.
fn place(event: &Event) -> Option<(usize, String)> {
    match event {
        Event::Platform(Ok(c)) => Some((PLATFORM, format!("{:.4}", c.get()))),
        Event::Base(Ok(c)) => Some((BASE, format!("{:.4}", c.get()))),
        Event::Probe(Ok(c)) => Some((PROBE, format!("{:.4}", c.get()))),
        Event::Load(Ok(kg)) => Some((LOAD, format!("{:.3}", kg.get()))),
        _ => None,
    }
}

fn header(columns: Columns, out: &mut dyn Write) -> io::Result<()> {
    let Columns { base, platform, note } = columns;
    let more = [(base, ",base_c"), (platform, ",platform_c"), (note, ",dekchi_note")];
    write!(out, "t_s,probe_c,load_kg")?;
    for (_, name) in more.into_iter().filter(|(there, _)| *there) {
        write!(out, "{name}")?;
    }
    writeln!(out)
}

impl Row {
    /// True where the event may stand here and still be told after what stands here already.
    fn has_room(&self, at: Moment, event: &Event) -> bool {
        let last = self.cells.iter().rposition(Option::is_some);
        match (last, place(event)) {
            (Some(last), Some((place, _))) => self.at == at && place > last,
            _ => false,
        }
    }

    fn with(mut self, event: &Event) -> Self {
        match place(event) {
            Some((place, text)) => self.cells[place] = Some(text),
            None if *event != Event::Tick => self.note = note::of(event),
            None => {}
        }
        self
    }

    fn write(&self, columns: Columns, out: &mut dyn Write) -> io::Result<()> {
        let text = |cell: &Option<String>| cell.clone().unwrap_or_default();
        write!(
            out,
            "{},{},{}",
            self.at.seconds(),
            text(&self.cells[PROBE]),
            text(&self.cells[LOAD])
        )?;
        let more = [
            (columns.base, &self.cells[BASE]),
            (columns.platform, &self.cells[PLATFORM]),
            (columns.note, &self.note),
        ];
        for (_, cell) in more.into_iter().filter(|(there, _)| *there) {
            write!(out, ",{}", text(cell))?;
        }
        writeln!(out)
    }
}
