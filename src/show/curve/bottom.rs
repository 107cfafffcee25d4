//! The strip of the bottom: how much risk has gathered since each stir, hanging from the base's
//! line, and each stir as a stroke across it.

use crate::show::drawing::{Anchor, Dash, Point};
use crate::show::palette::Rgb;
use crate::show::scale::Scale;
use crate::show::story::Story;
use crate::watch::action::What;

use super::frame::{Canvas, Frame};

/// The index at the lower edge of the strip.
const DEEPEST: f64 = 1.25;

pub fn draw(canvas: &mut Canvas, frame: &Frame, story: &Story) {
    let strip = frame.strip;
    let depth = Scale::new((0.0, DEEPEST), 1.0, (strip.top + canvas.pen(), strip.bottom));
    let runs = story.catch.runs();
    let calm = canvas.p.muted.over(canvas.p.ground, 0.5);
    for run in &runs {
        hang(canvas, frame, &depth, run, calm);
    }
    let due: Vec<_> = story.stir_due.seconds().collect();
    for (from, to) in due {
        for run in &runs {
            let part = cut(run, from, to);
            hang(canvas, frame, &depth, &part, canvas.p.hand);
            hatch(canvas, frame, &depth, &part);
        }
    }
    stirs(canvas, frame, story);
    if !runs.is_empty() {
        words(canvas, frame, &depth);
    }
}

/// The part of a run between two times, its ends put where the cut falls.
fn cut(run: &[(f64, f64)], from: f64, to: f64) -> Vec<(f64, f64)> {
    run.iter().copied().filter(|(t, _)| (from..=to).contains(t)).collect()
}

fn hang(canvas: &mut Canvas, frame: &Frame, depth: &Scale, run: &[(f64, f64)], fill: Rgb) {
    let (Some(first), Some(last)) = (run.first(), run.last()) else { return };
    let top = depth.px(0.0);
    let mut points = vec![(frame.time.px_within(first.0), top)];
    points.extend(run.iter().map(|(t, v)| (frame.time.px_within(*t), depth.px_within(*v))));
    points.push((frame.time.px_within(last.0), top));
    canvas.drawing.area(points, fill);
}

/// Ink strokes over what needs a hand, so that it differs without colour.
fn hatch(canvas: &mut Canvas, frame: &Frame, depth: &Scale, run: &[(f64, f64)]) {
    let (Some(first), Some(last)) = (run.first(), run.last()) else { return };
    let apart = canvas.f * 0.32;
    let (from, to) = (frame.time.px_within(first.0), frame.time.px_within(last.0));
    let mut x = (from / apart).ceil() * apart;
    while x < to {
        let share = run.iter().rev().find(|(t, _)| frame.time.px_within(*t) <= x);
        let value = share.map_or(0.0, |p| p.1);
        let line: Vec<Point> = vec![(x, depth.px(0.0)), (x, depth.px_within(value))];
        canvas.drawing.path(line, canvas.p.ink, canvas.fine() * 0.8, Dash::Solid);
        x += apart;
    }
}

fn stirs(canvas: &mut Canvas, frame: &Frame, story: &Story) {
    let (ink, fine) = (canvas.p.ink, canvas.fine() * 1.3);
    let (top, bottom) = (frame.level.bottom - canvas.f * 0.5, frame.level.bottom + canvas.f * 0.25);
    for happening in &story.happenings {
        if let What::Stirred { .. } | What::Blended { .. } = happening.what {
            let x = frame.time.px_within(happening.at.seconds());
            canvas.drawing.line((x, top), (x, bottom), ink, fine);
        }
    }
}

fn words(canvas: &mut Canvas, frame: &Frame, depth: &Scale) {
    let set = canvas.muted(Anchor::Start);
    let y = depth.px(1.0);
    let points = vec![(frame.strip.left, y), (frame.strip.right, y)];
    canvas.dashed(points, canvas.p.muted, canvas.fine(), Dash::Dotted);
    let below = frame.strip.bottom + canvas.f * 1.05;
    canvas.write("bottom: risk since the last stir", (frame.strip.left, below), set);
    let right = (frame.strip.right, below);
    let places = [(right, Anchor::End)];
    let room = frame.paper;
    canvas.write_at_one("dotted: as likely caught as not", &places, set, &room);
}
