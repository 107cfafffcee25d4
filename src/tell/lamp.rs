//! The lamp and the buzzer at the stove: the one channel that needs no network.
//!
//! Colours carry the meanings of IEC 60073: red danger, yellow abnormal, green normal. Colour is never
//! alone: red flashes fast, yellow slowly, green is steady, so that the meaning is also a rhythm; an
//! acknowledged alert keeps its colour and stops flashing. The buzzer repeats a pattern per priority:
//! the more urgent, the faster (ISO 7731 asks that signals differ in time as well as in pitch), and it
//! is silent once acknowledged.

use embedded_hal::digital::OutputPin;

/// What the lamp says.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Colour {
    /// Danger: act now.
    Red,
    /// Abnormal: look soon.
    Yellow,
    /// Normal: watched, and nothing is asked.
    Green,
    /// Not watching.
    Dark,
}

/// How urgent the most urgent raised alert is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Urgency {
    /// Act in minutes.
    Soon,
    /// Act now.
    Now,
}

/// What lamp and buzzer should do until told otherwise.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Signal {
    pub colour: Colour,
    pub flashing: bool,
    pub sounding: Option<Urgency>,
}

impl Signal {
    pub const DARK: Self = Self { colour: Colour::Dark, flashing: false, sounding: None };
    pub const NORMAL: Self = Self { colour: Colour::Green, flashing: false, sounding: None };

    /// The signal of an alert.
    #[must_use]
    pub const fn of(urgency: Urgency, acknowledged: bool) -> Self {
        let colour = match urgency {
            Urgency::Soon => Colour::Yellow,
            Urgency::Now => Colour::Red,
        };
        let sounding = if acknowledged { None } else { Some(urgency) };
        Self { colour, flashing: !acknowledged, sounding }
    }

    /// Whether the lamp is lit `ms` after the signal began.
    #[must_use]
    pub const fn lit(self, ms: u64) -> bool {
        // IEC 60073 gives 0.4 to 0.8 Hz for slow flashing and 1.4 to 2.8 Hz for fast (from memory).
        let period = match self.colour {
            Colour::Dark => return false,
            Colour::Red => 500,
            _ => 1_600,
        };
        !self.flashing || ms % period < period / 2
    }

    /// Whether the buzzer sounds `ms` after the signal began.
    #[must_use]
    pub fn sounds(self, ms: u64) -> bool {
        let (pattern, period): (&[(u64, u64)], u64) = match self.sounding {
            None => return false,
            Some(Urgency::Soon) => (&[(0, 150), (300, 450)], 20_000),
            Some(Urgency::Now) => (&[(0, 250), (500, 750), (1_000, 1_250)], 3_000),
        };
        let at = ms % period;
        pattern.iter().any(|&(from, to)| (from..to).contains(&at))
    }
}

/// Something that shows a signal.
pub trait Lamp {
    /// Shows `signal` as it is `ms` after it began; called about every 50 ms.
    fn show(&mut self, signal: Signal, ms: u64);
}

/// Three lamps and a buzzer on pins that are high when on.
#[derive(Debug)]
pub struct PinLamp<P> {
    pub red: P,
    pub yellow: P,
    pub green: P,
    pub buzzer: P,
}

impl<P: OutputPin> Lamp for PinLamp<P> {
    fn show(&mut self, signal: Signal, ms: u64) {
        let lit = signal.lit(ms);
        set(&mut self.red, lit && signal.colour == Colour::Red);
        set(&mut self.yellow, lit && signal.colour == Colour::Yellow);
        set(&mut self.green, lit && signal.colour == Colour::Green);
        set(&mut self.buzzer, signal.sounds(ms));
    }
}

/// A pin that cannot be set leaves the lamp as it was; the next call tries again.
fn set<P: OutputPin>(pin: &mut P, on: bool) {
    drop(if on { pin.set_high() } else { pin.set_low() });
}

#[cfg(test)]
mod tests {
    use super::*;
    use embedded_hal_mock::eh1::digital::{Mock, State, Transaction};

    /// Edges a minute of a function of time.
    fn starts_in_a_minute(on: impl Fn(u64) -> bool) -> usize {
        (1..60_000).filter(|&ms| on(ms) && !on(ms - 1)).count() + usize::from(on(0))
    }

    #[test]
    fn meanings_differ_in_rhythm_as_well_as_in_colour() {
        let fast = Signal::of(Urgency::Now, false);
        let slow = Signal::of(Urgency::Soon, false);
        assert_eq!(starts_in_a_minute(|ms| fast.lit(ms)), 120);
        assert_eq!(starts_in_a_minute(|ms| slow.lit(ms)), 38);
        assert_eq!(starts_in_a_minute(|ms| Signal::NORMAL.lit(ms)), 1);
        assert_eq!(starts_in_a_minute(|ms| Signal::DARK.lit(ms)), 0);
    }

    #[test]
    fn the_buzzer_is_more_urgent_for_now_than_for_soon() {
        let now = Signal::of(Urgency::Now, false);
        let soon = Signal::of(Urgency::Soon, false);
        assert_eq!(starts_in_a_minute(|ms| now.sounds(ms)), 60);
        assert_eq!(starts_in_a_minute(|ms| soon.sounds(ms)), 6);
    }

    #[test]
    fn an_acknowledged_alert_is_steady_and_silent() {
        let seen = Signal::of(Urgency::Now, true);
        assert_eq!(seen.colour, Colour::Red);
        assert!((0..10_000).all(|ms| seen.lit(ms) && !seen.sounds(ms)));
    }

    #[test]
    fn only_the_lamp_of_the_meaning_is_lit() {
        let pin =
            |high| Mock::new(&[Transaction::set(if high { State::High } else { State::Low })]);
        let mut lamp =
            PinLamp { red: pin(true), yellow: pin(false), green: pin(false), buzzer: pin(true) };
        lamp.show(Signal::of(Urgency::Now, false), 0);
        for pin in [&mut lamp.red, &mut lamp.yellow, &mut lamp.green, &mut lamp.buzzer] {
            pin.done();
        }
    }
}
