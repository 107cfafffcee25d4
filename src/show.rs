//! Value in, bytes out. Knows neither where bytes go nor what time it is.
//!
//! ```text
//! Action ──▶ story ──▶ curve, comparison, sheet ──▶ drawing ──▶ paint ──▶ SVG, PNG
//!                └───▶ words                        (shapes)
//! ```
//!
//! A drawing is first a list of shapes, a plain value that the tests can ask where each word stands
//! and whether two of them collide; only then is it painted.

pub mod answer;
pub mod batch;
pub mod board;
pub mod canvas;
pub mod clock;
pub mod comparison;
pub mod curve;
pub mod drawing;
pub mod escape;
pub mod idle;
pub mod label;
pub mod lettering;
pub mod lines;
pub mod metrics;
pub mod page;
pub mod paint;
pub mod palette;
pub mod placing;
pub mod plan;
pub mod recipe_file;
pub mod recording;
#[cfg(test)]
mod sample;
pub mod scale;
pub mod sheet;
pub mod story;
pub mod strip;
pub mod table;
pub mod trace;
pub mod words;
