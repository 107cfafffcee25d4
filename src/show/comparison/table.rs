//! The figures as a table: a row a figure, a column a batch, in as many blocks as the paper needs.

use crate::show::canvas::{Canvas, Set};
use crate::show::drawing::{Anchor, Dash};
use crate::show::lettering;

use super::chart::{Plan, pen};
use super::figures::{COLUMNS, Column};
use super::{Batch, Comparison, differ};

/// Width of the figures' names, ems.
const NAMES: f64 = 11.0;
/// Least width of a batch's column, ems.
const LEAST: f64 = 6.4;
const ROW: f64 = 1.62;

/// Batches in a block.
fn in_block(width: f64, f: f64) -> usize {
    let room = width - f * (2.8 + NAMES);
    ((room / (f * LEAST)).floor() as usize).max(1)
}

/// Figures that at least one batch has.
fn shown(comparison: &Comparison) -> Vec<&'static Column> {
    let known = |c: &&Column| comparison.batches.iter().any(|b| (c.value)(&b.figures).is_some());
    COLUMNS.iter().filter(known).collect()
}

/// How high the table is, px.
pub fn height(comparison: &Comparison, width: f64, f: f64) -> f64 {
    let blocks = comparison.batches.len().div_ceil(in_block(width, f));
    let rows = shown(comparison).len() + 2;
    (blocks * rows) as f64 * ROW * f
}

pub fn draw(canvas: &mut Canvas, plan: &Plan, comparison: &Comparison) {
    let said: Vec<&str> = differ::most(&comparison.batches).iter().map(|d| d.key).collect();
    let per_block = in_block(f64::from(canvas.drawing.width), plan.f);
    let columns = shown(comparison);
    let mut y = plan.table;
    let numbered: Vec<(usize, &Batch)> = comparison.batches.iter().enumerate().collect();
    for block in numbered.chunks(per_block) {
        y = head(canvas, plan, block, y);
        for column in &columns {
            row(canvas, plan, block, (column, said.contains(&column.key)), y);
            y += plan.f * ROW;
        }
        y += plan.f * ROW * 0.5;
    }
}

/// Right edge of the `n`th column of a block.
fn edge(plan: &Plan, n: usize, of: usize) -> f64 {
    let left = plan.margin + plan.f * NAMES;
    let wide = ((plan.right - left) / of as f64).min(plan.f * 9.5);
    left + wide * (n + 1) as f64
}

/// Each batch's label over a piece of its line.
fn head(canvas: &mut Canvas, plan: &Plan, block: &[(usize, &Batch)], y: f64) -> f64 {
    let f = plan.f;
    for (place, (n, batch)) in block.iter().enumerate() {
        let right = edge(plan, place, block.len());
        let (ink, width, dash) = pen(*n, &canvas.p, f);
        let set = Set { bold: true, ink, ..canvas.plain(Anchor::End) };
        let room = edge(plan, 1, block.len()) - edge(plan, 0, block.len()) - f * 0.6;
        let words = lettering::fit(&batch.label, f, true, room);
        canvas.write(&words, (right, y), set);
        let line = vec![(right - f * 4.6, y + f * 0.75), (right, y + f * 0.75)];
        canvas.drawing.path(line, ink, width, dash);
    }
    let (from, to) = (plan.margin, edge(plan, block.len() - 1, block.len()));
    let line = vec![(from, y + f * 1.3), (to, y + f * 1.3)];
    canvas.drawing.path(line, canvas.p.hair, canvas.fine(), Dash::Solid);
    y + f * ROW * 1.5
}

fn row(
    canvas: &mut Canvas,
    plan: &Plan,
    block: &[(usize, &Batch)],
    (column, said): (&Column, bool),
    y: f64,
) {
    let name = Set { bold: said, ..canvas.muted(Anchor::Start) };
    canvas.write(column.name, (plan.margin, y), name);
    for (place, (_, batch)) in block.iter().enumerate() {
        let words = (column.value)(&batch.figures).map_or_else(|| "–".into(), column.words);
        let set = Set { bold: said, size: plan.f * 0.95, ..canvas.plain(Anchor::End) };
        canvas.write(&words, (edge(plan, place, block.len()), y), set);
    }
}
