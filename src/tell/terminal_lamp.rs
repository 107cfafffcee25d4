//! A lamp in words, for a terminal in place of pins: a line where the signal changes.

use std::io::Write;

use super::lamp::{Colour, Lamp, Signal, Urgency};

/// Writes what lamp and buzzer would do.
#[derive(Debug)]
pub struct TerminalLamp<W> {
    to: W,
    /// Written before each line, such as what clears a line that is written over.
    before: &'static str,
    /// Whether colour may be used beside the words.
    in_colour: bool,
    shown: Option<Signal>,
}

impl<W: Write> TerminalLamp<W> {
    pub const fn new(to: W, before: &'static str, in_colour: bool) -> Self {
        Self { to, before, in_colour, shown: None }
    }
}

impl<W: Write> Lamp for TerminalLamp<W> {
    fn show(&mut self, signal: Signal, _: u64) {
        if self.shown == Some(signal) {
            return;
        }
        self.shown = Some(signal);
        let (before, words) = (self.before, words(signal));
        // A terminal that is gone leaves nobody to be told.
        let _ = match (self.in_colour, code(signal.colour)) {
            (true, Some(code)) => writeln!(self.to, "{before}\x1b[{code}m●\x1b[0m {words}"),
            _ => writeln!(self.to, "{before}{words}"),
        };
    }
}

/// The number of the colour on a terminal (ECMA-48).
const fn code(colour: Colour) -> Option<u8> {
    match colour {
        Colour::Red => Some(31),
        Colour::Yellow => Some(33),
        Colour::Green => Some(32),
        Colour::Dark => None,
    }
}

/// The signal in words.
#[must_use]
pub fn words(signal: Signal) -> String {
    let lamp = match (signal.colour, signal.flashing) {
        (Colour::Red, true) => "lamp red, flashing fast: act now",
        (Colour::Red, false) => "lamp red, steady: seen, and it still stands",
        (Colour::Yellow, true) => "lamp yellow, flashing slowly: come soon",
        (Colour::Yellow, false) => "lamp yellow, steady: seen, and it still stands",
        (Colour::Green, _) => "lamp green: all is well",
        (Colour::Dark, _) => "lamp dark: not watching",
    };
    let buzzer = match signal.sounding {
        Some(Urgency::Now) => "; buzzer, three beeps over and over",
        Some(Urgency::Soon) => "; buzzer, two beeps now and then",
        None => "",
    };
    format!("{lamp}{buzzer}")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_signal_is_said_once_until_it_changes() {
        let mut lamp = TerminalLamp::new(Vec::new(), "", false);
        (0..100).for_each(|ms| lamp.show(Signal::NORMAL, ms));
        lamp.show(Signal::of(Urgency::Now, false), 0);
        let said = String::from_utf8(lamp.to).unwrap();
        assert_eq!(said.lines().count(), 2, "{said}");
        assert!(said.ends_with("act now; buzzer, three beeps over and over\n"), "{said}");
    }

    #[test]
    fn no_two_signals_differ_in_colour_alone() {
        let mut all = vec![words(Signal::DARK), words(Signal::NORMAL)];
        for urgency in [Urgency::Soon, Urgency::Now] {
            all.extend([true, false].map(|seen| words(Signal::of(urgency, seen))));
        }
        let distinct: std::collections::BTreeSet<_> = all.iter().collect();
        assert_eq!(distinct.len(), all.len());
    }
}
