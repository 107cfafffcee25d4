//! A pot's progress for the person at the terminal: what happens as lines, the pot now as one line
//! that is written over. Where nobody sits at a terminal the pot is said every ten minutes of its time.

use std::io::{self, IsTerminal, Write};

use crate::moment::Moment;
use crate::show::clock::Clock;
use crate::show::story::Story;
use crate::show::words::{self, Words, kilograms};
use crate::watch::action::{Action, AlarmState, Notice, Snapshot};

use super::environment;

/// Without a terminal the pot is said this often, ms of its time.
const LINE_EVERY_MS: i64 = 600_000;
/// With one, this often, ms of real time.
const OVER_EVERY_MS: f64 = 250.0;
const BOLD: &str = "\x1b[1m";
const PLAIN: &str = "\x1b[0m";
pub(super) const TO_THE_LEFT_AND_CLEAR: &str = "\r\x1b[K";

/// How progress is shown.
#[derive(Debug)]
pub struct Progress {
    clock: Clock,
    terminal: bool,
    bold: bool,
    every_ms: i64,
    due: Moment,
}

impl Progress {
    /// On standard error, for a pot whose time runs `speed` times as fast.
    #[must_use]
    pub fn new(clock: Clock, speed: f64) -> Self {
        let terminal = io::stderr().is_terminal();
        let every_ms =
            if terminal { (OVER_EVERY_MS * speed).max(1000.0) as i64 } else { LINE_EVERY_MS };
        let bold = terminal && environment::may_colour();
        Self { clock, terminal, bold, every_ms, due: Moment::default() }
    }

    /// Takes in what was just recognised of the pot.
    pub fn note(&mut self, actions: &[Action], story: &Story) {
        for action in actions {
            match action {
                Action::Happened(happening) => {
                    self.line(happening.at, &words::happened(&happening.what), false);
                }
                Action::Tell(notice) => self.tell(notice),
                Action::Show(now) if now.at >= self.due => {
                    self.due = now.at.plus_ms(self.every_ms);
                    self.show(now, &words::of(story, Some(self.clock)));
                }
                Action::Show(_) => {}
            }
        }
    }

    fn tell(&mut self, notice: &Notice) {
        match notice.state {
            AlarmState::Cleared => {}
            AlarmState::Raised => self.line(notice.at, &format!("! {}", notice.why), true),
            AlarmState::Acknowledged | AlarmState::Shelved => {
                self.line(
                    notice.at,
                    &format!("{} {}", notice.alarm.name(), notice.state.name()),
                    false,
                );
            }
        }
    }

    fn line(&mut self, at: Moment, text: &str, loud: bool) {
        let (on, off) = if loud && self.bold { (BOLD, PLAIN) } else { ("", "") };
        let over = if self.terminal { TO_THE_LEFT_AND_CLEAR } else { "" };
        // That nobody listens is no failure.
        let _ = writeln!(io::stderr().lock(), "{over}{}  {on}{text}{off}", self.clock.hh_mm(at));
        self.due = if self.terminal { at } else { self.due };
    }

    fn show(&self, now: &Snapshot, said: &Words) {
        let text = format!("{}  {}", self.clock.hh_mm(now.at), sentence(now, said));
        let mut out = io::stderr().lock();
        let _ = if self.terminal {
            let fits: String = text.chars().take(79).collect();
            write!(out, "{TO_THE_LEFT_AND_CLEAR}{fits}").and_then(|()| out.flush())
        } else {
            writeln!(out, "{text}")
        };
    }

    /// Leaves the line that is written over.
    pub fn end(&self) {
        if self.terminal {
            let _ = write!(io::stderr().lock(), "{TO_THE_LEFT_AND_CLEAR}");
        }
    }
}

/// What a cook can act on, then how sure that is, then the figures.
fn sentence(now: &Snapshot, said: &Words) -> String {
    let first = said.loud.as_ref().map_or(&said.first, |loud| &loud.what);
    let figures = [
        now.contents_kg.map(kilograms),
        now.pot_c.map(|c| format!("{c:.0} °C")),
        said.loud.is_none().then(|| said.doubt.clone()).flatten(),
    ];
    let figures: Vec<String> = figures.into_iter().flatten().collect();
    if figures.is_empty() {
        format!("{first}.")
    } else {
        format!("{first}. {}", figures.join(", "))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::show::words::Loud;
    use crate::watch::action::Alarm;

    #[test]
    fn the_sentence_comes_before_the_figures() {
        let now = Snapshot { contents_kg: Some(21.43), pot_c: Some(98.2), ..Snapshot::default() };
        let said = Words {
            first: "Ready about 18:40".into(),
            doubt: Some("between 18:34 and 18:52".into()),
            ..Words::default()
        };
        assert_eq!(
            sentence(&now, &said),
            "Ready about 18:40. 21.4 kg, 98 °C, between 18:34 and 18:52"
        );
    }

    #[test]
    fn what_needs_a_hand_comes_first() {
        let loud = Loud { alarm: Alarm::StirDue, what: "Stir now".into(), why: String::new() };
        let said = Words { first: "Heating".into(), loud: Some(loud), ..Words::default() };
        assert_eq!(sentence(&Snapshot::default(), &said), "Stir now.");
    }
}
