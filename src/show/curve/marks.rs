//! What went in and out, the lid, and the stages, on and above the curve.

use crate::show::drawing::{Anchor, Bounds, Dash, Point};
use crate::show::story::Story;
use crate::show::words::kilograms;
use crate::watch::action::What;

use super::frame::{Canvas, Frame, Set};

pub fn draw(canvas: &mut Canvas, frame: &Frame, story: &Story) {
    stages(canvas, frame, story);
    lid(canvas, frame, story);
    arrows(canvas, frame, story);
    labels(canvas, frame, story);
}

/// The lid as a bar at the height of the rim.
fn lid(canvas: &mut Canvas, frame: &Frame, story: &Story) {
    let y = frame.level.top;
    let (ink, pen) = (canvas.p.ink, canvas.pen() * 1.3);
    for (from, to) in story.lid_on.seconds() {
        let (left, right) = (frame.time.px_within(from), frame.time.px_within(to));
        canvas.drawing.line((left, y), (right.max(left + 1.0), y), ink, pen);
        let bar = Bounds { left, top: y, right, bottom: y }.grown(pen);
        canvas.placing.take(bar);
    }
}

/// What the pot was doing, named along the top.
fn stages(canvas: &mut Canvas, frame: &Frame, story: &Story) {
    let y = frame.level.top - canvas.f * 0.9;
    for (from, to, name) in story.stages() {
        let (left, right) = (frame.time.px_within(from), frame.time.px_within(to));
        let set = canvas.muted(Anchor::Start);
        let at = (left + canvas.f * 0.3, y);
        let width = crate::show::lettering::width(name, set.size, false) + canvas.f * 0.6;
        let (ink, fine) = (canvas.p.muted, canvas.fine());
        canvas.drawing.line((left, y - canvas.f * 0.8), (left, y + canvas.f * 0.4), ink, fine);
        if right - left >= width {
            canvas.write(name, at, set);
        }
    }
}

/// An arrow head into the pot, filled, or out of it, open.
pub fn arrow(canvas: &mut Canvas, tip: Point, into: bool) {
    let (half, high) = (canvas.f * 0.32, canvas.f * 0.55);
    let (x, y) = tip;
    let ink = canvas.p.ink;
    if into {
        canvas.drawing.area(vec![(x - half, y - high), (x + half, y - high), (x, y)], ink);
    } else {
        let points = vec![(x - half, y), (x, y - high), (x + half, y), (x - half, y)];
        canvas.drawing.area(points.clone(), canvas.p.ground);
        canvas.drawing.path(points, ink, canvas.fine() * 1.2, Dash::Solid);
    }
}

/// Where an arrow's lower end stands: a little over the curve there.
fn over_curve(canvas: &Canvas, frame: &Frame, story: &Story, t: f64) -> Point {
    let near = [-30.0, 0.0, 30.0, 60.0].into_iter().filter_map(|dt| story.contents.at(t + dt));
    let kg = near.fold(0.0, f64::max);
    (frame.time.px_within(t), frame.kg.px_within(kg) - canvas.f * 0.4)
}

fn arrows(canvas: &mut Canvas, frame: &Frame, story: &Story) {
    for happening in &story.happenings {
        let into = match happening.what {
            What::Added { .. } => true,
            What::Taken { .. } => false,
            _ => continue,
        };
        let tip = over_curve(canvas, frame, story, happening.at.seconds());
        arrow(canvas, tip, into);
        let (half, high) = (canvas.f * 0.32, canvas.f * 0.55);
        let (x, y) = tip;
        canvas.placing.take(Bounds { left: x - half, top: y - high, right: x + half, bottom: y });
    }
}

/// The largest additions and takings by name.
fn labels(canvas: &mut Canvas, frame: &Frame, story: &Story) {
    let most = story.contents.extent().map_or(1.0, |e| e.1);
    let mut named: Vec<(f64, f64, Vec<String>)> = Vec::new();
    for happening in &story.happenings {
        let words = match &happening.what {
            What::Added { kg, name: Some(name), .. } => {
                (*kg, vec![format!("+{} {name}", kilograms(*kg)), name.clone()])
            }
            What::Added { kg, .. } => (*kg, vec![format!("+{}", kilograms(*kg))]),
            What::Taken { kg, .. } if *kg > most * 0.02 => {
                (*kg, vec![format!("−{}", kilograms(*kg))])
            }
            _ => continue,
        };
        named.push((words.0, happening.at.seconds(), words.1));
    }
    named.sort_by(|a, b| b.0.total_cmp(&a.0));
    for (_, t, words) in named {
        let tip = over_curve(canvas, frame, story, t);
        label(canvas, frame, tip, &words);
    }
}

fn label(canvas: &mut Canvas, frame: &Frame, tip: Point, words: &[String]) {
    let f = canvas.f;
    let set = Set { ink: canvas.p.ink, ..canvas.muted(Anchor::Start) };
    let (x, y) = (tip.0, tip.1 - f * 0.55);
    let mut places = Vec::new();
    for up in 0..9 {
        let y = y - f * (0.5 + 1.15 * f64::from(up));
        places.extend([
            ((x, y), Anchor::Middle),
            ((x - f * 0.3, y), Anchor::Start),
            ((x + f * 0.3, y), Anchor::End),
        ]);
    }
    let room = Bounds { top: frame.level.top + f * 0.2, ..frame.level };
    for words in words {
        if let Some(text) = canvas.write_at_one(words, &places, set, &room) {
            if y - text.at.1 > f {
                let line = [(x, y - f * 0.15), (x, text.at.1 + f * 0.3)];
                let (ink, fine) = (canvas.p.muted, canvas.fine() * 0.8);
                canvas.drawing.line(line[0], line[1], ink, fine);
                canvas.placing.take_path(&line, 0.5);
            }
            return;
        }
    }
}
