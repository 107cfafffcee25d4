//! One table of a file, read key by key.
//!
//! Every question names what is allowed. A wrong or missing answer is noted as a complaint and comes
//! back as `None`, so that a reader can go on and find the next one.

use std::ops::{Range, RangeInclusive};

use toml::Spanned;
use toml::de::{DeTable, DeValue};

use super::file::File;

/// One table of a file.
#[derive(Debug, Clone)]
pub struct Section<'f> {
    file: &'f File<'f>,
    path: String,
    place: Range<usize>,
    table: &'f DeTable<'f>,
    keys: &'static [&'static str],
}

impl<'f> Section<'f> {
    /// Opens a table and refuses every key that is not among `keys`.
    pub(super) fn open(
        file: &'f File<'f>,
        path: String,
        table: &'f DeTable<'f>,
        place: Range<usize>,
        keys: &'static [&'static str],
    ) -> Self {
        let section = Self { file, path, place, table, keys };
        for (key, _) in table.iter().filter(|(key, _)| !keys.contains(&key.get_ref().as_ref())) {
            let path = section.path_of(&shown(key.get_ref()));
            file.complain(Some(key.span()), &path, "is not a key of this table", keys.join(", "));
        }
        section
    }

    /// Whether this key is there.
    #[must_use]
    pub fn has(&self, key: &str) -> bool {
        self.table.get(key).is_some()
    }

    /// Notes that the value of this key (or its absence) is wrong.
    pub fn refuse(&self, key: &str, wrong: impl Into<String>, allowed: impl Into<String>) {
        let value = self.table.get(key);
        let place = value.map_or_else(|| self.place.clone(), Spanned::span);
        self.file.complain(Some(place), &self.path_of(key), wrong, allowed);
    }

    /// A number in this range; whole numbers are taken too.
    #[must_use]
    pub fn number(&self, key: &str, range: RangeInclusive<f64>, unit: &str) -> Option<f64> {
        let value = self.required(key, || numbers(&range, unit))?;
        self.as_number(key, value, &range, unit)
    }

    /// As [`Self::number`], where the key may be left out.
    #[must_use]
    pub fn number_or_none(&self, key: &str, range: RangeInclusive<f64>, unit: &str) -> Option<f64> {
        self.value(key).and_then(|value| self.as_number(key, value, &range, unit))
    }

    /// As [`Self::number`], where the key may be left out.
    #[must_use]
    pub fn number_or(
        &self,
        key: &str,
        default: f64,
        range: RangeInclusive<f64>,
        unit: &str,
    ) -> Option<f64> {
        if self.has(key) { self.number(key, range, unit) } else { Some(default) }
    }

    /// A whole number in this range.
    #[must_use]
    pub fn whole(&self, key: &str, range: RangeInclusive<i64>) -> Option<i64> {
        let allowed = || format!("a whole number from {} to {}", range.start(), range.end());
        let value = self.required(key, allowed)?;
        let number = match value {
            DeValue::Integer(i) => i64::from_str_radix(i.as_str(), i.radix()).ok(),
            _ => None,
        };
        let fair = number.filter(|number| range.contains(number));
        let text = matches!(value, DeValue::String(_));
        self.take(key, value, fair, || quoted(text, allowed()))
    }

    /// As [`Self::whole`], where the key may be left out.
    #[must_use]
    pub fn whole_or(&self, key: &str, default: i64, range: RangeInclusive<i64>) -> Option<i64> {
        if self.has(key) { self.whole(key, range) } else { Some(default) }
    }

    /// Text of one line, 1 to 200 characters long, with no space around it.
    #[must_use]
    pub fn text(&self, key: &str) -> Option<String> {
        let allowed = || "one line of text in quotes, 1 to 200 characters".to_owned();
        let value = self.required(key, allowed)?;
        let text = value.as_str().filter(|text| is_plain(text)).map(str::to_owned);
        self.take(key, value, text, allowed)
    }

    /// As [`Self::text`], where the key may be left out.
    #[must_use]
    pub fn text_or_none(&self, key: &str) -> Option<String> {
        if self.has(key) { self.text(key) } else { None }
    }

    /// As [`Self::text`], where the key may be left out.
    #[must_use]
    pub fn text_or(&self, key: &str, default: &str) -> Option<String> {
        if self.has(key) { self.text(key) } else { Some(default.to_owned()) }
    }

    /// One of these words, for what it stands for.
    #[must_use]
    pub fn choice<T: Clone>(&self, key: &str, choices: &[(&str, T)]) -> Option<T> {
        let allowed = || {
            let words: Vec<_> = choices.iter().map(|(word, _)| format!("\"{word}\"")).collect();
            words.join(", ")
        };
        let value = self.required(key, allowed)?;
        let word = value.as_str();
        let chosen = choices.iter().find(|(name, _)| Some(*name) == word);
        self.take(key, value, chosen.map(|(_, meaning)| meaning.clone()), allowed)
    }

    /// `true` or `false`, where the key may be left out.
    #[must_use]
    pub fn flag_or(&self, key: &str, default: bool) -> Option<bool> {
        let Some(value) = self.value(key) else { return Some(default) };
        self.take(key, value, value.as_bool(), || "true or false".to_owned())
    }

    /// A list of texts, where the key may be left out (an empty list then).
    #[must_use]
    pub fn texts(&self, key: &str) -> Option<Vec<String>> {
        let Some(value) = self.value(key) else { return Some(Vec::new()) };
        let texts = value.as_array().and_then(|array| {
            let plain = |item: &Spanned<DeValue<'f>>| {
                item.get_ref().as_str().filter(|text| is_plain(text)).map(str::to_owned)
            };
            array.iter().map(plain).collect()
        });
        self.take(key, value, texts, || "a list of texts in quotes".to_owned())
    }

    /// A list of texts with the place of each, where the key may be left out.
    #[must_use]
    pub fn lines(&self, key: &str) -> Option<Vec<(String, Range<usize>)>> {
        let texts = self.texts(key)?;
        let array = self.value(key).and_then(DeValue::as_array);
        let places = array.into_iter().flat_map(|array| array.iter()).map(Spanned::span);
        Some(texts.into_iter().zip(places).collect())
    }

    /// Notes that something at this place, under this key, is wrong.
    pub fn refuse_at(
        &self,
        place: Range<usize>,
        key: &str,
        wrong: impl Into<String>,
        allowed: impl Into<String>,
    ) {
        self.file.complain(Some(place), &self.path_of(key), wrong, allowed);
    }

    /// A table in this one; `keys` are those that may stand in it.
    #[must_use]
    pub fn table(&self, key: &str, keys: &'static [&'static str]) -> Option<Section<'f>> {
        let allowed = || format!("a table with {}", keys.join(", "));
        let value = self.required(key, allowed)?;
        let table = self.take(key, value, value.as_table(), allowed)?;
        let place = self.table.get(key).map_or_else(|| self.place.clone(), Spanned::span);
        Some(Section::open(self.file, self.path_of(key), table, place, keys))
    }

    /// As [`Self::table`], where the table may be left out.
    #[must_use]
    pub fn table_or_none(&self, key: &str, keys: &'static [&'static str]) -> Option<Section<'f>> {
        if self.has(key) { self.table(key, keys) } else { None }
    }

    /// The tables of an array, in order; none where the key is left out.
    #[must_use]
    pub fn tables(&self, key: &str, keys: &'static [&'static str]) -> Option<Vec<Section<'f>>> {
        let Some(value) = self.value(key) else { return Some(Vec::new()) };
        let allowed = || format!("[[{}]] tables", self.path_of(key));
        let items = self.take(key, value, value.as_array(), allowed)?;
        let open = |item: &'f Spanned<DeValue<'f>>| {
            let table = self.take(key, item.get_ref(), item.get_ref().as_table(), allowed)?;
            Some(Section::open(self.file, self.path_of(key), table, item.span(), keys))
        };
        items.iter().map(open).collect()
    }

    fn value(&self, key: &str) -> Option<&'f DeValue<'f>> {
        debug_assert!(self.keys.contains(&key), "{key} is missing in the section's list of keys");
        self.table.get(key).map(Spanned::get_ref)
    }

    fn required(&self, key: &str, allowed: impl Fn() -> String) -> Option<&'f DeValue<'f>> {
        let value = self.value(key);
        if value.is_none() {
            self.refuse(key, "is missing", allowed());
        }
        value
    }

    /// What was made of the value, or the complaint that it is not what is allowed.
    fn take<T>(
        &self,
        key: &str,
        value: &DeValue<'_>,
        made: Option<T>,
        allowed: impl Fn() -> String,
    ) -> Option<T> {
        if made.is_none() {
            self.refuse(key, format!("{} cannot be", described(value)), allowed());
        }
        made
    }

    fn as_number(
        &self,
        key: &str,
        value: &DeValue<'_>,
        range: &RangeInclusive<f64>,
        unit: &str,
    ) -> Option<f64> {
        let number = match value {
            DeValue::Float(f) => f.as_str().parse().ok(),
            DeValue::Integer(i) => {
                i64::from_str_radix(i.as_str(), i.radix()).ok().map(|whole| whole as f64)
            }
            _ => None,
        };
        let fair = number.filter(|number: &f64| range.contains(number));
        let text = matches!(value, DeValue::String(_));
        self.take(key, value, fair, || quoted(text, numbers(range, unit)))
    }

    fn path_of(&self, key: &str) -> String {
        if self.path.is_empty() { key.to_owned() } else { format!("{}.{key}", self.path) }
    }
}

fn numbers(range: &RangeInclusive<f64>, unit: &str) -> String {
    let gap = if unit.is_empty() { "" } else { " " };
    format!("{} to {}{gap}{unit}", range.start(), range.end())
}

fn is_plain(text: &str) -> bool {
    (1..=200).contains(&text.chars().count())
        && text.trim() == text
        && !text.chars().any(char::is_control)
}

/// What is allowed of a number, where text stands in its place.
fn quoted(text: bool, allowed: String) -> String {
    if text { format!("{allowed}, without quotes") } else { allowed }
}

/// A value as it stands in the file, short enough for one line.
fn described(value: &DeValue<'_>) -> String {
    match value {
        DeValue::String(text) => format!("\"{}\"", shown(text)),
        DeValue::Integer(number) => shown(&number.to_string()),
        DeValue::Float(number) => shown(number.as_str()),
        DeValue::Boolean(flag) => flag.to_string(),
        DeValue::Datetime(time) => time.to_string(),
        DeValue::Array(_) => "a list".to_owned(),
        DeValue::Table(_) => "a table".to_owned(),
    }
}

/// The beginning of a text, fit to be printed in one line.
fn shown(text: &str) -> String {
    let beginning: String = text.chars().take(40).flat_map(char::escape_debug).collect();
    if text.chars().nth(40).is_some() { beginning + "…" } else { beginning }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::config::complaint::Complaints;

    const KEYS: &[&str] = &["port", "topics", "loud", "mode", "name", "inner"];

    /// What a reader makes of the text, or the complaints.
    fn read<T>(text: &str, reader: impl Fn(&Section<'_>) -> Option<T>) -> Result<T, Vec<String>> {
        let file = File::parse("a.toml", text).unwrap();
        let value = reader(&file.root(KEYS));
        let told = |complaints: Complaints| complaints.0.iter().map(ToString::to_string).collect();
        file.finish(value).map_err(told)
    }

    #[test]
    fn what_may_be_left_out_has_its_default() {
        assert_eq!(read("", |s| s.whole_or("port", 1883, 1..=65_535)), Ok(1883));
        assert_eq!(read("", |s| s.flag_or("loud", true)), Ok(true));
        assert_eq!(read("", |s| s.texts("topics")), Ok(Vec::new()));
        assert_eq!(read("", |s| s.text_or("name", "big")), Ok("big".to_owned()));
    }

    #[test]
    fn what_is_there_is_taken() {
        assert_eq!(read("port = 0x75b", |s| s.whole("port", 1..=65_535)), Ok(1883));
        assert_eq!(read("port = 1_000", |s| s.number("port", 0.0..=1e4, "")), Ok(1000.0));
        assert_eq!(read("topics = ['a', 'b']", |s| s.texts("topics")).unwrap(), ["a", "b"]);
        assert_eq!(read("mode = 'on'", |s| s.choice("mode", &[("on", 1), ("off", 2)])), Ok(1));
        assert_eq!(
            read("inner = { name = 'x' }", |s| s.table("inner", KEYS)?.text("name")).unwrap(),
            "x"
        );
    }

    #[test]
    fn what_is_of_the_wrong_kind_is_refused_with_what_is_allowed() {
        let told =
            |text: &str, reader: fn(&Section<'_>) -> Option<()>| read(text, reader).unwrap_err();
        assert_eq!(
            told("port = 70000", |s| s.whole("port", 1..=65_535).map(drop)),
            ["a.toml, line 1, port: 70000 cannot be; allowed: a whole number from 1 to 65535"]
        );
        assert_eq!(
            told("\nport = 1.5", |s| s.whole_or("port", 1, 1..=9).map(drop)),
            ["a.toml, line 2, port: 1.5 cannot be; allowed: a whole number from 1 to 9"]
        );
        assert_eq!(
            told("loud = 'yes'", |s| s.flag_or("loud", true).map(drop)),
            ["a.toml, line 1, loud: \"yes\" cannot be; allowed: true or false"]
        );
        assert_eq!(
            told("topics = ['a', 3]", |s| s.texts("topics").map(drop)),
            ["a.toml, line 1, topics: a list cannot be; allowed: a list of texts in quotes"]
        );
        assert_eq!(
            told("inner = [1]", |s| s.tables("inner", KEYS).map(drop)),
            ["a.toml, line 1, inner: 1 cannot be; allowed: [[inner]] tables"]
        );
    }

    #[test]
    fn a_number_in_quotes_is_refused_with_the_word_for_it() {
        let told = |text: &str| read(text, |s| s.number("port", 0.001..=2000.0, "kg")).unwrap_err();
        assert_eq!(
            told("port = '0.95'"),
            ["a.toml, line 1, port: \"0.95\" cannot be; allowed: 0.001 to 2000 kg, without quotes"]
        );
        assert_eq!(
            told("port = 3000"),
            ["a.toml, line 1, port: 3000 cannot be; allowed: 0.001 to 2000 kg"]
        );
    }

    #[test]
    fn numbers_beyond_what_fits_are_refused() {
        let huge = "9".repeat(400);
        for text in [format!("port = {huge}"), format!("port = {huge}.0"), "port = nan".into()] {
            assert_eq!(
                read(&text, |s| s.number("port", 0.0..=1e4, "")).unwrap_err().len(),
                1,
                "{text}"
            );
        }
    }
}
