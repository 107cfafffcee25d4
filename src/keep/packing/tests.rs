//! Packing, tried on anything at all.

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
    assert_eq!(packer.finish(), None);
}

#[test]
fn at_ten_a_second_a_sample_takes_little_more_than_a_byte() {
    let items: Vec<_> = (0..100)
        .map(|n: i64| (Moment::from_ms(100 * n), load(43.0 + 0.001 * (n * 37 % 31) as f64)))
        .collect();
    let bytes = pack(&items).bytes.len();
    assert!((100..130).contains(&bytes), "{bytes}");
}

#[test]
fn the_checksum_is_the_one_of_ieee_802_3() {
    // zlib.crc32(b"123456789") of Python's zlib.
    assert_eq!(crc32(b"123456789"), 0xCBF4_3926);
}
