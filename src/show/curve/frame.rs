//! Where each part of the curve stands.

use crate::show::canvas::Canvas;
use crate::show::drawing::{Anchor, Bounds};
use crate::show::lettering;
use crate::show::scale::{Scale, time_ticks};
use crate::show::story::Story;

use super::Style;

/// Density that turns kilograms into a depth, kg/m³.
const DENSITY: f64 = 1000.0;

/// Where everything stands.
pub struct Frame {
    pub paper: Bounds,
    /// The contents over time; its bottom is the inside of the pot's base.
    pub level: Bounds,
    /// The strip of the bottom.
    pub strip: Bounds,
    /// The probe over time.
    pub probe: Bounds,
    /// Baseline of the words under the time axis.
    pub axis: f64,
    /// Baseline of the first line of the key.
    pub key: f64,
    /// Inside of the pot.
    pub pot: Bounds,
    /// Whether the pot is cut short in the middle.
    pub cut: bool,
    /// Whether the rim is where the kitchen says, or only open.
    pub rim: bool,
    pub time: Scale,
    pub kg: Scale,
    /// Px for one metre of the pot.
    pub px_per_m: f64,
    pub now_s: f64,
    pub ticks: Vec<(f64, String)>,
}

impl Frame {
    pub fn new(story: &Story, style: &Style, f: f64, top: f64) -> Self {
        let (width, height) = (f64::from(style.size.width), f64::from(style.size.height));
        let paper = Bounds { left: 0.0, top: 0.0, right: width, bottom: height };
        let margin = f * 1.3;
        let key = height - margin * 0.8;
        let axis = key - 2.1 * f;
        let bands = axis - 1.2 * f - top;
        let probe_high = bands * 0.17;
        let strip_high = bands * 0.085;
        let probe = Bounds {
            left: 0.0,
            top: axis - 1.2 * f - probe_high,
            right: width - margin,
            bottom: axis - 1.2 * f,
        };
        let base = probe.top - 2.9 * f - strip_high;
        let rim_top = top + 1.9 * f;
        let (top_kg, rim) = top_kg(story);
        let kg = Scale::new((0.0, top_kg), 0.1, (base, rim_top));
        let px_per_m = kg.per_unit() * DENSITY * story.pot.area_m2().max(1e-4);
        let full = story.pot.base_diameter_m * px_per_m;
        let most = width * if width < 600.0 { 0.24 } else { 0.2 };
        let inside = full.clamp(f * 3.0, most);
        let pot = Bounds {
            left: margin + f * 0.9,
            top: rim_top,
            right: margin + f * 0.9 + inside,
            bottom: base,
        };
        let left = pot.right + 3.7 * f;
        let level = Bounds { left, top: rim_top, right: width - margin, bottom: base };
        let strip = Bounds { top: base, bottom: base + strip_high, ..level };
        let probe = Bounds { left, ..probe };
        let (range, now_s) = time_range(story);
        let time = Scale::new(range, 60.0, (left, level.right));
        let ticks = time_ticks(&time, range.0, style.clock, f * 5.2);
        let cut = full > most;
        Self {
            paper,
            level,
            strip,
            probe,
            axis,
            key,
            pot,
            cut,
            rim,
            time,
            kg,
            px_per_m,
            now_s,
            ticks,
        }
    }

    pub fn margin(&self) -> f64 {
        self.paper.right - self.level.right
    }
}

/// Contents at the top of the drawing, kg, and whether that is the pot's rim.
fn top_kg(story: &Story) -> (f64, bool) {
    let target = story.now.as_ref().and_then(|now| now.target_kg).unwrap_or(0.0);
    let brim = story.pot.height_m.map(|m| m * DENSITY * story.pot.area_m2());
    let Some((_, most)) = story.contents.extent() else {
        // Nothing was weighed: the pot as it is, or a quarter of a metre of it.
        let high = brim.unwrap_or(0.25 * DENSITY * story.pot.area_m2());
        return (high.max(target * 1.1).max(0.5), brim.is_some_and(|brim| brim > target * 1.1));
    };
    let most = most.max(target).max(0.5);
    match brim {
        Some(brim) if brim > most && brim < 2.2 * most => (brim, true),
        _ => (most * 1.3, false),
    }
}

/// The least time that is drawn, s.
const LEAST_S: f64 = 600.0;

/// From the start to the end of the likely future, s, and now.
fn time_range(story: &Story) -> ((f64, f64), f64) {
    let Some((began, now)) = story.extent_s() else { return ((0.0, 3600.0), 0.0) };
    let past = now - began;
    let ahead = story.now.as_ref().and_then(|now| now.target_in_s).map_or(0.0, |s| s.p90.max(0.0));
    let shown = if ahead > 0.0 { (ahead * 1.12).min(past.max(1800.0) * 1.2) } else { 0.0 };
    let end = (now + shown.max(past * 0.03)).max(began + LEAST_S);
    ((began, end), now)
}

/// Hairlines, ticks of time and their words.
pub fn draw_ground(canvas: &mut Canvas, frame: &Frame) {
    let set = canvas.muted(Anchor::Middle);
    let mut free_from = 0.0;
    for (t, words) in &frame.ticks {
        let x = frame.time.px(*t);
        let (hair, fine) = (canvas.p.hair, canvas.fine());
        canvas.drawing.line((x, frame.level.top), (x, frame.level.bottom), hair, fine);
        canvas.drawing.line((x, frame.probe.top), (x, frame.probe.bottom), hair, fine);
        let half = lettering::width(words, set.size, false) / 2.0;
        let x = x.clamp(half, frame.paper.right - half - 2.0);
        if x - half > free_from {
            canvas.write(words, (x, frame.axis), set);
            free_from = x + half + canvas.f * 0.5;
        }
    }
}
