//! Raw samples packed into blocks.
//!
//! A block is a run of events of one batch, self-contained, in the order in which the judgement saw
//! them. Sensors are sampled at a steady pace and their values change little, so both are kept as
//! small differences, in an adaptive Rice code ([`super::rice`]) of their own for each channel:
//!
//! ```text
//! block  = version:u8  count:u32  event*  zeros to a whole byte  crc32:u32
//! event  = unary(0) time value            load
//!        | unary(1) time value            probe
//!        | unary(2) time                  a tick
//!        | unary(3) time value            base
//!        | unary(4) time value            platform
//!        | unary(5) time value            air
//!        | unary(6) time rice(number)     here the cook said the word with this number
//!        | unary(7) channel:3 fault:5 time   that channel met a fault
//! time   = rice( zigzag(ΔΔt) )
//! value  = rice( zigzag(Δvalue) )
//! ΔΔt    = (t - t_prev) - (t_prev - t_prev_prev), ms, of the same channel
//! Δvalue = steps - steps_prev of the same channel, on the grid of `resolution`
//! unary  = as many ones and a zero, which is left out after seven
//! zigzag = 2n for n ≥ 0, -2n - 1 for n < 0
//! ```
//!
//! Whole numbers are little-endian. Before a channel's first event in a block its t_prev is the
//! block's beginning, the earlier interval is zero and steps_prev is zero.
//!
//! At 10 Hz with 8 g of white noise the difference of two loads has a standard deviation of 11 g, an
//! entropy of 5.5 bits (½ log₂ 2πe·11.3²), and comes to about 6; with a bit for the channel and two or
//! three for a millisecond of jitter a sample takes a little more than a byte, some 45 kB an hour.
//!
//! The checksum is CRC-32 of IEEE 802.3 (reflected, polynomial 0xEDB88320): SQLite finds a damaged
//! page tree but not a damaged byte inside a value.

use crate::moment::Moment;
use crate::reading::{Fault, Reading};
use crate::watch::event::Event;

use super::resolution;
use super::rice::{BitReader, BitWriter, Rice};

const VERSION: u8 = 1;
const TICK: usize = 2;
const WORD: usize = 6;
const FAULT: usize = 7;
const CHANNELS: u32 = 8;

/// What a block is made of.
#[derive(Debug, Clone, PartialEq)]
pub enum Item {
    /// Anything but the cook's words.
    Event(Event),
    /// The place of the cook's word with this number.
    Word(u64),
}

/// A finished block.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Block {
    pub from: Moment,
    pub to: Moment,
    pub bytes: Vec<u8>,
    /// How many events are in it.
    pub events: u32,
}

/// Why a block could not be read.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum Damage {
    #[error("the checksum of a block of samples does not fit")]
    Checksum,
    #[error("a block of samples is of an unknown version")]
    Version,
    #[error("a block of samples is malformed")]
    Malformed,
}

/// Where the differences of one channel are taken from, and how large they were.
#[derive(Debug, Clone, Copy)]
struct Last {
    ms: i64,
    interval_ms: i64,
    steps: i64,
    times: Rice,
    values: Rice,
}

type Lasts = [Last; CHANNELS as usize];

const fn lasts(from: Moment) -> Lasts {
    let (times, values) = (Rice::expecting(2), Rice::expecting(16));
    [Last { ms: from.ms(), interval_ms: 0, steps: 0, times, values }; CHANNELS as usize]
}

/// Packs events one by one.
#[derive(Debug)]
pub struct Packer {
    bits: BitWriter,
    lasts: Lasts,
    from: Option<Moment>,
    latest: Moment,
    events: u32,
}

impl Default for Packer {
    fn default() -> Self {
        Self::after(Moment::from_ms(i64::MIN))
    }
}

impl Packer {
    /// A packer for events from this moment on.
    fn after(latest: Moment) -> Self {
        let (bits, lasts) = (BitWriter::default(), lasts(Moment::default()));
        Self { bits, lasts, from: None, latest, events: 0 }
    }

    /// Takes one item in. A moment earlier than the latest is taken as the latest, as the judgement
    /// does. The cook's words go in as [`Item::Word`]; their event is left out.
    pub fn push(&mut self, item: &Item, at: Moment) {
        match item {
            Item::Event(event) => self.push_event(event, at),
            Item::Word(number) => {
                let last = self.head(WORD, at);
                let mut values = last.values;
                values.write(&mut self.bits, *number);
                self.lasts[WORD].values = values;
            }
        }
    }

    /// Takes one event in.
    pub fn push_event(&mut self, event: &Event, at: Moment) {
        let (channel, reading) = match (event, steps(event)) {
            (_, Some(measured)) => measured,
            (Event::Tick, None) => {
                self.head(TICK, at);
                return;
            }
            _ => return,
        };
        match reading {
            Ok(steps) => {
                let mut last = self.head(channel, at);
                let change = zigzag(steps.wrapping_sub(last.steps));
                last.values.write(&mut self.bits, change);
                self.lasts[channel] = Last { steps, ..last };
            }
            Err(fault) => {
                let told = (channel as u64) << 5 | fault as u64;
                self.told(channel, FAULT, Some(told), at);
            }
        }
    }

    fn head(&mut self, channel: usize, at: Moment) -> Last {
        self.told(channel, channel, None, at)
    }

    /// Writes what is being told, of a fault whose and which, and how long after the last of the same
    /// `clock`.
    fn told(&mut self, clock: usize, tag: usize, fault: Option<u64>, at: Moment) -> Last {
        let at = at.max(self.latest);
        self.latest = at;
        if self.from.is_none() {
            self.from = Some(at);
            self.lasts = lasts(at);
        }
        self.events += 1;
        let last = &mut self.lasts[clock];
        let interval_ms = at.ms().wrapping_sub(last.ms);
        let change = interval_ms.wrapping_sub(last.interval_ms);
        (last.ms, last.interval_ms) = (at.ms(), interval_ms);
        self.bits.unary(tag as u32, CHANNELS - 1);
        fault.into_iter().for_each(|told| self.bits.bits(told, 8));
        last.times.write(&mut self.bits, zigzag(change));
        *last
    }

    /// When the block that is being packed began.
    #[must_use]
    pub const fn began(&self) -> Option<Moment> {
        self.from
    }

    /// Bytes packed so far.
    #[must_use]
    pub fn len(&self) -> usize {
        self.bits.len()
    }

    /// True where nothing waits.
    #[must_use]
    pub const fn is_empty(&self) -> bool {
        self.from.is_none()
    }

    /// The block so far; the next item begins a new one.
    pub fn finish(&mut self) -> Option<Block> {
        let packed = std::mem::replace(self, Self::after(self.latest));
        let from = packed.from?;
        let mut bytes = vec![VERSION];
        bytes.extend_from_slice(&packed.events.to_le_bytes());
        bytes.extend_from_slice(packed.bits.bytes());
        bytes.extend_from_slice(&crc32(&bytes).to_le_bytes());
        Some(Block { from, to: packed.latest, bytes, events: packed.events })
    }
}

/// The items of a block that begins at `from`.
pub fn unpack(from: Moment, bytes: &[u8]) -> Result<Vec<(Moment, Item)>, Damage> {
    let (body, crc) = bytes.split_last_chunk::<4>().ok_or(Damage::Malformed)?;
    if crc32(body) != u32::from_le_bytes(*crc) {
        return Err(Damage::Checksum);
    }
    let (&version, rest) = body.split_first().ok_or(Damage::Malformed)?;
    if version != VERSION {
        return Err(Damage::Version);
    }
    let (count, bits) = rest.split_first_chunk::<4>().ok_or(Damage::Malformed)?;
    let (mut bits, mut lasts) = (BitReader::new(bits), lasts(from));
    let mut items = Vec::new();
    for _ in 0..u32::from_le_bytes(*count) {
        items.push(read(&mut bits, &mut lasts).ok_or(Damage::Malformed)?);
    }
    Ok(items)
}

fn read(bits: &mut BitReader<'_>, lasts: &mut Lasts) -> Option<(Moment, Item)> {
    let tag = bits.unary(CHANNELS - 1)? as usize;
    // A fault is told before the channel that it belongs to, whose clock is the one that counts.
    if tag == FAULT {
        return read_fault(bits, lasts);
    }
    let last = lasts.get_mut(tag)?;
    let at = last.read_time(bits)?;
    let item = match tag {
        TICK => Item::Event(Event::Tick),
        WORD => Item::Word(last.values.read(bits)?),
        channel => {
            last.steps = last.steps.wrapping_add(unzigzag(last.values.read(bits)?));
            Item::Event(event(channel, Ok(last.steps))?)
        }
    };
    Some((at, item))
}

fn read_fault(bits: &mut BitReader<'_>, lasts: &mut Lasts) -> Option<(Moment, Item)> {
    let channel = bits.bits(3)? as usize;
    let fault = *Fault::ALL.get(bits.bits(5)? as usize)?;
    let at = lasts.get_mut(channel)?.read_time(bits)?;
    Some((at, Item::Event(event(channel, Err(fault))?)))
}

impl Last {
    fn read_time(&mut self, bits: &mut BitReader<'_>) -> Option<Moment> {
        let change = unzigzag(self.times.read(bits)?);
        self.interval_ms = self.interval_ms.wrapping_add(change);
        self.ms = self.ms.wrapping_add(self.interval_ms);
        Some(Moment::from_ms(self.ms))
    }
}

/// Channel and grid value of a measurement; `None` for what is no measurement.
fn steps(event: &Event) -> Option<(usize, Reading<i64>)> {
    Some(match event {
        Event::Load(load) => (0, load.map(resolution::load_steps)),
        Event::Probe(c) => (1, c.map(resolution::temperature_steps)),
        Event::Base(c) => (3, c.map(resolution::temperature_steps)),
        Event::Platform(c) => (4, c.map(resolution::temperature_steps)),
        Event::Air(pa) => (5, pa.map(resolution::pressure_steps)),
        Event::Cook(_) | Event::Tick => return None,
    })
}

/// The measurement of a channel and grid value.
fn event(channel: usize, reading: Reading<i64>) -> Option<Event> {
    Some(match channel {
        0 => Event::Load(reading.map(resolution::load)),
        1 => Event::Probe(reading.map(resolution::temperature)),
        3 => Event::Base(reading.map(resolution::temperature)),
        4 => Event::Platform(reading.map(resolution::temperature)),
        5 => Event::Air(reading.map(resolution::pressure)),
        _ => return None,
    })
}

const fn zigzag(n: i64) -> u64 {
    ((n << 1) ^ (n >> 63)) as u64
}

const fn unzigzag(n: u64) -> i64 {
    (n >> 1) as i64 ^ -((n & 1) as i64)
}

fn crc32(bytes: &[u8]) -> u32 {
    let mut crc = !0_u32;
    for &byte in bytes {
        crc ^= u32::from(byte);
        for _ in 0..8 {
            crc = (crc >> 1) ^ (0xEDB8_8320 & (crc & 1).wrapping_neg());
        }
    }
    !crc
}

#[cfg(test)]
mod tests;
