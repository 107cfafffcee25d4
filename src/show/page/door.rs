//! Pairing a phone, and what is said to those who may not come in.

use maud::{Markup, html};

use super::{Viewer, t};

/// The longest name of a phone, characters.
pub const LONGEST_NAME: usize = 40;

/// The page that pairs a phone. `code` is filled in where the QR code brought it; `why` is what was
/// wrong with the last try.
#[must_use]
pub fn pair(code: &str, viewer: &Viewer, why: Option<&str>) -> Markup {
    html! {
        h1 { "Pair this phone" }
        @if let Some(name) = &viewer.phone {
            p { "It is paired already, as " b { (t(name)) } ". Pairing again gives it a new name." }
        }
        @if let Some(why) = why { p.refused role="alert" { (t(why)) } }
        p {
            "Whoever stands at the board runs " code { "dekchi pair" }
            " and gets a code that is good once, for ten minutes."
        }
        form.door method="post" action="/pair" {
            label for="code" { "The code" }
            input #code name="code" value=(t(code)) autocomplete="one-time-code" required
                autocapitalize="characters" spellcheck="false" maxlength="20";
            label for="name" { "What to call this phone" }
            input #name name="name" required maxlength=(LONGEST_NAME) autocomplete="off"
                placeholder="the pass";
            button { "Pair" }
        }
    }
}

/// A page that says one thing.
#[must_use]
pub fn sentence(heading: &str, words: &str) -> Markup {
    html! {
        h1 { (t(heading)) }
        p { (t(words)) }
        p { a.back href="/" { "To the pots" } }
    }
}
