//! The strip of the bottom: risk hanging from a line, the deeper the likelier the bottom has caught.

use super::canvas::Canvas;
use super::drawing::{Bounds, Dash, Point};
use super::palette::Rgb;
use super::scale::Scale;
use super::story::Story;

/// The catch index at the lower edge of the strip.
pub const DEEPEST: f64 = 1.25;

/// Draws the risk over `time`; where a stir was due it is hatched in the colour that asks for a
/// hand.
pub fn draw(canvas: &mut Canvas, time: &Scale, depth: &Scale, story: &Story) {
    let runs = story.catch.runs();
    let calm = canvas.p.muted.over(canvas.p.ground, 0.5);
    for run in &runs {
        hang(canvas, time, depth, run, calm);
    }
    for (from, to) in story.stir_due.seconds() {
        for run in &runs {
            let part = cut(run, from, to);
            hang(canvas, time, depth, &part, canvas.p.hand);
            hatch(canvas, time, depth, &part);
        }
    }
}

/// The part of a run between two times, its ends put where the cut falls.
fn cut(run: &[(f64, f64)], from: f64, to: f64) -> Vec<(f64, f64)> {
    run.iter().copied().filter(|(t, _)| (from..=to).contains(t)).collect()
}

fn hang(canvas: &mut Canvas, time: &Scale, depth: &Scale, run: &[(f64, f64)], fill: Rgb) {
    let (Some(first), Some(last)) = (run.first(), run.last()) else { return };
    let top = depth.px(0.0);
    let mut points = vec![(time.px_within(first.0), top)];
    points.extend(run.iter().map(|(t, v)| (time.px_within(*t), depth.px_within(*v))));
    points.push((time.px_within(last.0), top));
    canvas.drawing.area(points, fill);
}

/// A piece of what is drawn where a stir was due, for a key.
pub fn due(canvas: &mut Canvas, place: Bounds) {
    canvas.drawing.rect(place, canvas.p.hand);
    let apart = canvas.f * 0.32;
    let strokes = ((place.right - place.left) / apart).floor() as usize;
    for x in (1..=strokes).map(|n| place.left + apart * n as f64 - apart / 2.0) {
        let line = vec![(x, place.top), (x, place.bottom)];
        canvas.drawing.path(line, canvas.p.ink, canvas.fine() * 0.8, Dash::Solid);
    }
}

/// Ink strokes over what needs a hand, so that it differs without colour.
fn hatch(canvas: &mut Canvas, time: &Scale, depth: &Scale, run: &[(f64, f64)]) {
    let (Some(first), Some(last)) = (run.first(), run.last()) else { return };
    let apart = canvas.f * 0.32;
    let (from, to) = (time.px_within(first.0), time.px_within(last.0));
    let mut x = (from / apart).ceil() * apart;
    while x < to {
        let share = run.iter().rev().find(|(t, _)| time.px_within(*t) <= x);
        let value = share.map_or(0.0, |p| p.1);
        let line: Vec<Point> = vec![(x, depth.px(0.0)), (x, depth.px_within(value))];
        canvas.drawing.path(line, canvas.p.ink, canvas.fine() * 0.8, Dash::Solid);
        x += apart;
    }
}
