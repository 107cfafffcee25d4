//! The cook's words as columns.

use crate::watch::action::Alarm;
use crate::watch::event::CookSays;

/// A word of the cook's, spread over columns.
#[derive(Debug, Clone, PartialEq, Default)]
pub(super) struct Said {
    pub said: String,
    pub kg: Option<f64>,
    pub name: Option<String>,
    pub alert: Option<String>,
    pub for_s: Option<f64>,
}

impl Said {
    pub fn of(says: &CookSays) -> Self {
        let plain = |said: &str| Self { said: said.to_owned(), ..Self::default() };
        let alert = |alarm: &Alarm| Some(alarm.name().to_owned());
        match says {
            CookSays::Stirred => plain("stirred"),
            CookSays::BottomClean => plain("bottom-clean"),
            CookSays::ItCaught => plain("it-caught"),
            CookSays::ThatWas { kg, name } => {
                Self { kg: *kg, name: name.clone(), ..plain("that-was") }
            }
            CookSays::LidOn => plain("lid-on"),
            CookSays::LidOff => plain("lid-off"),
            CookSays::FlameOff => plain("flame-off"),
            CookSays::RightNow => plain("right-now"),
            CookSays::Acknowledge(alarm) => Self { alert: alert(alarm), ..plain("acknowledge") },
            CookSays::Shelve { alarm, for_s } => {
                Self { alert: alert(alarm), for_s: Some(*for_s), ..plain("shelve") }
            }
        }
    }

    /// `None` where this program does not know the word.
    pub fn says(&self) -> Option<CookSays> {
        let alarm = || self.alert.as_deref().and_then(Alarm::by_name);
        Some(match self.said.as_str() {
            "stirred" => CookSays::Stirred,
            "bottom-clean" => CookSays::BottomClean,
            "it-caught" => CookSays::ItCaught,
            "that-was" => CookSays::ThatWas { kg: self.kg, name: self.name.clone() },
            "lid-on" => CookSays::LidOn,
            "lid-off" => CookSays::LidOff,
            "flame-off" => CookSays::FlameOff,
            "right-now" => CookSays::RightNow,
            "acknowledge" => CookSays::Acknowledge(alarm()?),
            "shelve" => CookSays::Shelve { alarm: alarm()?, for_s: self.for_s? },
            _ => return None,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_word_comes_back_as_it_was_said() {
        let words = [
            CookSays::Stirred,
            CookSays::BottomClean,
            CookSays::ItCaught,
            CookSays::ThatWas { kg: Some(0.43), name: Some("cream".to_owned()) },
            CookSays::ThatWas { kg: None, name: None },
            CookSays::LidOn,
            CookSays::LidOff,
            CookSays::FlameOff,
            CookSays::RightNow,
            CookSays::Acknowledge(Alarm::StirDue),
            CookSays::Shelve { alarm: Alarm::ScaleFault, for_s: 600.0 },
        ];
        for word in words {
            assert_eq!(Said::of(&word).says(), Some(word));
        }
    }
}
