//! The button at the stove: a short press says "stirred", a long one "I have seen the alert".
//!
//! Contacts bounce for some milliseconds (common practice: 5 to 20), wet hands for longer, so a level
//! counts only after it has held for [`STEADY_MS`]. A long press is told while the button is still
//! down, so that the cook feels it at once. A button that stays down for half a minute is stuck (or
//! leaned on) and says nothing more until it has been up.

use crate::moment::Moment;

/// How long a level must hold, ms.
pub const STEADY_MS: i64 = 30;
/// From here a press is long, ms.
pub const LONG_MS: i64 = 1_200;
/// From here the button is called stuck, ms.
pub const STUCK_MS: i64 = 30_000;

/// What the cook's hand said.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Press {
    /// "Stirred."
    Short,
    /// "I have seen it": acknowledges what is raised.
    Long,
    /// Down for half a minute: the contact or the wire is at fault.
    Stuck,
}

/// The button's contact, made steady.
#[derive(Debug, Clone, Copy, Default)]
pub struct Button {
    level: Option<Held>,
    pressed: Option<Held>,
}

/// A level and since when.
#[derive(Debug, Clone, Copy)]
struct Held {
    down: bool,
    since: Moment,
    /// How much was already told of this press.
    told: u8,
}

impl Button {
    /// Takes the contact as it is now (true while pressed), sampled at least every 10 ms.
    pub fn look(&mut self, down: bool, now: Moment) -> Option<Press> {
        let level = match self.level {
            Some(held) if held.down == down => held,
            _ => Held { down, since: now, told: 0 },
        };
        self.level = Some(level);
        if now.ms() - level.since.ms() >= STEADY_MS { self.steady(level, now) } else { None }
    }

    fn steady(&mut self, level: Held, now: Moment) -> Option<Press> {
        match (&mut self.pressed, level.down) {
            (None, true) => {
                self.pressed = Some(level);
                None
            }
            (Some(press), true) => press.still_down(now),
            (Some(press), false) => {
                let told = press.told;
                self.pressed = None;
                (told == 0).then_some(Press::Short)
            }
            (None, false) => None,
        }
    }
}

impl Held {
    fn still_down(&mut self, now: Moment) -> Option<Press> {
        let for_ms = now.ms() - self.since.ms();
        match self.told {
            0 if for_ms >= LONG_MS => {
                self.told = 1;
                Some(Press::Long)
            }
            1 if for_ms >= STUCK_MS => {
                self.told = 2;
                Some(Press::Stuck)
            }
            _ => None,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Presses told while the contact follows `down(t_ms)` for `ms`, with when they were told.
    fn told(ms: i64, down: impl Fn(i64) -> bool) -> Vec<(i64, Press)> {
        let mut button = Button::default();
        (0..ms)
            .step_by(5)
            .filter_map(|t| Some((t, button.look(down(t), Moment::from_ms(t))?)))
            .collect()
    }

    #[test]
    fn a_bouncing_contact_is_one_short_press() {
        let bounces = |t: i64| match t {
            100..120 => (t / 5) % 2 == 0,
            120..400 => true,
            400..415 => (t / 5) % 2 == 1,
            _ => false,
        };
        assert_eq!(told(1_000, bounces), [(440, Press::Short)]);
    }

    #[test]
    fn a_splash_too_short_to_be_a_hand_says_nothing() {
        assert_eq!(told(1_000, |t| (500..520).contains(&t)), []);
    }

    #[test]
    fn a_long_press_is_told_while_it_is_held_and_not_again_when_let_go() {
        assert_eq!(told(5_000, |t| (100..3_000).contains(&t)), [(1_300, Press::Long)]);
    }

    #[test]
    fn a_stuck_button_is_told_once() {
        assert_eq!(told(90_000, |t| t >= 100), [(1_300, Press::Long), (30_100, Press::Stuck)]);
    }

    #[test]
    fn two_presses_are_two() {
        let twice = |t: i64| (100..300).contains(&t) || (500..700).contains(&t);
        assert_eq!(told(2_000, twice), [(330, Press::Short), (730, Press::Short)]);
    }
}
