//! The pot in section: walls, base and rim, the gravy up to its level, and a dip scale on the wall.

use crate::show::canvas::Canvas;
use crate::show::drawing::{Anchor, Bounds, Dash, Point};
use crate::show::scale::{Scale, decimals};
use crate::show::story::Story;
use crate::watch::action::{Alarm, Lid, Snapshot};

use super::frame::Frame;

pub fn draw(canvas: &mut Canvas, frame: &Frame, story: &Story) {
    let now = story.now.as_ref();
    gravy(canvas, frame, now.and_then(|now| now.contents_kg));
    film(canvas, frame, now);
    dip_scale(canvas, frame);
    walls(canvas, frame);
    if frame.cut {
        break_lines(canvas, frame);
    }
    if now.and_then(|now| now.lid) == Some(Lid::On) {
        lid(canvas, frame);
    }
}

/// Radius of the corner between wall and base.
fn corner(canvas: &Canvas) -> f64 {
    canvas.f * 0.7
}

/// The inside of the pot below `top`, clockwise from the upper left.
fn inside(pot: &Bounds, top: f64, r: f64) -> Vec<Point> {
    let mut points = vec![(pot.left, top), (pot.right, top)];
    points.extend(arc().map(|(x, y)| (pot.right - r + x * r, pot.bottom - r + y * r)));
    points.extend(arc().map(|(x, y)| (pot.left + r - y * r, pot.bottom - r + x * r)));
    points
}

/// A quarter of the unit circle from (1, 0) to (0, 1), without the machine's sine.
fn arc() -> impl Iterator<Item = Point> {
    (0..=6).map(|n| f64::from(n) / 6.0).map(|t| {
        let whole = 1.0 + t * t;
        ((1.0 - t * t) / whole, 2.0 * t / whole)
    })
}

fn gravy(canvas: &mut Canvas, frame: &Frame, contents_kg: Option<f64>) {
    let Some(kg) = contents_kg.filter(|kg| *kg > 0.0) else { return };
    let r = corner(canvas);
    let top = frame.kg.px_within(kg).min(frame.pot.bottom - r);
    let (fill, ink, pen) = (canvas.p.gravy, canvas.p.water, canvas.pen());
    canvas.drawing.area(inside(&frame.pot, top, r), fill);
    canvas.drawing.line((frame.pot.left, top), (frame.pot.right, top), ink, pen);
}

/// What the bottom is doing, as a film on it: the thicker the likelier it has caught.
fn film(canvas: &mut Canvas, frame: &Frame, now: Option<&Snapshot>) {
    let Some(now) = now else { return };
    let Some(index) = now.catch_index.filter(|index| *index > 0.02) else { return };
    let due = [Alarm::StirDue, Alarm::Catching].iter().any(|alarm| now.raised.contains(alarm));
    let fill = if due { canvas.p.hand } else { canvas.p.muted.over(canvas.p.gravy, 0.55) };
    let r = corner(canvas);
    let thick = canvas.f * 0.8 * index.clamp(0.0, 1.5);
    let bounds = Bounds {
        left: frame.pot.left + r,
        top: frame.pot.bottom - thick,
        right: frame.pot.right - r,
        bottom: frame.pot.bottom,
    };
    canvas.drawing.rect(bounds, fill);
}

fn walls(canvas: &mut Canvas, frame: &Frame) {
    let (ink, pen) = (canvas.p.ink, canvas.pen() * 1.15);
    let (r, off) = (corner(canvas), pen / 2.0);
    let outer = Bounds {
        left: frame.pot.left - off,
        top: frame.pot.top,
        right: frame.pot.right + off,
        bottom: frame.pot.bottom + off,
    };
    let mut section = inside(&outer, outer.top, r + off);
    section.rotate_left(1);
    canvas.drawing.path(section, ink, pen, Dash::Solid);
    let lip = canvas.f * 0.55;
    for (x, out) in [(outer.left, -lip), (outer.right, lip)] {
        if frame.rim {
            canvas.drawing.line((x, outer.top), (x + out, outer.top - lip * 0.25), ink, pen);
            handle(canvas, frame, (x, out));
        } else {
            open_end(canvas, (x, outer.top), pen);
        }
    }
}

/// The wall goes on, how far is not known.
fn open_end(canvas: &mut Canvas, (x, top): Point, pen: f64) {
    let (step, ink) = (canvas.f * 0.32, canvas.p.ink);
    for n in 0..3 {
        let y = top - step * (f64::from(n) + 0.45);
        canvas.drawing.line((x, y), (x, y - step * 0.5), ink, pen);
    }
}

/// A loop on the wall, a tenth of the way down.
fn handle(canvas: &mut Canvas, frame: &Frame, (x, out): (f64, f64)) {
    let high = frame.pot.height();
    let (top, bottom) = (frame.pot.top + high * 0.09, frame.pot.top + high * 0.16);
    let points = vec![(x, top), (x + out, top), (x + out, bottom), (x, bottom)];
    let (ink, pen) = (canvas.p.ink, canvas.fine() * 1.6);
    canvas.drawing.path(points, ink, pen, Dash::Solid);
}

/// Two wavy lines where the middle of the pot is left out.
fn break_lines(canvas: &mut Canvas, frame: &Frame) {
    let middle = f64::midpoint(frame.pot.left, frame.pot.right);
    let gap = canvas.f * 0.42;
    let (top, bottom) = (frame.pot.top - canvas.f * 0.2, frame.pot.bottom + canvas.f * 0.55);
    let wave = |dx: f64| -> Vec<Point> {
        (0..=24)
            .map(|n| {
                let share = f64::from(n) / 24.0;
                // Near enough a sine: a cubic with its zeros and its height.
                let bend = 10.39 * share * (1.0 - share) * (1.0 - 2.0 * share) * canvas.f * 0.3;
                (middle + dx + bend, top + (bottom - top) * share)
            })
            .collect()
    };
    let (left, right) = (wave(-gap), wave(gap));
    let mut between = left.clone();
    between.extend(right.iter().rev());
    canvas.drawing.area(between, canvas.p.ground);
    let (ink, fine) = (canvas.p.muted, canvas.fine());
    canvas.drawing.path(left, ink, fine, Dash::Solid);
    canvas.drawing.path(right, ink, fine, Dash::Solid);
}

/// Depth in cm on the inside of the left wall, as on a dip stick.
fn dip_scale(canvas: &mut Canvas, frame: &Frame) {
    let depth_cm = frame.pot.height() / frame.px_per_m * 100.0;
    let scale = Scale::new((0.0, depth_cm), 0.1, (frame.pot.bottom, frame.pot.top));
    let (ink, fine) = (canvas.p.muted, canvas.fine());
    let set = canvas.muted(Anchor::Start);
    let x = frame.pot.left;
    let mut last = None;
    let ticks = scale.ticks(canvas.f * 2.0);
    let decimals = decimals(&ticks);
    for cm in ticks {
        if cm < depth_cm * 0.01 || cm > depth_cm * 0.97 {
            continue;
        }
        let y = scale.px(cm);
        canvas.drawing.line((x, y), (x + canvas.f * 0.5, y), ink, fine);
        let words = format!("{cm:.decimals$}");
        let at = (x + canvas.f * 0.7, y + canvas.f * 0.3);
        canvas.write(&words, at, set);
        last = Some((at, words));
    }
    if let Some((at, words)) = last {
        let after = crate::show::lettering::width(&words, set.size, false) + canvas.f * 0.3;
        canvas.write("cm", (at.0 + after, at.1), set);
    }
}

fn lid(canvas: &mut Canvas, frame: &Frame) {
    let (ink, pen) = (canvas.p.ink, canvas.pen());
    let over = canvas.f * 0.5;
    let y = frame.pot.top - canvas.f * 0.3;
    let (left, right) = (frame.pot.left - over, frame.pot.right + over);
    let middle = f64::midpoint(left, right);
    let knob = canvas.f * 0.5;
    let dome = vec![
        (left, y),
        (left + over * 1.5, y - knob * 0.6),
        (right - over * 1.5, y - knob * 0.6),
        (right, y),
    ];
    canvas.drawing.path(dome, ink, pen, Dash::Solid);
    canvas.drawing.dot((middle, y - knob * 1.1), knob * 0.55, ink);
}
