//! The contents over time: the scale on the pot's wall, the past, the target and the fan ahead.

use crate::batch::plan::Target;
use crate::moment::Moment;
use crate::show::canvas::{Canvas, Set};
use crate::show::clock::{Clock, length};
use crate::show::drawing::{Anchor, Bounds, Dash, Point};
use crate::show::scale::decimals;
use crate::show::story::Story;
use crate::show::words::kilograms;
use crate::watch::action::Spread;

use super::frame::Frame;

/// The lines: what lies under the words.
pub fn lines(canvas: &mut Canvas, frame: &Frame, story: &Story) {
    under(canvas, frame, story);
    let now = story.now.as_ref();
    let target_kg = now.and_then(|now| now.target_kg);
    let contents_kg = now.and_then(|now| now.contents_kg);
    wall_scale(canvas, frame, [target_kg, contents_kg]);
    if let Some(kg) = contents_kg {
        level_line(canvas, frame, kg);
    }
    target_lines(canvas, frame, story);
    let spread = now.and_then(|now| now.target_in_s);
    if let (Some(kg), Some(target), Some(spread)) = (contents_kg, target_kg, spread) {
        fan(canvas, frame, (kg, target), spread);
    }
    past(canvas, frame, story);
    if let (Some(target), Some(spread)) = (target_kg, spread) {
        meeting_bar(canvas, frame, target, spread);
    }
    if let Some(kg) = contents_kg {
        now_dot(canvas, frame, kg);
    }
}

/// The words at the newest point, at the meeting with the target, and on the target's line.
pub fn words(canvas: &mut Canvas, frame: &Frame, story: &Story, clock: Option<Clock>) {
    let Some(now) = &story.now else { return };
    match now.contents_kg {
        Some(kg) => now_words(canvas, frame, kg),
        None => unknown(canvas, frame),
    }
    if let (Some(target), Some(spread)) = (now.target_kg, now.target_in_s) {
        meeting_words(canvas, frame, target, spread, clock);
    }
    if let Some(line) = target(story) {
        target_words(canvas, frame, &line, story.target);
    }
}

/// The gravy that was in the pot, paler than what is in it now.
fn under(canvas: &mut Canvas, frame: &Frame, story: &Story) {
    let fill = canvas.p.gravy.over(canvas.p.ground, 0.38);
    for run in story.contents.runs() {
        let (Some(first), Some(last)) = (run.first(), run.last()) else { continue };
        let floor = frame.level.bottom;
        let mut points = vec![(frame.time.px_within(first.0), floor)];
        points
            .extend(run.iter().map(|(t, kg)| (frame.time.px_within(*t), frame.kg.px_within(*kg))));
        points.push((frame.time.px_within(last.0), floor));
        canvas.drawing.area(points, fill);
    }
}

fn unknown(canvas: &mut Canvas, frame: &Frame) {
    let set = canvas.plain(Anchor::Middle);
    let middle = f64::midpoint(frame.level.left, frame.level.right);
    let y = f64::midpoint(frame.level.top, frame.level.bottom);
    let places = [0.0, -2.0, 2.0, 4.0, -4.0].map(|d| ((middle, y + d * canvas.f), Anchor::Middle));
    canvas.write_at_one("contents not known now", &places, set, &frame.level);
}

/// Kilograms on the outside of the pot's right wall.
fn wall_scale(canvas: &mut Canvas, frame: &Frame, lines_kg: [Option<f64>; 2]) {
    let set = canvas.muted(Anchor::Start);
    let (ink, fine) = (canvas.p.muted, canvas.fine());
    let x = frame.pot.right + canvas.pen() * 1.15;
    let ticks = frame.kg.ticks(canvas.f * 2.6);
    let decimals = decimals(&ticks);
    let shown = |kg: f64| frame.kg.px(kg) >= frame.level.top + canvas.f * 0.3;
    let top = ticks.iter().copied().rfind(|kg| shown(*kg));
    for kg in ticks {
        let y = frame.kg.px(kg);
        if kg == 0.0 || y < frame.level.top + canvas.f * 0.3 {
            continue;
        }
        canvas.drawing.line((x, y), (x + canvas.f * 0.35, y), ink, fine);
        let unit = if Some(kg) == top { " kg" } else { "" };
        let crossed = |line: f64| (frame.kg.px_within(line) - y).abs() < canvas.f * 0.55;
        if lines_kg.into_iter().flatten().any(crossed) {
            continue;
        }
        let words = format!("{kg:.decimals$}{unit}");
        canvas.write(&words, (x + canvas.f * 0.75, y + canvas.f * 0.3), set);
    }
    let (hair, fine) = (canvas.p.muted, canvas.fine());
    let y = frame.level.bottom + canvas.pen() * 0.6;
    canvas.drawing.line((x, y), (frame.level.right, y), hair, fine);
}

/// From the gravy in the pot to the newest point.
fn level_line(canvas: &mut Canvas, frame: &Frame, kg: f64) {
    let y = frame.kg.px_within(kg);
    let ink = canvas.p.water.over(canvas.p.ground, 0.45);
    let (from, to) = ((frame.pot.right, y), (frame.time.px(frame.now_s), y));
    canvas.drawing.line(from, to, ink, canvas.fine());
    canvas.placing.take_path(&[(frame.level.left, y), to], 1.0);
}

/// The target as it stood at each time until it was reached; where it is still ahead, on to the edge.
/// Across the pot it is the target of what is in it now.
fn target_lines(canvas: &mut Canvas, frame: &Frame, story: &Story) {
    let x = |s: f64| frame.time.px_within(s);
    let y = |kg: f64| frame.kg.px_within(kg);
    let runs = story.aim.runs();
    let mut paths: Vec<Vec<Point>> = runs.iter().map(|run| steps(run, x, y)).collect();
    if let Some(kg) = story.now.as_ref().and_then(|now| now.target_kg) {
        paths.push(vec![(frame.pot.left, y(kg)), (frame.pot.right, y(kg))]);
        if is_ahead(story) {
            paths.push(vec![(x(frame.now_s), y(kg)), (frame.level.right, y(kg))]);
        }
    }
    let (ink, width) = (canvas.p.ink, canvas.fine() * 1.4);
    for path in paths {
        canvas.placing.take_path(&path, 1.0);
        canvas.drawing.path(path, ink, width, Dash::Dotted);
    }
}

/// A target changes at once, with what goes in or out: only its corners are kept.
fn steps(run: &[(f64, f64)], x: impl Fn(f64) -> f64, y: impl Fn(f64) -> f64) -> Vec<Point> {
    let mut path: Vec<Point> = Vec::new();
    for (t, kg) in run {
        let at = (x(*t), y(*kg));
        match path.as_mut_slice() {
            [.., before, last] if before.1 == at.1 && last.1 == at.1 => *last = at,
            [.., last] if last.1 != at.1 => {
                let corner = (at.0, last.1);
                path.extend([corner, at]);
            }
            _ => path.push(at),
        }
    }
    path
}

/// Whether the target is still to be reached, or to be reached again.
fn is_ahead(story: &Story) -> bool {
    let again = story.now.as_ref().and_then(|now| now.target_in_s).is_some_and(|s| s.p50 > 0.0);
    story.reached.is_none() || again
}

/// A level of the target and from when to when it held, s.
struct Held {
    kg: f64,
    from_s: f64,
    to_s: f64,
}

/// The level that is named: the one that is ahead, else the one that was reached.
fn target(story: &Story) -> Option<Held> {
    const SAME: f64 = 0.005;
    let ahead = story.now.as_ref().filter(|_| is_ahead(story));
    let now = ahead.and_then(|now| Some((now.at.seconds(), now.target_kg?)));
    let (to_s, kg) = now.or_else(|| story.aim.last())?;
    let runs = story.aim.runs();
    let back = runs.iter().flatten().rev().take_while(|p| (p.1 - kg).abs() < SAME * kg);
    let from_s = back.last().map_or(to_s, |(t, _)| *t);
    Some(Held { kg, from_s, to_s: if ahead.is_some() { f64::INFINITY } else { to_s } })
}

fn past(canvas: &mut Canvas, frame: &Frame, story: &Story) {
    let (ink, pen) = (canvas.p.water, canvas.pen());
    for run in story.contents.runs() {
        let points: Vec<Point> =
            run.iter().map(|(t, kg)| (frame.time.px_within(*t), frame.kg.px_within(*kg))).collect();
        canvas.placing.take_path(&points, pen);
        match points.as_slice() {
            [only] => canvas.drawing.dot(*only, pen, ink),
            _ => canvas.drawing.path(points, ink, pen, Dash::Solid),
        }
    }
}

/// The likely future: a wedge from now to the 80 % interval, and its middle.
fn fan(canvas: &mut Canvas, frame: &Frame, (kg, target): (f64, f64), spread: Spread) {
    if spread.p50 <= 0.0 {
        return;
    }
    let from = (frame.time.px(frame.now_s), frame.kg.px_within(kg));
    let meets = |s: f64| ahead(frame, from, (frame.now_s + s, target));
    let (early, likely, late) = (meets(spread.p10), meets(spread.p50), meets(spread.p90));
    let mut wedge = vec![from, early];
    if early.1 > late.1 {
        // The later edge leaves the paper before it meets the target.
        wedge.push((frame.level.right, early.1));
    }
    wedge.push(late);
    let fill = canvas.p.water.over(canvas.p.ground, 0.18);
    canvas.drawing.area(wedge, fill);
    canvas.placing.take_path(&[from, early], 2.0);
    canvas.placing.take_path(&[from, late], 2.0);
    let (ink, pen) = (canvas.p.water, canvas.pen() * 0.85);
    canvas.drawing.path(vec![from, likely], ink, pen, Dash::Dashed);
}

/// Where a straight line from `from` to a time and level leaves the drawing or ends.
fn ahead(frame: &Frame, from: Point, (t, kg): (f64, f64)) -> Point {
    let to = (frame.time.px(t), frame.kg.px_within(kg));
    let right = frame.level.right;
    if to.0 <= right {
        return to;
    }
    let share = ((right - from.0) / (to.0 - from.0)).clamp(0.0, 1.0);
    (right, from.1 + (to.1 - from.1) * share)
}

fn now_dot(canvas: &mut Canvas, frame: &Frame, kg: f64) {
    let (x, y) = (frame.time.px(frame.now_s), frame.kg.px_within(kg));
    let r = canvas.pen() * 1.7;
    canvas.drawing.dot((x, y), r, canvas.p.water);
    canvas.placing.take(Bounds { left: x, top: y, right: x, bottom: y }.grown(r));
}

fn now_words(canvas: &mut Canvas, frame: &Frame, kg: f64) {
    let (x, y) = (frame.time.px(frame.now_s), frame.kg.px_within(kg));
    let f = canvas.f;
    let set = Set { size: f * 1.3, bold: true, anchor: Anchor::Start, ink: canvas.p.water };
    let mut places = Vec::new();
    for up in [0.75, 1.2, 2.0, 3.0, 4.5, -1.6, -2.4] {
        places.push(((x + f * 0.3, y - up * f), Anchor::Start));
        places.push(((x + f * 0.4, y - up * f), Anchor::End));
        places.push(((frame.level.right, y - up * f), Anchor::End));
    }
    let room = Bounds { right: frame.level.right + f * 0.6, ..frame.level };
    canvas.write_at_one(&kilograms(kg), &places, set, &room);
}

/// The interval in which the curve meets the target, on the target's line.
fn meeting_bar(canvas: &mut Canvas, frame: &Frame, target: f64, spread: Spread) {
    if spread.p50 <= 0.0 {
        return;
    }
    let y = frame.kg.px_within(target);
    let right = frame.level.right;
    let at = |s: f64| frame.time.px(frame.now_s + s).min(right);
    let (early, likely, late) = (at(spread.p10), at(spread.p50), at(spread.p90));
    let (ink, pen) = (canvas.p.water, canvas.pen());
    let fill = ink.over(canvas.p.ground, 0.10);
    canvas
        .drawing
        .rect(Bounds { left: early, top: y, right: late, bottom: frame.level.bottom }, fill);
    canvas.drawing.line((early, y), (late, y), ink, pen * 1.6);
    if frame.time.px(frame.now_s + spread.p50) <= right {
        let tick = canvas.f * 0.45;
        canvas.drawing.line((likely, y - tick), (likely, y + tick), ink, pen);
    }
}

fn meeting_words(
    canvas: &mut Canvas,
    frame: &Frame,
    target: f64,
    spread: Spread,
    clock: Option<Clock>,
) {
    let right = frame.level.right;
    let likely = frame.time.px(frame.now_s + spread.p50);
    if spread.p50 <= 0.0 || likely > right {
        return;
    }
    let y = frame.kg.px_within(target);
    let words = match (clock, Moment::from_seconds(frame.now_s + spread.p50)) {
        (Some(clock), Some(at)) => clock.hh_mm(at),
        _ => format!("in {}", length((spread.p50 / 60.0).round() * 60.0)),
    };
    let set = Set { bold: true, ink: canvas.p.ink, ..canvas.plain(Anchor::Middle) };
    let f = canvas.f;
    let places = [
        ((likely, y + 1.5 * f), Anchor::Middle),
        ((right, y + 1.5 * f), Anchor::End),
        ((likely, y - 0.8 * f), Anchor::Start),
    ];
    canvas.write_at_one(&words, &places, set, &frame.level);
}

fn target_words(canvas: &mut Canvas, frame: &Frame, held: &Held, target: Option<Target>) {
    let kg = held.kg;
    let long = match target {
        Some(Target::TotalSolids(_) | Target::Consistency { .. } | Target::Brix { .. }) => {
            target.map(|target| format!("target {target}, {}", kilograms(kg))).unwrap_or_default()
        }
        _ => format!("target {}", kilograms(kg)),
    };
    let y = frame.kg.px_within(kg);
    let f = canvas.f;
    let set = Set { ink: canvas.p.ink, ..canvas.muted(Anchor::End) };
    let left = frame.time.px_within(held.from_s).max(frame.level.left);
    let right = frame.time.px_within(held.to_s).clamp(left, frame.level.right);
    let mut places = Vec::new();
    for down in [1.15, -0.45, 2.3, -1.6, 3.4] {
        places.push(((left, y + down * f), Anchor::Start));
        places.push(((right, y + down * f), Anchor::End));
        places.push(((f64::midpoint(left, right), y + down * f), Anchor::Middle));
    }
    for words in [long, format!("target {}", kilograms(kg)), "target".into()] {
        if canvas.write_at_one(&words, &places, set, &frame.level).is_some() {
            return;
        }
    }
}
