//! Raw samples packed into blocks.
//!
//! A block is a run of events of one batch, self-contained, in the order in which the judgement saw
//! them. Sensors are sampled at a steady pace and their values change little, so both are kept as
//! small differences:
//!
//! ```text
//! block  = version:u8  event*  crc32:u32 little-endian
//! event  = varint( zigzag(ΔΔt) << 3 | channel )  rest
//! rest   = varint( zigzag(Δvalue) )        channels 0 to 4: load, probe, base, platform, air
//!        | nothing                         channel 5: a tick
//!        | varint( fault << 3 | channel )  channel 6: that channel met a fault
//!        | varint( seq )                   channel 7: here the cook said the word with this number
//! ΔΔt    = (t - t_prev) - (t_prev - t_prev_prev), ms, of the same channel
//! Δvalue = steps - steps_prev of the same channel, on the grid of `resolution`
//! varint = seven bits a byte, least significant first, top bit on all but the last
//! zigzag = 2n for n ≥ 0, -2n - 1 for n < 0
//! ```
//!
//! Before a channel's first event in a block its t_prev is the block's beginning, the earlier
//! interval is zero and steps_prev is zero. At 10 Hz with 8 g of white noise the difference of two
//! loads has a standard deviation of 11 g, so a sample takes one byte for time and channel and one
//! for its value: about 72 kB an hour. The information in it is about 7 bits (the entropy of the
//! differences), so a bit-wise coder could save half of very little.
//!
//! The checksum is CRC-32 of IEEE 802.3 (reflected, polynomial 0xEDB88320): SQLite finds a damaged
//! page tree but not a damaged byte inside a value.

use crate::moment::Moment;
use crate::reading::{Fault, Reading};
use crate::watch::event::Event;

use super::resolution;

const VERSION: u8 = 1;
const TICK: u64 = 5;
const FAULT: u64 = 6;
const WORD: u64 = 7;

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

/// Where the differences of one channel are taken from.
#[derive(Debug, Clone, Copy)]
struct Last {
    ms: i64,
    interval_ms: i64,
    steps: i64,
}

/// The five measured channels, ticks, and words.
type Lasts = [Last; 8];

fn lasts(from: Moment) -> Lasts {
    [Last { ms: from.ms(), interval_ms: 0, steps: 0 }; 8]
}

/// Packs events one by one.
#[derive(Debug)]
pub struct Packer {
    block: Option<Block>,
    lasts: Lasts,
    latest: Moment,
}

impl Default for Packer {
    fn default() -> Self {
        Self { block: None, lasts: lasts(Moment::default()), latest: Moment::from_ms(i64::MIN) }
    }
}

impl Packer {
    /// Takes one item in. A moment earlier than the latest is taken as the latest, as the judgement
    /// does. The cook's words go in as [`Item::Word`]; their event is left out.
    pub fn push(&mut self, item: &Item, at: Moment) {
        let at = at.max(self.latest);
        self.latest = at;
        let block = self.block.get_or_insert_with(|| {
            self.lasts = lasts(at);
            Block { from: at, to: at, bytes: vec![VERSION], events: 0 }
        });
        if write(&mut block.bytes, &mut self.lasts, item, at) {
            block.to = at;
            block.events += 1;
        }
    }

    /// Takes one event in.
    pub fn push_event(&mut self, event: &Event, at: Moment) {
        self.push(&Item::Event(event.clone()), at);
    }

    /// When the block that is being packed began.
    #[must_use]
    pub fn began(&self) -> Option<Moment> {
        self.block.as_ref().map(|block| block.from)
    }

    /// Bytes packed so far.
    #[must_use]
    pub fn len(&self) -> usize {
        self.block.as_ref().map_or(0, |block| block.bytes.len())
    }

    /// True where nothing waits.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.block.is_none()
    }

    /// The block so far; the next item begins a new one.
    pub fn finish(&mut self) -> Option<Block> {
        let mut block = self.block.take()?;
        let crc = crc32(&block.bytes);
        block.bytes.extend_from_slice(&crc.to_le_bytes());
        Some(block)
    }
}

/// The items of a block that begins at `from`.
pub fn unpack(from: Moment, bytes: &[u8]) -> Result<Vec<(Moment, Item)>, Damage> {
    let (body, crc) = bytes.split_last_chunk::<4>().ok_or(Damage::Malformed)?;
    if crc32(body) != u32::from_le_bytes(*crc) {
        return Err(Damage::Checksum);
    }
    let (&version, mut rest) = body.split_first().ok_or(Damage::Malformed)?;
    if version != VERSION {
        return Err(Damage::Version);
    }
    let mut lasts = lasts(from);
    let mut items = Vec::new();
    while !rest.is_empty() {
        items.push(read(&mut rest, &mut lasts).ok_or(Damage::Malformed)?);
    }
    Ok(items)
}

/// Writes one item; false where there is nothing to write.
fn write(out: &mut Vec<u8>, lasts: &mut Lasts, item: &Item, at: Moment) -> bool {
    let (channel, reading) = match item {
        Item::Word(seq) => {
            write_head(out, lasts, WORD, WORD, at);
            write_varint(out, *seq);
            return true;
        }
        Item::Event(Event::Tick) => {
            write_head(out, lasts, TICK, TICK, at);
            return true;
        }
        Item::Event(event) => match steps(event) {
            Some(pair) => pair,
            None => return false,
        },
    };
    match reading {
        Ok(steps) => {
            write_head(out, lasts, channel, channel, at);
            let last = &mut lasts[channel as usize];
            write_varint(out, zigzag(steps.wrapping_sub(last.steps)));
            last.steps = steps;
        }
        Err(fault) => {
            write_head(out, lasts, channel, FAULT, at);
            write_varint(out, (fault as u64) << 3 | channel);
        }
    }
    true
}

/// Channel and grid value of a measurement; `None` for what is no measurement.
fn steps(event: &Event) -> Option<(u64, Reading<i64>)> {
    Some(match event {
        Event::Load(load) => (0, load.map(resolution::load_steps)),
        Event::Probe(c) => (1, c.map(resolution::temperature_steps)),
        Event::Base(c) => (2, c.map(resolution::temperature_steps)),
        Event::Platform(c) => (3, c.map(resolution::temperature_steps)),
        Event::Air(pa) => (4, pa.map(resolution::pressure_steps)),
        Event::Cook(_) | Event::Tick => return None,
    })
}

/// The measurement of a channel and grid value.
fn event(channel: u64, reading: Reading<i64>) -> Option<Event> {
    Some(match channel {
        0 => Event::Load(reading.map(resolution::load)),
        1 => Event::Probe(reading.map(resolution::temperature)),
        2 => Event::Base(reading.map(resolution::temperature)),
        3 => Event::Platform(reading.map(resolution::temperature)),
        4 => Event::Air(reading.map(resolution::pressure)),
        _ => return None,
    })
}

/// What is being told and how long after the last of the same `clock`.
fn write_head(out: &mut Vec<u8>, lasts: &mut Lasts, clock: u64, tag: u64, at: Moment) {
    let last = &mut lasts[clock as usize];
    let interval_ms = at.ms().wrapping_sub(last.ms);
    let change = interval_ms.wrapping_sub(last.interval_ms);
    write_wide(out, zigzag(change), tag);
    last.ms = at.ms();
    last.interval_ms = interval_ms;
}

/// `value << 3 | tag` as a varint, without losing the top three bits of `value`.
fn write_wide(out: &mut Vec<u8>, value: u64, tag: u64) {
    let mut wide = u128::from(value) << 3 | u128::from(tag);
    while wide >= 0x80 {
        out.push(wide as u8 | 0x80);
        wide >>= 7;
    }
    out.push(wide as u8);
}

fn read(rest: &mut &[u8], lasts: &mut Lasts) -> Option<(Moment, Item)> {
    let head = read_wide(rest)?;
    let (tag, change) = ((head & 7) as u64, unzigzag((head >> 3) as u64));
    let body = if tag == TICK { 0 } else { read_varint(rest)? };
    let channel = if tag == FAULT { body & 7 } else { tag };
    let last = lasts.get_mut(channel as usize)?;
    last.interval_ms = last.interval_ms.wrapping_add(change);
    last.ms = last.ms.wrapping_add(last.interval_ms);
    let at = Moment::from_ms(last.ms);
    let item = match tag {
        TICK => Item::Event(Event::Tick),
        WORD => Item::Word(body),
        FAULT => Item::Event(event(channel, Err(*Fault::ALL.get((body >> 3) as usize)?))?),
        _ => {
            last.steps = last.steps.wrapping_add(unzigzag(body));
            Item::Event(event(channel, Ok(last.steps))?)
        }
    };
    Some((at, item))
}

fn write_varint(out: &mut Vec<u8>, mut value: u64) {
    while value >= 0x80 {
        out.push(value as u8 | 0x80);
        value >>= 7;
    }
    out.push(value as u8);
}

fn read_varint(rest: &mut &[u8]) -> Option<u64> {
    u64::try_from(read_wide(rest)?).ok()
}

/// A varint of up to ten bytes, 70 bits.
fn read_wide(rest: &mut &[u8]) -> Option<u128> {
    let mut value = 0;
    for place in 0..10 {
        let (&byte, tail) = rest.split_first()?;
        *rest = tail;
        value |= u128::from(byte & 0x7f) << (7 * place);
        if byte < 0x80 {
            return Some(value);
        }
    }
    None
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
mod tests {
    use super::*;
    use crate::quantity::{Celsius, Kilograms, Pascals};
    use crate::watch::event::CookSays;
    use proptest::prelude::*;

    fn pack(items: &[(Moment, Item)]) -> Block {
        let mut packer = Packer::default();
        items.iter().for_each(|(at, item)| packer.push(item, *at));
        packer.finish().unwrap()
    }

    fn load(kg: f64) -> Item {
        Item::Event(Event::Load(Ok(Kilograms::new(kg).unwrap())))
    }

    /// Any value at all, usual ones and absurd ones.
    fn value() -> impl Strategy<Value = f64> {
        prop_oneof![
            4 => -5.0..200.0,
            1 => proptest::num::f64::NORMAL | proptest::num::f64::ZERO,
        ]
    }

    fn item() -> impl Strategy<Value = Item> {
        let fault = (0..Fault::ALL.len()).prop_map(|n| Fault::ALL[n]);
        let outcome = (value(), proptest::option::weighted(0.2, fault));
        prop_oneof![
            8 => (0..5_u8, outcome).prop_map(|(channel, (value, fault))| {
                let (kg, c) = (Kilograms::new(value).unwrap(), Celsius::new(value).unwrap());
                let pa = Pascals::new(value).unwrap();
                Item::Event(match channel {
                    0 => Event::Load(fault.map_or(Ok(kg), Err)),
                    1 => Event::Probe(fault.map_or(Ok(c), Err)),
                    2 => Event::Base(fault.map_or(Ok(c), Err)),
                    3 => Event::Platform(fault.map_or(Ok(c), Err)),
                    _ => Event::Air(fault.map_or(Ok(pa), Err)),
                })
            }),
            1 => Just(Item::Event(Event::Tick)),
            1 => any::<u64>().prop_map(Item::Word),
        ]
    }

    fn step_ms() -> impl Strategy<Value = i64> {
        prop_oneof![4 => 0..200_i64, 1 => 0..100_000_000_i64]
    }

    fn as_kept(item: &Item) -> Item {
        match item {
            Item::Event(event) => Item::Event(resolution::rounded(event.clone())),
            Item::Word(number) => Item::Word(*number),
        }
    }

    proptest! {
        #[test]
        fn any_run_of_events_comes_back_in_its_order_at_its_times_on_the_grid(
            start_ms in prop_oneof![0..10_000_000_i64, i64::MIN / 4..i64::MAX / 4],
            steps in proptest::collection::vec((step_ms(), item()), 1..200),
        ) {
            let mut at = Moment::from_ms(start_ms);
            let mut items = Vec::new();
            for (step, item) in steps {
                at = at.plus_ms(step);
                items.push((at, item));
            }
            let block = pack(&items);
            let kept: Vec<_> = items.iter().map(|(at, item)| (*at, as_kept(item))).collect();
            prop_assert_eq!((block.from, block.to), (items[0].0, at));
            prop_assert_eq!(block.events as usize, items.len());
            prop_assert_eq!(unpack(block.from, &block.bytes), Ok(kept));
        }

        #[test]
        fn no_bytes_make_it_panic_even_with_a_right_checksum(
            mut bytes in proptest::collection::vec(any::<u8>(), 0..300),
            from_ms in any::<i64>(),
        ) {
            let from = Moment::from_ms(from_ms);
            let _ = unpack(from, &bytes);
            bytes.insert(0, VERSION);
            bytes.extend_from_slice(&crc32(&bytes).to_le_bytes());
            let _ = unpack(from, &bytes);
        }

        #[test]
        fn a_flipped_bit_is_noticed(place in 0..2000_usize, bit in 0..8_u32) {
            let items: Vec<_> =
                (0..50).map(|n| (Moment::from_ms(100 * n), load(40.0 + n as f64))).collect();
            let mut bytes = pack(&items).bytes;
            let place = place % bytes.len();
            bytes[place] ^= 1 << bit;
            prop_assert!(unpack(Moment::default(), &bytes).is_err());
        }
    }

    #[test]
    fn a_moment_that_goes_back_is_taken_as_the_latest() {
        let (late, early) = (Moment::from_ms(500), Moment::from_ms(200));
        let block = pack(&[(late, load(1.0)), (early, load(2.0))]);
        let items = unpack(block.from, &block.bytes).unwrap();
        assert_eq!(items, [(late, load(1.0)), (late, load(2.0))]);
    }

    #[test]
    fn the_cooks_own_words_leave_only_their_place() {
        let mut packer = Packer::default();
        packer.push_event(&Event::Cook(CookSays::Stirred), Moment::default());
        assert_eq!(packer.finish().map(|block| block.events), Some(0));
    }

    #[test]
    fn at_ten_a_second_a_sample_takes_two_bytes() {
        let items: Vec<_> = (0..100)
            .map(|n: i64| (Moment::from_ms(100 * n), load(43.0 + 0.001 * (n * 37 % 61) as f64)))
            .collect();
        // Version and checksum, a first absolute value of three bytes and a first interval of two.
        assert!(pack(&items).bytes.len() <= 5 + 4 + 3 + 2 * 98);
    }

    #[test]
    fn the_checksum_is_the_one_of_ieee_802_3() {
        // zlib.crc32(b"123456789") of Python's zlib.
        assert_eq!(crc32(b"123456789"), 0xCBF4_3926);
    }
}
