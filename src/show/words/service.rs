//! What is said while the gravy is held and served: how hot, how much is left, when the pot runs out,
//! and what thins it again.

use crate::show::clock::Clock;
use crate::watch::action::{Alarm, Snapshot};

use super::{after, is_raised, kilograms, minutes};

/// Water to top up with is told from this much on, litres.
const LEAST_L: f64 = 0.1;

/// The first sentence: "In service, 78 °C".
pub fn first(now: &Snapshot) -> String {
    let cool = is_raised(now, Alarm::TooCoolToHold);
    match now.pot_c {
        Some(c) if cool => format!("Too cool to hold, {c:.0} °C"),
        Some(c) => format!("In service, {c:.0} °C"),
        None => "In service, how hot is not known".into(),
    }
}

/// What is left, until when, and what it lacks.
pub fn doubt(now: &Snapshot, clock: Option<Clock>) -> Option<String> {
    let left = now.contents_kg.map(|kg| format!("{} left", kilograms(kg)));
    let out = now.runs_out_in_s.map(|s| match clock {
        Some(clock) => format!("runs out about {}", clock.hh_mm(after(now.at, s))),
        None => format!("runs out in about {}", minutes(s)),
    });
    let parts: Vec<String> = [left, speed(now), out, top_up(now)].into_iter().flatten().collect();
    (!parts.is_empty()).then(|| parts.join(", "))
}

/// How fast it goes out, where it does: "8.0 kg an hour".
#[must_use]
pub fn speed(now: &Snapshot) -> Option<String> {
    let kg_h = now.contents_kg? / now.runs_out_in_s.filter(|s| *s > 0.0)? * 3600.0;
    (kg_h >= 0.05).then(|| format!("{kg_h:.1} kg an hour go out"))
}

/// "0.4 l of water thins it again"
#[must_use]
pub fn top_up(now: &Snapshot) -> Option<String> {
    let litres = now.top_up_l.filter(|litres| *litres >= LEAST_L)?;
    Some(format!("{litres:.1} l of water thins it to its target"))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::moment::Moment;
    use crate::show::words::{Beside, say};

    #[test]
    fn what_is_served_says_what_is_left_and_until_when_and_no_more_when_it_is_ready() {
        let clock = Clock { utc_ms_at_zero: 17 * 3_600_000, offset_s: 0 };
        let now = Snapshot {
            at: Moment::from_ms(46 * 60_000),
            contents_kg: Some(5.4),
            pot_c: Some(78.4),
            served_kg: Some(3.0),
            runs_out_in_s: Some(2400.0),
            top_up_l: Some(0.43),
            ..Snapshot::default()
        };
        let served = Beside { clock: Some(clock), served: true, ..Beside::default() };
        let words = say(&now, &served);
        assert_eq!(words.first, "In service, 78 °C");
        let told = "5.40 kg left, 8.1 kg an hour go out, runs out about 18:26, 0.4 l of water \
                    thins it to its target";
        assert_eq!(words.doubt.unwrap(), told);
        let cool = Snapshot { raised: vec![Alarm::TooCoolToHold], ..now };
        assert_eq!(say(&cool, &served).first, "Too cool to hold, 78 °C");
    }
}
