//! Carries words to their channels, a thread a channel, and says how it went.
//!
//! Each word is tried until it is taken, refused for good, or its deadline is over. A channel that
//! hangs holds up only itself, and no longer than its own attempt may take.

use std::collections::BTreeMap;
use std::io;
use std::sync::mpsc::{Receiver, SyncSender, TrySendError, sync_channel};
use std::thread;

use crate::tell::channel::{Address, Channel, Failed, Word, deadline, pause};
use crate::tell::route::{Errand, Way};

use super::clock::Clock;
use super::halt::Halt;

/// Words that may wait for one channel.
const WAITING: usize = 64;
const STACK_BYTES: usize = 512 * 1024;

/// A channel that is open.
pub type Open = (Way, Box<dyn Channel>);

/// A word for one person by one way; without an errand nobody waits to hear how it went.
#[derive(Debug)]
pub struct Parcel {
    pub errand: Option<Errand>,
    pub to: Address,
    pub word: Word,
}

/// How it went.
#[derive(Debug)]
pub struct Report {
    pub errand: Errand,
    pub attempts: u32,
    /// What the far end answered, or why it did not arrive.
    pub outcome: Result<String, String>,
}

/// The threads of all channels.
#[derive(Debug)]
pub struct Courier {
    ways: BTreeMap<Way, SyncSender<Box<Parcel>>>,
    reports: Receiver<Report>,
    back: SyncSender<Report>,
}

impl Courier {
    /// # Errors
    /// Where the system has no thread left.
    pub fn open(channels: Vec<Open>, clock: &Clock, halt: &Halt) -> io::Result<Self> {
        let (back, reports) = sync_channel(WAITING * 4);
        let mut ways = BTreeMap::new();
        for (way, channel) in channels {
            let (sender, parcels) = sync_channel(WAITING);
            let carrier =
                Carrier { channel, clock: clock.clone(), halt: halt.clone(), back: back.clone() };
            thread::Builder::new()
                .name(way.name().to_owned())
                .stack_size(STACK_BYTES)
                .spawn(move || carrier.work(&parcels))?;
            ways.insert(way, sender);
        }
        Ok(Self { ways, reports, back })
    }

    /// Hands a parcel over without waiting; where there is no room for it that is reported.
    pub fn carry(&self, way: Way, parcel: Parcel) {
        let (parcel, why) = match self.ways.get(&way).map(|way| way.try_send(Box::new(parcel))) {
            Some(Ok(())) | None => return,
            Some(Err(TrySendError::Full(parcel))) => (parcel, "too many words wait for it"),
            Some(Err(TrySendError::Disconnected(parcel))) => (parcel, "its thread has ended"),
        };
        if let Some(errand) = parcel.errand {
            let report = Report { errand, attempts: 0, outcome: Err(why.to_owned()) };
            // No room for the report either: the errand stays on its way and is told anew at the
            // next start.
            let _ = self.back.try_send(report);
        }
    }

    /// What was reported since it was last asked.
    pub fn reports(&self) -> impl Iterator<Item = Report> {
        self.reports.try_iter()
    }
}

struct Carrier {
    channel: Box<dyn Channel>,
    clock: Clock,
    halt: Halt,
    back: SyncSender<Report>,
}

impl Carrier {
    fn work(mut self, parcels: &Receiver<Box<Parcel>>) {
        for parcel in parcels {
            let (attempts, outcome) = self.deliver(&parcel);
            if self.halt.is_told() && outcome.is_err() {
                // It was cut short: the next start tells it.
                return;
            }
            let Some(errand) = parcel.errand else { continue };
            let report = Report { errand, attempts, outcome: outcome.map_err(|f| f.to_string()) };
            if self.back.send(report).is_err() {
                return;
            }
        }
    }

    fn deliver(&mut self, parcel: &Parcel) -> (u32, Result<String, Failed>) {
        let began = self.clock.now();
        let word = &parcel.word;
        let mut attempts = 0;
        loop {
            attempts += 1;
            let utc_s = self.clock.wall(self.clock.now()).utc_ms.div_euclid(1000);
            let outcome = self.channel.send(&parcel.to, word, utc_s);
            let rest = pause(attempts);
            let over = self.clock.now() - began + rest.as_secs_f64()
                > deadline(word.priority).as_secs_f64();
            let again = matches!(outcome, Err(Failed::Later(_))) && !over;
            if !again || !self.halt.wait(self.clock.real(rest)) {
                return (attempts, outcome);
            }
        }
    }
}
