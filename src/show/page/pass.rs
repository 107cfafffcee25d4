//! The pass: every pot on one screen, to be read across the kitchen.

use maud::{Markup, html};

use crate::show::board::Board;

use super::{Viewer, glance, pot, say, segment, sentence, t};

/// The middle of the page with every pot; `drawn` are the numbers of the drawings of their curves.
#[must_use]
pub fn draw(board: &Board, drawn: &[u64], viewer: &Viewer) -> Markup {
    let few = board.pots.len() <= 2;
    html! {
        h1.unseen { "The pots" }
        @if board.pots.is_empty() { p.calm { "No pot is being watched. Name the pots in the kitchen file and start dekchi again." } }
        div.pass.few[few].many[!few] {
            @for (n, now) in board.pots.iter().enumerate() {
                article.pot.waits[now.idle.is_some()] {
                    div.glance id=(format!("p{n}-pass")) { (glance::draw(n, now, 2)) }
                    @if now.idle.is_none() {
                        (pot::curve(n, now, drawn.get(n).copied().unwrap_or(0), viewer))
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
