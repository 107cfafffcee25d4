//! Why a saying was not understood, or means nothing here.

use std::fmt;

use crate::batch::measure::{NoAmount, UNDERSTOOD};

use super::action::Alarm;
use super::words::SAYINGS;

/// Why something was not understood, as a sentence.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum NotUnderstood {
    /// No such saying; what may have been meant.
    Saying {
        said: String,
        near: Vec<&'static str>,
    },
    Amount {
        said: String,
        why: NoAmount,
    },
    /// An amount of something that only a scale can tell.
    NoWeight {
        name: String,
        instead: String,
    },
    /// A name alone, or nothing, where an amount must stand too.
    AmountMissing,
    Alert {
        said: String,
        near: Vec<&'static str>,
    },
    Time {
        said: String,
    },
    /// No addition of this name or turn; what went in.
    Addition {
        said: String,
        went_in: Vec<String>,
    },
    /// Neither planned nor an ingredient; what may have been meant.
    Name {
        said: String,
        near: String,
    },
    /// What it was not: what it was is not said.
    WhatItWas,
    /// Nothing was said that can be taken back.
    NothingSaid,
    /// An alert that does not stand; those that do.
    NotStanding {
        alarm: Alarm,
        standing: Vec<Alarm>,
    },
}

impl fmt::Display for NotUnderstood {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Saying { said, near } => {
                write!(f, "\"{said}\" was not understood; {}say one of: {SAYINGS}", meant(near))
            }
            Self::Amount { said, why } => {
                write!(f, "\"{said}\" {why}; say it in {UNDERSTOOD}")
            }
            Self::NoWeight { name, instead } => write!(f, "{name}: say {instead}"),
            Self::AmountMissing => {
                write!(f, "how much was it? Say for example: added 500 ml water")
            }
            Self::Alert { said, near } => {
                let names: Vec<_> = Alarm::ALL.iter().map(|alarm| alarm.name()).collect();
                write!(f, "there is no alert \"{said}\"; {}say one of: ", meant(near))?;
                f.write_str(&names.join(", "))
            }
            Self::Time { said } => {
                write!(f, "\"{said}\" is no time to shelve an alert; say 1 min to 2 h, as in: ")?;
                f.write_str("shelve stir-due 10 min")
            }
            Self::Addition { said, went_in } if went_in.is_empty() => {
                write!(f, "no \"{said}\" went in; nothing was seen to go in yet")
            }
            Self::Addition { said, went_in } => {
                write!(f, "no \"{said}\" went in; what went in: {}", went_in.join(", "))
            }
            Self::Name { said, near } => {
                write!(f, "\"{said}\" is neither planned nor an ingredient here; {near}")
            }
            Self::WhatItWas => {
                write!(f, "say what it was, as in: that was 500 ml water; or: nothing was added")
            }
            Self::NothingSaid => write!(f, "nothing was said that could be taken back"),
            Self::NotStanding { alarm, standing } if standing.is_empty() => {
                write!(f, "{} does not stand; no alert does", alarm.name())
            }
            Self::NotStanding { alarm, standing } => {
                let names: Vec<_> = standing.iter().map(|alarm| alarm.name()).collect();
                write!(f, "{} does not stand; what stands: {}", alarm.name(), names.join(", "))
            }
        }
    }
}

fn meant(near: &[&str]) -> String {
    near.first().map(|first| format!("did you mean \"{first}\"? Else ")).unwrap_or_default()
}
