//! Holding through service: hot enough, and for how long it has not been.
//!
//! ```text
//!          below for FLICKER_S              at the limit for FLICKER_S
//!   Hot ───────────────────────▶ Below ─────────────────────────────────▶ HotAgain
//!                                  │ allowance used up, or none             │ below again
//!                                  ▼                                        ▼
//!                               TooCool ◀───────────────────────────────── TooCool
//! ```
//!
//! Some rules let hot food stand below the limit for service for a time, once only. That one time
//! is counted from the moment at which the food fell below; a second fall has none. A reading that
//! wavers about the limit for less than [`FLICKER_S`] is no fall. While nothing is known of the
//! temperature the clock of a fall runs on, and of hot food nothing is said.

use crate::batch::ledger::Ledger;
use crate::batch::plan::Target;
use crate::batch::rules::Hold;
use crate::moment::Moment;

/// A fall below the limit, or a rise above it, must last this long to count, s.
pub const FLICKER_S: f64 = 60.0;

/// How the food stands against the rule.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Standing {
    Hot,
    /// Below the limit for service; this much of the one allowance is left, s.
    Below {
        left_s: f64,
    },
    /// Below the limit and no time for that is left: heat it again at once, or throw it away.
    TooCool,
    /// Above the limit as far as was known, but nothing is known now.
    NotKnown,
}

/// Follows one pot held hot.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Holding {
    rule: Hold,
    below_since: Option<Moment>,
    /// When the reading first crossed the limit the other way and has stayed there.
    crossed: Option<Moment>,
    falls: u32,
    longest_below_s: f64,
}

impl Holding {
    #[must_use]
    pub const fn new(rule: Hold) -> Self {
        Self { rule, below_since: None, crossed: None, falls: 0, longest_below_s: 0.0 }
    }

    /// Takes in the pot's temperature, `None` where it is not known, and says how it stands.
    pub fn step(&mut self, at: Moment, pot_c: Option<f64>) -> Standing {
        if let Some(pot_c) = pot_c {
            self.follow(at, pot_c < self.rule.limit_c);
        }
        let Some(since) = self.below_since else {
            return if pot_c.is_some() { Standing::Hot } else { Standing::NotKnown };
        };
        let below_s = (at - since).max(0.0);
        self.longest_below_s = self.longest_below_s.max(below_s);
        let left_s = self.rule.allowance_s.unwrap_or(0.0) - below_s;
        if self.falls > 1 || left_s <= 0.0 { Standing::TooCool } else { Standing::Below { left_s } }
    }

    /// How often the food fell below the limit.
    #[must_use]
    pub const fn falls(&self) -> u32 {
        self.falls
    }

    /// The longest time below the limit so far, s.
    #[must_use]
    pub const fn longest_below_s(&self) -> f64 {
        self.longest_below_s
    }

    fn follow(&mut self, at: Moment, is_below: bool) {
        if is_below == self.below_since.is_some() {
            self.crossed = None;
            return;
        }
        let crossed = *self.crossed.get_or_insert(at);
        if at - crossed < FLICKER_S {
            return;
        }
        self.crossed = None;
        self.below_since = is_below.then_some(crossed);
        self.falls += u32::from(is_below);
    }
}

/// Over how long the speed of service is taken, s: a quarter of an hour of ladling.
pub const SERVICE_S: f64 = 900.0;

/// What went out through service, and how fast.
///
/// The speed fades: each ladleful counts e^(−age/τ)/τ, τ = [`SERVICE_S`], corrected for a service
/// that has only begun. It is `None` until something was served.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Service {
    began: Option<Moment>,
    last: Moment,
    faded_kg: f64,
    served_kg: f64,
    /// Ladlefuls since the last long pause.
    ladlefuls: u32,
}

/// Nobody ladled for this long: service is over, s.
pub const PAUSE_S: f64 = 1800.0;
/// Fewer ladlefuls are tastes.
const LADLEFULS: u32 = 3;

impl Service {
    /// A ladleful of `kg` went out.
    pub fn serve(&mut self, at: Moment, kg: f64) {
        let kg = if kg.is_finite() { kg.max(0.0) } else { 0.0 };
        self.began.get_or_insert(at);
        let goes_on = at - self.last < PAUSE_S;
        self.ladlefuls = if goes_on { self.ladlefuls.saturating_add(1) } else { 1 };
        self.faded_kg = self.faded_kg * fade(at - self.last) + kg;
        self.last = at.max(self.last);
        self.served_kg += kg;
    }

    /// Since the last ladleful, s; `None` before the first.
    #[must_use]
    pub fn idle_s(&self, at: Moment) -> Option<f64> {
        self.began.map(|_| at - self.last)
    }

    /// Whether it is ladled out again and again, not only tasted.
    #[must_use]
    pub fn is_under_way(&self, at: Moment) -> bool {
        self.ladlefuls >= LADLEFULS && at - self.last < PAUSE_S
    }

    #[must_use]
    pub const fn served_kg(&self) -> f64 {
        self.served_kg
    }

    /// How fast it goes out now, kg/h.
    #[must_use]
    pub fn kg_h(&self, at: Moment) -> Option<f64> {
        // The first ladleful begins the count: a service is at least a third of the time old.
        let age_s = (at - self.began?).max(SERVICE_S / 3.0);
        let weight_s = SERVICE_S * (1.0 - fade(age_s));
        Some(self.faded_kg * fade(at - self.last) / weight_s * 3600.0)
    }

    /// When the pot runs out at this speed, s from now; `None` where that is more than a day away.
    #[must_use]
    pub fn runs_out_in_s(&self, at: Moment, contents_kg: f64) -> Option<f64> {
        let in_s = contents_kg / self.kg_h(at)? * 3600.0;
        (0.0..86_400.0).contains(&in_s).then_some(in_s)
    }
}

fn fade(age_s: f64) -> f64 {
    (-age_s.max(0.0) / SERVICE_S).exp()
}

/// Water that brings a pot that was held too long back to its target, litres of cold water (1 kg
/// each); `None` where it is not too thick, or the target cannot be reached by water.
#[must_use]
pub fn top_up_l(ledger: &Ledger, target: &Target) -> Option<f64> {
    let short_kg = target.contents_kg(ledger)? - ledger.contents_kg();
    (short_kg > 0.0).then_some(short_kg)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::batch::composition::Composition;
    use crate::batch::rules::Rules;

    fn england() -> Holding {
        Holding::new(Rules::by_name("england").unwrap().hold)
    }

    /// Runs minute by minute from `from_min` to `to_min` at `pot_c`; the last standing.
    fn minutes(hold: &mut Holding, from_min: i64, to_min: i64, pot_c: Option<f64>) -> Standing {
        let mut standing = Standing::NotKnown;
        for minute in from_min..=to_min {
            standing = hold.step(Moment::from_ms(minute * 60_000), pot_c);
        }
        standing
    }

    #[test]
    fn two_hours_below_63_are_counted_and_no_more() {
        let mut hold = england();
        assert_eq!(minutes(&mut hold, 0, 30, Some(70.0)), Standing::Hot);
        let standing = minutes(&mut hold, 31, 91, Some(58.0));
        assert_eq!(standing, Standing::Below { left_s: 3600.0 });
        assert_eq!(minutes(&mut hold, 92, 150, Some(55.0)), Standing::Below { left_s: 60.0 });
        assert_eq!(minutes(&mut hold, 151, 151, Some(55.0)), Standing::TooCool);
    }

    #[test]
    fn the_two_hours_are_given_once_only() {
        let mut hold = england();
        minutes(&mut hold, 0, 20, Some(58.0));
        assert_eq!(minutes(&mut hold, 21, 40, Some(80.0)), Standing::Hot);
        assert_eq!(minutes(&mut hold, 41, 45, Some(60.0)), Standing::TooCool);
        assert_eq!(hold.falls(), 2);
    }

    #[test]
    fn a_rule_without_an_allowance_gives_none() {
        let mut hold = Holding::new(Rules::by_name("fda").unwrap().hold);
        assert_eq!(minutes(&mut hold, 0, 5, Some(58.0)), Standing::Hot);
        assert_eq!(minutes(&mut hold, 6, 8, Some(56.0)), Standing::TooCool);
    }

    #[test]
    fn a_reading_that_wavers_about_the_limit_uses_nothing_up() {
        let mut hold = england();
        for second in 0..3600 {
            let pot_c = if second % 40 < 20 { 63.1 } else { 62.9 };
            assert_eq!(hold.step(Moment::from_ms(second * 1000), Some(pot_c)), Standing::Hot);
        }
        assert_eq!(hold.falls(), 0);
    }

    #[test]
    fn a_silent_probe_does_not_stop_the_clock() {
        let mut hold = england();
        minutes(&mut hold, 0, 10, Some(58.0));
        assert_eq!(minutes(&mut hold, 11, 121, None), Standing::TooCool);
        let mut hold = england();
        minutes(&mut hold, 0, 10, Some(70.0));
        assert_eq!(minutes(&mut hold, 11, 20, None), Standing::NotKnown);
    }

    #[test]
    fn a_steady_service_is_told_its_speed_and_its_end() {
        let mut service = Service::default();
        assert_eq!(service.kg_h(Moment::from_ms(0)), None);
        // 0.4 kg every three minutes is 8 kg/h.
        for n in 0..20 {
            service.serve(Moment::from_ms(n * 180_000), 0.4);
        }
        let at = Moment::from_ms(19 * 180_000 + 90_000);
        let kg_h = service.kg_h(at).unwrap();
        assert!((kg_h - 8.0).abs() < 0.4, "{kg_h}");
        assert!((service.runs_out_in_s(at, 4.0).unwrap() - 1800.0).abs() < 100.0);
        assert!((service.served_kg() - 8.0).abs() < 1e-9);
    }

    #[test]
    fn tastes_are_no_service_and_a_long_pause_ends_one() {
        let mut service = Service::default();
        let minute = |n: i64| Moment::from_ms(n * 60_000);
        for n in [10, 50, 55] {
            service.serve(minute(n), 0.2);
            assert!(!service.is_under_way(minute(n)), "tasted at {n}");
        }
        service.serve(minute(60), 0.3);
        assert!(service.is_under_way(minute(80)));
        assert!(!service.is_under_way(minute(91)));
    }

    #[test]
    fn a_service_that_has_stopped_slows_to_nothing() {
        let mut service = Service::default();
        service.serve(Moment::from_ms(0), 0.4);
        assert_eq!(service.runs_out_in_s(Moment::from_ms(4 * 3_600_000), 10.0), None);
    }

    #[test]
    fn a_pot_held_too_long_is_topped_up_to_its_target() {
        let gravy = Composition::new(0.88, 0.08, 0.035, 0.005).unwrap();
        let mut pot = Ledger::start(10.0, gravy);
        let target = Target::TotalSolids(0.12);
        assert!(top_up_l(&pot, &target).is_none_or(|l| l < 1e-9));
        pot.evaporate(1.2);
        assert!((top_up_l(&pot, &target).unwrap() - 1.2).abs() < 1e-9);
    }
}
