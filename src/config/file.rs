//! A configuration file's text, taken apart but not yet believed.

use std::cell::RefCell;
use std::fs;
use std::io::{self, Read};
use std::ops::Range;
use std::path::Path;

use toml::Spanned;
use toml::de::DeTable;

use super::complaint::{Complaint, Complaints};
use super::section::Section;

/// The largest file that is read, bytes.
pub const LARGEST: u64 = 1 << 20;

/// A parsed file and what was found wrong with it so far.
#[derive(Debug)]
pub struct File<'t> {
    name: &'t str,
    text: &'t str,
    root: Spanned<DeTable<'t>>,
    complaints: RefCell<Vec<Complaint>>,
}

impl<'t> File<'t> {
    /// Takes the text apart. `name` is what complaints call the file.
    pub fn parse(name: &'t str, text: &'t str) -> Result<Self, Complaints> {
        let (root, errors) = DeTable::parse_recoverable(text);
        let file = Self { name, text, root, complaints: RefCell::default() };
        for error in &errors {
            file.complain(error.span(), "", error.message().replace('\n', ", "), "TOML");
        }
        match errors.is_empty() {
            true => Ok(file),
            false => Err(file.complaints()),
        }
    }

    /// The file's outermost table; `keys` are those that may stand in it.
    #[must_use]
    pub fn root(&self, keys: &'static [&'static str]) -> Section<'_> {
        Section::open(self, String::new(), self.root.get_ref(), 0..0, keys)
    }

    /// Whether this key stands in the outermost table.
    #[must_use]
    pub fn has(&self, key: &str) -> bool {
        self.root.get_ref().get(key).is_some()
    }

    /// Whether this key is a list in the outermost table, such as of `[[key]]` tables.
    #[must_use]
    pub fn has_list(&self, key: &str) -> bool {
        self.root.get_ref().get(key).is_some_and(|value| value.get_ref().is_array())
    }

    /// Notes that something is wrong at this place of the text.
    pub fn complain(
        &self,
        place: Option<Range<usize>>,
        key: &str,
        wrong: impl Into<String>,
        allowed: impl Into<String>,
    ) {
        self.complaints.borrow_mut().push(Complaint {
            file: self.name.to_owned(),
            line: place.map(|place| self.line(place.start)),
            key: key.to_owned(),
            wrong: wrong.into(),
            allowed: allowed.into(),
            unread: false,
        });
    }

    /// Whether nothing was found wrong so far.
    #[must_use]
    pub fn is_right(&self) -> bool {
        self.complaints.borrow().is_empty()
    }

    /// The value, where nothing was found wrong.
    pub fn finish<T>(self, value: Option<T>) -> Result<T, Complaints> {
        match value {
            Some(value) if self.complaints.borrow().is_empty() => Ok(value),
            _ => {
                debug_assert!(!self.complaints.borrow().is_empty(), "refused without a reason");
                Err(self.complaints())
            }
        }
    }

    fn complaints(self) -> Complaints {
        let mut complaints = self.complaints.into_inner();
        complaints.sort_by_key(|complaint| complaint.line);
        Complaints(complaints)
    }

    fn line(&self, at: usize) -> usize {
        let before = &self.text.as_bytes()[..at.min(self.text.len())];
        before.iter().filter(|byte| **byte == b'\n').count() + 1
    }
}

/// The whole text of the file at `path`; a complaint where it cannot be read, is no text or too long.
pub fn text(path: &Path) -> Result<String, Complaints> {
    let complaint = |wrong: String, allowed: &str| Complaint {
        file: path.display().to_string(),
        line: None,
        key: String::new(),
        wrong,
        allowed: allowed.to_owned(),
        unread: false,
    };
    let refuse = |wrong: String, allowed: &str| Complaints(vec![complaint(wrong, allowed)]);
    let unread = |error: io::Error| {
        let wrong = format!("cannot be read: {error}");
        Complaints(vec![Complaint { unread: true, ..complaint(wrong, "a readable file") }])
    };
    let mut bytes = Vec::new();
    fs::File::open(path)
        .and_then(|file| file.take(LARGEST + 1).read_to_end(&mut bytes))
        .map_err(unread)?;
    if bytes.len() as u64 > LARGEST {
        return Err(refuse("is too long".to_owned(), "at most 1 MiB"));
    }
    String::from_utf8(bytes).map_err(|_| refuse("is not UTF-8 text".to_owned(), "UTF-8"))
}
