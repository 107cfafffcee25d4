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
    let parts: Vec<String> = [left, out, top_up(now)].into_iter().flatten().collect();
    (!parts.is_empty()).then(|| parts.join(", "))
}

/// "0.4 l of water thins it again"
#[must_use]
pub fn top_up(now: &Snapshot) -> Option<String> {
    let litres = now.top_up_l.filter(|litres| *litres >= LEAST_L)?;
    Some(format!("{litres:.1} l of water thins it to its target"))
}
