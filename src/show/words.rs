//! What a cook could say of the pot: one sentence, its doubt, the one thing that needs a hand, what
//! comes next and what was last.
//!
//! Plain kitchen English: words before numbers, each figure with its unit, no blame. What is not
//! known is said to be unknown.

use crate::moment::Moment;
use crate::watch::action::{Alarm, Happening, Notice, POURED_BACK, Snapshot, Spread, What};
use crate::watch::event::CookSays;

use super::clock::{Clock, length};
use super::story::Story;

pub mod service;

/// What is said of a pot.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Words {
    /// The first sentence: "Ready about 18:40".
    pub first: String,
    /// How sure that is, and what is left: "between 18:34 and 18:52, 2.1 kg of water to go".
    pub doubt: Option<String>,
    /// The one thing that needs a hand now.
    pub loud: Option<Loud>,
    /// What is planned next: "Still to come: cream, 0.45 kg".
    pub next: Option<String>,
    /// The last thing that happened: "Stirred, 25 s".
    pub last: Option<String>,
}

/// One action, and why.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Loud {
    pub alarm: Alarm,
    /// "Stir within 4 min"
    pub what: String,
    /// "over 6 min since the last stir"
    pub why: String,
}

/// What is said at the end of a story.
#[must_use]
pub fn of(story: &Story, clock: Option<Clock>) -> Words {
    let raised: Vec<&Notice> = story.raised().collect();
    match &story.now {
        Some(now) => {
            let warming_c_min = story.warming_c_min();
            let last = story.happenings.back();
            let probe_is_out = story.probe_is_out();
            let right = story.reached.is_some() || story.target.is_none();
            let served = right && now.served_kg.is_some();
            say(now, &Beside { last, raised: &raised, warming_c_min, probe_is_out, served, clock })
        }
        None => Words { first: "Nothing seen yet".into(), ..Words::default() },
    }
}

/// What may be known beside the snapshot.
#[derive(Debug, Clone, Copy, Default)]
pub struct Beside<'a> {
    pub last: Option<&'a Happening>,
    /// The last words of the alerts that are raised.
    pub raised: &'a [&'a Notice],
    pub warming_c_min: Option<f64>,
    /// Whether the probe was taken out, as against fallen silent.
    pub probe_is_out: bool,
    /// Whether it was right and is being served.
    pub served: bool,
    pub clock: Option<Clock>,
}

/// What is said of a pot as it is now.
#[must_use]
pub fn say(now: &Snapshot, beside: &Beside) -> Words {
    Words {
        first: first(now, beside),
        doubt: if beside.served {
            service::doubt(now, beside.clock)
        } else {
            doubt(now, beside.clock)
        },
        loud: loud(now, beside.raised),
        next: now.next_addition.as_ref().map(|(name, kg)| format!("{name}, {}", kilograms(*kg))),
        last: beside.last.map(|happening| happened(&happening.what)),
    }
}

fn is_raised(now: &Snapshot, alarm: Alarm) -> bool {
    now.raised.contains(&alarm)
}

fn first(now: &Snapshot, beside: &Beside) -> String {
    if let Some(blind) = blind(now, beside.probe_is_out) {
        return blind;
    }
    if beside.served {
        return service::first(now);
    }
    match now.target_in_s {
        Some(spread) if spread.p50 <= 0.0 => return "Ready now".into(),
        Some(spread) => return ready(now.at, spread, beside.clock),
        None => {}
    }
    match now.pot_c {
        Some(c) if is_raised(now, Alarm::TooCoolToHold) => format!("Too cool to hold, {c:.0} °C"),
        Some(c) if is_raised(now, Alarm::GoingCold) => format!("Going cold, {c:.0} °C"),
        Some(c) if now.boiling == Some(true) => format!("At the boil, {c:.0} °C"),
        Some(c) => match beside.warming_c_min {
            Some(rise) if rise > 0.2 => format!("Heating, {c:.0} °C"),
            Some(rise) if rise < -0.2 => format!("Cooling, {c:.0} °C"),
            Some(_) => format!("Steady at {c:.0} °C"),
            None => format!("At {c:.0} °C"),
        },
        None => match now.contents_kg {
            Some(kg) => format!("{} in the pot", kilograms(kg)),
            None => "Cannot tell yet".into(),
        },
    }
}

/// Where a sensor's silence keeps the answer back.
fn blind(now: &Snapshot, probe_is_out: bool) -> Option<String> {
    let (probe, scale) = (is_raised(now, Alarm::ProbeFault), is_raised(now, Alarm::ScaleFault));
    let why = match (probe && now.pot_c.is_none(), scale && now.contents_kg.is_none()) {
        (true, true) => "probe and scale are silent",
        (true, false) if now.target_in_s.is_none() && probe_is_out => "the probe is out of the pot",
        (true, false) if now.target_in_s.is_none() => "the probe is silent",
        (false, true) if now.target_in_s.is_none() => "the scale gives no weight",
        _ => return None,
    };
    Some(format!("Cannot tell: {why}"))
}

fn ready(at: Moment, spread: Spread, clock: Option<Clock>) -> String {
    match clock {
        Some(clock) => format!("Ready about {}", clock.hh_mm(after(at, spread.p50))),
        None => format!("Ready in about {}", minutes(spread.p50)),
    }
}

fn after(at: Moment, seconds: f64) -> Moment {
    // A forecast is far below the centuries at which this would wrap.
    at.plus_ms((seconds.clamp(0.0, 1e9) * 1000.0).round() as i64)
}

/// Whole minutes and never "0 min".
fn minutes(seconds: f64) -> String {
    length(((seconds / 60.0).round() * 60.0).max(60.0)).replace("60 s", "1 min")
}

fn doubt(now: &Snapshot, clock: Option<Clock>) -> Option<String> {
    let to_go = to_go(now);
    match now.target_in_s {
        Some(spread) if spread.p50 > 0.0 => {
            let between = between(now.at, spread, clock);
            Some(to_go.map_or(between.clone(), |left| format!("{between}, {left}")))
        }
        Some(_) => None,
        None => now.target_kg.and(to_go).map(|left| format!("{left}; no time can be told yet")),
    }
}

fn between(at: Moment, spread: Spread, clock: Option<Clock>) -> String {
    let ends = [spread.p10, spread.p90];
    match clock.map(|clock| ends.map(|s| clock.hh_mm(after(at, s)))) {
        Some([low, high]) if low == high => format!("at {low}"),
        Some([low, high]) => format!("between {low} and {high}"),
        None if ends[1] < 3570.0 => {
            let [low, high] = ends.map(|s| (s / 60.0).round().max(1.0));
            if low == high { format!("in {low} min") } else { format!("in {low} to {high} min") }
        }
        None => format!("in {} to {}", minutes(ends[0]), minutes(ends[1])),
    }
}

/// How much must still boil off.
fn to_go(now: &Snapshot) -> Option<String> {
    let left = now.contents_kg? - now.target_kg?;
    (left > 0.005).then(|| format!("{} of water to go", kilograms(left)))
}

/// Masses as a cook reads a scale: 21.4 kg, 0.45 kg, 0.96 kg.
#[must_use]
pub fn kilograms(kg: f64) -> String {
    if kg.abs() >= 9.95 { format!("{kg:.1} kg") } else { format!("{kg:.2} kg") }
}

/// The alerts from the most pressing to the least.
pub const PRESSING: [Alarm; 11] = [
    Alarm::Catching,
    Alarm::BoilingOver,
    Alarm::RunningDry,
    Alarm::TargetReached,
    Alarm::TooCoolToHold,
    Alarm::CoolingTooSlow,
    Alarm::StirDue,
    Alarm::GoingCold,
    Alarm::ScaleFault,
    Alarm::ProbeFault,
    Alarm::TargetNear,
];

fn loud(now: &Snapshot, raised: &[&Notice]) -> Option<Loud> {
    let alarm = PRESSING.into_iter().find(|alarm| is_raised(now, *alarm))?;
    let notice = raised.iter().find(|notice| notice.alarm == alarm);
    Some(Loud {
        alarm,
        what: action(alarm, now),
        why: notice.map_or_else(String::new, |notice| notice.why_now(now)),
    })
}

/// What is to be done about an alert.
#[must_use]
pub fn action(alarm: Alarm, now: &Snapshot) -> String {
    match (alarm, now.stir_within_s) {
        (Alarm::StirDue, Some(s)) if s >= 60.0 => format!("Stir within {}", minutes(s)),
        (Alarm::StirDue, _) => "Stir now".into(),
        (Alarm::Catching, _) => "Stir at once, down to the bottom".into(),
        (Alarm::TargetNear, _) => "Nearly there: stay with it".into(),
        (Alarm::TargetReached, _) => "Ready: turn the flame down".into(),
        (Alarm::RunningDry, _) => "Nearly dry: flame off".into(),
        (Alarm::BoilingOver, _) => "Rising: turn the flame down".into(),
        (Alarm::GoingCold, _) => "Losing heat: look at the flame".into(),
        (Alarm::TooCoolToHold, _) => "Too cool to hold: heat it through".into(),
        (Alarm::CoolingTooSlow, _) => "Cooling too slowly: shallower, or into iced water".into(),
        (Alarm::ProbeFault, _) => "Look at the probe".into(),
        (Alarm::ScaleFault, _) => "Look at the scale".into(),
    }
}

/// A pot by its name: "big pot", and not "stock pot pot".
#[must_use]
pub fn pot(name: &str) -> String {
    if name.to_lowercase().contains("pot") { name.to_owned() } else { format!("{name} pot") }
}

/// Something that happened, as it is told.
#[must_use]
pub fn happened(what: &What) -> String {
    match what {
        What::Added { kg, name: Some(name), .. } => {
            format!("{} in, {}", capital(name), kilograms(*kg))
        }
        What::Added { kg, name: None, .. } => format!("{} added", kilograms(*kg)),
        What::PouredBack { kg, .. } => format!("{} of {POURED_BACK}", kilograms(*kg)),
        What::Corrected { kg, ago_s, .. } if *kg <= 0.0 => {
            format!("Put right: nothing went in ({} before)", length(*ago_s))
        }
        What::Corrected { kg, name, ago_s } => {
            let name = name.as_deref().unwrap_or("an addition");
            format!("Put right: {name}, {} ({} before)", kilograms(*kg), length(*ago_s))
        }
        What::Taken { kg, .. } => format!("{} taken out", kilograms(*kg)),
        // The cook said so, and for how long is not known.
        What::Stirred { for_s } if *for_s <= 0.0 => "Stirred".into(),
        What::Stirred { for_s } => format!("Stirred, {}", length(*for_s)),
        What::Blended { for_s } => format!("Blended, {}", length(*for_s)),
        What::LidOn => "Lid on".into(),
        What::LidOff => "Lid off".into(),
        What::Boil => "Came to the boil".into(),
        What::OffBoil => "Went off the boil".into(),
        What::ProbeOut => "Probe out of the pot".into(),
        What::ProbeIn => "Probe back in the pot".into(),
        What::SensorFault { sensor, why } => format!("The {} {why}", sensor.name()),
        What::SensorBack { sensor } => format!("The {} is back", sensor.name()),
    }
}

/// What the cook said, as it is told.
#[must_use]
pub fn said(says: &CookSays) -> String {
    match says {
        CookSays::Stirred => "Stirred".into(),
        CookSays::BottomClean => "The bottom is clean".into(),
        CookSays::ItCaught => "It caught".into(),
        CookSays::ThatWas { kg, name } => format!("That was {}", weighed(*kg, name.as_deref())),
        CookSays::Was { which, kg, name } => {
            format!("{} was {}", capital(which), weighed(*kg, name.as_deref()))
        }
        CookSays::Added { kg, name } => format!("Added {}", weighed(Some(*kg), name.as_deref())),
        CookSays::Nothing { which: None } => "Nothing was added".into(),
        CookSays::Nothing { which: Some(which) } => format!("{} was nothing", capital(which)),
        CookSays::TakeBack => "Take that back".into(),
        CookSays::LidOn => "Lid on".into(),
        CookSays::LidOff => "Lid off".into(),
        CookSays::FlameOff => "Flame off".into(),
        CookSays::RightNow => "It is right now".into(),
        CookSays::Acknowledge(alarm) => format!("Seen: {}", alarm.name().replace('-', " ")),
        CookSays::Shelve { alarm, for_s } => {
            format!("{} put off for {}", alarm.name().replace('-', " "), length(*for_s))
        }
    }
}

/// "1.20 kg of cream"
#[must_use]
pub fn weighed(kg: Option<f64>, name: Option<&str>) -> String {
    if kg.is_some_and(|kg| kg <= 0.0) {
        return "nothing".into();
    }
    match (kg.map(kilograms), name) {
        (Some(kg), Some(name)) => format!("{kg} of {name}"),
        (Some(kg), None) => kg,
        (None, Some(name)) => name.to_owned(),
        (None, None) => "right".into(),
    }
}

/// With its first letter as a capital.
#[must_use]
pub fn capital(name: &str) -> String {
    let mut chars = name.chars();
    chars.next().map_or_else(String::new, |c| c.to_uppercase().collect::<String>() + chars.as_str())
}

#[cfg(test)]
mod tests {
    use super::*;

    const CLOCK: Clock = Clock { utc_ms_at_zero: 17 * 3_600_000, offset_s: 0 };

    fn reducing() -> Snapshot {
        Snapshot {
            at: Moment::from_ms(46 * 60_000),
            pot_c: Some(97.9),
            contents_kg: Some(21.4),
            target_kg: Some(19.3),
            target_in_s: Some(Spread { p10: 2880.0, p50: 3240.0, p90: 3960.0 }),
            ..Snapshot::default()
        }
    }

    #[test]
    fn the_first_sentence_says_when_it_is_ready_and_then_the_doubt() {
        let words = say(&reducing(), &Beside { clock: Some(CLOCK), ..Beside::default() });
        assert_eq!(words.first, "Ready about 18:40");
        assert_eq!(words.doubt.unwrap(), "between 18:34 and 18:52, 2.10 kg of water to go");
        let words = say(&reducing(), &Beside::default());
        assert_eq!(words.first, "Ready in about 54 min");
        assert_eq!(words.doubt.unwrap(), "in 48 min to 1 h 06, 2.10 kg of water to go");
    }

    #[test]
    fn one_action_at_most_is_loud_and_it_is_the_most_pressing() {
        let now = Snapshot {
            raised: vec![Alarm::TargetNear, Alarm::StirDue],
            stir_within_s: Some(240.0),
            ..reducing()
        };
        let words = say(&now, &Beside::default());
        assert_eq!(words.loud.unwrap().what, "Stir within 4 min");
    }

    #[test]
    fn a_silent_probe_is_said_and_no_time_is_made_up() {
        let now = Snapshot {
            raised: vec![Alarm::ProbeFault],
            pot_c: None,
            target_in_s: None,
            ..reducing()
        };
        let words = say(&now, &Beside::default());
        assert_eq!(words.first, "Cannot tell: the probe is silent");
        let out = say(&now, &Beside { probe_is_out: true, ..Beside::default() });
        assert_eq!(out.first, "Cannot tell: the probe is out of the pot");
        assert_eq!(words.doubt.unwrap(), "2.10 kg of water to go; no time can be told yet");
    }

    #[test]
    fn an_empty_snapshot_says_that_nothing_is_known() {
        let words = say(&Snapshot::default(), &Beside::default());
        assert_eq!(words.first, "Cannot tell yet");
        assert_eq!((words.doubt, words.loud, words.next, words.last), (None, None, None, None));
    }

    #[test]
    fn happenings_are_told_as_in_a_kitchen() {
        let added = What::Added { kg: 4.9, sd_kg: 0.01, name: Some("thinning water".into()) };
        assert_eq!(happened(&added), "Thinning water in, 4.90 kg");
        assert_eq!(happened(&What::Stirred { for_s: 25.4 }), "Stirred, 25 s");
    }

    #[test]
    fn every_alert_has_its_action() {
        for alarm in Alarm::ALL {
            assert!(PRESSING.contains(&alarm));
            assert!(!action(alarm, &Snapshot::default()).is_empty());
        }
    }
}
