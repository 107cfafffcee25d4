//! The words above the drawing: whose pot, the sentence, its doubt, and the one thing that needs a
//! hand.

use crate::show::canvas::{Canvas, Set};
use crate::show::drawing::{Anchor, Bounds, Dash};
use crate::show::lettering;
use crate::show::story::Story;
use crate::show::words::{self, Loud, Words};

/// Draws the heading; how far down it reaches, px.
pub fn draw(canvas: &mut Canvas, story: &Story, said: &Words) -> f64 {
    let f = canvas.f;
    let width = f64::from(canvas.drawing.width);
    let narrow = width < 600.0;
    let (left, room) = (f * 1.3, width - f * 2.6);
    let words_room = if narrow || said.loud.is_none() { room } else { room * 0.56 };
    let mut y = f * 2.0;
    let who = format!("{}, {}", words::pot(&story.pot.name), story.batch);
    line(canvas, &who, (left, y), canvas.muted(Anchor::Start), words_room);
    y = sentence(canvas, &said.first, (left, y), words_room) + f * 1.6;
    if let Some(doubt) = &said.doubt {
        let set = Set { size: shrunk(doubt, f, words_room), ..canvas.muted(Anchor::Start) };
        line(canvas, doubt, (left, y), set, words_room);
    }
    y += f * 0.4;
    let Some(loud) = &said.loud else { return y };
    if narrow {
        let top = y + f * 0.3;
        return hand(canvas, loud, (left, top, room)) + f * 0.5;
    }
    let wide = room * 0.4;
    y.max(hand(canvas, loud, (left + room - wide, f * 1.2, wide)))
}

/// The first sentence below `at`, on two lines where one would have to be small; its last baseline.
fn sentence(canvas: &mut Canvas, words: &str, at: (f64, f64), room: f64) -> f64 {
    let f = canvas.f;
    let wide = lettering::width(words, f * 2.1, true);
    let (size, lines) = if wide * 0.7 > room { (f * 1.5, 2) } else { (f * 2.1, 1) };
    let set = Set { size, bold: true, ..canvas.plain(Anchor::Start) };
    let set = if lines == 1 { Set { size: shrunk(words, size, room), ..set } } else { set };
    let mut y = at.1 + f * if lines == 1 { 2.3 } else { 1.8 };
    let written = lettering::wrapped(words, set.size, true, room, lines);
    for (n, words) in written.iter().enumerate() {
        y += if n > 0 { size * 1.15 } else { 0.0 };
        canvas.write(words, (at.0, y), set);
    }
    y
}

fn line(canvas: &mut Canvas, words: &str, at: (f64, f64), set: Set, room: f64) {
    let words = lettering::fit(words, set.size, set.bold, room);
    canvas.write(&words, at, set);
}

/// A size at which the words fit, not under six tenths of `size`.
fn shrunk(words: &str, size: f64, room: f64) -> f64 {
    let wide = lettering::width(words, size, true);
    size * (room * 0.99 / wide.max(1.0)).clamp(0.6, 1.0)
}

/// What needs a hand, in a frame of its own from `left`, `top` and `wide`; where it ends.
fn hand(canvas: &mut Canvas, loud: &Loud, (left, top, wide): (f64, f64, f64)) -> f64 {
    let f = canvas.f;
    let room = wide - f * 1.8;
    let small = f * 0.86;
    let why = lettering::wrapped(&loud.why, small, false, room, 4);
    let bottom = top + f * (2.3 + 1.15 * why.len() as f64);
    let right = left + wide;
    let corners =
        vec![(left, top), (right, top), (right, bottom), (left, bottom), (left, top), (right, top)];
    let (ink, pen) = (canvas.p.hand, canvas.pen());
    canvas.drawing.path(corners, ink, pen, Dash::Solid);
    canvas.drawing.rect(Bounds { left, top, right: left + f * 0.5, bottom }, ink);
    let what = Set { size: f * 1.25, bold: true, ..canvas.plain(Anchor::Start) };
    let what = Set { size: shrunk(&loud.what, what.size, room), ..what };
    line(canvas, &loud.what, (left + f * 1.1, top + f * 1.55), what, room);
    let set = canvas.muted(Anchor::Start);
    for (n, words) in why.iter().enumerate() {
        canvas.write(words, (left + f * 1.1, top + f * (2.8 + 1.15 * n as f64)), set);
    }
    bottom
}
