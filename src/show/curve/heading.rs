//! The words above the drawing: whose pot, the sentence, its doubt, and the one thing that needs a
//! hand.

use crate::show::canvas::{Canvas, Set};
use crate::show::drawing::{Anchor, Bounds, Dash};
use crate::show::lettering;
use crate::show::story::Story;
use crate::show::words::{Loud, Words};

/// Draws the heading; how far down it reaches, px.
pub fn draw(canvas: &mut Canvas, story: &Story, said: &Words) -> f64 {
    let f = canvas.f;
    let width = f64::from(canvas.drawing.width);
    let narrow = width < 600.0;
    let (left, room) = (f * 1.3, width - f * 2.6);
    let words_room = if narrow || said.loud.is_none() { room } else { room * 0.56 };
    let mut y = f * 2.0;
    let pot = &story.pot.name;
    let which = if pot.contains("pot") { pot.clone() } else { format!("{pot} pot") };
    let who = format!("{which}, {}", story.batch);
    line(canvas, &who, (left, y), canvas.muted(Anchor::Start), words_room);
    y += f * 2.3;
    let first = Set { size: f * 2.1, bold: true, ..canvas.plain(Anchor::Start) };
    let first = Set { size: shrunk(&said.first, first.size, words_room), ..first };
    line(canvas, &said.first, (left, y), first, words_room);
    y += f * 1.6;
    if let Some(doubt) = &said.doubt {
        let set = Set { size: shrunk(doubt, f, words_room), ..canvas.muted(Anchor::Start) };
        line(canvas, doubt, (left, y), set, words_room);
    }
    y += f * 0.4;
    let Some(loud) = &said.loud else { return y };
    if narrow {
        let bounds = Bounds { left, top: y + f * 0.3, right: left + room, bottom: y + f * 3.6 };
        hand(canvas, loud, bounds);
        return bounds.bottom + f * 0.5;
    }
    let right = left + room;
    let bounds = Bounds { left: right - room * 0.4, top: f * 1.2, right, bottom: f * 5.0 };
    hand(canvas, loud, bounds);
    y
}

fn line(canvas: &mut Canvas, words: &str, at: (f64, f64), set: Set, room: f64) {
    let words = lettering::fit(words, set.size, set.bold, room);
    canvas.write(&words, at, set);
}

/// A size at which the words fit, not under seven tenths of `size`.
fn shrunk(words: &str, size: f64, room: f64) -> f64 {
    let wide = lettering::width(words, size, true);
    size * (room / wide.max(1.0)).clamp(0.7, 1.0)
}

/// What needs a hand, in a frame of its own.
fn hand(canvas: &mut Canvas, loud: &Loud, bounds: Bounds) {
    let f = canvas.f;
    let Bounds { left, top, right, bottom } = bounds;
    let corners =
        vec![(left, top), (right, top), (right, bottom), (left, bottom), (left, top), (right, top)];
    let (ink, pen) = (canvas.p.hand, canvas.pen());
    canvas.drawing.path(corners, ink, pen, Dash::Solid);
    let bar = Bounds { right: left + f * 0.5, ..bounds };
    canvas.drawing.rect(bar, ink);
    let room = bounds.width() - f * 1.8;
    let middle = f64::midpoint(top, bottom);
    let what = Set { size: f * 1.25, bold: true, ..canvas.plain(Anchor::Start) };
    let what = Set { size: shrunk(&loud.what, what.size, room), ..what };
    let lift = if loud.why.is_empty() { f * 0.45 } else { -f * 0.15 };
    line(canvas, &loud.what, (left + f * 1.1, middle + lift), what, room);
    let why = Set { size: f * 0.86, ..canvas.muted(Anchor::Start) };
    line(canvas, &loud.why, (left + f * 1.1, middle + f * 1.15), why, room);
}
