//! Where a label may stand: inside the paper, clear of what is already there.

use super::drawing::{Bounds, Point};

/// What is taken so far.
#[derive(Debug, Clone, Default)]
pub struct Placing {
    taken: Vec<Bounds>,
    words: Vec<Bounds>,
}

impl Placing {
    pub fn take(&mut self, bounds: Bounds) {
        self.taken.push(bounds);
    }

    /// Takes a place for words, which lines should not cross either.
    pub fn take_words(&mut self, bounds: Bounds) {
        self.words.push(bounds);
        self.taken.push(bounds);
    }

    /// Whether an upright line would cross no words.
    #[must_use]
    pub fn is_clear(&self, line: &[Point; 2]) -> bool {
        let line = Bounds {
            left: line[0].0,
            top: line[0].1.min(line[1].1),
            right: line[1].0,
            bottom: line[0].1.max(line[1].1),
        };
        self.words.iter().all(|words| !words.meets(&line.grown(0.5)))
    }

    /// Takes the way of a line, as a chain of small boxes.
    pub fn take_path(&mut self, points: &[Point], around: f64) {
        const STRIDE: f64 = 8.0;
        for pair in points.windows(2) {
            let (a, b) = (pair[0], pair[1]);
            let steps =
                ((b.0 - a.0).abs().max((b.1 - a.1).abs()) / STRIDE).ceil().clamp(1.0, 400.0);
            for n in 0..steps as u32 {
                let at = |share: f64| (a.0 + (b.0 - a.0) * share, a.1 + (b.1 - a.1) * share);
                let (p, q) = (at(f64::from(n) / steps), at(f64::from(n + 1) / steps));
                let bounds = Bounds {
                    left: p.0.min(q.0),
                    top: p.1.min(q.1),
                    right: p.0.max(q.0),
                    bottom: p.1.max(q.1),
                };
                self.take(bounds.grown(around));
            }
        }
    }

    #[must_use]
    pub fn is_free(&self, bounds: &Bounds) -> bool {
        self.taken.iter().all(|taken| !taken.meets(bounds))
    }
}
