//! Where a pot's samples come from, each source on a thread of its own.
//!
//! A device is asked over and over, no faster than its period, and what it says is stamped when it
//! has said it. A script (a recording, or the virtual pot) brings its own times and is told when they
//! come. Either waits where the judgement has not kept up: nothing is dropped on the way.

use std::io;
use std::sync::mpsc::SyncSender;
use std::thread;
use std::time::Duration;

use crate::moment::Moment;
use crate::quantity::Celsius;
use crate::reading::{Fault, Reading};
use crate::sense::calibration::book::ScaleEntry;
use crate::sense::{Barometer, Probe, Scale};
use crate::watch::event::{CookSays, Event};

use super::board::{Await, NotThere};
use super::clock::Clock;
use super::halt::Halt;

/// A DS18B20 converts in 0.75 s.
const PROBE_EVERY: Duration = Duration::from_secs(1);
/// A converter paces itself; one that fails at once is not asked more often than this.
const SCALE_AT_MOST_EVERY: Duration = Duration::from_millis(100);
/// Air and load cells change slowly.
const SLOW_EVERY: Duration = Duration::from_secs(10);
/// How often it is looked whether a scale was calibrated.
const LOOK_EVERY: Duration = Duration::from_secs(2);
/// Drivers need little; the default would be 2 MiB of address space each.
const STACK_BYTES: usize = 256 * 1024;

/// What comes to the judgement.
#[derive(Debug)]
pub enum Item {
    /// Something was measured in this pot.
    Sample {
        pot: usize,
        event: Event,
        at: Moment,
    },
    /// The cook spoke to this pot, and through what.
    Said {
        pot: usize,
        says: CookSays,
        by: String,
        /// Who waits to hear in a sentence what it changed, or why it was not taken.
        answer: Option<SyncSender<Result<String, String>>>,
    },
    /// The scale of this pot was calibrated meanwhile.
    Calibrated {
        pot: usize,
        entry: Box<ScaleEntry>,
    },
    /// The script of this pot is at its end.
    Over {
        pot: usize,
    },
    Stop,
}

/// Samples that bring their own times, ms since the script began.
pub type Script = Box<dyn Iterator<Item = Result<(Moment, Event), String>> + Send>;

/// Which of a pot's thermometers a probe is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Place {
    Food,
    Base,
    Platform,
}

impl Place {
    const fn event(self, reading: Reading<Celsius>) -> Event {
        match self {
            Self::Food => Event::Probe(reading),
            Self::Base => Event::Base(reading),
            Self::Platform => Event::Platform(reading),
        }
    }
}

/// One source of samples.
pub enum Source {
    Probe(Place, Box<dyn Probe>),
    Scale(Box<dyn Scale>),
    /// A scale that was never calibrated. It is read from when it was.
    Awaited(Await),
    Barometer(Box<dyn Barometer>),
    Script {
        script: Script,
        /// What is said over and over once the script is at its end; nothing where the pot then is
        /// over.
        silent: Vec<Event>,
    },
}

impl Source {
    /// Whether it goes on for ever, so that its silence means something.
    #[must_use]
    pub const fn is_live(&self) -> bool {
        !matches!(self, Self::Script { .. })
    }
}

/// What a source needs to be heard.
#[derive(Debug, Clone)]
pub struct Line {
    /// Whom it is read for.
    pub pots: Vec<usize>,
    pub clock: Clock,
    pub items: SyncSender<Item>,
    pub halt: Halt,
    /// When scripts begin.
    pub began: Moment,
}

impl Line {
    /// Starts the source's thread, which ends at the stop.
    ///
    /// # Errors
    /// Where the system has no thread left.
    pub fn open(self, name: &str, source: Source) -> io::Result<()> {
        let thread = thread::Builder::new().name(name.to_owned()).stack_size(STACK_BYTES);
        thread.spawn(move || self.serve(source)).map(drop)
    }

    fn serve(&self, source: Source) {
        match source {
            Source::Probe(place, mut probe) => {
                self.every(PROBE_EVERY, || vec![place.event(probe.read())]);
            }
            Source::Scale(scale) => self.weigh(scale),
            Source::Awaited(look) => self.await_calibration(look),
            Source::Barometer(mut barometer) => {
                self.every(SLOW_EVERY, || vec![Event::Air(barometer.read())]);
            }
            Source::Script { script, silent } => self.follow(script, &silent),
        }
    }

    /// Says that the scale has no kilograms until it has, and then weighs.
    fn await_calibration(&self, mut look: Await) {
        let mut told = String::new();
        while !self.halt.is_told() {
            match look() {
                Ok(Some((entry, scale))) => return self.begin_to_weigh(&entry, scale),
                Ok(None) => {}
                Err(NotThere(why)) if why == told => {}
                Err(NotThere(why)) => {
                    tracing::error!("{why}; it is tried again");
                    told = why;
                }
            }
            let unknown = Event::Load(Err(Fault::Uncalibrated));
            if !self.tell(&unknown, self.clock.now()) || !self.halt.wait(LOOK_EVERY) {
                return;
            }
        }
    }

    fn begin_to_weigh(&self, entry: &ScaleEntry, scale: Box<dyn Scale>) {
        let news = |pot: &usize| Item::Calibrated { pot: *pot, entry: Box::new(entry.clone()) };
        if self.pots.iter().all(|pot| self.items.send(news(pot)).is_ok()) {
            self.weigh(scale);
        }
    }

    fn weigh(&self, mut scale: Box<dyn Scale>) {
        let mut platform_due = self.clock.now();
        self.every(SCALE_AT_MOST_EVERY, || {
            let mut events = Vec::with_capacity(2);
            let now = self.clock.now();
            if now >= platform_due {
                platform_due = now.plus_ms(SLOW_EVERY.as_millis() as i64);
                events.extend(scale.platform().map(Event::Platform));
            }
            events.push(Event::Load(scale.read()));
            events
        });
    }

    /// Asks again and again. A source that answers faster than `period` is let rest, unless it gave
    /// a value: then it knows its own pace.
    fn every(&self, period: Duration, mut ask: impl FnMut() -> Vec<Event>) {
        while !self.halt.is_told() {
            let due = self.clock.now().plus_ms(period.as_millis() as i64);
            let events = ask();
            let paces_itself = matches!(events.last(), Some(Event::Load(Ok(_))));
            if !self.tell_all(events, self.clock.now()) {
                return;
            }
            if !paces_itself && !self.halt.wait(self.clock.until(due)) {
                return;
            }
        }
    }

    fn follow(&self, script: Script, silent: &[Event]) {
        for next in script {
            let (at, event) = match next {
                Ok((at, event)) => (self.began.plus_ms(at.ms()), event),
                Err(why) => {
                    tracing::error!("{why}; what follows is not read");
                    break;
                }
            };
            if !self.halt.wait(self.clock.until(at)) || !self.tell(&event, at) {
                return;
            }
        }
        if silent.is_empty() {
            self.pots.iter().for_each(|pot| drop(self.items.send(Item::Over { pot: *pot })));
        } else {
            self.every(PROBE_EVERY, || silent.to_vec());
        }
    }

    fn tell_all(&self, events: Vec<Event>, at: Moment) -> bool {
        events.into_iter().all(|event| self.tell(&event, at))
    }

    /// `false` where nobody listens any more.
    fn tell(&self, event: &Event, at: Moment) -> bool {
        let sample = |pot: &usize| Item::Sample { pot: *pot, event: event.clone(), at };
        self.pots.iter().all(|pot| self.items.send(sample(pot)).is_ok())
    }
}

/// What a script that is at its end says: its sensors answer no more.
#[must_use]
pub fn absent(kinds: &[Event]) -> Vec<Event> {
    kinds
        .iter()
        .filter_map(|kind| match kind {
            Event::Load(_) => Some(Event::Load(Err(Fault::Absent))),
            Event::Probe(_) => Some(Event::Probe(Err(Fault::Absent))),
            Event::Base(_) => Some(Event::Base(Err(Fault::Absent))),
            _ => None,
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::quantity::Kilograms;
    use std::sync::mpsc::{Receiver, sync_channel};

    fn line(rate: f64, room: usize) -> (Line, Receiver<Item>) {
        let (items, heard) = sync_channel(room);
        let clock = Clock::fast(rate, Some(0));
        let began = clock.now();
        (Line { pots: vec![3], clock, items, halt: Halt::default(), began }, heard)
    }

    fn load(kg: f64) -> Event {
        Event::Load(Ok(Kilograms::new(kg).unwrap()))
    }

    #[test]
    fn a_script_keeps_its_own_times_and_says_when_it_is_over() {
        let (line, heard) = line(1e6, 8);
        let began = line.began;
        let rows = [(0, 1.0), (100, 2.0), (86_400_000, 3.0)];
        let script = rows.map(|(ms, kg)| Ok((Moment::from_ms(ms), load(kg))));
        let script = Box::new(script.into_iter());
        line.open("test", Source::Script { script, silent: vec![] }).unwrap();
        for (ms, kg) in rows {
            let Item::Sample { pot: 3, event, at } = heard.recv().unwrap() else { panic!() };
            assert_eq!((event, at), (load(kg), began.plus_ms(ms)));
        }
        assert!(matches!(heard.recv(), Ok(Item::Over { pot: 3 })));
    }

    #[test]
    fn a_recorded_sensor_at_its_end_answers_no_more() {
        let (line, heard) = line(1e6, 1);
        let halt = line.halt.clone();
        let script = Box::new(std::iter::once(Ok((Moment::from_ms(0), load(1.0)))));
        let silent = absent(&[load(1.0)]);
        line.open("test", Source::Script { script, silent }).unwrap();
        assert!(heard.recv().is_ok());
        for _ in 0..2 {
            let Ok(Item::Sample { event, .. }) = heard.recv() else { panic!() };
            assert_eq!(event, Event::Load(Err(Fault::Absent)));
        }
        halt.tell();
    }
}
