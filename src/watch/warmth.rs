//! How warm the pot is, how fast it warms, and whether it boils.
//!
//! The slope dT/dt is the least-squares slope of the last [`WINDOW`] readings, a second apart, or of
//! those since it last turned: where the last minute's slope has differed from the whole window's by
//! [`TURN_K_S`] for [`TURN_S`] seconds, a flame was turned and what was before it is forgotten. A
//! stir mixes what had lain in layers, so that the probe jumps: the window spans stirs, and no turn
//! is looked for about one. A
//! probe reads its own offset (±0.5 K is a DS18B20's data-sheet figure, from memory) off the boiling
//! point of the pot, T_b + 0.3 ± 0.3 K (the boiling point rise of this gravy; see `physics`), so
//! the boil is recognised by a *plateau near* T_b, not by a number: within [`NEAR_K`] of it and no
//! longer warming. The plateau then tells the probe's offset.

use std::collections::VecDeque;

/// Readings that make a slope.
pub const WINDOW: usize = 600;
/// Readings of the last minute, which show a turn of the flame.
const RECENT: usize = 60;
/// Two slopes that differ by this are not of one flame, K/s: 0.36 K/min, more than a stir mixes.
const TURN_K_S: f64 = 0.006;
/// For so long, s.
const TURN_S: u32 = 20;
/// A plateau this near the boiling point is the boil, K.
const NEAR_K: f64 = 1.6;
/// A slope below this is a plateau, K/s: 0.15 K/min.
const FLAT_K_S: f64 = 0.0025;
/// Below the plateau by this much, the boil has ended, K.
const OFF_K: f64 = 0.55;
/// Once off the boil it boils again only this near the plateau, K.
const BACK_K: f64 = 0.4;
/// Before its plateau was seen a pot this near the boiling point may boil, K.
const UNSEEN_K: f64 = 1.5;
/// What a young slope lacks, s.
const YOUNG_S: f64 = 15.0;
/// Rise of the boiling point by what is dissolved, K.
pub const RISE_K: f64 = 0.3;
/// The pot is recognised as boiling only after this many flat seconds.
const FLAT_SECONDS: u32 = 20;

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Change {
    Boil,
    OffBoil,
}

/// Sums over the window for its least-squares slope, which readings join and leave.
#[derive(Debug, Clone, Copy, Default)]
struct Line {
    n: f64,
    t: f64,
    c: f64,
    tt: f64,
    tc: f64,
}

impl Line {
    fn add(&mut self, at_s: f64, c: f64, weight: f64) {
        self.n += weight;
        self.t += weight * at_s;
        self.c += weight * c;
        self.tt += weight * at_s * at_s;
        self.tc += weight * at_s * c;
    }

    fn slope(&self) -> f64 {
        let spread = self.tt - self.t * self.t / self.n;
        if spread > 0.0 { (self.tc - self.t * self.c / self.n) / spread } else { 0.0 }
    }
}

/// Temperature, its slope, and the boil.
#[derive(Debug, Clone)]
pub struct Warmth {
    /// Boiling point of water here, °C.
    water_boil_c: f64,
    past: VecDeque<(f64, f64)>,
    line: Line,
    slow_c: Option<f64>,
    plateau_c: Option<f64>,
    flat: u32,
    turned: u32,
    cool: u32,
    boiling: bool,
    read_s: Option<f64>,
}

impl Warmth {
    #[must_use]
    pub fn new(water_boil_c: f64) -> Self {
        Self {
            water_boil_c,
            past: VecDeque::with_capacity(WINDOW + 1),
            line: Line::default(),
            slow_c: None,
            plateau_c: None,
            flat: 0,
            turned: 0,
            cool: 0,
            boiling: false,
            read_s: None,
        }
    }

    /// The barometer moved.
    pub const fn set_water_boil_c(&mut self, c: f64) {
        self.water_boil_c = c;
    }

    /// Takes the probe's reading of a second; `handled` where a hand has just been in the pot.
    pub fn take(&mut self, at_s: f64, c: f64, handled: bool, simmers: bool) -> Option<Change> {
        if self.read_s.is_some_and(|then| at_s - then > 20.0) {
            self.forget();
        }
        self.read_s = Some(at_s);
        self.past.push_back((at_s, c));
        self.line.add(at_s, c, 1.0);
        if let Some((at_s, c)) = (self.past.len() > WINDOW).then(|| self.past.pop_front()).flatten()
        {
            self.line.add(at_s, c, -1.0);
        }
        self.follow_turn(handled);
        let slow = self.slow_c.get_or_insert(c);
        *slow += 0.1 * (c - *slow);
        self.judge(simmers)
    }

    /// Forgets what was before a turn of the flame.
    fn follow_turn(&mut self, handled: bool) {
        let n = self.past.len();
        let turns = !handled && n > 2 * RECENT && {
            let recent = slope(self.past.iter().skip(n - RECENT).copied());
            (recent - self.line.slope()).abs() > TURN_K_S
        };
        self.turned = if turns { self.turned + 1 } else { 0 };
        if self.turned >= TURN_S {
            self.past.drain(..n - RECENT);
            self.line = Line::default();
            self.past.iter().for_each(|(at_s, c)| self.line.add(*at_s, *c, 1.0));
            self.turned = 0;
        }
    }

    /// The readings so far say nothing about the next: something cold went in.
    pub fn forget(&mut self) {
        self.past.clear();
        self.line = Line::default();
        self.flat = 0;
    }

    /// The last readings were not the pot's: it is still as warm as `c` °C.
    pub fn restore(&mut self, c: f64) {
        self.forget();
        self.slow_c = Some(c);
    }

    /// Temperature of the pot, °C, where a reading is younger than a minute.
    #[must_use]
    pub fn pot_c(&self, at_s: f64) -> Option<f64> {
        self.read_s.filter(|then| at_s - then <= 60.0).and(self.slow_c)
    }

    /// The temperature corrected by what the boil showed of the probe's offset, °C.
    #[must_use]
    pub fn true_c(&self) -> Option<f64> {
        self.slow_c.map(|c| c - self.offset_k())
    }

    /// Boiling point of the pot's contents, °C.
    #[must_use]
    pub fn boil_c(&self) -> f64 {
        self.water_boil_c + RISE_K
    }

    /// How near the boiling point a pot may already be at it, K: less once its plateau was seen.
    #[must_use]
    pub fn near_boil_k(&self) -> f64 {
        self.plateau_c.map_or(UNSEEN_K, |_| OFF_K)
    }

    #[must_use]
    pub const fn is_boiling(&self) -> bool {
        self.boiling
    }

    /// dT/dt, K/s, over a minute at least: long enough to average what a stir mixes.
    #[must_use]
    pub fn slope_k_s(&self) -> Option<f64> {
        (self.past.len() >= RECENT).then(|| self.line.slope())
    }

    /// Readings, a second apart, on which [`Self::slope_k_s`] rests.
    #[must_use]
    pub fn slope_s(&self) -> f64 {
        self.past.len() as f64
    }

    /// Doubt about [`Self::slope_k_s`] as a share of it: a flame that was just lit has not warmed the
    /// stove, the pot and the probe yet (judgement: a quarter of it after a minute, a twentieth after five).
    #[must_use]
    pub fn slope_doubt(&self) -> f64 {
        YOUNG_S / self.slope_s().max(1.0)
    }

    /// dT/dt of the last half minute, K/s.
    #[must_use]
    pub fn short_slope_k_s(&self) -> Option<f64> {
        let n = self.past.len();
        (n >= 40).then(|| slope(self.past.iter().skip(n - 40).copied()))
    }

    /// Whether the probe's offset from the boiling point is known.
    fn offset_k(&self) -> f64 {
        self.plateau_c.map_or(0.0, |c| c - self.boil_c())
    }

    fn judge(&mut self, simmers: bool) -> Option<Change> {
        let slow_c = self.slow_c?;
        if self.boiling {
            return self.judge_end(slow_c);
        }
        let far = self.plateau_c.is_some_and(|plateau_c| slow_c < plateau_c - BACK_K);
        let near = (slow_c - self.boil_c()).abs() < NEAR_K && (!far || simmers);
        let flat = self.short_slope_k_s().is_some_and(|s| s.abs() < FLAT_K_S);
        self.flat = if near && flat { self.flat + 1 } else { 0 };
        if self.flat < FLAT_SECONDS {
            return None;
        }
        self.plateau_c = Some(slow_c);
        self.cool = 0;
        self.boiling = true;
        Some(Change::Boil)
    }

    fn judge_end(&mut self, slow_c: f64) -> Option<Change> {
        let plateau_c = *self.plateau_c.get_or_insert(slow_c);
        self.cool = if slow_c < plateau_c - OFF_K { self.cool + 1 } else { 0 };
        if self.cool == 0 {
            let up = slow_c > plateau_c;
            self.plateau_c =
                Some(plateau_c + if up { 0.02 } else { 0.0005 } * (slow_c - plateau_c));
        }
        if self.cool < 10 {
            return None;
        }
        self.boiling = false;
        self.flat = 0;
        Some(Change::OffBoil)
    }
}

/// Least-squares slope of (s, value) pairs, per second; 0 for fewer than two moments.
fn slope(points: impl Iterator<Item = (f64, f64)>) -> f64 {
    let mut line = Line::default();
    points.for_each(|(at_s, c)| line.add(at_s, c, 1.0));
    line.slope()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_pot_that_warms_to_its_boil_is_recognised_and_one_that_falls_is_not_boiling() {
        let mut warmth = Warmth::new(98.0);
        let mut changes = Vec::new();
        let mut c: f64 = 90.0;
        for i in 0..3000 {
            c = if i < 2000 { (c + 0.01).min(98.4) } else { c - 0.004 };
            changes.extend(warmth.take(f64::from(i), c, false, true).map(|change| (i, change)));
        }
        assert_eq!(changes.len(), 2);
        assert!((840..930).contains(&changes[0].0) && changes[0].1 == Change::Boil);
        assert!((2100..2200).contains(&changes[1].0) && changes[1].1 == Change::OffBoil);
    }

    #[test]
    fn a_pot_held_below_its_boil_is_not_boiling() {
        let mut warmth = Warmth::new(100.0);
        assert!((0..600).all(|i| warmth.take(f64::from(i), 95.0, false, true).is_none()));
    }

    #[test]
    fn a_flame_lit_under_a_cooling_pot_shows_in_the_slope_within_two_minutes() {
        let mut warmth = Warmth::new(100.0);
        for t in 0..600 {
            warmth.take(f64::from(t), 85.0 - 0.008 * f64::from(t), false, true);
        }
        for t in 0..100 {
            warmth.take(600.0 + f64::from(t), 80.2 + 0.04 * f64::from(t), false, true);
        }
        let slope = warmth.slope_k_s().unwrap();
        assert!(slope > 0.03, "{slope}");
    }

    #[test]
    fn a_window_that_has_moved_on_for_a_day_still_has_its_slope() {
        let mut warmth = Warmth::new(100.0);
        for t in 0..86_400 {
            warmth.take(f64::from(t), 60.0 + f64::from(t % 7) * 0.01, false, true);
        }
        for t in 0..600 {
            warmth.take(f64::from(86_400 + t), 60.0 + 0.002 * f64::from(t), false, true);
        }
        assert!((warmth.slope_k_s().unwrap() - 0.002).abs() < 1e-6);
    }

    #[test]
    fn the_slope_of_a_straight_line_is_its_slope() {
        let points = (0..50).map(|i| (f64::from(i), 3.0 + 0.25 * f64::from(i)));
        assert!((slope(points) - 0.25).abs() < 1e-12);
    }
}
