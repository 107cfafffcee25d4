//! The lamp, the buzzer and the button at the stove.
//!
//! The lamp shows the most urgent alert of all pots; the buzzer sounds for the most urgent that nobody
//! has acknowledged. A short press says that the pot was stirred: the pot that asked for it, or the
//! only one that is watched. While none is watched the lamp is dark. A long press acknowledges whatever is raised. None of it needs network or card.

use std::collections::{BTreeMap, BTreeSet};
use std::io;
use std::sync::mpsc::SyncSender;
use std::sync::{Arc, Mutex, PoisonError};
use std::thread;
use std::time::Duration;

use crate::moment::Moment;
use crate::sense::button::{Button, Press};
use crate::tell::lamp::{Colour, Lamp, Signal, Urgency};
use crate::watch::action::{Action, Alarm, AlarmState};
use crate::watch::event::CookSays;
use crate::watch::urgency::{self, Priority};

use super::clock::Clock;
use super::halt::Halt;
use super::source::Item;

/// A button's contact is looked at this often.
const LOOK_EVERY: Duration = Duration::from_millis(10);
/// The lamp is set once in so many looks.
const SHOW_EVERY: u32 = 5;
const STACK_BYTES: usize = 128 * 1024;

/// What is connected at the stove.
#[derive(Default)]
pub struct Fittings {
    pub lamp: Option<Box<dyn Lamp + Send>>,
    /// True while the button is down.
    pub button: Option<Box<dyn FnMut() -> bool + Send>>,
}

/// What is raised, for lamp and button; clones are the same.
#[derive(Debug, Clone, Default)]
pub struct Stove(Arc<Mutex<Raised>>);

impl Stove {
    /// Starts the thread that shows and looks; it ends at the stop, dark. Without fittings it does
    /// nothing.
    ///
    /// # Errors
    /// Where the system has no thread left.
    pub fn open(
        &self,
        fittings: Fittings,
        clock: Clock,
        items: SyncSender<Item>,
        halt: Halt,
    ) -> io::Result<()> {
        if fittings.lamp.is_none() && fittings.button.is_none() {
            return Ok(());
        }
        let stove = self.clone();
        let thread = thread::Builder::new().name("stove".to_owned()).stack_size(STACK_BYTES);
        thread.spawn(move || stove.serve(fittings, &clock, &items, &halt)).map(drop)
    }

    /// Takes what the judgement just did about this pot.
    pub fn hear(&self, pot: usize, actions: &[Action]) {
        self.raised(|raised| actions.iter().for_each(|action| raised.hear(pot, action)));
    }

    fn raised<T>(&self, act: impl FnOnce(&mut Raised) -> T) -> T {
        act(&mut self.0.lock().unwrap_or_else(PoisonError::into_inner))
    }

    fn serve(&self, mut fittings: Fittings, clock: &Clock, items: &SyncSender<Item>, halt: &Halt) {
        let mut button = Button::default();
        let mut shown = (Signal::DARK, clock.now());
        let mut looks = 0_u32;
        while halt.wait(LOOK_EVERY) {
            let now = clock.now();
            let pressed = fittings.button.as_mut().and_then(|down| button.look(down(), now));
            for (pot, says) in self.raised(|raised| said(raised, pressed)) {
                // A full queue means seconds of delay: the cook will press again.
                let by = "the button".to_owned();
                drop(items.try_send(Item::Said { pot, says, by, answer: None }));
            }
            looks = looks.wrapping_add(1);
            if let Some(lamp) = fittings.lamp.as_mut().filter(|_| looks % SHOW_EVERY == 0) {
                shown = self.show(lamp.as_mut(), shown, now);
            }
        }
        if let Some(lamp) = &mut fittings.lamp {
            lamp.show(Signal::DARK, 0);
        }
    }

    /// Shows the signal of now; it begins anew where it has changed.
    fn show(
        &self,
        lamp: &mut dyn Lamp,
        (before, since): (Signal, Moment),
        now: Moment,
    ) -> (Signal, Moment) {
        let signal = self.raised(|raised| raised.signal());
        let since = if signal == before { since } else { now };
        lamp.show(signal, u64::try_from(now.ms() - since.ms()).unwrap_or(0));
        (signal, since)
    }
}

/// The alerts that are raised, and whether somebody has seen them.
#[derive(Debug, Default)]
struct Raised {
    alerts: BTreeMap<(usize, Alarm), bool>,
    /// The pots that are watched: those of which anything was said.
    watched: BTreeSet<usize>,
}

impl Raised {
    fn hear(&mut self, pot: usize, action: &Action) {
        self.watched.insert(pot);
        match action {
            Action::Show(snapshot) => {
                self.alerts.retain(|(p, alarm), _| *p != pot || snapshot.raised.contains(alarm));
                for &alarm in &snapshot.raised {
                    self.alerts.entry((pot, alarm)).or_insert(false);
                }
            }
            Action::Tell(notice) => match notice.state {
                AlarmState::Raised => drop(self.alerts.insert((pot, notice.alarm), false)),
                AlarmState::Acknowledged | AlarmState::Shelved => {
                    self.alerts.insert((pot, notice.alarm), true);
                }
                AlarmState::Cleared => drop(self.alerts.remove(&(pot, notice.alarm))),
            },
            Action::Happened(_) => {}
        }
    }

    fn signal(&self) -> Signal {
        let most = |seen: Option<bool>| {
            let fitting = self.alerts.iter().filter(|(_, s)| seen.is_none_or(|seen| seen == **s));
            fitting.filter_map(|((_, alarm), _)| urgency(*alarm)).max()
        };
        let sounding = most(Some(false));
        match most(None) {
            None if self.watched.is_empty() => Signal::DARK,
            None => Signal::NORMAL,
            Some(Urgency::Now) => {
                Signal { colour: Colour::Red, flashing: sounding == Some(Urgency::Now), sounding }
            }
            Some(Urgency::Soon) => {
                Signal { colour: Colour::Yellow, flashing: sounding.is_some(), sounding }
            }
        }
    }
}

/// How soon somebody must be at the pot; `None` for what only the page and the broker say.
const fn urgency(alarm: Alarm) -> Option<Urgency> {
    match urgency::of(alarm).priority {
        Priority::High => Some(Urgency::Now),
        Priority::Medium => Some(Urgency::Soon),
        Priority::Low => None,
    }
}

/// What a press says, and to which pots.
fn said(raised: &Raised, press: Option<Press>) -> Vec<(usize, CookSays)> {
    match press {
        Some(Press::Short) => {
            let asks = |alarm| matches!(alarm, Alarm::StirDue | Alarm::Catching);
            let asked = raised.alerts.keys().find(|(_, alarm)| asks(*alarm)).map(|(pot, _)| *pot);
            let only = raised.watched.first().filter(|_| raised.watched.len() == 1);
            let pot = asked.or(only.copied());
            pot.map(|pot| (pot, CookSays::Stirred)).into_iter().collect()
        }
        Some(Press::Long) => {
            let unseen = raised.alerts.iter().filter(|(_, seen)| !**seen);
            unseen.map(|((pot, alarm), _)| (*pot, CookSays::Acknowledge(*alarm))).collect()
        }
        Some(Press::Stuck) => {
            tracing::warn!("the button at the stove has been down for half a minute: is it stuck?");
            Vec::new()
        }
        None => Vec::new(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::watch::action::{Notice, Snapshot};
    use std::sync::mpsc::{Receiver, sync_channel};

    fn tell(alarm: Alarm, state: AlarmState) -> Action {
        Action::Tell(Notice { at: Moment::default(), alarm, state, why: String::new() })
    }

    fn after(actions: &[(usize, Action)]) -> Raised {
        let mut raised = Raised::default();
        actions.iter().for_each(|(pot, action)| raised.hear(*pot, action));
        raised
    }

    #[test]
    fn the_most_urgent_alert_of_all_pots_is_shown() {
        let due = (0, tell(Alarm::StirDue, AlarmState::Raised));
        let catching = (1, tell(Alarm::Catching, AlarmState::Raised));
        assert_eq!(after(std::slice::from_ref(&due)).signal(), Signal::of(Urgency::Soon, false));
        let both = [due.clone(), catching.clone()];
        assert_eq!(after(&both).signal(), Signal::of(Urgency::Now, false));
        let seen = (1, tell(Alarm::Catching, AlarmState::Acknowledged));
        let signal = after(&[due, catching.clone(), seen]).signal();
        // Red and steady for what was seen, sounding for what was not.
        assert_eq!((signal.colour, signal.flashing), (Colour::Red, false));
        assert_eq!(signal.sounding, Some(Urgency::Soon));
        let cleared = (1, tell(Alarm::Catching, AlarmState::Cleared));
        assert_eq!(after(&[catching, cleared]).signal(), Signal::NORMAL);
    }

    fn shown(raised: &[Alarm]) -> Action {
        Action::Show(Box::new(Snapshot { raised: raised.to_vec(), ..Snapshot::default() }))
    }

    #[test]
    fn the_lamp_is_green_for_a_pot_that_is_watched_and_dark_while_none_is() {
        assert_eq!(after(&[]).signal(), Signal::DARK);
        assert_eq!(after(&[(0, shown(&[]))]).signal(), Signal::NORMAL);
    }

    #[test]
    fn what_is_shown_of_a_pot_is_what_is_raised() {
        let raised = after(&[(0, shown(&[Alarm::RunningDry]))]);
        assert_eq!(raised.signal(), Signal::of(Urgency::Now, false));
        let gone = after(&[(0, tell(Alarm::RunningDry, AlarmState::Raised)), (0, shown(&[]))]);
        assert_eq!(gone.signal(), Signal::NORMAL);
        let other = after(&[(0, tell(Alarm::RunningDry, AlarmState::Raised)), (1, shown(&[]))]);
        assert_eq!(other.signal(), Signal::of(Urgency::Now, false));
    }

    #[test]
    fn a_short_press_is_for_the_pot_that_asked() {
        let due = after(&[(1, tell(Alarm::StirDue, AlarmState::Raised))]);
        assert_eq!(said(&due, Some(Press::Short)), [(1, CookSays::Stirred)]);
        let two = after(&[(0, shown(&[])), (1, shown(&[]))]);
        assert_eq!(said(&two, Some(Press::Short)), []);
    }

    #[test]
    fn a_short_press_is_for_the_only_pot_with_a_batch_whatever_else_stands_there() {
        assert_eq!(said(&after(&[(1, shown(&[]))]), Some(Press::Short)), [(1, CookSays::Stirred)]);
        assert_eq!(said(&after(&[]), Some(Press::Short)), []);
    }

    #[test]
    fn a_long_press_acknowledges_what_nobody_has_seen() {
        let raised = after(&[
            (0, tell(Alarm::StirDue, AlarmState::Raised)),
            (1, tell(Alarm::ProbeFault, AlarmState::Raised)),
            (1, tell(Alarm::ProbeFault, AlarmState::Acknowledged)),
        ]);
        let acknowledged = said(&raised, Some(Press::Long));
        assert_eq!(acknowledged, [(0, CookSays::Acknowledge(Alarm::StirDue))]);
        assert_eq!(said(&raised, None), []);
    }

    struct Seen(SyncSender<Signal>);

    impl Lamp for Seen {
        fn show(&mut self, signal: Signal, _: u64) {
            let _ = self.0.try_send(signal);
        }
    }

    fn until<T: PartialEq>(heard: &Receiver<T>, wanted: &T) -> bool {
        (0..2_000).any(|_| heard.recv_timeout(Duration::from_secs(5)).as_ref() == Ok(wanted))
    }

    #[test]
    fn lamp_and_button_work_in_their_thread_and_the_lamp_ends_dark() {
        let (lamp, signals) = sync_channel(10_000);
        let (items, said) = sync_channel(8);
        let halt = Halt::default();
        let mut looks = 0;
        let button = move || {
            looks += 1;
            (20..60).contains(&looks)
        };
        let fittings =
            Fittings { lamp: Some(Box::new(Seen(lamp))), button: Some(Box::new(button)) };
        let stove = Stove::default();
        stove.open(fittings, Clock::of_the_board(), items, halt.clone()).unwrap();
        assert!(until(&signals, &Signal::DARK));
        stove.hear(0, &[shown(&[])]);
        assert!(until(&signals, &Signal::NORMAL));
        stove.hear(0, &[tell(Alarm::Catching, AlarmState::Raised)]);
        assert!(until(&signals, &Signal::of(Urgency::Now, false)));
        let pressed = said.recv_timeout(Duration::from_secs(30)).unwrap();
        assert!(matches!(pressed, Item::Said { pot: 0, says: CookSays::Stirred, .. }));
        halt.tell();
        assert!(until(&signals, &Signal::DARK));
    }
}
