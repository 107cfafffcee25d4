//! A pot in which no batch has begun: what its sensors say all the same, and how one begins.

use crate::batch::pot::Pot;
use crate::reading::Reading;
use crate::watch::event::Event;

use super::clock::length;
use super::words::kilograms;

/// A weight is told anew once it is so far from what was told, kg: so a calm pot's does not waver.
const TOLD_ANEW_KG: f64 = 0.05;
/// A reading older than this says its age, s.
const OLD_S: f64 = 30.0;
/// What is on the platform and is not the pot, as near as a tare is weighed, kg: judgement.
const ABOUT_KG: f64 = 0.3;

/// How a batch begins in it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Begins {
    /// By the file at this place, as soon as it is laid down there.
    Laid(String),
    /// The file at that place is there and means nothing: why.
    Spoilt(String),
    /// By a file that is given at the start: the kitchen file names none.
    Given,
    /// Once its sensors are named.
    Deaf,
    /// Once its sensors can be opened: why they cannot.
    Shut(String),
}

/// A pot that stands idle.
#[derive(Debug, Clone, PartialEq)]
pub struct Idle {
    pub begins: Begins,
    /// What the probe said last, °C; `None` where it has said nothing.
    probe_c: Option<Reading<f64>>,
    /// What the scale said last: everything on the platform, kg.
    load_kg: Option<Reading<f64>>,
}

impl Idle {
    #[must_use]
    pub const fn new(begins: Begins) -> Self {
        Self { begins, probe_c: None, load_kg: None }
    }

    /// Takes in what was measured.
    pub fn hear(&mut self, event: &Event) {
        match event {
            Event::Probe(reading) => self.probe_c = Some(reading.map(|c| c.get())),
            Event::Load(reading) => {
                let (told, news) = (self.load_kg, reading.map(|kg| kg.get()));
                let still = matches!((told, news), (Some(Ok(told)), Ok(now))
                    if (told - now).abs() < TOLD_ANEW_KG);
                self.load_kg = if still { told } else { Some(news) };
            }
            _ => {}
        }
    }

    /// What its sensors say, in sentences; nothing was heard of them for `silent_s`.
    #[must_use]
    pub fn senses(&self, pot: &Pot, silent_s: f64) -> String {
        if matches!(self.begins, Begins::Deaf | Begins::Shut(_)) {
            return "Nothing is known of it.".into();
        }
        let weight = self.load_kg.map(|load| match load {
            Ok(kg) => on_the_platform(kg, pot),
            Err(fault) => ends_once(format!("The scale {fault}")),
        });
        let warmth = self.probe_c.map(|probe| match probe {
            Ok(c) => format!("The probe is at {c:.0} °C."),
            Err(fault) => ends_once(format!("The probe {fault}")),
        });
        if weight.is_none() && warmth.is_none() {
            return "Its sensors have said nothing yet.".into();
        }
        let age = (silent_s > OLD_S).then(|| format!("That was {} ago.", length(silent_s)));
        let said: Vec<String> = [weight, warmth, age].into_iter().flatten().collect();
        said.join(" ")
    }

    /// What to do so that a batch begins in it, in a sentence.
    #[must_use]
    pub fn what_to_do(&self, pot: &str) -> String {
        match &self.begins {
            Begins::Laid(path) => {
                format!("To begin one, put its batch file at {path}: it begins by itself.")
            }
            Begins::Spoilt(why) => {
                format!("A batch file is there but cannot be used: {why}. Put it right.")
            }
            Begins::Given => format!(
                "To begin one, start dekchi again with a batch file for the pot \"{pot}\", or name \
                 its file by batch = \"…\" under this pot in the kitchen file."
            ),
            Begins::Deaf => "It has no sensors: name them under [pot.sensors] in the kitchen file \
                             and start dekchi again."
                .into(),
            Begins::Shut(why) => format!("Its sensors cannot be used: {why}."),
        }
    }
}

/// A sentence that may be a question already.
fn ends_once(words: String) -> String {
    if words.ends_with('?') { words } else { words + "." }
}

/// What a load means for a pot of this tare: it may stand elsewhere, be empty, or hold something, the
/// lid among it.
fn on_the_platform(kg: f64, pot: &Pot) -> String {
    let inside_kg = kg - pot.tare_kg;
    if inside_kg < -ABOUT_KG {
        return format!("It is not on its platform, which weighs {}.", kilograms(kg.max(0.0)));
    }
    if inside_kg < ABOUT_KG {
        return "It stands on its platform, empty.".into();
    }
    let empty = (inside_kg - pot.lid_kg).abs() < ABOUT_KG;
    if empty {
        return "It stands on its platform, empty, its lid on.".into();
    }
    let with_lid = kilograms(inside_kg - pot.lid_kg);
    format!("It holds {}, or {with_lid} if its lid is on.", kilograms(inside_kg))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::quantity::{Celsius, Kilograms};
    use crate::reading::Fault;
    use crate::show::sample;

    fn load(kg: f64) -> Event {
        Event::Load(Ok(Kilograms::new(kg).unwrap()))
    }

    fn hears(events: &[Event]) -> String {
        let mut idle = Idle::new(Begins::Given);
        events.iter().for_each(|event| idle.hear(event));
        idle.senses(&sample::pot(), 0.2)
    }

    #[test]
    fn a_pot_without_a_batch_is_told_empty_full_or_away_by_its_tare() {
        let Pot { tare_kg, lid_kg, .. } = sample::pot();
        for (kg, told) in [
            (tare_kg + 0.1, "platform, empty."),
            (tare_kg + lid_kg - 0.1, "empty, its lid on."),
            (tare_kg + 12.0, "It holds 12.0 kg, or 10.7 kg if its lid is on."),
            (0.02, "not on its platform, which weighs 0.02 kg"),
        ] {
            let said = hears(&[load(kg)]);
            assert!(said.contains(told), "{kg} kg: {said}");
        }
    }

    #[test]
    fn a_probe_without_a_batch_is_read_and_its_fault_told() {
        let warm = Event::Probe(Ok(Celsius::new(21.4).unwrap()));
        assert!(hears(&[warm]).ends_with("The probe is at 21 °C."));
        let out = hears(&[Event::Probe(Err(Fault::Absent)), Event::Load(Err(Fault::Shorted))]);
        assert!(out.ends_with("The probe does not answer: is it plugged in?"), "{out}");
        assert_eq!(hears(&[]), "Its sensors have said nothing yet.");
        assert!(out.contains("The scale line is shorted."), "{out}");
    }

    #[test]
    fn a_reading_that_is_old_says_its_age() {
        let mut idle = Idle::new(Begins::Given);
        idle.hear(&load(6.2));
        assert!(!idle.senses(&sample::pot(), 5.0).contains("ago"));
        assert!(idle.senses(&sample::pot(), 300.0).ends_with("That was 5 min ago."));
    }

    #[test]
    fn the_weight_of_a_calm_pot_does_not_waver() {
        let told = hears(&[load(20.02)]);
        assert_eq!(hears(&[load(20.02), load(20.04), load(19.99)]), told);
        assert_ne!(hears(&[load(20.02), load(20.3)]), told);
    }

    #[test]
    fn whatever_keeps_a_batch_from_beginning_there_is_something_to_do() {
        for (begins, does) in [
            (Begins::Laid("/var/lib/dekchi/big.toml".into()), "at /var/lib/dekchi/big.toml"),
            (Begins::Spoilt("big.toml, line 3: no pot".into()), "big.toml, line 3"),
            (Begins::Given, "for the pot \"big\""),
            (Begins::Deaf, "[pot.sensors]"),
            (Begins::Shut("the scale was never calibrated".into()), "never calibrated"),
        ] {
            let said = Idle::new(begins).what_to_do("big");
            assert!(said.contains(does), "{said}");
        }
    }
}
