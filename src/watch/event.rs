//! What the judgement is told.

use crate::quantity::{Celsius, Kilograms, Pascals};
use crate::reading::Reading;

use super::action::Alarm;

/// One thing that was measured or said.
#[derive(Debug, Clone, PartialEq)]
pub enum Event {
    /// Everything that stands on the platform.
    Load(Reading<Kilograms>),
    /// The probe in the food.
    Probe(Reading<Celsius>),
    /// The second probe at the pot's base, where there is one.
    Base(Reading<Celsius>),
    /// The load cells or their converter.
    Platform(Reading<Celsius>),
    /// Station pressure, where there is a barometer.
    Air(Reading<Pascals>),
    Cook(CookSays),
    /// Time went by.
    Tick,
}

/// What the cook says, by page, command or broker.
#[derive(Debug, Clone, PartialEq)]
pub enum CookSays {
    Stirred,
    /// The bottom was scraped and nothing had caught.
    BottomClean,
    /// The bottom had caught.
    ItCaught,
    /// The last thing the scale saw was this much of this; either may be left as the scale had it.
    ThatWas {
        kg: Option<f64>,
        name: Option<String>,
    },
    /// An earlier addition, by its name or its turn, was this much of this; either may be left as it
    /// stands.
    Was {
        which: String,
        kg: Option<f64>,
        name: Option<String>,
    },
    /// This went in just now, whether the scale saw it or not.
    Added {
        kg: f64,
        name: Option<String>,
    },
    /// Nothing went in: what the scale took for an addition was none. The last one, or the one that is
    /// meant by its name or its turn.
    Nothing {
        which: Option<String>,
    },
    /// The last word was wrong: as if it had not been said.
    TakeBack,
    LidOn,
    LidOff,
    FlameOff,
    /// The gravy is right as it is: what is in the pot is the target.
    RightNow,
    Acknowledge(Alarm),
    /// Silence it for this long.
    Shelve {
        alarm: Alarm,
        for_s: f64,
    },
}
