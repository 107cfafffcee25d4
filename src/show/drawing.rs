//! A drawing as a value: shapes in px from the upper left corner, in the order of painting.

use super::escape::printable;
use super::lettering;
use super::palette::Rgb;

/// Across and down, px.
pub type Point = (f64, f64);

/// How a line is broken up, so that lines differ without colour.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Dash {
    Solid,
    Dotted,
    Dashed,
    LongDashed,
    DashDotted,
}

impl Dash {
    /// Lengths of mark and gap in turn, in widths of the line (but not under 1 px).
    #[must_use]
    pub const fn pattern(self) -> &'static [f64] {
        match self {
            Self::Solid => &[],
            Self::Dotted => &[1.2, 2.4],
            Self::Dashed => &[4.0, 2.6],
            Self::LongDashed => &[8.0, 3.0],
            Self::DashDotted => &[7.0, 2.4, 1.4, 2.4],
        }
    }
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Anchor {
    Start,
    Middle,
    End,
}

/// A line of type.
#[derive(Debug, Clone, PartialEq)]
pub struct Text {
    /// On the baseline, at the anchor.
    pub at: Point,
    pub words: String,
    /// Size of the em, px.
    pub size: f64,
    pub bold: bool,
    pub anchor: Anchor,
    pub ink: Rgb,
}

impl Text {
    /// The box that the line of type fills, from ascender to descender.
    #[must_use]
    pub fn bounds(&self) -> Bounds {
        let width = lettering::width(&self.words, self.size, self.bold);
        let left = match self.anchor {
            Anchor::Start => self.at.0,
            Anchor::Middle => self.at.0 - width / 2.0,
            Anchor::End => self.at.0 - width,
        };
        Bounds {
            left,
            top: self.at.1 - lettering::ASCENT * self.size,
            right: left + width,
            bottom: self.at.1 + lettering::DESCENT * self.size,
        }
    }
}

/// An upright rectangle, px.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Bounds {
    pub left: f64,
    pub top: f64,
    pub right: f64,
    pub bottom: f64,
}

impl Bounds {
    #[must_use]
    pub fn meets(&self, other: &Self) -> bool {
        self.left < other.right
            && other.left < self.right
            && self.top < other.bottom
            && other.top < self.bottom
    }

    #[must_use]
    pub fn within(&self, outer: &Self) -> bool {
        self.left >= outer.left
            && self.right <= outer.right
            && self.top >= outer.top
            && self.bottom <= outer.bottom
    }

    #[must_use]
    pub fn width(&self) -> f64 {
        self.right - self.left
    }

    #[must_use]
    pub fn height(&self) -> f64 {
        self.bottom - self.top
    }

    /// Larger by `by` on each side.
    #[must_use]
    pub fn grown(&self, by: f64) -> Self {
        Self {
            left: self.left - by,
            top: self.top - by,
            right: self.right + by,
            bottom: self.bottom + by,
        }
    }
}

#[derive(Debug, Clone, PartialEq)]
pub enum Shape {
    Area { points: Vec<Point>, fill: Rgb },
    Path { points: Vec<Point>, ink: Rgb, width: f64, dash: Dash },
    Dot { at: Point, radius: f64, fill: Rgb },
    Text(Text),
}

impl Shape {
    /// How far up and down its ink can reach; `None` where it has none.
    #[must_use]
    pub fn reach(&self) -> Option<(f64, f64)> {
        let (points, more): (&[Point], f64) = match self {
            Self::Area { points, .. } => (points, 1.0),
            Self::Path { points, width, .. } => (points, *width + 1.0),
            Self::Dot { at, radius, .. } => (std::slice::from_ref(at), radius + 1.0),
            Self::Text(text) => (std::slice::from_ref(&text.at), 2.0 * text.size),
        };
        let heights = points.iter().map(|point| point.1);
        let (low, high) = (heights.clone().reduce(f64::min)?, heights.reduce(f64::max)?);
        Some((low - more, high + more))
    }
}

/// A whole drawing.
#[derive(Debug, Clone, PartialEq)]
pub struct Drawing {
    pub width: u32,
    pub height: u32,
    pub ground: Rgb,
    /// What the drawing shows, for those who cannot see it.
    pub title: String,
    pub told: String,
    pub shapes: Vec<Shape>,
}

impl Drawing {
    #[must_use]
    pub fn new(width: u32, height: u32, ground: Rgb) -> Self {
        let (width, height) = (width.clamp(MIN_PX, MAX_PX), height.clamp(MIN_PX, MAX_PX));
        Self { width, height, ground, title: String::new(), told: String::new(), shapes: vec![] }
    }

    #[must_use]
    pub fn bounds(&self) -> Bounds {
        Bounds { left: 0.0, top: 0.0, right: f64::from(self.width), bottom: f64::from(self.height) }
    }

    pub fn area(&mut self, points: Vec<Point>, fill: Rgb) {
        if let Some(points) = finite(points, 3) {
            self.shapes.push(Shape::Area { points, fill });
        }
    }

    pub fn path(&mut self, points: Vec<Point>, ink: Rgb, width: f64, dash: Dash) {
        if let Some(points) = finite(points, 2) {
            self.shapes.push(Shape::Path { points, ink, width, dash });
        }
    }

    pub fn line(&mut self, from: Point, to: Point, ink: Rgb, width: f64) {
        self.path(vec![from, to], ink, width, Dash::Solid);
    }

    pub fn rect(&mut self, bounds: Bounds, fill: Rgb) {
        let Bounds { left, top, right, bottom } = bounds;
        self.area(vec![(left, top), (right, top), (right, bottom), (left, bottom)], fill);
    }

    pub fn dot(&mut self, at: Point, radius: f64, fill: Rgb) {
        if let Some(points) = finite(vec![at], 1) {
            self.shapes.push(Shape::Dot { at: points[0], radius, fill });
        }
    }

    pub fn text(&mut self, mut text: Text) {
        text.words = printable(&text.words);
        if text.at.0.is_finite() && text.at.1.is_finite() && !text.words.is_empty() {
            self.shapes.push(Shape::Text(text));
        }
    }

    /// Each line of type, in order of painting.
    pub fn texts(&self) -> impl Iterator<Item = &Text> {
        self.shapes.iter().filter_map(|shape| match shape {
            Shape::Text(text) => Some(text),
            _ => None,
        })
    }
}

const MIN_PX: u32 = 40;
const MAX_PX: u32 = 8000;

/// The points, kept near the paper, when they are enough and each is finite.
fn finite(points: Vec<Point>, least: usize) -> Option<Vec<Point>> {
    let all = points.iter().all(|p| p.0.is_finite() && p.1.is_finite());
    let near = |v: f64| v.clamp(-f64::from(MAX_PX), 2.0 * f64::from(MAX_PX));
    (all && points.len() >= least)
        .then(|| points.into_iter().map(|(x, y)| (near(x), near(y))).collect())
}
