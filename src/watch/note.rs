//! Events that have no column of their own in a recording, as short text.
//!
//! ```text
//! note  = "tick" | "air " pascals | "fault " sensor " " fault | "cook " word
//! word  = "stirred" | "bottom-clean" | "it-caught" | "lid-on" | "lid-off" | "flame-off"
//!       | "right-now" | "that-was" [" kg=" number] [" name=" text]
//!       | "added kg=" number [" name=" text]
//!       | "nothing" [" which=" text] | "take-back"
//!       | "was which=" text [" kg=" number] [" name=" text]
//!       | "acknowledge " alert | "shelve " alert " for_s=" number
//! ```
//!
//! Sensors are called `load`, `probe`, `base`, `platform` and `air`, faults and alerts by their
//! fixed names. In a text, white space, control characters, commas, quotes and the percent sign
//! are percent-encoded (RFC 3986, section 2.1), so that a note is one line and one cell whatever a
//! cook types, and it never begins with a character that a spreadsheet takes for a formula.

use std::fmt::{self, Write};
use std::str::FromStr;

use crate::quantity::Pascals;
use crate::reading::Fault;

use super::action::Alarm;
use super::event::{CookSays, Event};

/// Text that is no word that a cook can say, or no note.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("not something that a cook can say to the pot")]
pub struct Unknown;

impl fmt::Display for CookSays {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::ThatWas { kg, name } => write!(f, "that-was{}", weighed(*kg, name.as_deref())),
            Self::Added { kg, name } => write!(f, "added{}", weighed(Some(*kg), name.as_deref())),
            Self::Was { which, kg, name } => {
                write!(f, "was which={}{}", encoded(which), weighed(*kg, name.as_deref()))
            }
            Self::Acknowledge(alarm) => write!(f, "acknowledge {}", alarm.name()),
            Self::Shelve { alarm, for_s } => write!(f, "shelve {} for_s={for_s}", alarm.name()),
            Self::Stirred => f.write_str("stirred"),
            Self::BottomClean => f.write_str("bottom-clean"),
            Self::ItCaught => f.write_str("it-caught"),
            Self::LidOn => f.write_str("lid-on"),
            Self::LidOff => f.write_str("lid-off"),
            Self::FlameOff => f.write_str("flame-off"),
            Self::RightNow => f.write_str("right-now"),
            Self::Nothing { which: None } => f.write_str("nothing"),
            Self::Nothing { which: Some(which) } => write!(f, "nothing which={}", encoded(which)),
            Self::TakeBack => f.write_str("take-back"),
        }
    }
}

impl FromStr for CookSays {
    type Err = Unknown;

    fn from_str(text: &str) -> Result<Self, Unknown> {
        let mut parts = text.split(' ');
        let word = parts.next().ok_or(Unknown)?;
        let rest: Vec<&str> = parts.collect();
        let alarm = |name: &str| Alarm::by_name(name).ok_or(Unknown);
        Ok(match (word, rest.as_slice()) {
            ("stirred", []) => Self::Stirred,
            ("bottom-clean", []) => Self::BottomClean,
            ("it-caught", []) => Self::ItCaught,
            ("lid-on", []) => Self::LidOn,
            ("lid-off", []) => Self::LidOff,
            ("flame-off", []) => Self::FlameOff,
            ("right-now", []) => Self::RightNow,
            ("nothing", []) => Self::Nothing { which: None },
            ("nothing", [which]) => Self::Nothing { which: Some(which_one(which)?) },
            ("take-back", []) => Self::TakeBack,
            ("acknowledge", [name]) => Self::Acknowledge(alarm(name)?),
            ("shelve", [name, for_s]) => {
                Self::Shelve { alarm: alarm(name)?, for_s: number(for_s, "for_s=")? }
            }
            ("that-was", rest) => {
                let (kg, name) = weight_and_name(rest)?;
                Self::ThatWas { kg, name }
            }
            ("added", rest) => {
                let (kg, name) = weight_and_name(rest)?;
                Self::Added { kg: kg.ok_or(Unknown)?, name }
            }
            ("was", [which, rest @ ..]) => {
                let (kg, name) = weight_and_name(rest)?;
                Self::Was { which: which_one(which)?, kg, name }
            }
            _ => return Err(Unknown),
        })
    }
}

/// The note of an event; `None` for a measured value, which has a column of its own.
#[must_use]
pub fn of(event: &Event) -> Option<String> {
    let fault = |sensor: &str, fault: Fault| Some(format!("fault {sensor} {}", fault.name()));
    match event {
        Event::Load(load) => fault("load", load.err()?),
        Event::Probe(probe) => fault("probe", probe.err()?),
        Event::Base(base) => fault("base", base.err()?),
        Event::Platform(platform) => fault("platform", platform.err()?),
        Event::Air(Ok(air)) => Some(format!("air {}", air.get())),
        Event::Air(Err(air)) => fault("air", *air),
        Event::Cook(says) => Some(format!("cook {says}")),
        Event::Tick => Some("tick".to_owned()),
    }
}

/// The event that a note tells of.
pub fn event(note: &str) -> Result<Event, Unknown> {
    match note.split_once(' ') {
        None if note == "tick" => Ok(Event::Tick),
        Some(("air", pa)) => {
            let pa = number(pa, "").ok().and_then(Pascals::new).ok_or(Unknown)?;
            Ok(Event::Air(Ok(pa)))
        }
        Some(("cook", word)) => word.parse().map(Event::Cook),
        Some(("fault", rest)) => {
            let (sensor, fault) = rest.split_once(' ').ok_or(Unknown)?;
            faulty(sensor, Fault::by_name(fault).ok_or(Unknown)?)
        }
        _ => Err(Unknown),
    }
}

fn faulty(sensor: &str, fault: Fault) -> Result<Event, Unknown> {
    Ok(match sensor {
        "load" => Event::Load(Err(fault)),
        "probe" => Event::Probe(Err(fault)),
        "base" => Event::Base(Err(fault)),
        "platform" => Event::Platform(Err(fault)),
        "air" => Event::Air(Err(fault)),
        _ => return Err(Unknown),
    })
}

fn which_one(text: &str) -> Result<String, Unknown> {
    decoded(text.strip_prefix("which=").ok_or(Unknown)?)
}

fn weighed(kg: Option<f64>, name: Option<&str>) -> String {
    let kg = kg.map(|kg| format!(" kg={kg}"));
    let name = name.map(|name| format!(" name={}", encoded(name)));
    kg.unwrap_or_default() + &name.unwrap_or_default()
}

fn weight_and_name(rest: &[&str]) -> Result<(Option<f64>, Option<String>), Unknown> {
    let (kg, rest) = match rest.split_first() {
        Some((first, rest)) if first.starts_with("kg=") => (Some(number(first, "kg=")?), rest),
        _ => (None, rest),
    };
    let name = match rest {
        [] => None,
        [name] => Some(decoded(name.strip_prefix("name=").ok_or(Unknown)?)?),
        _ => return Err(Unknown),
    };
    Ok((kg, name))
}

fn number(text: &str, prefix: &str) -> Result<f64, Unknown> {
    let number = text.strip_prefix(prefix).and_then(|text| text.parse().ok());
    number.filter(|number: &f64| number.is_finite()).ok_or(Unknown)
}

fn encoded(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        if c.is_whitespace() || c.is_control() || matches!(c, ',' | '"' | '\'' | '%') {
            for byte in c.encode_utf8(&mut [0; 4]).bytes() {
                // Writing to a string cannot fail.
                let _ = write!(out, "%{byte:02X}");
            }
        } else {
            out.push(c);
        }
    }
    out
}

fn decoded(text: &str) -> Result<String, Unknown> {
    let mut parts = text.split('%');
    let mut bytes = parts.next().unwrap_or_default().as_bytes().to_vec();
    for part in parts {
        let (hex, rest) = part.split_at_checked(2).ok_or(Unknown)?;
        bytes.push(u8::from_str_radix(hex, 16).map_err(|_| Unknown)?);
        bytes.extend_from_slice(rest.as_bytes());
    }
    String::from_utf8(bytes).map_err(|_| Unknown)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn words() -> Vec<CookSays> {
        let name = Some("cream, \"double\" 48 %\n".to_owned());
        vec![
            CookSays::Stirred,
            CookSays::BottomClean,
            CookSays::ItCaught,
            CookSays::ThatWas { kg: Some(0.43), name },
            CookSays::ThatWas { kg: None, name: Some("=2+3".to_owned()) },
            CookSays::ThatWas { kg: Some(1.0 / 3.0), name: None },
            CookSays::ThatWas { kg: None, name: None },
            CookSays::Added { kg: 0.5, name: Some("water".to_owned()) },
            CookSays::Added { kg: 0.5, name: None },
            CookSays::Was { which: "spice, \"hot\"".to_owned(), kg: Some(1.2), name: None },
            CookSays::Was {
                which: "addition 2".to_owned(),
                kg: None,
                name: Some("oil".to_owned()),
            },
            CookSays::LidOn,
            CookSays::LidOff,
            CookSays::FlameOff,
            CookSays::RightNow,
            CookSays::Nothing { which: None },
            CookSays::Nothing { which: Some("spice, \"hot\"".to_owned()) },
            CookSays::TakeBack,
            CookSays::Acknowledge(Alarm::StirDue),
            CookSays::Shelve { alarm: Alarm::ScaleFault, for_s: 600.0 },
        ]
    }

    #[test]
    fn each_word_comes_back_as_it_was_said() {
        for word in words() {
            let event = Event::Cook(word);
            let text = of(&event).unwrap();
            assert_eq!(super::event(&text), Ok(event), "{text}");
        }
    }

    #[test]
    fn a_note_is_one_cell_of_one_line() {
        for word in words() {
            let text = of(&Event::Cook(word)).unwrap();
            assert!(!text.contains([',', '"', '\n', '\r']), "{text}");
        }
    }

    #[test]
    fn the_barometer_comes_back() {
        let event = Event::Air(Ok(Pascals::new(97_213.0).unwrap()));
        assert_eq!(of(&event).as_deref(), Some("air 97213"));
        assert_eq!(super::event("air 97213"), Ok(event));
    }

    #[test]
    fn each_fault_of_each_sensor_comes_back() {
        for fault in Fault::ALL {
            for event in [
                Event::Load(Err(fault)),
                Event::Probe(Err(fault)),
                Event::Base(Err(fault)),
                Event::Platform(Err(fault)),
                Event::Air(Err(fault)),
            ] {
                assert_eq!(super::event(&of(&event).unwrap()), Ok(event));
            }
        }
    }

    #[test]
    fn what_is_no_note_is_refused() {
        for text in [
            "",
            "cook",
            "cook ",
            "cook stirred twice",
            "cook that-was kg=nan",
            "cook added name=oil",
            "cook was kg=1",
            "cook that-was kg=1 kg=2",
            "cook that-was name=%f",
            "cook that-was name=%ff",
            "cook shelve stir-due",
            "fault probe",
            "fault nose absent",
            "tick tick",
        ] {
            assert_eq!(event(text), Err(Unknown), "{text}");
        }
    }

    proptest! {
        #[test]
        fn any_name_survives(name in any::<String>(), kg in proptest::num::f64::NORMAL) {
            let says = CookSays::ThatWas { kg: Some(kg), name: Some(name) };
            prop_assert_eq!(says.to_string().parse(), Ok(says));
        }

        #[test]
        fn no_text_makes_it_panic(text in any::<String>()) {
            let _ = event(&text);
            let _ = event(&format!("cook that-was name={text}"));
        }
    }
}
