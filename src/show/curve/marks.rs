//! What went in and out, the lid, and the stages, on and above the curve.

use crate::show::canvas::{Canvas, Set};
use crate::show::clock::length;
use crate::show::drawing::{Anchor, Bounds, Dash, Point, Text};
use crate::show::lettering;
use crate::show::story::{Addition, Story};
use crate::show::words::kilograms;
use crate::watch::action::{Happening, What};

use super::frame::Frame;

/// Lid, stages and arrows: what lies under the words.
pub fn signs(canvas: &mut Canvas, frame: &Frame, story: &Story) {
    stages(canvas, frame, story);
    lid(canvas, frame, story);
    arrows(canvas, frame, story);
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
    let set = canvas.muted(Anchor::Start);
    let (ink, fine) = (canvas.p.muted, canvas.fine());
    for stage in story.stages() {
        let (left, right) = (frame.time.px_within(stage.from_s), frame.time.px_within(stage.to_s));
        canvas.drawing.line((left, y - canvas.f * 0.8), (left, y + canvas.f * 0.3), ink, fine);
        let room = right - left - canvas.f * 0.5;
        let fits = |words: &&str| lettering::width(words, set.size, false) <= room;
        if let Some(words) = [stage.name, stage.short].into_iter().find(fits) {
            canvas.write(words, (left + canvas.f * 0.3, y), set);
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
            What::Added { .. } | What::PouredBack { .. } => true,
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

/// A mark with its words, the fullest first, and how much they matter.
struct Named {
    weight: f64,
    t_s: f64,
    words: Vec<String>,
}

/// The largest additions and takings by name, and blending; those of one moment in one block.
pub fn words(canvas: &mut Canvas, frame: &Frame, story: &Story) {
    let most = story.contents.extent().map_or(1.0, |e| e.1);
    let mut named: Vec<Named> =
        story.happenings.iter().filter_map(|happening| name(happening, most)).collect();
    named.extend(story.additions().iter().filter(|put_in| put_in.kg > 0.0).map(put_in));
    named.extend(ladlings(story, most));
    for cluster in clusters(named, frame, canvas.f * 1.5) {
        let Some(chief) = cluster.iter().max_by(|a, b| a.weight.total_cmp(&b.weight)) else {
            continue;
        };
        let tip = over_curve(canvas, frame, story, chief.t_s);
        let below = story.contents.at(chief.t_s).map(|kg| frame.kg.px_within(kg));
        let full = |named: &Named| named.words.first().cloned();
        let short = |named: &Named| named.words.last().cloned();
        let blocks: [Vec<String>; 4] = [
            cluster.iter().filter_map(full).collect(),
            cluster.iter().filter_map(short).collect(),
            full(chief).into_iter().collect(),
            short(chief).into_iter().collect(),
        ];
        let _ = blocks.iter().any(|lines| block(canvas, frame, (tip, below), lines));
    }
}

/// Takings smaller than this share of the most that was in the pot are ladlefuls.
const LADLEFUL: f64 = 0.08;

/// Ladlefuls between two other happenings, named together where there are several.
fn ladlings(story: &Story, most_kg: f64) -> Vec<Named> {
    let mut heaps: Vec<Vec<(f64, f64)>> = vec![vec![]];
    for happening in &story.happenings {
        match happening.what {
            What::Taken { kg, .. } if kg < most_kg * LADLEFUL => {
                if let Some(heap) = heaps.last_mut() {
                    heap.push((happening.at.seconds(), kg));
                }
            }
            What::Added { .. } | What::PouredBack { .. } | What::Taken { .. } => heaps.push(vec![]),
            _ => {}
        }
    }
    heaps.into_iter().filter_map(|heap| together(&heap, most_kg)).collect()
}

fn together(heap: &[(f64, f64)], most_kg: f64) -> Option<Named> {
    let (t_s, _) = *heap.get(heap.len() / 2)?;
    let sum: f64 = heap.iter().map(|(_, kg)| kg).sum();
    let short = format!("−{}", kilograms(sum));
    let words = match heap.len() {
        1 => vec![short],
        n => vec![format!("{short} in {n} ladlings"), short],
    };
    (sum > most_kg * 0.02).then_some(Named { weight: sum * 0.6, t_s, words })
}

/// Marks that stand within `near` px of the one before, the weightiest cluster first.
fn clusters(mut named: Vec<Named>, frame: &Frame, near: f64) -> Vec<Vec<Named>> {
    named.sort_by(|a, b| a.t_s.total_cmp(&b.t_s));
    let mut clusters: Vec<Vec<Named>> = Vec::new();
    for named in named {
        let x = |named: &Named| frame.time.px_within(named.t_s);
        match clusters.last_mut() {
            Some(c) if c.len() < 4 && c.last().is_some_and(|l| x(&named) - x(l) < near) => {
                c.push(named);
            }
            _ => clusters.push(vec![named]),
        }
    }
    let weight = |c: &Vec<Named>| c.iter().map(|named| named.weight).fold(0.0, f64::max);
    clusters.sort_by(|a, b| weight(b).total_cmp(&weight(a)));
    clusters
}

/// What went in, as it stands after the cook's corrections.
fn put_in(addition: &Addition<'_>) -> Named {
    let kg = kilograms(addition.kg);
    let words = match addition.name {
        Some(name) => vec![format!("+{kg} {name}"), name.to_owned()],
        None => vec![format!("+{kg}")],
    };
    Named { weight: addition.kg, t_s: addition.at.seconds(), words }
}

fn name(happening: &Happening, most_kg: f64) -> Option<Named> {
    let (weight, words) = match &happening.what {
        What::Taken { kg, .. } if *kg >= most_kg * LADLEFUL => {
            (*kg, vec![format!("−{}", kilograms(*kg))])
        }
        What::Blended { for_s } => {
            let long = format!("blended, {}", length(*for_s));
            (most_kg * 0.03, vec![long, "blended".into()])
        }
        _ => return None,
    };
    Some(Named { weight, t_s: happening.at.seconds(), words })
}

/// Writes lines above the mark, or where there is no room below the curve, with a line to them
/// where they do not stand next to it. False where there is no room at all.
fn block(
    canvas: &mut Canvas,
    frame: &Frame,
    (tip, below): (Point, Option<f64>),
    lines: &[String],
) -> bool {
    let f = canvas.f;
    let step = f * 1.12;
    let deep = step * (lines.len().saturating_sub(1)) as f64;
    let (x, above) = (tip.0, tip.1 - f * 0.55);
    let rows = (0..9).map(|n| f * (0.5 + 1.15 * f64::from(n)));
    let mut tops: Vec<f64> = rows.clone().take(4).map(|d| above - d - deep).collect();
    if let Some(below) = below {
        tops.extend(rows.clone().map(|d| below + f * 0.9 + d));
    }
    tops.extend(rows.skip(4).map(|d| above - d - deep));
    let room = Bounds { top: frame.level.top + f * 0.2, ..frame.level };
    let size = canvas.muted(Anchor::Middle).size;
    let wide = lines.iter().map(|words| lettering::width(words, size, false)).fold(0.0, f64::max);
    let beside = [
        (0.0, Anchor::Middle),
        (-f * 0.3, Anchor::Start),
        (f * 0.3, Anchor::End),
        (wide * 0.25, Anchor::Middle),
        (-wide * 0.25, Anchor::Middle),
        (f * 0.8, Anchor::Start),
        (-f * 0.8, Anchor::End),
    ];
    for (top, (dx, anchor)) in tops.iter().flat_map(|top| beside.map(|side| (*top, side))) {
        let set = Set { ink: canvas.p.ink, ..canvas.muted(anchor) };
        let texts: Vec<Text> = lines
            .iter()
            .enumerate()
            .map(|(n, words)| canvas.typed(words, (x + dx, top + step * n as f64), set))
            .collect();
        let line = leader(f, x, (above, below), (top, top + deep));
        let free = texts.iter().all(|text| canvas.has_room(text, &room));
        if free && line.is_none_or(|line| canvas.placing.is_clear(&line)) {
            texts.into_iter().for_each(|text| canvas.put(text));
            if let Some(line) = line {
                canvas.drawing.line(line[0], line[1], canvas.p.muted, canvas.fine() * 0.8);
                canvas.placing.take_path(&line, 0.5);
            }
            return true;
        }
    }
    false
}

/// The line from a mark to lines of words between two baselines that do not stand next to it.
fn leader(
    f: f64,
    x: f64,
    (above, below): (f64, Option<f64>),
    (top, bottom): (f64, f64),
) -> Option<[Point; 2]> {
    match below {
        _ if bottom < above - f => Some([(x, above - f * 0.15), (x, bottom + f * 0.3)]),
        Some(below) if top > below => Some([(x, below + f * 0.2), (x, top - f * 0.75)]),
        _ => None,
    }
}
