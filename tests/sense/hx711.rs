//! The HX711's driver against the expected transactions on its pins and against an emulated chip.

use super::clock::{Chance, Clock};
use super::hx711_chip::{Chip, ClockPin, Data};
use dekchi::reading::Fault;
use dekchi::sense::counts::Counts;
use dekchi::sense::hx711::{Hx711, Input, Rate};
use embedded_hal_mock::eh1::digital::{Mock, State, Transaction};

type Scale = Hx711<Data, ClockPin, Clock>;

fn rig_with(input: Input, rate: Rate) -> (Chip, Scale) {
    let clock = Clock::default();
    let chip = Chip::new(clock.clone(), 1_000_000 / rate.period_us());
    let scale = Hx711::new(chip.data(), chip.clock_pin(), clock, input, rate);
    (chip, scale)
}

fn rig() -> (Chip, Scale) {
    rig_with(Input::A128, Rate::Sps10)
}

fn counts(scale: &mut Scale) -> Result<i32, Fault> {
    scale.read().map(Counts::get)
}

#[test]
fn the_pins_see_a_reset_and_then_25_pulses_with_the_highest_bit_first() {
    let level = |high| if high { State::High } else { State::Low };
    let word = 0x5A_5A01_u32;
    let bits = (0..24).rev().map(|bit| Transaction::get(level(word >> bit & 1 == 1)));
    let ready = [Transaction::get(State::High), Transaction::get(State::Low)];
    let end = [Transaction::get(State::High), Transaction::get(State::High)];
    let data: Vec<_> = ready.into_iter().chain(bits).chain(end).collect();
    let pulse = [Transaction::set(State::High), Transaction::set(State::Low)];
    let clock: Vec<_> = (0..26).flat_map(|_| pulse.clone()).collect();
    let (mut data, mut clock) = (Mock::new(&data), Mock::new(&clock));
    let timing = Clock::default();
    let mut scale = Hx711::new(data.clone(), clock.clone(), timing, Input::A128, Rate::Sps10);
    assert_eq!(scale.read().map(Counts::get), Ok(0x5A_5A01));
    data.done();
    clock.done();
}

#[test]
fn a_weight_comes_through_at_both_rates_and_either_gain() {
    for rate in [Rate::Sps10, Rate::Sps80] {
        for (input, gives) in [(Input::A128, 3_000), (Input::A64, 1_500), (Input::B32, 12_345)] {
            let (chip, mut scale) = rig_with(input, rate);
            chip.inner.borrow_mut().load = 3_000;
            assert_eq!(counts(&mut scale), Ok(gives), "{input:?} {rate:?}");
            assert_eq!(counts(&mut scale), Ok(gives), "{input:?} {rate:?}");
        }
    }
}

#[test]
fn negative_and_large_numbers_keep_their_sign() {
    let (chip, mut scale) = rig();
    for load in [-2, -8_000_000, 8_000_000, 0] {
        chip.inner.borrow_mut().load = load;
        assert_eq!(counts(&mut scale), Ok(load));
    }
}

#[test]
fn the_ends_of_the_scale_and_all_ones_are_faults() {
    let (chip, mut scale) = rig();
    for (load, fault) in
        [(0x7F_FFFF, Fault::Saturated), (-0x80_0000, Fault::Saturated), (-1, Fault::Shorted)]
    {
        chip.inner.borrow_mut().load = load;
        assert_eq!(counts(&mut scale), Err(fault));
    }
}

#[test]
fn a_stretched_pulse_is_noticed_and_what_follows_is_settled() {
    let (chip, mut scale) = rig();
    chip.inner.borrow_mut().load = 40_000;
    assert_eq!(counts(&mut scale), Ok(40_000));
    chip.inner.borrow_mut().faults.stalls_ppm = 1_000_000;
    assert_eq!(counts(&mut scale), Err(Fault::Mistimed));
    chip.inner.borrow_mut().faults.stalls_ppm = 0;
    assert_eq!(counts(&mut scale), Ok(40_000));
    assert_eq!(scale.tally().started, 2);
}

#[test]
fn a_chip_that_never_answers_is_late_and_not_waited_for_long() {
    let (chip, mut scale) = rig();
    chip.inner.borrow_mut().faults.unplugged = true;
    for _ in 0..5 {
        let before = chip.clock.us();
        assert_eq!(counts(&mut scale), Err(Fault::Late));
        assert!(chip.clock.us() - before < 700_000);
    }
    chip.inner.borrow_mut().faults.unplugged = false;
    assert_eq!(counts(&mut scale), Ok(0));
}

#[test]
fn a_data_line_held_low_is_shorted_and_not_a_weight_of_zero() {
    let (chip, mut scale) = rig();
    counts(&mut scale).unwrap();
    chip.inner.borrow_mut().faults.held = Some(false);
    assert_eq!(counts(&mut scale), Err(Fault::Shorted));
    chip.inner.borrow_mut().faults.held = Some(true);
    assert_eq!(counts(&mut scale), Err(Fault::Late));
}

/// A day at 10 a second. One pulse in 5,000 is put aside for 10 to 400 µs: ten times the 0.2 ‰ of
/// pulses over 60 µs that an idle Linux machine showed.
#[test]
fn a_day_of_samples_with_random_faults() {
    let (chip, mut scale) = rig();
    chip.inner.borrow_mut().faults.stalls_ppm = 200;
    let mut chance = Chance(0x0024_0711);
    let day_us = 24 * 3_600 * 1_000_000;
    let (mut wrong, mut faults, mut until) = (0, [0_u32; 4], 0);
    let mut load = 100_000;
    chip.inner.borrow_mut().load = load;
    while chip.clock.us() < day_us {
        if chip.clock.us() > until {
            chip.inner.borrow_mut().faults.held = None;
            chip.inner.borrow_mut().faults.unplugged = false;
            if chance.one_in(6_000) {
                let kind = chance.below(4) as usize;
                faults[kind] += 1;
                until = chip.clock.us() + chance.below(30_000_000);
                match kind {
                    0 => chip.inner.borrow_mut().faults.unplugged = true,
                    1 => chip.inner.borrow_mut().faults.held = Some(false),
                    2 => chip.inner.borrow_mut().faults.held = Some(true),
                    _ => chip.clock.pass_us(chance.below(1_000_000)),
                }
            }
            if chance.one_in(300) {
                load = chance.below(4_000_000) as i32;
                chip.inner.borrow_mut().load = load;
            }
        }
        wrong += u32::from(counts(&mut scale).is_ok_and(|c| c != load));
    }
    let t = scale.tally();
    println!(
        "HX711, 24 h at 10 Hz: {} good, {} discarded, {} missed, {} wrong, reset {} times \
         (of which the chip itself powered down {}); unplugged {}, held low {}, held high {}, \
         stalled {}",
        t.good,
        t.discarded,
        t.missed,
        wrong,
        t.started,
        chip.inner.borrow().power_downs as u64 - t.started,
        faults[0],
        faults[1],
        faults[2],
        faults[3],
    );
    assert_eq!(wrong, 0);
    assert!(faults.iter().all(|&n| n > 5));
    assert!(chip.inner.borrow().power_downs as u64 > t.started);
    assert!(t.good > 750_000, "{t:?}");
}
