//! The virtual pot's bottom: will it catch?
//!
//! **Terms.** *q* heat flux through the base, W/m²; *s* softness 0..1; *c* thickness, the fat-free
//! solids as a fraction; *x* film: how far the layer on the base has dried out, 1 where it is about to
//! burn; *D* dose, 1 where it has caught.
//!
//! The film builds at dx/dt = warmth / t_safe with
//!
//! > 1/t_safe = ((1 − s)/t_raw + s/t_soft) · (q/q₀)^p · (c/c₀)^1.5
//!
//! and the dose follows it steeply, dD/dt = (ln 10 · n / t_safe) · 10^(n(x − 1)): under steady
//! conditions D reaches 1 when x does. A stir leaves the part of both that the spoon missed.
//!
//! Calibrated to the trade's rule (common practice, no source): unstirred, raw vegetables stand 40 to
//! 60 minutes, once soft 5 to 10, sooner on a high flame. Pots differ: four in five draw t_raw and
//! t_soft inside those bands at q₀. That what has gone soft feeds the film in proportion, that t_safe
//! falls as the flux to a power near one, and its power of thickness, are assumptions.

use super::chance::Chance;

/// Heat flux at which the trade's rule is taken to hold, W/m²: 2.3 kW into a 0.40 m base.
pub const RULE_FLUX_W_M2: f64 = 18_000.0;

/// Fat-free solids of a base gravy when it goes soft, as a fraction (onion raw has 0.11, diluted by
/// as much water as the batch takes).
pub const RULE_THICK: f64 = 0.08;

/// Decades of dose rate over one unit of film.
const STEEP: f64 = 4.0;

/// What this pot and stove are like.
#[derive(Debug, Clone, Copy)]
pub struct Base {
    raw_s: f64,
    soft_s: f64,
    flux_power: f64,
    /// Share of film and dose that a stir takes away.
    scraped: f64,
}

/// The bottom as it is now.
#[derive(Debug, Clone)]
pub struct Bottom {
    base: Base,
    film: f64,
    dose: f64,
    caught: bool,
}

/// What bears on the bottom.
#[derive(Debug, Clone, Copy)]
pub struct Load {
    pub flux_w_m2: f64,
    pub soft: f64,
    pub thick: f64,
    /// Contents less boiling point, K: a cold pot does not dry out.
    pub below_boil_k: f64,
}

impl Base {
    pub fn draw(chance: &mut Chance) -> Self {
        // 80 % of a log-normal lies within 1.28 ln_sd: 40..60 min and 5..10 min.
        Self {
            raw_s: 60.0 * chance.about(49.0, 0.158),
            soft_s: 60.0 * chance.about(7.07, 0.27),
            flux_power: chance.between(0.8, 1.2),
            scraped: chance.between(0.9, 1.0),
        }
    }

    /// How long this bottom stands unstirred under `load` from a clean start, s.
    #[must_use]
    pub fn safe_s(&self, load: Load) -> f64 {
        let rule_s = 1.0 / ((1.0 - load.soft) / self.raw_s + load.soft / self.soft_s);
        let flux = (load.flux_w_m2.max(200.0) / RULE_FLUX_W_M2).powf(self.flux_power);
        let thick = (load.thick.max(0.02) / RULE_THICK).powf(1.5);
        rule_s / flux / thick / warmth(load.below_boil_k)
    }
}

/// A pot at the boil dries its film, one 15 K below half as fast, one 60 K below hardly: the wall must
/// be above the boiling point. The shape is an assumption.
fn warmth(below_boil_k: f64) -> f64 {
    1.0 / (1.0 + (below_boil_k.max(0.0) / 15.0).powi(2))
}

impl Bottom {
    #[must_use]
    pub const fn new(base: Base) -> Self {
        Self { base, film: 0.0, dose: 0.0, caught: false }
    }

    /// One second under `load`.
    pub fn second(&mut self, load: Load) {
        let safe_s = self.base.safe_s(load);
        self.film = (self.film + 1.0 / safe_s).min(2.0);
        let rate = STEEP * std::f64::consts::LN_10 / safe_s;
        self.dose = (self.dose + rate * 10_f64.powf(STEEP * (self.film - 1.0))).min(1e4);
        self.caught |= self.dose >= 1.0;
    }

    /// The bottom is scraped. What has caught stays.
    pub fn scrape(&mut self) {
        if !self.caught {
            self.film *= 1.0 - self.base.scraped;
            self.dose *= 1.0 - self.base.scraped;
        }
    }

    #[must_use]
    pub const fn film(&self) -> f64 {
        self.film
    }

    #[must_use]
    pub const fn dose(&self) -> f64 {
        self.dose
    }

    #[must_use]
    pub const fn caught(&self) -> bool {
        self.caught
    }

    #[must_use]
    pub const fn base(&self) -> &Base {
        &self.base
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn stands_s(base: Base, soft: f64, flux_w_m2: f64) -> f64 {
        let load = Load { flux_w_m2, soft, thick: RULE_THICK, below_boil_k: 0.0 };
        let mut bottom = Bottom::new(base);
        let mut t_s = 0.0;
        while !bottom.caught() && t_s < 30_000.0 {
            bottom.second(load);
            t_s += 1.0;
        }
        t_s
    }

    fn share_within(soft: f64, low_min: f64, high_min: f64) -> f64 {
        let n = 400;
        let within = (0..n)
            .filter(|seed| {
                let base = Base::draw(&mut Chance::new(*seed, 9));
                let stood_min = stands_s(base, soft, RULE_FLUX_W_M2) / 60.0;
                (low_min..high_min).contains(&stood_min)
            })
            .count();
        within as f64 / n as f64
    }

    #[test]
    fn four_bottoms_in_five_keep_the_trades_rule() {
        // Common practice, no source: 40 to 60 minutes at first, 5 to 10 once soft. Four standard
        // errors of a share of 0.8 in 400 are 0.08.
        assert!((share_within(0.0, 40.0, 60.0) - 0.8).abs() < 0.08);
        assert!((share_within(1.0, 5.0, 10.0) - 0.8).abs() < 0.08);
    }

    #[test]
    fn a_high_flame_catches_sooner() {
        let base = Base::draw(&mut Chance::new(3, 9));
        let (low, high) = (stands_s(base, 1.0, 12_000.0), stands_s(base, 1.0, 36_000.0));
        assert!(high < 0.5 * low, "{high} s against {low} s");
    }

    #[test]
    fn a_pot_stirred_in_time_never_catches() {
        let base = Base::draw(&mut Chance::new(3, 9));
        let load =
            Load { flux_w_m2: RULE_FLUX_W_M2, soft: 1.0, thick: RULE_THICK, below_boil_k: 0.0 };
        let every = (0.6 * base.safe_s(load)) as u32;
        let mut bottom = Bottom::new(base);
        for t_s in 1..20_000 {
            bottom.second(load);
            if t_s % every == 0 {
                bottom.scrape();
            }
        }
        assert!(!bottom.caught() && bottom.dose() < 0.1);
    }

    #[test]
    fn stirring_does_not_undo_a_catch() {
        let base = Base::draw(&mut Chance::new(3, 9));
        let mut bottom = Bottom::new(base);
        let load = Load { flux_w_m2: 30_000.0, soft: 1.0, thick: 0.1, below_boil_k: 0.0 };
        (0..3000).for_each(|_| bottom.second(load));
        bottom.scrape();
        assert!(bottom.caught() && bottom.dose() >= 1.0);
    }
}
