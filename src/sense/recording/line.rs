//! A line of comma-separated text: its cells, and what a cell says.

/// The cells of a line; a comma between double quotes does not part them.
pub(super) struct Cells<'a> {
    pub(super) rest: Option<&'a [u8]>,
}

impl<'a> Iterator for Cells<'a> {
    type Item = &'a [u8];

    #[inline]
    fn next(&mut self) -> Option<&'a [u8]> {
        let rest = self.rest?;
        let mut quoted = false;
        for (at, byte) in rest.iter().enumerate() {
            match byte {
                b',' if !quoted => {
                    self.rest = Some(&rest[at + 1..]);
                    return Some(&rest[..at]);
                }
                b'"' => quoted = !quoted,
                _ => {}
            }
        }
        self.rest = None;
        Some(rest)
    }
}

/// Drops the last byte where it is this one, and says whether it was.
pub(super) fn drop_last(line: &mut Vec<u8>, byte: u8) -> bool {
    let there = line.last() == Some(&byte);
    line.truncate(line.len() - usize::from(there));
    there
}

/// Puts the wanted cells of a line in their places and counts all its cells.
pub(super) fn pick<'a, const N: usize>(
    line: &'a [u8],
    columns: &[Option<usize>; N],
    cells: &mut [&'a [u8]; N],
) -> usize {
    let mut count = 0;
    for cell in (Cells { rest: Some(line) }) {
        for (place, column) in cells.iter_mut().zip(columns) {
            if *column == Some(count) {
                *place = cell;
            }
        }
        count += 1;
    }
    count
}

/// A cell without the space around it and the quotes that it stands in.
pub(super) fn unquoted(cell: &[u8]) -> &[u8] {
    let cell = cell.trim_ascii();
    match cell {
        [b'"', inner @ .., b'"'] => inner.trim_ascii(),
        _ => cell,
    }
}

pub(super) fn number(cell: &[u8]) -> Option<f64> {
    let text = std::str::from_utf8(cell).ok()?;
    text.parse().ok().filter(|value: &f64| value.is_finite())
}

/// The beginning of a cell, fit to be printed in one line.
pub(super) fn shown(cell: &[u8]) -> String {
    let text = String::from_utf8_lossy(cell);
    let beginning: String = text.chars().take(24).flat_map(char::escape_debug).collect();
    if text.chars().nth(24).is_some() { beginning + "…" } else { beginning }
}
