//! The type that every drawing is set in, bundled so that it is the same on every machine.
//!
//! DejaVu Sans, cut down to Latin letters and a few signs (fonts/make.sh; licence in
//! fonts/LICENSE.txt). Its digits all have one width, so figures stand in columns.

use std::sync::OnceLock;

use plotters::style::{FontDesc, FontFamily, FontStyle, register_font};

/// The families that a viewer may set the words in, best first: the second and third have the
/// first's widths.
pub const FAMILY: &str = "DejaVu Sans, Verdana, sans-serif";

/// Height of a capital with its accent and depth of a descender, in ems (rounded outward).
pub const ASCENT: f64 = 0.76;
pub const DESCENT: f64 = 0.24;

/// Ascender less descender of the face, in ems: 2384 of 2048 units. A raster font's size means this.
pub const LINE: f64 = 2384.0 / 2048.0;

pub const REGULAR_WOFF2: &[u8] = include_bytes!("fonts/DejaVuSans.woff2");
pub const BOLD_WOFF2: &[u8] = include_bytes!("fonts/DejaVuSans-Bold.woff2");

const REGULAR: &[u8] = include_bytes!("fonts/DejaVuSans.ttf");
const BOLD: &[u8] = include_bytes!("fonts/DejaVuSans-Bold.ttf");

/// Size at which widths are measured, px: large, because they come back as whole px.
const MEASURE: f64 = 2048.0;

/// Makes the faces known to plotters, once. False if they could not be read.
pub fn ready() -> bool {
    static READY: OnceLock<bool> = OnceLock::new();
    *READY.get_or_init(|| {
        register_font(FAMILY, FontStyle::Normal, REGULAR).is_ok()
            && register_font(FAMILY, FontStyle::Bold, BOLD).is_ok()
    })
}

/// plotters' description of the type at a size.
#[must_use]
pub fn font(size: f64, bold: bool) -> FontDesc<'static> {
    let style = if bold { FontStyle::Bold } else { FontStyle::Normal };
    FontDesc::new(FontFamily::Name(FAMILY), size, style)
}

/// Width of a line of type, px, for an em of `size` px.
#[must_use]
pub fn width(words: &str, size: f64, bold: bool) -> f64 {
    let measured = ready().then(|| font(MEASURE * LINE, bold).box_size(words).ok()).flatten();
    match measured {
        Some((wide, _)) => f64::from(wide) / MEASURE * size,
        None => words.chars().count() as f64 * 0.65 * size,
    }
}

/// `words` cut to fit `room` px, with an ellipsis where something is missing.
#[must_use]
pub fn fit(words: &str, size: f64, bold: bool, room: f64) -> String {
    if width(words, size, bold) <= room {
        return words.to_owned();
    }
    let mut kept: Vec<char> = words.chars().collect();
    while kept.pop().is_some() {
        let cut: String = kept.iter().collect::<String>().trim_end().to_owned() + "…";
        if width(&cut, size, bold) <= room {
            return cut;
        }
    }
    String::new()
}

/// `words` broken at spaces into at most `lines` lines of `room` px; what does not fit is cut.
#[must_use]
pub fn wrapped(words: &str, size: f64, bold: bool, room: f64, lines: usize) -> Vec<String> {
    let mut all: Vec<String> = Vec::new();
    for word in words.split_whitespace() {
        match all.last_mut() {
            Some(line) if width(&format!("{line} {word}"), size, bold) <= room => {
                line.push(' ');
                line.push_str(word);
            }
            _ => all.push(word.to_owned()),
        }
    }
    if all.len() > lines.max(1) {
        let rest = all.split_off(lines.max(1) - 1).join(" ");
        all.push(rest);
    }
    all.into_iter().map(|line| fit(&line, size, bold, room)).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn widths_are_those_of_the_face() {
        // hmtx of DejaVu Sans 2.37: each digit advances 1303 of 2048 units, bold 1425.
        assert!((width("0123456789", 2048.0, false) - 13_030.0).abs() < 2.0);
        assert!((width("00", 2048.0, true) - 2850.0).abs() < 2.0);
    }

    #[test]
    fn a_long_name_is_cut_to_its_room() {
        let cut = fit("a very long name of a batch", 12.0, false, 80.0);
        assert!(cut.ends_with('…') && width(&cut, 12.0, false) <= 80.0, "{cut}");
        assert_eq!(fit("short", 12.0, false, 80.0), "short");
        assert_eq!(fit("x", 12.0, false, 0.0), "");
    }

    #[test]
    fn a_long_sentence_is_broken_at_spaces_and_then_cut() {
        let lines = wrapped("one two three four five six seven eight nine", 12.0, false, 90.0, 2);
        assert_eq!(lines.len(), 2);
        assert!(lines[0].starts_with("one two") && lines[1].ends_with('…'), "{lines:?}");
        assert!(lines.iter().all(|line| width(line, 12.0, false) <= 90.0));
        assert_eq!(wrapped("", 12.0, false, 90.0, 2), Vec::<String>::new());
    }
}
