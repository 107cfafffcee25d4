//! A sheet to draw on: shapes, the palette, the size of type, and what places are taken.

use super::drawing::{Anchor, Bounds, Drawing, Point, Text};
use super::palette::{Palette, Rgb};
use super::placing::Placing;

/// What is drawn on, with its palette, its size of type and what is taken so far.
pub struct Canvas {
    pub drawing: Drawing,
    pub placing: Placing,
    pub p: Palette,
    /// Size of plain type, px.
    pub f: f64,
}

/// How a word is set.
#[derive(Debug, Clone, Copy)]
pub struct Set {
    pub size: f64,
    pub bold: bool,
    pub anchor: Anchor,
    pub ink: Rgb,
}

impl Canvas {
    pub fn new(width: u32, height: u32, p: Palette) -> Self {
        let drawing = Drawing::new(width, height, p.ground);
        let paper = f64::from(drawing.width) * f64::from(drawing.height);
        let f = (paper.sqrt() / 53.0).clamp(11.5, 40.0);
        Self { drawing, placing: Placing::default(), p, f }
    }

    pub fn muted(&self, anchor: Anchor) -> Set {
        Set { size: self.f * 0.86, bold: false, anchor, ink: self.p.muted }
    }

    pub fn plain(&self, anchor: Anchor) -> Set {
        Set { size: self.f, bold: false, anchor, ink: self.p.ink }
    }

    pub fn typed(&self, words: &str, at: Point, set: Set) -> Text {
        let Set { size, bold, anchor, ink } = set;
        Text { at, words: words.to_owned(), size, bold, anchor, ink }
    }

    /// Writes, and takes the place.
    pub fn write(&mut self, words: &str, at: Point, set: Set) {
        let text = self.typed(words, at, set);
        self.put(text);
    }

    /// Sets a line of type where it is, and takes its place.
    pub fn put(&mut self, text: Text) {
        self.placing.take_words(text.bounds());
        self.drawing.text(text);
    }

    /// Writes at the first of these places that is free and inside `room`; says where.
    pub fn write_at_one(
        &mut self,
        words: &str,
        places: &[(Point, Anchor)],
        set: Set,
        room: &Bounds,
    ) -> Option<Text> {
        let text = self.placed(words, places, set, room)?;
        self.drawing.text(text.clone());
        Some(text)
    }

    /// Takes the first of these places that is free and inside `room`, to be written at later.
    pub fn placed(
        &mut self,
        words: &str,
        places: &[(Point, Anchor)],
        set: Set,
        room: &Bounds,
    ) -> Option<Text> {
        let text = places
            .iter()
            .map(|(at, anchor)| self.typed(words, *at, Set { anchor: *anchor, ..set }))
            .find(|text| self.has_room(text, room))?;
        self.placing.take_words(text.bounds());
        Some(text)
    }

    pub fn has_room(&self, text: &Text, room: &Bounds) -> bool {
        let bounds = text.bounds();
        bounds.within(room) && self.placing.is_free(&bounds.grown(self.f * 0.12))
    }

    /// Width of a line that matters, px.
    pub fn pen(&self) -> f64 {
        (self.f / 6.0).max(1.8)
    }

    /// Width of a line that only guides, px.
    pub fn fine(&self) -> f64 {
        (self.f / 14.0).max(0.9)
    }
}
