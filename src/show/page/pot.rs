//! One pot's page, and its parts.

use maud::{Markup, html};

use crate::show::board::PotNow;

use super::{Look, Viewer, events, glance, ledger, say, segment, sentence, t};

/// A part of a page that is told anew when it has changed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Part {
    /// Of the element whose inside it is.
    pub id: String,
    pub html: String,
    /// Whether the pass shows it too.
    pub on_the_pass: bool,
}

/// The parts of pot number `n`, but for its curve.
#[must_use]
pub fn parts(n: usize, pot: &PotNow) -> Vec<Part> {
    let part = |what: &str, html: Markup, on_the_pass| Part {
        id: format!("p{n}-{what}"),
        html: html.into_string(),
        on_the_pass,
    };
    if pot.idle.is_some() {
        return vec![
            part("glance", glance::draw(n, pot, 1), false),
            part("pass", glance::draw(n, pot, 2), true),
        ];
    }
    vec![
        part("glance", glance::draw(n, pot, 1), false),
        part("pass", glance::draw(n, pot, 2), true),
        part("alerts", events::alerts(n, pot), false),
        part("coming", ledger::coming(pot), false),
        part("ledger", ledger::draw(pot), false),
        part("events", events::draw(pot), false),
        part("in", say::planned(n, pot), false),
    ]
}

/// The id of the figure with pot number `n`'s curve.
#[must_use]
pub fn curve_id(n: usize) -> String {
    format!("p{n}-curve")
}

/// The page's title.
#[must_use]
pub fn title(pot: &PotNow) -> String {
    if pot.idle.is_some() {
        return format!("{}: {}", sentence::pot(&pot.name), glance::NO_BATCH);
    }
    let said = crate::show::words::of(&pot.story, pot.clock);
    format!("{}: {}", sentence::pot(&pot.name), said.first)
}

/// The middle of one pot's page; `drawn` is the number of the drawing of its curve.
#[must_use]
pub fn draw(n: usize, pot: &PotNow, drawn: u64, viewer: &Viewer) -> Markup {
    if pot.idle.is_some() {
        return html! {
            article.pot.waits {
                div.glance id=(format!("p{n}-glance")) { (glance::draw(n, pot, 1)) }
            }
        };
    }
    html! {
        article.pot {
            div.glance id=(format!("p{n}-glance")) { (glance::draw(n, pot, 1)) }
            (curve(n, pot, drawn, viewer))
            section.events id=(format!("p{n}-events")) { (events::draw(pot)) }
            section.alerts id=(format!("p{n}-alerts")) { (events::alerts(n, pot)) }
            section.coming id=(format!("p{n}-coming")) { (ledger::coming(pot)) }
            section.ledger id=(format!("p{n}-ledger")) { (ledger::draw(pot)) }
        }
        (say::bar(n, pot, viewer))
    }
}

/// The pot and its curve, drawn for the width and the light that the screen has.
pub fn curve(n: usize, pot: &PotNow, drawn: u64, viewer: &Viewer) -> Markup {
    in_column(n, pot, drawn, viewer, &WIDTHS)
}

/// The same for a column that is a third of the screen's width.
pub fn curve_in_third(n: usize, pot: &PotNow, drawn: u64, viewer: &Viewer) -> Markup {
    in_column(n, pot, drawn, viewer, &WIDTHS[1..])
}

fn in_column(
    n: usize,
    pot: &PotNow,
    drawn: u64,
    viewer: &Viewer,
    widths: &[(&str, &str)],
) -> Markup {
    let base = format!("/pot/{}/curve.svg", segment(&pot.name));
    html! {
        figure.curve id=(curve_id(n)) {
            (in_widths((&base, &format!("&drawn={drawn}")), &sentence::curve(pot), viewer, widths))
        }
    }
}

/// How wide the screen is for a drawing of this width; the widest first: a browser takes the first
/// that fits.
const WIDTHS: [(&str, &str); 2] =
    [("wide", "(min-width: 75rem)"), ("middle", "(min-width: 44rem)")];

/// A picture that comes in three widths and two lights.
pub fn picture(base: &str, more: &str, told: &str, viewer: &Viewer) -> Markup {
    in_widths((base, more), told, viewer, &WIDTHS)
}

fn in_widths(
    (base, more): (&str, &str),
    told: &str,
    viewer: &Viewer,
    widths: &[(&str, &str)],
) -> Markup {
    const DARK: &str = "(prefers-color-scheme: dark)";
    let of = |size: &str, look: &str| t(&format!("{base}?size={size}&look={look}{more}"));
    let asks = viewer.look == Look::Phones;
    let usual = if viewer.look == Look::Dark { "dark" } else { "light" };
    html! {
        picture {
            @for (size, wide) in widths {
                @if asks {
                    source media=(format!("{wide} and {DARK}")) srcset=(of(size, "dark"));
                }
                source media=(wide) srcset=(of(size, usual));
            }
            @if asks { source media=(DARK) srcset=(of("narrow", "dark")); }
            img src=(of("narrow", usual)) alt=(t(told));
        }
    }
}
