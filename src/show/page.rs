//! The page: what a cook sees on a phone, and the pass on the wall.
//!
//! A page is made of parts with ids of their own ([`parts`]). The whole page is useful as it is,
//! without a script; where the script runs, the same parts come again by Server-Sent Events and take
//! the old ones' places. Parts are alike for everyone who looks: what only a paired phone may press
//! is a button that belongs to a form elsewhere in the page, and without that form it is not shown.
//!
//! Every text goes through [`super::escape`], here by [`t`].

pub mod door;
pub mod earlier;
mod events;
mod glance;
mod ledger;
pub mod pass;
pub mod pot;
pub mod say;
pub mod sentence;

use std::fmt::Write as _;

use maud::{DOCTYPE, Markup, PreEscaped, html};

use super::escape::escape;
use super::palette::{NIGHT, PAPER, Palette, Rgb};

pub use pot::{Part, parts};

/// The script, served as a file of its own.
pub const SCRIPT: &str = include_str!("page/alive.js");

/// The script that shows an alert while the page is closed.
pub const PUSH_SCRIPT: &str = include_str!("page/push.js");

/// The page reads itself again this often where no script runs, s.
const AGAIN_S: u32 = 30;

/// Light or dark.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Look {
    /// As the phone has it.
    #[default]
    Phones,
    Light,
    Dark,
}

impl Look {
    pub const ALL: [Self; 3] = [Self::Phones, Self::Light, Self::Dark];

    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Phones => "phone",
            Self::Light => "light",
            Self::Dark => "dark",
        }
    }

    #[must_use]
    pub fn by_name(name: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|look| look.name() == name)
    }

    const fn words(self) -> &'static str {
        match self {
            Self::Phones => "As the phone",
            Self::Light => "Light",
            Self::Dark => "Dark",
        }
    }
}

/// Who looks at the page.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Viewer {
    pub look: Look,
    /// What the phone is called, where it is paired.
    pub phone: Option<String>,
}

/// Where news of a page come from.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Live {
    pub stream: String,
    /// The last event that the page as it stands has in it.
    pub after: String,
}

/// Alerts that reach a phone while the page is closed (Web Push).
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Offer {
    /// `applicationServerKey` of the Push API.
    pub key: String,
    /// As whom a phone can be told.
    pub people: Vec<String>,
}

/// What every page has.
#[derive(Debug, Clone, Copy)]
pub struct Frame<'a> {
    pub kitchen: &'a str,
    /// The clock on the wall, "17:46".
    pub time: Option<&'a str>,
    pub viewer: &'a Viewer,
    /// Its own address, for coming back to it.
    pub path: &'a str,
    pub live: Option<&'a Live>,
    pub offer: Option<&'a Offer>,
}

/// A text, escaped.
#[must_use]
pub fn t(text: &str) -> PreEscaped<String> {
    PreEscaped(escape(text))
}

/// A whole page around its middle.
#[must_use]
pub fn whole(frame: &Frame<'_>, title: &str, middle: &Markup) -> String {
    let look = Some(frame.viewer.look.name()).filter(|name| *name != "phone");
    let live = frame.live;
    html! {
        (DOCTYPE)
        html lang="en" data-look=[look] {
            (head(title, live.is_some()))
            body.reads[frame.viewer.phone.is_none()]
                data-stream=[live.map(|live| t(&live.stream))]
                data-after=[live.map(|live| t(&live.after))] {
                (top(frame))
                p #link role="status" {}
                p #heard.unseen role="alert" {}
                main { (middle) }
                (foot(frame))
            }
        }
    }
    .into_string()
}

fn head(title: &str, live: bool) -> Markup {
    html! {
        head {
            meta charset="utf-8";
            meta name="viewport" content="width=device-width, initial-scale=1, viewport-fit=cover";
            meta name="color-scheme" content="light dark";
            title { (t(title)) }
            link rel="stylesheet" href="/look.css";
            link rel="icon" type="image/svg+xml" href="/mark.svg";
            @if live {
                script src="/alive.js" defer {}
                noscript { meta http-equiv="refresh" content=(AGAIN_S); }
            }
        }
    }
}

fn top(frame: &Frame<'_>) -> Markup {
    html! {
        header {
            a.place href="/" { (t(frame.kitchen)) }
            @if let Some(time) = frame.time {
                p.time { span #time { (t(time)) } }
            }
        }
    }
}

fn foot(frame: &Frame<'_>) -> Markup {
    html! {
        footer {
            nav aria-label="Pages" {
                a href="/" { "The pots" }
                a href="/batches" { "Earlier batches" }
            }
            form method="post" action="/look" {
                input type="hidden" name="back" value=(t(frame.path));
                span #look-of { "Look" }
                div.choices role="group" aria-labelledby="look-of" {
                    @for look in Look::ALL {
                        @let now = look == frame.viewer.look;
                        button name="look" value=(look.name()) aria-pressed=(now.to_string()) {
                            (look.words())
                        }
                    }
                }
            }
            @if frame.live.is_some() {
                p #sound hidden {
                    button type="button" { "Ring when an alert comes: " span { "off" } }
                }
                @if let Some(offer) = frame.offer.filter(|_| frame.viewer.phone.is_some()) {
                    (pocket(offer))
                }
                noscript {
                    p { "This page reads itself again every " (AGAIN_S) " s." }
                }
            }
            (who(frame.viewer))
            p.small {
                "dekchi advises; it never controls a flame. Trust your eyes and nose before the page."
            }
        }
    }
}

/// What asks to be told while the page is closed; the script shows it where the browser can.
fn pocket(offer: &Offer) -> Markup {
    html! {
        form #pocket method="post" action="/push" hidden data-key=(t(&offer.key)) {
            label for="person" { "Tell this phone of alerts while the page is closed, as" }
            select #person name="person" {
                @for person in &offer.people { option { (t(person)) } }
            }
            button { "Tell this phone" }
            p #pocket-told role="status" {}
        }
    }
}

fn who(viewer: &Viewer) -> Markup {
    html! {
        @match &viewer.phone {
            Some(name) => {
                form method="post" action="/forget" {
                    p { "This phone is paired as " b { (t(name)) } "." }
                    button { "Forget this phone" }
                }
            }
            None => {
                p { "This phone only reads. " a href="/pair" { "Pair it" } " to say something." }
            }
        }
    }
}

/// The style sheet: the colours of the drawings, and the rest as it stands in its file.
#[must_use]
pub fn style() -> String {
    let (paper, night) = (colours(&PAPER), colours(&NIGHT));
    format!(
        ":root{{color-scheme:light;{paper}}}\n\
         @media (prefers-color-scheme:dark){{:root:not([data-look]){{color-scheme:dark;{night}}}}}\n\
         :root[data-look=dark]{{color-scheme:dark;{night}}}\n{}",
        include_str!("page/look.css")
    )
}

fn colours(palette: &Palette) -> String {
    let Palette { ground, ink, muted, hair, water, hand, gravy } = *palette;
    let tint = hand.over(ground, 0.09);
    let named = [
        ("ground", ground),
        ("ink", ink),
        ("muted", muted),
        ("hair", hair),
        ("water", water),
        ("hand", hand),
        ("gravy", gravy),
        ("tint", tint),
    ];
    named.iter().fold(String::new(), |mut css, (name, Rgb(r, g, b))| {
        // Writing to a string does not fail.
        let _ = write!(css, "--{name}:#{r:02x}{g:02x}{b:02x};");
        css
    })
}

/// The mark in the browser's tab: a pot, its level and the target.
#[must_use]
pub fn mark() -> String {
    let hex = |Rgb(r, g, b): Rgb| format!("#{r:02x}{g:02x}{b:02x}");
    let (ground, ink) = (hex(PAPER.ground), hex(PAPER.ink));
    let (water, gravy) = (hex(PAPER.water), hex(PAPER.gravy));
    format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 32 32\">\
         <rect width=\"32\" height=\"32\" rx=\"5\" fill=\"{ground}\"/>\
         <path d=\"M6 14h20v11q0 3-3 3H9q-3 0-3-3z\" fill=\"{gravy}\"/>\
         <path d=\"M6 14h20\" stroke=\"{water}\" stroke-width=\"3\"/>\
         <path d=\"M6 5v20q0 3 3 3h14q3 0 3-3V5\" fill=\"none\" stroke=\"{ink}\" stroke-width=\"2.5\"/>\
         </svg>"
    )
}

/// A name as one segment of an address (RFC 3986, section 3.3): what is not unreserved is encoded.
#[must_use]
pub fn segment(name: &str) -> String {
    name.bytes().fold(String::new(), |mut path, byte| {
        match byte {
            b'A'..=b'Z' | b'a'..=b'z' | b'0'..=b'9' | b'-' | b'_' | b'~' => path.push(byte as char),
            // A lone dot or two would be a step in the path.
            byte => {
                let _ = write!(path, "%{byte:02X}");
            }
        }
        path
    })
}

#[cfg(test)]
pub mod tests;
