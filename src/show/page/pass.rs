//! The pass: every pot on one screen, to be read across the kitchen.

use maud::{Markup, html};

use crate::show::board::Board;

use super::{Viewer, glance, pot, say, segment, sentence, t};

/// The middle of the page with every pot; `drawn` are the numbers of the drawings of their curves.
#[must_use]
pub fn draw(board: &Board, drawn: &[u64], viewer: &Viewer) -> Markup {
    let crowd = match board.pots.len() {
        0..=2 => "pass few",
        3 => "pass three",
        _ => "pass many",
    };
    let curve = if board.pots.len() > 2 { pot::curve_in_third } else { pot::curve };
    html! {
        h1.unseen { "The pots" }
        // Only in the second before the board is first told of.
        @if board.pots.is_empty() { p.calm { "The pots come in a moment." } }
        div class=(crowd) {
            @for (n, now) in board.pots.iter().enumerate() {
                article.pot.waits[now.idle.is_some()] {
                    div.glance id=(format!("p{n}-pass")) { (glance::draw(n, now, 2)) }
                    @if now.idle.is_none() {
                        (curve(n, now, drawn.get(n).copied().unwrap_or(0), viewer))
                        p.go {
                            a href=(format!("/pot/{}", segment(&now.name))) {
                                "All about the " (t(&sentence::pot(&now.name).to_lowercase()))
                            }
                        }
                        (say::form(n, now))
                    }
                }
            }
        }
    }
}
