//! Which said event is which true one.
//!
//! Each true event, in order of time, takes the nearest in time of the said ones that fit it and
//! were not taken yet.

use crate::watch::action::{Happening, What};

use super::truth::TrueEvent;

/// How far outside a true event's span a said one may begin, s.
pub const SLACK_S: f64 = 60.0;

/// The pairs of places in the two lists.
#[must_use]
pub fn pairs(
    truth: &[&TrueEvent],
    said: &[&Happening],
    fits: impl Fn(&TrueEvent, &Happening) -> bool,
) -> Vec<(usize, usize)> {
    let mut pairs: Vec<(usize, usize)> = Vec::new();
    for (at, event) in truth.iter().enumerate() {
        let far = |there: usize| (said[there].at.seconds() - event.t_s).abs();
        let free = |there: &usize| !pairs.iter().any(|(_, taken)| taken == there);
        let nearest = (0..said.len())
            .filter(free)
            .filter(|there| fits(event, said[*there]))
            .min_by(|a, b| far(*a).total_cmp(&far(*b)));
        pairs.extend(nearest.map(|there| (at, there)));
    }
    pairs
}

/// Of one kind, and the said one begins within [`SLACK_S`] of the true one's span.
#[must_use]
pub fn alike(event: &TrueEvent, said: &Happening) -> bool {
    let span = event.t_s - SLACK_S..=event.end_s() + SLACK_S;
    event.what == said.what.name() && span.contains(&said.at.seconds())
}

/// As [`alike`], and the said mass is half to twice the true one.
#[must_use]
pub fn alike_in_kg(event: &TrueEvent, said: &Happening) -> bool {
    let kg = event.kg.unwrap_or(0.0);
    alike(event, said) && kg_of(said).is_some_and(|said| (0.5 * kg..=2.0 * kg).contains(&said))
}

/// The mass that was said to come or go.
#[must_use]
pub const fn kg_of(said: &Happening) -> Option<f64> {
    match said.what {
        What::Added { kg, .. } | What::PouredBack { kg, .. } | What::Taken { kg, .. } => Some(kg),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::moment::Moment;

    fn ladled(t_s: f64, kg: f64) -> TrueEvent {
        let what = "taken".to_owned();
        TrueEvent { t_s, what, secs: 4.0, kg: Some(kg), name: None, watts: None, sensor: None }
    }

    fn said(t_s: f64, kg: f64) -> Happening {
        let at = Moment::from_seconds(t_s).unwrap();
        Happening { at, seen: at, what: What::Taken { kg, sd_kg: 0.01 } }
    }

    #[test]
    fn a_said_ladling_finds_one_true_one_and_no_more() {
        let (first, second) = (ladled(100.0, 0.4), ladled(130.0, 0.4));
        let one = said(128.0, 0.41);
        assert_eq!(pairs(&[&first, &second], &[&one], alike_in_kg), [(0, 0)]);
        let other = said(101.0, 0.39);
        assert_eq!(pairs(&[&first, &second], &[&one, &other], alike_in_kg), [(0, 1), (1, 0)]);
    }

    #[test]
    fn a_ladling_of_another_weight_or_time_is_another() {
        assert!(!alike_in_kg(&ladled(100.0, 0.4), &said(100.0, 0.9)));
        assert!(!alike_in_kg(&ladled(100.0, 0.4), &said(165.0, 0.4)));
        assert!(alike_in_kg(&ladled(100.0, 0.4), &said(163.0, 0.4)));
    }
}
