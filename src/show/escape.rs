//! The one place where a text becomes part of SVG or HTML.
//!
//! Names of batches, pots and additions are typed by people and come from files: they may hold
//! markup, quotes and control characters. XML 1.0 (§2.2) forbids control characters even as
//! references, so they are dropped; what else could end a text or an attribute becomes a reference.

/// `text` without the characters that XML 1.0 forbids, tabs and line ends turned to spaces.
#[must_use]
pub fn printable(text: &str) -> String {
    text.chars().filter_map(printable_char).collect()
}

fn printable_char(c: char) -> Option<char> {
    match c {
        '\t' | '\n' | '\r' => Some(' '),
        c if c.is_control() || matches!(c, '\u{fffe}' | '\u{ffff}') => None,
        // Marks that turn the direction of what follows.
        '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}' => None,
        c => Some(c),
    }
}

/// `text` as it may stand in an element or in a quoted attribute of SVG or HTML.
#[must_use]
pub fn escape(text: &str) -> String {
    let mut safe = String::with_capacity(text.len());
    for c in printable(text).chars() {
        match c {
            '&' => safe.push_str("&amp;"),
            '<' => safe.push_str("&lt;"),
            '>' => safe.push_str("&gt;"),
            '"' => safe.push_str("&quot;"),
            '\'' => safe.push_str("&#39;"),
            c => safe.push(c),
        }
    }
    safe
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_hostile_name_is_only_text() {
        assert_eq!(
            escape("<script>\"a\" & 'b'</script>"),
            "&lt;script&gt;&quot;a&quot; &amp; &#39;b&#39;&lt;/script&gt;"
        );
    }

    #[test]
    fn control_and_direction_characters_are_dropped() {
        assert_eq!(escape("ba\u{0}tch\u{1b}[31m\u{202e}x\ty"), "batch[31mx y");
    }
}
