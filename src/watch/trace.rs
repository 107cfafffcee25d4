//! How the level went through a disturbance: when it moved, and whether it was poured.
//!
//! Hands lean on a pot before they pour into it and a blender shakes it for minutes, so that the
//! beginning of a disturbance need not be the beginning of what changed the level. A level A until
//! second f, a straight way to the level B (where the load is at rest again) until second l, and B
//! after it are fitted by least squares over every pair f ≤ l:
//!
//! ```text
//! S(f, l) = Σ_{i<f} (xᵢ − A)² + Σ_{f≤i<l} (xᵢ − A − (B − A)(i − f + ½)/(l − f))² + Σ_{i≥l} (xᵢ − B)²
//! ```
//!
//! A is the mean before f, or the level predicted where nothing came before. The way is a pour where
//! it is long enough and fits better than a jump does: (S_jump − S)/(S/n) is the likelihood-ratio
//! statistic of the one parameter more, in Gaussian noise.

use std::collections::VecDeque;

/// Seconds that are remembered: the longest sieving.
const KEPT: usize = 180;
/// A disturbance shorter than this changed the level when it began, s.
const SHORT: usize = 25;
/// One that is not much longer than a stir did so where nothing was poured, s.
const STIR: usize = 60;
/// Seconds before a change that make a level of their own.
const LEVEL: usize = 6;
/// The statistic beyond which a way is no jump (about one in a thousand in Gaussian noise).
const NO_JUMP: f64 = 11.0;

/// Means of the seconds since the load was last at rest.
#[derive(Debug, Clone, Default)]
pub struct Trace {
    means: VecDeque<(f64, f64)>,
    seconds: usize,
}

/// When and how the level changed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Change {
    pub at_s: f64,
    /// How long it took where it was poured, else 0, s.
    pub poured_s: f64,
}

/// Sums of the first k levels above the last one: of x, x² and i·x.
#[derive(Debug, Clone, Copy, Default)]
struct Sums {
    x: f64,
    xx: f64,
    ix: f64,
}

#[derive(Debug, Clone, Copy)]
struct Fit {
    first: usize,
    last: usize,
    squares: f64,
}

impl Trace {
    pub fn take(&mut self, at_s: f64, mean_kg: f64) {
        self.means.push_back((at_s, mean_kg));
        self.seconds += 1;
        if self.means.len() > KEPT {
            self.means.pop_front();
        }
    }

    /// The change from `before_kg` to `after_kg` in a disturbance that began at `began_s`.
    #[must_use]
    pub fn change(&self, began_s: f64, before_kg: f64, after_kg: f64) -> Change {
        let sums = self.sums(after_kg);
        let before_kg = before_kg - after_kg;
        let Some(way) = best(&sums, before_kg, usize::MAX) else {
            return Change { at_s: began_s, poured_s: 0.0 };
        };
        let jump = best(&sums, before_kg, 1).map_or(way.squares, |jump| jump.squares);
        let noise = way.squares / self.means.len() as f64;
        let poured = jump - way.squares > NO_JUMP * noise;
        let poured_s = if poured { (way.last - way.first) as f64 } else { 0.0 };
        let at_s = self.means.get(way.first).map_or(began_s, |(at_s, _)| at_s - 1.0);
        let at_once = self.seconds <= if poured { SHORT } else { STIR };
        Change { at_s: if at_once { began_s } else { at_s }, poured_s }
    }

    fn sums(&self, after_kg: f64) -> Vec<Sums> {
        let mut sums = vec![Sums::default()];
        let mut now = Sums::default();
        for (i, (_, kg)) in self.means.iter().enumerate() {
            let x = kg - after_kg;
            now = Sums { x: now.x + x, xx: now.xx + x * x, ix: now.ix + i as f64 * x };
            sums.push(now);
        }
        sums
    }
}

/// The best way of at most `longest` seconds.
fn best(sums: &[Sums], before_kg: f64, longest: usize) -> Option<Fit> {
    let n = sums.len() - 1;
    let fits = (0..n).flat_map(|first| {
        let end = n.min(first.saturating_add(longest));
        (first..=end).map(move |last| Fit {
            first,
            last,
            squares: squares(sums, before_kg, first, last),
        })
    });
    fits.min_by(|a, b| a.squares.total_cmp(&b.squares))
}

/// S(f, l), with levels above B.
fn squares(sums: &[Sums], before_kg: f64, first: usize, last: usize) -> f64 {
    let (f, l, n) = (sums[first], sums[last], sums[sums.len() - 1]);
    let a = if first < LEVEL { before_kg } else { f.x / first as f64 };
    let old = f.xx - 2.0 * a * f.x + first as f64 * a * a;
    let new = n.xx - l.xx;
    old + on_the_way(a, first, last, l.x - f.x, l.ix - f.ix, l.xx - f.xx) + new
}

/// Squares about the line a(1 − (i − f + ½)/(l − f)) = p − q i.
fn on_the_way(a: f64, first: usize, last: usize, x: f64, ix: f64, xx: f64) -> f64 {
    let long = (last - first) as f64;
    if long == 0.0 {
        return 0.0;
    }
    let q = a / long;
    let p = a + q * (first as f64 - 0.5);
    let (i_sum, ii_sum) = (powers(last).0 - powers(first).0, powers(last).1 - powers(first).1);
    xx - 2.0 * p * x + 2.0 * q * ix + long * p * p - 2.0 * p * q * i_sum + q * q * ii_sum
}

/// Σ i and Σ i² over i < n.
fn powers(n: usize) -> (f64, f64) {
    let n = n as f64;
    (n * (n - 1.0) / 2.0, n * (n - 1.0) * (2.0 * n - 1.0) / 6.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn trace(levels: impl IntoIterator<Item = f64>) -> Trace {
        let mut trace = Trace::default();
        levels.into_iter().enumerate().for_each(|(i, kg)| trace.take(i as f64 + 1.0, kg));
        trace
    }

    fn leaning(seconds: usize) -> impl Iterator<Item = f64> {
        (0..seconds).map(|i| 20.0 + [0.6, -0.3, 0.1, 0.4, -0.2][i % 5])
    }

    fn pour(from_kg: f64, kg: f64, seconds: usize) -> impl Iterator<Item = f64> {
        (1..=seconds).map(move |i| from_kg + kg * i as f64 / seconds as f64)
    }

    #[test]
    fn water_poured_right_after_the_blender_is_dated_when_it_was_poured() {
        let levels = leaning(60).chain(pour(20.0, 5.0, 15)).chain([25.0; 4]);
        let change = trace(levels).change(0.0, 20.0, 25.0);
        assert!((change.at_s - 61.0).abs() <= 3.0, "{}", change.at_s);
        assert!(change.poured_s >= 8.0, "{}", change.poured_s);
    }

    #[test]
    fn a_pour_into_a_still_pot_is_a_pour_and_a_lid_is_none() {
        let poured = trace(pour(20.0, 0.6, 9).chain([20.6; 4])).change(0.0, 20.0, 20.6);
        assert!(poured.poured_s >= 6.0 && poured.at_s == 0.0);
        let lid = trace([20.3, 20.6, 20.6, 20.6, 20.6]).change(0.0, 20.0, 20.6);
        assert!(lid.poured_s <= 1.0);
    }

    #[test]
    fn a_sieving_of_two_minutes_is_dated_when_it_began() {
        let levels = pour(20.0, -8.0, 110).chain([12.0; 4]);
        let change = trace(levels).change(0.0, 20.0, 12.0);
        assert!(change.at_s <= 3.0 && change.poured_s >= 100.0, "{change:?}");
    }

    #[test]
    fn a_lid_put_on_after_a_stir_is_no_pour() {
        let levels = leaning(20).chain([21.3; 4]);
        assert!(trace(levels).change(0.0, 20.0, 21.3).poured_s < 4.0);
    }
}
