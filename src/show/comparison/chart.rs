//! The curves on shared axes, each named on its line and at its end, and the strips below.

use crate::show::canvas::{Canvas, Set};
use crate::show::drawing::{Anchor, Bounds, Dash, Point, Text};
use crate::show::lettering;
use crate::show::palette::{Palette, Rgb};
use crate::show::scale::{Scale, decimals, time_ticks};
use crate::show::strip;

use super::{Batch, Comparison};

/// Where everything stands.
pub struct Plan {
    pub height: f64,
    pub f: f64,
    pub margin: f64,
    pub right: f64,
    /// Lines of the sentences.
    said: Vec<String>,
    bare: bool,
    chart: Bounds,
    time: Scale,
    kg: Scale,
    strip_high: f64,
    strips_top: f64,
    axis: f64,
    /// Top of the table.
    pub table: f64,
}

impl Plan {
    pub fn new(comparison: &Comparison, width: f64, f: f64, bare: bool) -> Self {
        let margin = f * 1.4;
        let right = width - margin;
        let broken = |said: &String| lettering::wrapped(said, f, false, right - margin, 4);
        let said: Vec<String> = comparison.sentences().iter().flat_map(broken).collect();
        let heading = if bare { 0.6 } else { 4.2 + 1.5 * said.len() as f64 };
        let top = f * heading + f * 1.6;
        let names = comparison.batches.iter().map(|b| lettering::width(&b.label, f, true));
        let name_room = names.fold(0.0, f64::max).min(width * 0.22) + f * 1.6;
        let chart = Bounds {
            left: margin + f * 3.4,
            top,
            right: right - name_room,
            bottom: top + (width * 0.36).clamp(f * 16.0, f * 26.0),
        };
        let strip_high = f * 1.9;
        let strips_top = chart.bottom + f * 2.2;
        let axis = strips_top + strip_high * comparison.batches.len() as f64 + f * 1.6;
        let table = axis + f * 2.6;
        let (time, kg) = scales(comparison, &chart);
        let figures = if bare { 0.0 } else { super::table::height(comparison, width, f) };
        let height = table + figures + f * 1.4;
        Self {
            height,
            f,
            margin,
            right,
            said,
            bare,
            chart,
            time,
            kg,
            strip_high,
            strips_top,
            axis,
            table,
        }
    }
}

fn scales(comparison: &Comparison, chart: &Bounds) -> (Scale, Scale) {
    let mut time: Option<(f64, f64)> = None;
    let mut kg: Option<(f64, f64)> = None;
    let widen = |range: &mut Option<(f64, f64)>, low: f64, high: f64| {
        let (a, b) = range.unwrap_or((low, high));
        *range = Some((a.min(low), b.max(high)));
    };
    for batch in &comparison.batches {
        if let Some((from, to)) = batch.story.extent_s() {
            widen(&mut time, from - batch.origin_s, to - batch.origin_s);
        }
        if let Some((low, high)) = batch.story.contents.extent() {
            widen(&mut kg, low, high);
        }
        if let Some(target) = target_kg(batch) {
            widen(&mut kg, target, target);
        }
    }
    let (low, high) = kg.unwrap_or((0.0, 1.0));
    let pad = ((high - low) * 0.08).max(0.05);
    (
        Scale::new(time.unwrap_or((0.0, 3600.0)), 60.0, (chart.left, chart.right)),
        Scale::new((low - pad, high + pad), 0.2, (chart.bottom, chart.top)),
    )
}

fn target_kg(batch: &Batch) -> Option<f64> {
    batch.story.aimed_kg()
}

/// How the line of a batch is drawn: its own dash and width, so that colour is not needed.
pub fn pen(n: usize, p: &Palette, f: f64) -> (Rgb, f64, Dash) {
    let (thick, thin) = (f / 5.2, f / 9.0);
    let pens = [
        (p.water, thick, Dash::Solid),
        (p.ink, thin, Dash::Solid),
        (p.water, thick, Dash::Dashed),
        (p.ink, thin, Dash::LongDashed),
        (p.water, thick, Dash::Dotted),
        (p.ink, thin, Dash::DashDotted),
        (p.water, thick, Dash::LongDashed),
        (p.ink, thin, Dash::Dotted),
    ];
    pens[n % pens.len()]
}

pub fn draw(canvas: &mut Canvas, plan: &Plan, comparison: &Comparison) {
    if !plan.bare {
        heading(canvas, plan);
    }
    axes_are(canvas, plan, comparison);
    ground(canvas, plan, comparison);
    let lines: Vec<Vec<Vec<Point>>> =
        comparison.batches.iter().map(|batch| points(plan, batch)).collect();
    let targets = targets(plan, comparison);
    for (_, from, to) in &targets {
        let (ink, width) = (canvas.p.ink, canvas.fine() * 1.3);
        canvas.drawing.path(vec![*from, *to], ink, width, Dash::Dotted);
        canvas.placing.take_path(&[*from, *to], width);
    }
    for (n, runs) in lines.iter().enumerate() {
        let (ink, width, dash) = pen(n, &canvas.p, plan.f);
        for run in runs {
            match run.as_slice() {
                [only] => canvas.drawing.dot(*only, width, ink),
                _ => canvas.drawing.path(run.clone(), ink, width, dash),
            }
        }
    }
    let named = on_lines(canvas, plan, comparison, &lines);
    for run in lines.iter().flatten() {
        canvas.placing.take_path(run, plan.f / 9.0);
    }
    ends(canvas, plan, comparison, &lines, &named);
    target_words(canvas, plan, &targets);
    strips(canvas, plan, comparison);
}

fn heading(canvas: &mut Canvas, plan: &Plan) {
    let f = plan.f;
    let title = Set { size: f * 1.9, bold: true, ..canvas.plain(Anchor::Start) };
    canvas.write("Batches compared", (plan.margin, f * 2.6), title);
    let set = canvas.plain(Anchor::Start);
    let mut y = f * 4.6;
    for line in &plan.said {
        canvas.write(line, (plan.margin, y), set);
        y += f * 1.5;
    }
}

/// What is drawn over what.
fn axes_are(canvas: &mut Canvas, plan: &Plan, comparison: &Comparison) {
    let what = format!("in the pot, kg; time from {}", comparison.align.words());
    let set = canvas.muted(Anchor::Start);
    canvas.write(&what, (plan.margin, plan.chart.top - plan.f * 0.7), set);
}

fn points(plan: &Plan, batch: &Batch) -> Vec<Vec<Point>> {
    let place =
        |(t, kg): &(f64, f64)| (plan.time.px_within(t - batch.origin_s), plan.kg.px_within(*kg));
    batch.story.contents.runs().iter().map(|run| run.iter().map(place).collect()).collect()
}

fn ground(canvas: &mut Canvas, plan: &Plan, comparison: &Comparison) {
    let f = plan.f;
    let (hair, fine) = (canvas.p.hair, canvas.fine());
    let bottom = plan.axis - f * 1.3;
    let set = canvas.muted(Anchor::Middle);
    for (t, words) in time_ticks(&plan.time, 0.0, None, f * 5.5) {
        let x = plan.time.px(t);
        canvas.drawing.line((x, plan.chart.top), (x, bottom), hair, fine);
        canvas.write(&words, (x, plan.axis), set);
    }
    let set = canvas.muted(Anchor::End);
    let ticks = plan.kg.ticks(f * 2.4);
    let decimals = decimals(&ticks);
    for kg in ticks {
        let y = plan.kg.px(kg);
        canvas.drawing.line((plan.chart.left, y), (plan.chart.right, y), hair, fine);
        canvas.write(&format!("{kg:.decimals$}"), (plan.chart.left - f * 0.5, y + f * 0.3), set);
    }
    if comparison.align != super::Align::Start {
        let x = plan.time.px(0.0);
        let line = vec![(x, plan.chart.top), (x, bottom)];
        canvas.drawing.path(line, canvas.p.muted, fine, Dash::Dashed);
    }
}

/// One dotted line where the targets agree, else one a batch at the end of its curve: words, from
/// and to.
fn targets(plan: &Plan, comparison: &Comparison) -> Vec<(String, Point, Point)> {
    let of: Vec<(&Batch, f64)> =
        comparison.batches.iter().filter_map(|b| target_kg(b).map(|kg| (b, kg))).collect();
    let low = of.iter().map(|t| t.1).fold(f64::INFINITY, f64::min);
    let high = of.iter().map(|t| t.1).fold(f64::NEG_INFINITY, f64::max);
    let (left, right) = (plan.chart.left, plan.chart.right);
    if !of.is_empty() && plan.kg.px(low) - plan.kg.px(high) < plan.f * 0.8 {
        let y = plan.kg.px(f64::midpoint(low, high));
        return vec![("target".into(), (left, y), (right, y))];
    }
    of.into_iter()
        .filter_map(|(batch, kg)| {
            let (t, _) = batch.story.contents.last()?;
            let (x, y) = (plan.time.px_within(t - batch.origin_s), plan.kg.px(kg));
            let from = ((x - plan.f * 9.0).max(left), y);
            Some((format!("target {}", batch.label), from, (x, y)))
        })
        .collect()
}

fn target_words(canvas: &mut Canvas, plan: &Plan, targets: &[(String, Point, Point)]) {
    let f = plan.f;
    let set = canvas.muted(Anchor::Start);
    for (words, from, to) in targets {
        let beside = [1.15, -0.45].map(|d| d * f);
        let starts = beside.map(|d| ((from.0 + f * 0.3, from.1 + d), Anchor::Start));
        let ends = beside.map(|d| ((to.0 - f * 0.3, to.1 + d), Anchor::End));
        canvas.write_at_one(words, &[starts, ends].concat(), set, &plan.chart);
    }
}

/// Names at the ends of the curves: next to the end where that is clear, else in the margin, moved
/// apart, with a hairline to their curve. A curve that ends far from the margin and has its name on
/// the line needs no second one there.
fn ends(
    canvas: &mut Canvas,
    plan: &Plan,
    comparison: &Comparison,
    lines: &[Vec<Vec<Point>>],
    named: &[Option<Text>],
) {
    let f = plan.f;
    let end = |runs: &Vec<Vec<Point>>| runs.last().and_then(|run| run.last()).copied();
    let mut far: Vec<(usize, Point)> = Vec::new();
    let mut written = named.to_vec();
    for (n, at) in lines.iter().enumerate().filter_map(|(n, runs)| Some((n, end(runs)?))) {
        let (ink, ..) = pen(n, &canvas.p, f);
        canvas.drawing.dot(at, f * 0.22, ink);
        let set = Set { bold: true, ink, ..canvas.plain(Anchor::Start) };
        let words = lettering::fit(&comparison.batches[n].label, f, true, f * 9.0);
        let places = [(0.5, 0.35), (0.5, 1.1), (0.5, -0.4)]
            .map(|(dx, dy)| ((at.0 + dx * f, at.1 + dy * f), Anchor::Start));
        let inside = at.0 + f * 3.0 < plan.chart.right;
        let near = at.0 + f * 12.0 > plan.chart.right;
        let beside = if inside { canvas.placed(&words, &places, set, &plan.chart) } else { None };
        if beside.is_some() {
            written.push(beside);
        } else {
            far.extend((near || named[n].is_none()).then_some((n, at)));
        }
    }
    far.sort_by(|a, b| a.1.1.total_cmp(&b.1.1));
    let places = apart(&far.iter().map(|e| e.1.1).collect::<Vec<_>>(), f * 1.35, &plan.chart);
    let x = plan.chart.right + f * 1.2;
    let hair = canvas.p.muted.over(canvas.p.ground, 0.6);
    for ((_, at), y) in far.iter().zip(&places) {
        canvas.drawing.line(*at, (x - f * 0.3, *y), hair, canvas.fine() * 0.8);
    }
    // No hairline runs through a name.
    for text in written.into_iter().flatten() {
        canvas.drawing.rect(text.bounds(), canvas.p.ground);
        canvas.drawing.text(text);
    }
    for ((n, _), y) in far.into_iter().zip(places) {
        let (ink, ..) = pen(n, &canvas.p, f);
        let set = Set { bold: true, ink, ..canvas.plain(Anchor::Start) };
        let words = lettering::fit(&comparison.batches[n].label, f, true, plan.right - x);
        canvas.write(&words, (x, y + f * 0.35), set);
    }
}

/// Heights as near as may be to those wished for (in order), at least `step` from each other.
fn apart(wished: &[f64], step: f64, within: &Bounds) -> Vec<f64> {
    let mut places: Vec<f64> = Vec::with_capacity(wished.len());
    for y in wished {
        let least = places.last().map_or(f64::NEG_INFINITY, |last| last + step);
        places.push(y.max(least));
    }
    let mut most = within.bottom;
    for place in places.iter_mut().rev() {
        *place = place.min(most);
        most = *place - step;
    }
    places
}

/// The place of the name on the line itself, where it is clear of the other lines.
fn on_lines(
    canvas: &mut Canvas,
    plan: &Plan,
    comparison: &Comparison,
    lines: &[Vec<Vec<Point>>],
) -> Vec<Option<Text>> {
    let f = plan.f;
    let mut named = vec![None; lines.len()];
    let set = Set { size: f * 0.86, bold: true, ..canvas.plain(Anchor::Middle) };
    for (n, runs) in lines.iter().enumerate() {
        let mut others = canvas.placing.clone();
        if let Some(end) = runs.last().and_then(|run| run.last()) {
            // Room for the name at the end.
            others.take_path(&[(end.0 - f * 2.0, end.1), *end], f);
        }
        for (m, runs) in lines.iter().enumerate().filter(|(m, _)| *m != n) {
            let around = pen(m, &canvas.p, f).1;
            runs.iter().for_each(|run| others.take_path(run, around));
        }
        let line: Vec<Point> = runs.concat();
        let words = lettering::fit(&comparison.batches[n].label, set.size, true, f * 8.0);
        let (ink, ..) = pen(n, &canvas.p, f);
        let start = 0.28 + 0.07 * n as f64;
        let spots = (0..24).map(|k| (start + f64::from(k) * 0.037).rem_euclid(0.86) + 0.07);
        let found = spots.filter_map(|share| along(&line, share)).find_map(|at| {
            let text = canvas.typed(&words, (at.0, at.1 + f * 0.3), Set { ink, ..set });
            let bounds = text.bounds().grown(f * 0.18);
            (bounds.within(&plan.chart) && others.is_free(&bounds)).then_some(text)
        });
        if let Some(text) = found {
            canvas.drawing.rect(text.bounds().grown(f * 0.12), canvas.p.ground);
            canvas.placing.take_words(text.bounds());
            named[n] = Some(text);
        }
    }
    named
}

/// The point at a share of a line's way across.
fn along(line: &[Point], share: f64) -> Option<Point> {
    let (first, last) = (line.first()?, line.last()?);
    let x = first.0 + (last.0 - first.0) * share;
    line.iter().find(|p| p.0 >= x).copied()
}

fn strips(canvas: &mut Canvas, plan: &Plan, comparison: &Comparison) {
    let f = plan.f;
    let set = canvas.muted(Anchor::Start);
    let words = "bottom: risk since the last stir; hatched where a stir was due";
    canvas.write(words, (plan.margin, plan.strips_top - f * 0.6), set);
    let x = plan.chart.right + f * 1.2;
    for (n, batch) in comparison.batches.iter().enumerate() {
        let top = plan.strips_top + plan.strip_high * n as f64;
        let depth = Scale::new((0.0, strip::DEEPEST), 1.0, (top, top + plan.strip_high * 0.78));
        let (low, high) = plan.time.range();
        let (left, right) = (plan.chart.left, plan.chart.right);
        // The batch's own time, so that its zero falls where the chart's does.
        let time = Scale::new((low + batch.origin_s, high + batch.origin_s), 60.0, (left, right));
        canvas.drawing.line((left, top), (right, top), canvas.p.muted, canvas.fine());
        strip::draw(canvas, &time, &depth, &batch.story);
        let (ink, ..) = pen(n, &canvas.p, f);
        let set = Set { ink, bold: true, size: f * 0.9, ..canvas.plain(Anchor::Start) };
        let words = lettering::fit(&batch.label, set.size, true, plan.right - x);
        canvas.write(&words, (x, top + f * 0.9), set);
    }
}
