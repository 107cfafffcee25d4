//! The NAU7802's driver against the expected transactions on its bus and against an emulated chip.

use super::clock::{Chance, Clock};
use super::nau7802_chip::Chip;
use dekchi::reading::Fault;
use dekchi::sense::counts::Counts;
use dekchi::sense::nau7802::{Nau7802, Rate, Setup, registers as reg};
use embedded_hal::i2c::{ErrorKind, NoAcknowledgeSource};
use embedded_hal_mock::eh1::i2c::{Mock, Transaction};

fn rig() -> (Chip, Nau7802<Chip, Clock>) {
    let clock = Clock::default();
    let chip = Chip::new(clock.clone());
    (chip.clone(), Nau7802::new(chip, clock, Setup::default()))
}

fn counts(scale: &mut Nau7802<Chip, Clock>) -> Result<i32, Fault> {
    scale.read().map(Counts::get)
}

/// The start-up of the data sheet's section 9.1 at gain 128, 10 a second, 3.0 V.
fn start_up() -> Vec<Transaction> {
    let write = |register, value| Transaction::write(0x2A, vec![register, value]);
    let mut bus = vec![
        write(0x00, 0x01),
        write(0x00, 0x02),
        Transaction::write_read(0x2A, vec![0x00], vec![0x0A]),
        write(0x00, 0x86),
        write(0x01, 0x2F),
        write(0x02, 0x00),
        write(0x15, 0x30),
        write(0x1C, 0x80),
        write(0x02, 0x04),
        Transaction::write_read(0x2A, vec![0x02], vec![0x04]),
        Transaction::write_read(0x2A, vec![0x02], vec![0x00]),
        Transaction::write_read(0x2A, vec![0x03], vec![0x00, 0x00, 0x2A]),
        write(0x00, 0x96),
    ];
    for _ in 0..6 {
        bus.extend(conversion([0x00, 0x10, 0x00]));
    }
    bus
}

fn conversion(bytes: [u8; 3]) -> [Transaction; 2] {
    [
        Transaction::write_read(0x2A, vec![0x00], vec![0xBE]),
        Transaction::write_read(0x2A, vec![0x12], bytes.to_vec()),
    ]
}

#[test]
fn the_bus_sees_the_data_sheets_start_up_and_then_conversions() {
    let mut bus = start_up();
    bus.extend(conversion([0x12, 0x34, 0x56]));
    bus.extend(conversion([0xFF, 0xFF, 0x00]));
    let mut scale = Nau7802::new(Mock::new(&bus), Clock::default(), Setup::default());
    assert_eq!(scale.read().map(Counts::get), Ok(0x12_3456));
    assert_eq!(scale.read().map(Counts::get), Ok(-256));
    scale.release().0.done();
}

#[test]
fn each_error_of_the_bus_has_its_name() {
    for (kind, fault) in [
        (ErrorKind::NoAcknowledge(NoAcknowledgeSource::Address), Fault::Absent),
        (ErrorKind::Bus, Fault::Shorted),
        (ErrorKind::ArbitrationLoss, Fault::Garbled),
    ] {
        let bus = [Transaction::write(0x2A, vec![0x00, 0x01]).with_error(kind)];
        let mut scale = Nau7802::new(Mock::new(&bus), Clock::default(), Setup::default());
        assert_eq!(scale.read(), Err(fault));
        scale.release().0.done();
    }
}

#[test]
fn a_weight_comes_through_with_the_chips_offset_taken_off() {
    let (chip, mut scale) = rig();
    for load in [0, 1, 250_000, -250_000, 7_000_000] {
        chip.load(load);
        counts(&mut scale).unwrap();
        assert_eq!(counts(&mut scale), Ok(load));
    }
}

#[test]
fn conversions_come_at_the_rate_that_was_set() {
    for rate in [Rate::Sps10, Rate::Sps20, Rate::Sps40, Rate::Sps80, Rate::Sps320] {
        let clock = Clock::default();
        let chip = Chip::new(clock.clone());
        let setup = Setup { rate, ..Setup::default() };
        let mut scale = Nau7802::new(chip, clock.clone(), setup);
        scale.read().unwrap();
        let before = clock.us();
        (0..100).for_each(|_| assert!(scale.read().is_ok()));
        let per_conversion = (clock.us() - before) / 100;
        assert!(per_conversion.abs_diff(rate.period_us()) < rate.period_us() / 20, "{rate:?}");
    }
}

#[test]
fn the_ends_of_the_scale_are_never_a_weight() {
    let (chip, mut scale) = rig();
    counts(&mut scale).unwrap();
    for load in [i32::MAX / 2, i32::MIN / 2] {
        chip.load(load);
        counts(&mut scale).ok();
        assert_eq!(counts(&mut scale), Err(Fault::Saturated));
    }
    chip.load(5);
    counts(&mut scale).ok();
    assert_eq!(counts(&mut scale), Ok(5));
}

#[test]
fn an_unplugged_converter_is_absent_and_comes_back() {
    let (chip, mut scale) = rig();
    chip.load(77);
    assert_eq!(counts(&mut scale), Ok(77));
    chip.faults.unplugged.set(true);
    assert_eq!(counts(&mut scale), Err(Fault::Absent));
    assert_eq!(counts(&mut scale), Err(Fault::Absent));
    chip.faults.unplugged.set(false);
    chip.brown_out();
    assert_eq!(counts(&mut scale), Ok(77));
}

#[test]
fn a_held_bus_is_told_and_recovers() {
    let (chip, mut scale) = rig();
    counts(&mut scale).unwrap();
    chip.faults.held.set(true);
    assert_eq!(counts(&mut scale), Err(Fault::Shorted));
    chip.faults.held.set(false);
    assert_eq!(counts(&mut scale), Ok(0));
}

#[test]
fn a_lost_supply_is_told_and_zero_does_not_move() {
    let (chip, mut scale) = rig();
    chip.load(1_000);
    assert_eq!(counts(&mut scale), Ok(1_000));
    chip.brown_out();
    assert_eq!(counts(&mut scale), Err(Fault::PowerOn));
    assert_eq!(counts(&mut scale), Ok(1_000));
    assert_eq!(chip.register(reg::CTRL1), 0x2F);
    assert_eq!(scale.tally().started, 2);
}

#[test]
fn a_frozen_converter_is_late_and_started_again_after_three() {
    let (chip, mut scale) = rig();
    counts(&mut scale).unwrap();
    chip.faults.frozen.set(true);
    for _ in 0..3 {
        assert_eq!(counts(&mut scale), Err(Fault::Late));
    }
    chip.faults.frozen.set(false);
    assert_eq!(counts(&mut scale), Ok(0));
    assert_eq!(scale.tally().started, 2);
}

#[test]
fn no_call_blocks_for_long_whatever_fails() {
    let (chip, mut scale) = rig();
    counts(&mut scale).unwrap();
    chip.faults.frozen.set(true);
    for _ in 0..20 {
        let before = chip.clock.us();
        assert!(counts(&mut scale).is_err());
        assert!(chip.clock.us() - before < 2_500_000);
    }
}

#[test]
fn a_calibration_that_fails_is_not_used() {
    let (chip, mut scale) = rig();
    chip.faults.uncalibratable.set(true);
    assert_eq!(counts(&mut scale), Err(Fault::OutOfRange));
    chip.faults.uncalibratable.set(false);
    assert_eq!(counts(&mut scale), Ok(0));
}

#[test]
fn the_chips_temperature_is_read_and_the_load_goes_on_as_before() {
    let (chip, mut scale) = rig();
    chip.load(4_321);
    counts(&mut scale).unwrap();
    for celsius in [25.0, 61.5, 3.0] {
        chip.warm(celsius);
        let read = scale.chip_temperature().unwrap().get();
        assert!((read - celsius).abs() < 0.01, "{read} for {celsius}");
        assert_eq!(counts(&mut scale), Ok(4_321));
    }
}

/// A day at 10 a second, a fault of a random kind about every ten minutes.
#[test]
fn a_day_of_samples_with_random_faults() {
    let (chip, mut scale) = rig();
    let mut chance = Chance(0x00DE_6C41);
    let day_us = 24 * 3_600 * 1_000_000;
    let (mut wrong, mut faults, mut until) = (0, [0_u32; 6], 0);
    let mut load = 100_000;
    chip.load(load);
    while chip.clock.us() < day_us {
        if chip.clock.us() > until {
            chip.faults.unplugged.set(false);
            chip.faults.held.set(false);
            chip.faults.frozen.set(false);
            if chance.one_in(6_000) {
                let kind = chance.below(6) as usize;
                faults[kind] += 1;
                until = chip.clock.us() + chance.below(30_000_000);
                match kind {
                    0 => chip.faults.unplugged.set(true),
                    1 => chip.faults.held.set(true),
                    2 => chip.faults.frozen.set(true),
                    3 => chip.brown_out(),
                    4 => chip.faults.collisions.set(1 + chance.below(5) as u32),
                    // Put aside by the scheduler for up to a second.
                    _ => chip.clock.pass_us(chance.below(1_000_000)),
                }
            }
            if chance.one_in(300) {
                load = chance.below(4_000_000) as i32;
                chip.load(load);
                scale.read().ok();
            }
        }
        wrong += u32::from(counts(&mut scale).is_ok_and(|c| c != load));
    }
    let t = scale.tally();
    println!(
        "NAU7802, 24 h at 10 Hz: {} good, {} discarded, {} missed, {} wrong, started {} times; \
         unplugged {}, held {}, frozen {}, supply lost {}, collisions {}, stalled {}",
        t.good,
        t.discarded,
        t.missed,
        wrong,
        t.started,
        faults[0],
        faults[1],
        faults[2],
        faults[3],
        faults[4],
        faults[5],
    );
    assert_eq!(wrong, 0);
    assert!(faults.iter().all(|&n| n > 5));
    assert!(t.good > 850_000, "{t:?}");
}
