//! Shapes to bytes, through plotters' two backends.
//!
//! plotters places everything on whole units. So an SVG is drawn ten times as large as it will be
//! shown, which leaves tenths of a px, and a PNG several times as large and then averaged, which
//! smooths its edges. Both come out the same, byte for byte, on every machine: the type is bundled
//! and nothing depends on the machine's fonts, clock or floating-point library beyond + − × ÷ √.

use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;
use plotters::backend::{BitMapBackend, DrawingBackend, SVGBackend};
use plotters::style::text_anchor::{HPos, Pos, VPos};
use plotters::style::{Color, RGBColor, TextStyle};
use thiserror::Error;

mod indexed;

use super::drawing::{Anchor, Dash, Drawing, Point, Shape, Text};
use super::escape::escape;
use super::lettering;
use super::palette::Rgb;

/// Why a drawing could not be painted.
#[derive(Debug, Error)]
#[error("the drawing could not be painted: {0}")]
pub struct Unpainted(String);

type Painted = Result<(), Unpainted>;

/// Units of an SVG drawing in a px.
const SVG_UNITS: f64 = 10.0;

/// What an SVG's viewer sets the words in.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Type {
    /// The bundled face travels inside the file: it looks the same everywhere.
    Embedded,
    /// The page around the drawing brings the face, or the viewer has one like it.
    FromPage,
}

/// The drawing as an SVG document.
///
/// # Errors
/// When plotters refuses a shape.
pub fn svg(drawing: &Drawing, set_in: Type) -> Result<String, Unpainted> {
    let units = |px: u32| px * SVG_UNITS as u32;
    let mut body = String::new();
    {
        let backend =
            SVGBackend::with_string(&mut body, (units(drawing.width), units(drawing.height)));
        let mut brush = Brush { backend, units: SVG_UNITS, craft: Craft::Vector, window: None };
        brush.all(drawing)?;
    }
    let after_head = body.find('\n').map_or("", |end| &body[end + 1..]);
    Ok(head(drawing, set_in) + after_head)
}

/// plotters' own head fixes the size to the units; this one is shown at its px or scaled to a page.
fn head(drawing: &Drawing, set_in: Type) -> String {
    let (width, height) = (drawing.width, drawing.height);
    let face = match set_in {
        Type::Embedded => faces(),
        Type::FromPage => String::new(),
    };
    format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{width}\" height=\"{height}\" \
         viewBox=\"0 0 {} {}\" role=\"img\" stroke-linejoin=\"round\">\n\
         <title>{}</title>\n<desc>{}</desc>\n{face}",
        width * SVG_UNITS as u32,
        height * SVG_UNITS as u32,
        escape(&drawing.title),
        escape(&drawing.told),
    )
}

fn faces() -> String {
    let face = |weight: u32, woff2: &[u8]| {
        format!(
            "@font-face{{font-family:\"DejaVu Sans\";font-weight:{weight};\
             src:url(data:font/woff2;base64,{}) format(\"woff2\")}}\n",
            STANDARD.encode(woff2)
        )
    };
    let (regular, bold) = (face(400, lettering::REGULAR_WOFF2), face(700, lettering::BOLD_WOFF2));
    format!("<style>\n{regular}{bold}</style>\n")
}

/// The drawing as a PNG file, `density` of its pixels to a px of the drawing.
///
/// # Errors
/// When plotters refuses a shape or the encoder fails.
pub fn png(drawing: &Drawing, density: u32) -> Result<Vec<u8>, Unpainted> {
    let density = density.clamp(1, 4);
    let smooth = if density > 1 { 2 } else { 3 };
    let (width, height) = (drawing.width * density, drawing.height * density);
    let small = in_bands(drawing, density, smooth, BAND)?;
    indexed::png(&small, width, height).map_err(|e| Unpainted(e.to_string()))
}

/// Rows of a PNG that are painted at a time: the whole of it, several times as large, would take more
/// memory than all the rest of a small board's daemon.
const BAND: u32 = 32;

/// The picture as RGB, painted `rows` of its rows at a time.
fn in_bands(drawing: &Drawing, density: u32, smooth: u32, rows: u32) -> Result<Vec<u8>, Unpainted> {
    let (wide, height) = (drawing.width * density * smooth, drawing.height * density);
    let units = f64::from(density * smooth);
    let mut small = Vec::with_capacity((drawing.width * density * height * 3) as usize);
    let mut large = vec![0; (wide * rows.min(height) * smooth * 3) as usize];
    for top in (0..height).step_by(rows as usize) {
        let high = rows.min(height - top) * smooth;
        let band = &mut large[..(wide * high * 3) as usize];
        let backend = BitMapBackend::with_buffer(band, (wide, high));
        let window = Some((top * smooth, high));
        Brush { backend, units, craft: Craft::Raster, window }.all(drawing)?;
        small.extend(averaged(band, wide as usize, smooth as usize));
    }
    Ok(small)
}

/// Each `by` × `by` block of RGB pixels as its mean.
fn averaged(large: &[u8], wide: usize, by: usize) -> Vec<u8> {
    let row = wide * 3;
    let mut small = Vec::with_capacity(large.len() / (by * by));
    let mut sums = vec![0u32; row / by];
    for rows in large.chunks_exact(row * by) {
        sums.fill(0);
        for line in rows.chunks_exact(row) {
            for (x, pixel) in line.chunks_exact(3).enumerate() {
                for (channel, value) in pixel.iter().enumerate() {
                    sums[x / by * 3 + channel] += u32::from(*value);
                }
            }
        }
        let n = (by * by) as u32;
        small.extend(sums.iter().map(|sum| ((sum + n / 2) / n) as u8));
    }
    small
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Craft {
    Vector,
    Raster,
}

/// A backend with its units in a px.
struct Brush<B: DrawingBackend> {
    backend: B,
    units: f64,
    craft: Craft,
    /// Where only a band is painted: how far down it begins and how high it is, in units.
    window: Option<(u32, u32)>,
}

impl<B: DrawingBackend> Brush<B> {
    fn all(&mut self, drawing: &Drawing) -> Painted {
        if !lettering::ready() {
            return Err(Unpainted("the bundled type is damaged".into()));
        }
        let paper = (f64::from(drawing.width), f64::from(drawing.height));
        let corners = [(0.0, 0.0), (paper.0, 0.0), paper, (0.0, paper.1)];
        self.area(&corners, drawing.ground)?;
        for shape in &drawing.shapes {
            if !self.is_in_window(shape) {
                continue;
            }
            match shape {
                Shape::Area { points, fill } => self.area(points, *fill)?,
                Shape::Path { points, ink, width, dash } => {
                    self.path(points, *ink, *width, *dash)?;
                }
                Shape::Dot { at, radius, fill } => self.dot(*at, *radius, *fill)?,
                Shape::Text(text) => self.text(text)?,
            }
        }
        done(self.backend.present())
    }

    fn unit(&self, at: Point) -> (i32, i32) {
        let top = self.window.map_or(0, |(top, _)| top as i32);
        ((at.0 * self.units).round() as i32, (at.1 * self.units).round() as i32 - top)
    }

    /// Whether any of it can be seen.
    fn is_in_window(&self, shape: &Shape) -> bool {
        let Some((top, high)) = self.window else { return true };
        let (from, to) = (f64::from(top) / self.units, f64::from(top + high) / self.units);
        shape.reach().is_none_or(|(low, high)| low <= to && high >= from)
    }

    fn area(&mut self, points: &[Point], fill: Rgb) -> Painted {
        let points: Vec<_> = points.iter().map(|p| self.unit(*p)).collect();
        done(self.backend.fill_polygon(points, &colour(fill)))
    }

    fn dot(&mut self, at: Point, radius: f64, fill: Rgb) -> Painted {
        let radius = (radius * self.units).round() as u32;
        done(self.backend.draw_circle(self.unit(at), radius, &colour(fill).filled(), true))
    }

    fn path(&mut self, points: &[Point], ink: Rgb, width: f64, dash: Dash) -> Painted {
        for piece in dashes(points, dash, width.max(1.0)) {
            self.stroke(&piece, ink, width)?;
        }
        Ok(())
    }

    fn stroke(&mut self, points: &[Point], ink: Rgb, width: f64) -> Painted {
        let width_units = (width * self.units).round().max(1.0);
        match self.craft {
            Craft::Vector => {
                let style = colour(ink).stroke_width(width_units as u32);
                let points: Vec<_> = points.iter().map(|p| self.unit(*p)).collect();
                done(self.backend.draw_path(points, &style))
            }
            Craft::Raster => self.raster_stroke(points, ink, width),
        }
    }

    /// A raster path as one four-cornered area a segment and a dot at each bend: plotters' own
    /// outline of a wide path crosses itself where the path turns back.
    fn raster_stroke(&mut self, points: &[Point], ink: Rgb, width: f64) -> Painted {
        let half = width.max(1.0 / self.units) / 2.0;
        for pair in points.windows(2) {
            if let Some(quad) = quad(pair[0], pair[1], half) {
                self.area(&quad, ink)?;
            }
        }
        let bends = points.len().saturating_sub(2);
        for bend in points.iter().skip(1).take(bends) {
            if half * self.units >= 1.5 {
                self.dot(*bend, half, ink)?;
            }
        }
        Ok(())
    }

    fn text(&mut self, text: &Text) -> Painted {
        // Where a backend puts the baseline below the top of a text, in ems: plotters-svg 0.3.7
        // writes dy = 0.76em; plotters 0.3.7 (ab_glyph) puts it half the font's size down. The
        // size that each is given for an em differs in the same way.
        let (per_em, baseline) = match self.craft {
            Craft::Vector => (1.24, 0.76),
            Craft::Raster => (lettering::LINE, lettering::LINE / 2.0),
        };
        let at = self.unit((text.at.0, text.at.1 - baseline * text.size));
        let h_pos = match text.anchor {
            Anchor::Start => HPos::Left,
            Anchor::Middle => HPos::Center,
            Anchor::End => HPos::Right,
        };
        let font = lettering::font(text.size * self.units * per_em, text.bold);
        let ink = colour(text.ink);
        let style = TextStyle::from(font).pos(Pos::new(h_pos, VPos::Top)).color(&ink);
        done(self.backend.draw_text(&text.words, &style, at))
    }
}

fn done(outcome: Result<(), impl std::fmt::Display>) -> Painted {
    outcome.map_err(|e| Unpainted(e.to_string()))
}

const fn colour(rgb: Rgb) -> RGBColor {
    RGBColor(rgb.0, rgb.1, rgb.2)
}

/// The corners of a segment drawn `2 half` wide; `None` where it has no length.
fn quad(a: Point, b: Point, half: f64) -> Option<[Point; 4]> {
    let (dx, dy) = (b.0 - a.0, b.1 - a.1);
    let length = (dx * dx + dy * dy).sqrt();
    (length > 1e-6).then(|| {
        let (nx, ny) = (-dy / length * half, dx / length * half);
        [(a.0 + nx, a.1 + ny), (b.0 + nx, b.1 + ny), (b.0 - nx, b.1 - ny), (a.0 - nx, a.1 - ny)]
    })
}

/// The pieces of a path that are inked.
fn dashes(points: &[Point], dash: Dash, width: f64) -> Vec<Vec<Point>> {
    let pattern = dash.pattern();
    if pattern.is_empty() {
        return vec![points.to_vec()];
    }
    let mut pieces = Vec::new();
    let (mut turn, mut left) = (0, pattern[0] * width);
    let mut piece: Vec<Point> = points.first().copied().into_iter().collect();
    for pair in points.windows(2) {
        let (mut from, to) = (pair[0], pair[1]);
        loop {
            let (dx, dy) = (to.0 - from.0, to.1 - from.1);
            let length = (dx * dx + dy * dy).sqrt();
            if length <= left {
                left -= length;
                piece.push(to);
                break;
            }
            from = (from.0 + dx * left / length, from.1 + dy * left / length);
            piece.push(from);
            if turn % 2 == 0 {
                pieces.push(std::mem::take(&mut piece));
            }
            turn += 1;
            left = pattern[turn % pattern.len()] * width;
            piece = vec![from];
        }
    }
    if turn % 2 == 0 && piece.len() > 1 {
        pieces.push(piece);
    }
    pieces
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::show::curve::{self, Size, Style};
    use crate::show::sample;

    #[test]
    fn a_picture_painted_in_bands_is_the_picture_painted_at_once() {
        let size = Size { width: 480, height: 330, density: 1 };
        for until_s in [0.0, 9000.0] {
            let drawing = curve::draw(&sample::tuesday(until_s), &Style::new(size));
            for (density, smooth) in [(1, 3), (2, 2)] {
                let whole = in_bands(&drawing, density, smooth, u32::MAX).unwrap();
                for rows in [7, BAND] {
                    let banded = in_bands(&drawing, density, smooth, rows).unwrap();
                    assert!(whole == banded, "{rows} rows at a time, density {density}");
                }
            }
        }
    }
}
