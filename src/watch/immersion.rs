//! Is the probe in the food?
//!
//! A probe that is pulled out of a hot pot falls at its own pace towards the air; a pot of kilograms
//! cannot. With m c of a 6 kg pot at 24 kJ/K, [`FALL_K`] in [`WITHIN_S`] is 5 kW of cooling with the
//! flame still on, which only something cold poured in can do. So a fall of that much, with nothing
//! poured, is the probe coming out; it is in again when it reads near what the pot was, or is as hot
//! as only the pot can make it and steady.

use std::collections::VecDeque;

const FALL_K: f64 = 6.0;
const WITHIN_S: f64 = 30.0;
/// This near what the pot was, the probe is in it again, K.
const NEAR_K: f64 = 6.0;
/// A reading that rose this much above its lowest and stays there was put back into a cooled pot, K.
const RISE_K: f64 = 8.0;
/// For this long, s.
const STEADY_S: f64 = 60.0;

/// Where the probe is.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Place {
    In,
    Out,
    /// It was pulled out at `since_s`, when the pot was `pot_c` °C.
    CameOut {
        since_s: f64,
        pot_c: f64,
    },
    WentIn,
}

#[derive(Debug, Clone, Copy)]
struct Absence {
    pot_c: f64,
    lowest_c: f64,
    risen_s: f64,
}

/// Follows the probe in and out of the food.
#[derive(Debug, Clone, Default)]
pub struct Immersion {
    recent: VecDeque<(f64, f64)>,
    out: Option<Absence>,
}

impl Immersion {
    /// Takes a second's reading; `cooled` says that something may have cooled the pot itself.
    pub fn second(&mut self, at_s: f64, c: f64, cooled: bool) -> Place {
        if let Some(out) = &mut self.out {
            if !out.is_over(c) {
                return Place::Out;
            }
            self.out = None;
            self.recent.clear();
            return Place::WentIn;
        }
        if cooled {
            self.recent.clear();
        }
        self.recent.push_back((at_s, c));
        while self.recent.front().is_some_and(|(then_s, _)| at_s - then_s > WITHIN_S) {
            self.recent.pop_front();
        }
        self.came_out(c)
    }

    fn came_out(&mut self, c: f64) -> Place {
        let top = self.recent.iter().copied().max_by(|a, b| a.1.total_cmp(&b.1));
        let Some((since_s, pot_c)) = top.filter(|(_, top_c)| top_c - c > FALL_K) else {
            return Place::In;
        };
        self.out = Some(Absence { pot_c, lowest_c: c, risen_s: 0.0 });
        Place::CameOut { since_s, pot_c }
    }
}

impl Absence {
    fn is_over(&mut self, c: f64) -> bool {
        self.lowest_c = self.lowest_c.min(c);
        let risen = c > self.lowest_c + RISE_K;
        self.risen_s = if risen { self.risen_s + 1.0 } else { 0.0 };
        c > self.pot_c - NEAR_K || self.risen_s > STEADY_S
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn places(readings: impl Iterator<Item = f64>, cooled: bool) -> Vec<Place> {
        let mut immersion = Immersion::default();
        let mut at_s = 0.0;
        readings
            .map(|c| {
                at_s += 1.0;
                immersion.second(at_s, c, cooled)
            })
            .filter(|place| !matches!(place, Place::In | Place::Out))
            .collect()
    }

    /// A probe with a lag of 60 s in air at 45 °C, then back in the pot.
    fn pulled_and_put_back() -> impl Iterator<Item = f64> {
        let still = (0..60).map(|_| 97.0);
        let out = (0..120).map(|t| 45.0 + 52.0 * (-f64::from(t) / 60.0).exp());
        let back = (0..120).map(|t| 97.0 - 45.0 * (-f64::from(t) / 15.0).exp());
        still.chain(out).chain(back)
    }

    #[test]
    fn a_probe_that_is_pulled_out_and_put_back_is_seen_both_times() {
        let seen = places(pulled_and_put_back(), false);
        assert!(
            matches!(seen[..], [Place::CameOut { pot_c: 97.0, .. }, Place::WentIn]),
            "{seen:?}"
        );
    }

    #[test]
    fn a_pot_that_cold_water_cooled_is_still_round_its_probe() {
        let cooled = (0..60).map(|t| 97.0 - f64::from(t).min(20.0));
        assert_eq!(places(cooled, true), []);
    }

    #[test]
    fn a_pot_off_the_flame_cools_too_slowly_to_be_taken_for_air() {
        let cooling = (0..3600).map(|t| 97.0 - 0.02 * f64::from(t));
        assert_eq!(places(cooling, false), []);
    }
}
