//! The page's own sentences, beside those of [`crate::show::words`].

use crate::moment::Moment;
use crate::show::board::PotNow;
use crate::show::clock::{Clock, length};
use crate::show::words::{kilograms, weighed};
use crate::watch::action::{Alarm, Notice, Snapshot};
use crate::watch::event::CookSays;

/// A bottom cooler than this does not catch, °C, as the judgement has it.
const COOL_C: f64 = 75.0;

/// A moment as it stands before what happened then: "17:46", or "1 h 52" since the start.
#[must_use]
pub fn when(at: Moment, clock: Option<Clock>) -> String {
    clock.map_or_else(|| length(at.seconds()), |clock| clock.hh_mm(at))
}

/// What the cook said, as it is told.
#[must_use]
pub fn said(says: &CookSays) -> String {
    match says {
        CookSays::Stirred => "Said: stirred".into(),
        CookSays::BottomClean => "Said: the bottom is clean".into(),
        CookSays::ItCaught => "Said: it caught".into(),
        CookSays::Nothing { which: None } => "Said: nothing was added".into(),
        CookSays::Nothing { which: Some(which) } => format!("Said: {which} was nothing"),
        CookSays::TakeBack => "Said: take that back".into(),
        CookSays::LidOn => "Said: lid on".into(),
        CookSays::LidOff => "Said: lid off".into(),
        CookSays::FlameOff => "Said: flame off".into(),
        CookSays::RightNow => "Said: it is right now".into(),
        CookSays::ThatWas { kg, name } => {
            format!("Said: that was {}", weighed(*kg, name.as_deref()))
        }
        CookSays::Was { which, kg, name } => {
            format!("Said: {which} was {}", weighed(*kg, name.as_deref()))
        }
        CookSays::Added { kg, name } => {
            format!("Said: added {}", weighed(Some(*kg), name.as_deref()))
        }
        CookSays::Acknowledge(alarm) => format!("Seen: {}", plain(*alarm)),
        CookSays::Shelve { alarm, for_s } => {
            format!("Quiet for {}: {}", length(*for_s), plain(*alarm))
        }
    }
}

/// An alert's name as words: "stir due".
#[must_use]
pub fn plain(alarm: Alarm) -> String {
    alarm.name().replace('-', " ")
}

/// Who is spoken of: "Big pot".
#[must_use]
pub fn pot(name: &str) -> String {
    let name = capital(name);
    if name.to_lowercase().ends_with("pot") { name } else { name + " pot" }
}

/// A text that begins with a capital.
#[must_use]
pub fn capital(text: &str) -> String {
    let mut chars = text.chars();
    let first = chars.next().map(|c| c.to_uppercase().collect::<String>()).unwrap_or_default();
    first + chars.as_str()
}

/// A text in which no figure is parted from its unit at the end of a line.
#[must_use]
pub fn unbroken(text: &str) -> String {
    const UNITS: [&str; 4] = [" °C", " kg", " %", " l "];
    let bind = |text: String, unit: &&str| text.replace(*unit, &unit.replacen(' ', "\u{a0}", 1));
    UNITS.iter().fold(text.to_owned(), bind).replace(" h ", "\u{a0}h\u{a0}")
}

/// Whether the pot is all right, where nothing needs a hand.
#[must_use]
pub fn well(pot: &PotNow) -> &'static str {
    let Some(now) = &pot.story.now else { return "Nothing is known yet." };
    match (now.contents_kg.is_some(), now.pot_c.is_some()) {
        _ if pot.over => "This batch is over.",
        (true, true) => "All is well.",
        (true, false) => "Nothing needs a hand, as far as the scale tells.",
        (false, true) => "Nothing needs a hand, as far as the probe tells.",
        (false, false) => "Whether all is well cannot be told.",
    }
}

/// When someone must stir, where no alert says so.
#[must_use]
pub fn stir(pot: &PotNow) -> String {
    let Some(now) = &pot.story.now else { return "When to stir is not known.".into() };
    let last = pot.story.tally.last_stir.map(|at| now.at - at);
    let last = last.map_or_else(String::new, |s| format!("; the last was {} ago", length(s)));
    let cool = now.pot_c.is_some_and(|c| c < COOL_C);
    match now.stir_within_s {
        None if cool => format!("Too cool to catch, so no stir is due{last}."),
        Some(s) if s >= 60.0 => format!("Next stir within {}{last}.", whole_minutes(s)),
        Some(_) => format!("Stir soon{last}."),
        None => format!("When to stir is not known{last}."),
    }
}

/// Whole minutes, rounded down: a stir that is late is worse than one that is early.
fn whole_minutes(s: f64) -> String {
    let minutes = (s / 60.0).floor();
    if minutes < 2.0 { "1 min".into() } else { length(minutes * 60.0) }
}

/// Why an alert stands by the pot as it is now, else as it was when that was told.
#[must_use]
pub fn cause(notice: &Notice, now: &Snapshot, clock: Option<Clock>) -> String {
    let at = match clock {
        Some(clock) => clock.hh_mm(notice.at),
        None => format!("{} after the start", length(notice.at.seconds())),
    };
    match notice.now(now) {
        Some(why) => format!("Told at {at}; {why}"),
        None if notice.why.is_empty() => format!("Since {at}"),
        None => format!("At {at}: {}", notice.why),
    }
}

/// What the curve shows, for those who cannot see it.
#[must_use]
pub fn curve(pot: &PotNow) -> String {
    let story = &pot.story;
    let mut said = format!("{} and the curve of its contents", self::pot(&pot.name));
    let first = story.contents.first().map(|(_, kg)| format!("{} at the start", kilograms(kg)));
    let now = story.now.as_ref();
    let level = now.and_then(|now| now.contents_kg).map(|kg| format!("{} now", kilograms(kg)));
    let target = now.and_then(|now| now.target_kg).map(|kg| format!("target {}", kilograms(kg)));
    for part in [first, level, target].into_iter().flatten() {
        said += ", ";
        said += &part;
    }
    said
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_pot_is_called_a_pot_once() {
        assert_eq!(pot("big"), "Big pot");
        assert_eq!(pot("stock pot"), "Stock pot");
        assert_eq!(pot(""), " pot");
    }

    #[test]
    fn a_figure_is_not_parted_from_its_unit() {
        assert_eq!(unbroken("within 1 h 23; the"), "within 1\u{a0}h\u{a0}23; the");
        assert_eq!(unbroken("At the boil, 99 °C"), "At the boil, 99\u{a0}°C");
        assert_eq!(unbroken("top up 1.2 l of water"), "top up 1.2\u{a0}l of water");
    }

    #[test]
    fn the_next_stir_is_never_told_later_than_it_is() {
        for (s, minutes) in [(719.0, "11 min"), (119.0, "1 min"), (120.0, "2 min"), (60.0, "1 min")]
        {
            assert_eq!(whole_minutes(s), minutes, "{s}");
        }
    }
}
