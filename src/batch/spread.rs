//! How far things vary: the same draws every time, and the range that they make.

/// A small generator of the same numbers every time (Steele and others 2014, SplitMix64).
#[derive(Debug, Clone)]
pub struct Dice(pub u64);

impl Dice {
    /// Evenly from 0 to 1, neither included.
    pub fn even(&mut self) -> f64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        ((z ^ (z >> 31)) >> 11) as f64 / 9_007_199_254_740_992.0 + 5e-17
    }

    /// Normally distributed about 0 with standard deviation 1 (Box and Muller 1958).
    pub fn normal(&mut self) -> f64 {
        let (u, v) = (self.even(), self.even());
        (-2.0 * u.ln()).sqrt() * (std::f64::consts::TAU * v).cos()
    }
}

/// An 80 % interval and its middle.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Range {
    pub p10: f64,
    pub p50: f64,
    pub p90: f64,
}

/// The range of what each of the items says; `None` where one of them does not know.
pub fn range<T>(items: &[T], of: impl Fn(&T) -> Option<f64>) -> Option<Range> {
    let mut values = items.iter().map(of).collect::<Option<Vec<f64>>>()?;
    values.sort_by(f64::total_cmp);
    let at =
        |share: f64| values.get((share * (values.len() as f64 - 1.0)).round() as usize).copied();
    Some(Range { p10: at(0.1)?, p50: at(0.5)?, p90: at(0.9)? })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_draws_are_always_the_same_and_stand_about_one() {
        let mut dice = Dice(1);
        let normals: Vec<f64> = (0..10_000).map(|_| dice.normal()).collect();
        let mean = normals.iter().sum::<f64>() / 1e4;
        let square = normals.iter().map(|n| n * n).sum::<f64>() / 1e4;
        assert!(mean.abs() < 0.03 && (square - 1.0).abs() < 0.05, "{mean} {square}");
    }

    #[test]
    fn a_range_holds_the_middle_four_fifths() {
        let numbers: Vec<f64> = (0..=100).rev().map(f64::from).collect();
        let range = range(&numbers, |n| Some(*n)).unwrap();
        assert_eq!(range, Range { p10: 10.0, p50: 50.0, p90: 90.0 });
        assert_eq!(super::range(&numbers, |n| (*n > 3.0).then_some(*n)), None);
    }
}
