//! The curve: the pot and its past and future in one drawing.
//!
//! The pot stands at the left in section. Its level runs to the right and is the newest point of
//! the curve; the curve is the level's past, the fan its likely future, and the target is a
//! dotted line where it holds: until it is reached, and ahead of it. The pot's base runs on as the strip of the bottom, which shows how
//! much risk has gathered since each stir; its rim runs on as the line of the lid. Below stands the
//! probe's temperature.
//!
//! Depth and width of the pot are to one scale. Where the pot would be too wide for its place it is
//! cut short in the middle, with break lines, as in a workshop drawing. Contents are taken to be as
//! dense as cold water, 1000 kg/m³; base gravy near the boil is within some 4 % of that (0.96 for
//! hot water, more for solids).

mod bottom;
mod figures;
mod frame;
mod heading;
mod key;
mod level;
mod marks;
mod pot;
mod probe;
#[cfg(test)]
mod tests;

use super::canvas::Canvas;
use super::clock::Clock;
use super::drawing::Drawing;
use super::paint::{self, Type, Unpainted};
use super::palette::{NIGHT, PAPER, Palette};
use super::story::Story;
use super::words;

/// How large a drawing is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Size {
    /// px of an SVG, or of a page.
    pub width: u32,
    pub height: u32,
    /// Pixels of a PNG to a px.
    pub density: u32,
}

impl Size {
    /// Upright, for a phone held in one hand.
    pub const PHONE: Self = Self { width: 400, height: 520, density: 2 };
    /// For a page or a printed sheet.
    pub const PAGE: Self = Self { width: 1000, height: 560, density: 2 };
    /// For a screen on the wall.
    pub const WALL: Self = Self { width: 1920, height: 1080, density: 1 };

    /// `width` px wide and as high as suits it.
    #[must_use]
    pub fn wide(width: u32) -> Self {
        let width = width.clamp(320, 4000);
        let height = if width < 600 { width * 13 / 10 } else { width * 14 / 25 };
        Self { width, height, density: if width > 1200 { 1 } else { 2 } }
    }
}

/// How a drawing looks.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Style {
    pub size: Size,
    /// For night kitchens.
    pub dark: bool,
    /// Where it is known, the axis shows the clock on the wall.
    pub clock: Option<Clock>,
    /// Whether the sentence, its doubt and what needs a hand stand above the drawing.
    pub heading: bool,
    /// Where an SVG's type comes from.
    pub set_in: Type,
}

impl Style {
    #[must_use]
    pub const fn new(size: Size) -> Self {
        Self { size, dark: false, clock: None, heading: true, set_in: Type::Embedded }
    }

    #[must_use]
    pub const fn palette(&self) -> Palette {
        if self.dark { NIGHT } else { PAPER }
    }
}

/// The curve as SVG.
///
/// # Errors
/// When it could not be painted.
pub fn svg(story: &Story, style: &Style) -> Result<String, Unpainted> {
    paint::svg(&draw(story, style), style.set_in)
}

/// The curve as PNG.
///
/// # Errors
/// When it could not be painted.
pub fn png(story: &Story, style: &Style) -> Result<Vec<u8>, Unpainted> {
    paint::png(&draw(story, style), style.size.density)
}

/// The curve as shapes.
#[must_use]
pub fn draw(story: &Story, style: &Style) -> Drawing {
    let said = words::of(story, style.clock);
    let mut canvas = Canvas::new(style.size.width, style.size.height, style.palette());
    canvas.drawing.title = format!("{}: {}", story.batch, said.first);
    canvas.drawing.told = told(&said);
    let top = if style.heading { heading::draw(&mut canvas, story, &said) } else { canvas.f * 0.6 };
    let frame = frame::Frame::new(story, style, canvas.f, top);
    frame::draw_ground(&mut canvas, &frame);
    pot::draw(&mut canvas, &frame, story);
    level::lines(&mut canvas, &frame, story);
    marks::signs(&mut canvas, &frame, story);
    level::words(&mut canvas, &frame, story, style.clock);
    marks::words(&mut canvas, &frame, story);
    bottom::draw(&mut canvas, &frame, story);
    probe::draw(&mut canvas, &frame, story);
    figures::draw(&mut canvas, &frame, story);
    key::draw(&mut canvas, &frame, story, style.clock);
    canvas.drawing
}

fn told(said: &words::Words) -> String {
    let parts = [
        Some(said.first.clone()),
        said.doubt.clone(),
        said.loud.as_ref().map(|loud| loud.what.clone()),
        said.last.clone(),
    ];
    parts.into_iter().flatten().collect::<Vec<_>>().join(". ")
}
