//! Tallies made into figures of merit, each with what it must reach.

use super::tally::{Forecast, Found, Tally};

/// One figure of merit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Figure {
    /// Its fixed name.
    pub key: &'static str,
    pub words: &'static str,
    pub unit: Unit,
    pub must: Must,
    /// `None` where nothing of its kind was there to be counted.
    pub value: Option<f64>,
}

/// How a figure is written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Unit {
    Share,
    Grams,
    Seconds,
    Count,
}

/// What a figure must reach.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Must {
    Open,
    AtMost(f64),
    AtLeast(f64),
    Within(f64, f64),
}

impl Must {
    #[must_use]
    pub fn is_met(self, value: f64) -> bool {
        match self {
            Self::Open => true,
            Self::AtMost(most) => value <= most,
            Self::AtLeast(least) => value >= least,
            Self::Within(least, most) => (least..=most).contains(&value),
        }
    }
}

/// Forecast, evaporation and contents: what a plain curve can say as well.
#[must_use]
pub fn of_the_curve(t: &Tally) -> Vec<Figure> {
    use Must::{AtLeast, AtMost, Open, Within};
    use Unit::Share;
    let all: Vec<Forecast> = t.forecasts.iter().flatten().copied().collect();
    let error = |forecasts: &[Forecast]| median(forecasts.iter().map(Forecast::error));
    let near = share(&all, Forecast::is_near);
    let covered = share(&all, Forecast::is_covered);
    let covered_last = share(&t.last_hour, Forecast::is_covered);
    let evaporation = median(t.evaporation.iter().map(|e| e.abs()));
    let bias = median(t.evaporation.iter().copied());
    let contents = quantile(t.contents.iter().copied(), 0.95);
    let always = quantile(t.contents_always.iter().copied(), 0.95);
    let [hour, half, quarter, five] = &t.forecasts;
    let figure = |key, words, must, value| Figure { key, words, unit: Share, must, value };
    vec![
        figure("target_error", "time-to-target error, median", AtMost(0.06), error(&all)),
        figure("target_error_60", "… 60 min before", Open, error(hour)),
        figure("target_error_30", "… 30 min before", Open, error(half)),
        figure("target_error_15", "… 15 min before", Open, error(quarter)),
        figure("target_error_5", "… 5 min before", Open, error(five)),
        figure("target_near", "within 2 min or 10 %", AtLeast(0.72), near),
        figure("target_covered", "truth inside p10 to p90", Within(0.7, 0.9), covered),
        figure("target_error_last_hour", "error in the last hour", Open, error(&t.last_hour)),
        figure("target_covered_last_hour", "inside, in the last hour", Open, covered_last),
        figure("evaporation_error", "evaporation error, median", AtMost(0.03), evaporation),
        figure("evaporation_bias", "… its bias", Open, bias),
        figure("contents_error", "contents error, p95", AtMost(0.015), contents),
        figure("contents_error_always", "… at all times", Open, always),
    ]
}

/// Handling, the bottom and the alerts.
#[must_use]
pub fn of_the_events(t: &Tally) -> Vec<Figure> {
    use Must::{AtLeast, AtMost, Open, Within};
    use Unit::{Count, Grams, Seconds, Share};
    let kg = || t.moves_kg.iter().copied();
    let per =
        |count: u32, hours: f64, per: f64| (hours > 0.0).then(|| f64::from(count) * per / hours);
    let warned = median(t.warned_at.iter().copied());
    let after = median(t.told_after_s.iter().copied());
    let speed = (t.wall_s > 0.0).then(|| t.samples as f64 / t.wall_s);
    let reached = median(t.reached_after_s.iter().map(|s| s.abs()));
    let tended = per(t.tended_catching, t.tended_hours, 50.0);
    let early = per(t.early_catching, t.early_hours, 50.0);
    let figure = |key, words, unit, must, value| Figure { key, words, unit, must, value };
    vec![
        figure("reached_off", "target told off by, median", Seconds, Open, reached),
        figure(
            "reached_false",
            "… false per 10 h",
            Count,
            Open,
            per(t.false_reached, t.hours, 10.0),
        ),
        figure("moves_found", "additions, ladlings found", Share, AtLeast(0.98), found(t.moves)),
        figure(
            "moves_false",
            "… false per 10 h",
            Count,
            AtMost(1.0),
            per(t.false_moves, t.hours, 10.0),
        ),
        figure("moves_kg", "… their kg, median error", Grams, AtMost(0.020), median(kg())),
        figure("moves_kg_p90", "… p90", Grams, Open, quantile(kg(), 0.9)),
        figure("moves_named", "… named right", Share, Open, found(t.names)),
        figure("moves_told_after", "… told after", Seconds, Open, after),
        figure("lids_found", "lid moves found", Share, AtLeast(0.98), found(t.lids)),
        figure("lids_false", "… false per 10 h", Count, Open, per(t.false_lids, t.hours, 10.0)),
        figure("stirs_found", "stirs found", Share, AtLeast(0.95), found(t.stirs)),
        figure("stirs_false", "… false per 10 h", Count, Open, per(t.false_stirs, t.hours, 10.0)),
        figure("blends_found", "blendings found", Share, Open, found(t.blends)),
        figure("catches_unwarned", "catches unwarned", Share, AtMost(0.02), missed(t.catches)),
        figure("warned_at", "warning at, median", Share, Within(0.3, 0.8), warned),
        figure("catching_tended", "false catching per 50 h tended", Count, AtMost(1.0), tended),
        figure("catching_early", "… per 50 h of first 45 min", Count, AtMost(1.0), early),
        figure("alerts", "alerts per hour", Count, AtMost(6.0), per(t.alerts, t.hours, 1.0)),
        figure(
            "flame_out_told",
            "flame out told in 5 min",
            Share,
            AtLeast(1.0),
            found(t.flame_out),
        ),
        figure("dry_told", "boiling dry told 10 min ahead", Share, AtLeast(1.0), found(t.dry)),
        figure("faults_told", "sensor faults told in 60 s", Share, AtLeast(1.0), found(t.faults)),
        figure("samples_per_second", "samples per second", Count, AtLeast(1e6), speed),
    ]
}

fn found(found: Found) -> Option<f64> {
    (found.there > 0).then(|| f64::from(found.found) / f64::from(found.there))
}

fn missed(all: Found) -> Option<f64> {
    found(all).map(|share| 1.0 - share)
}

fn share(forecasts: &[Forecast], fits: impl Fn(&Forecast) -> bool) -> Option<f64> {
    let count = forecasts.iter().filter(|forecast| fits(forecast)).count();
    (!forecasts.is_empty()).then(|| count as f64 / forecasts.len() as f64)
}

fn median(values: impl Iterator<Item = f64>) -> Option<f64> {
    quantile(values, 0.5)
}

/// The value that the share `q` of the others does not exceed, straight between the two nearest.
fn quantile(values: impl Iterator<Item = f64>, q: f64) -> Option<f64> {
    let mut values: Vec<f64> = values.collect();
    values.sort_by(f64::total_cmp);
    let place = q * values.len().checked_sub(1)? as f64;
    let below = *values.get(place.floor() as usize)?;
    let above = *values.get(place.ceil() as usize)?;
    // An infinite error stays infinite.
    Some(if below == above { below } else { below + place.fract() * (above - below) })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_quantile_lies_straight_between_its_neighbours() {
        assert_eq!(median([3.0, 1.0, 2.0].into_iter()), Some(2.0));
        assert_eq!(median([1.0, 2.0].into_iter()), Some(1.5));
        assert_eq!(quantile((0..=100).map(f64::from), 0.95), Some(95.0));
        assert_eq!(median(std::iter::empty()), None);
    }

    #[test]
    fn near_is_two_minutes_or_a_tenth_whichever_is_more() {
        let forecast = |left_s, p50| {
            let said = Some(crate::watch::action::Spread { p10: 0.0, p50, p90: 1e9 });
            Forecast { left_s, said }
        };
        assert!(forecast(300.0, 419.0).is_near() && !forecast(300.0, 421.0).is_near());
        assert!(forecast(3600.0, 3245.0).is_near() && !forecast(3600.0, 3235.0).is_near());
    }

    /// The limits are fixed: a figure that falls short is shown as such.
    #[test]
    fn the_limits_are_those_that_were_set() {
        use Must::{AtLeast, AtMost, Within};
        let all = [of_the_curve(&Tally::default()), of_the_events(&Tally::default())].concat();
        let limits = [
            ("target_error", AtMost(0.06)),
            ("target_near", AtLeast(0.72)),
            ("target_covered", Within(0.7, 0.9)),
            ("evaporation_error", AtMost(0.03)),
            ("contents_error", AtMost(0.015)),
            ("moves_found", AtLeast(0.98)),
            ("moves_false", AtMost(1.0)),
            ("moves_kg", AtMost(0.020)),
            ("lids_found", AtLeast(0.98)),
            ("stirs_found", AtLeast(0.95)),
            ("catches_unwarned", AtMost(0.02)),
            ("warned_at", Within(0.3, 0.8)),
            ("catching_tended", AtMost(1.0)),
            ("catching_early", AtMost(1.0)),
            ("flame_out_told", AtLeast(1.0)),
            ("dry_told", AtLeast(1.0)),
            ("faults_told", AtLeast(1.0)),
        ];
        for (key, must) in limits {
            let figure = all.iter().find(|figure| figure.key == key).unwrap();
            assert_eq!(figure.must, must, "{key}");
        }
    }

    #[test]
    fn rates_are_per_ten_and_per_fifty_hours() {
        let tally = Tally {
            hours: 20.0,
            tended_hours: 100.0,
            early_hours: 25.0,
            tended_catching: 3,
            early_catching: 1,
            false_moves: 4,
            alerts: 60,
            contents: (0..=100).map(f64::from).collect(),
            ..Tally::default()
        };
        let all = [of_the_curve(&tally), of_the_events(&tally)].concat();
        let value = |key| all.iter().find(|figure| figure.key == key).unwrap().value.unwrap();
        assert_eq!((value("catching_tended"), value("catching_early")), (1.5, 2.0));
        assert_eq!((value("moves_false"), value("alerts")), (2.0, 3.0));
        assert_eq!(value("contents_error"), 95.0);
    }

    #[test]
    fn a_forecast_that_is_not_given_is_as_wrong_as_can_be() {
        let unknown = Forecast { left_s: 300.0, said: None };
        assert_eq!(median([unknown.error(); 3].into_iter()), Some(f64::INFINITY));
        assert!(!unknown.is_near() && !unknown.is_covered());
    }
}
