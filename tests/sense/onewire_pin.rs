//! DS18B20s pulsed on a pin, against probes emulated at bit level.

use super::clock::{Chance, Clock};
use super::onewire_line::{Chip, Line, Unsteady};
use dekchi::reading::Fault;
use dekchi::sense::ds18b20::{Resolution, RomId};
use dekchi::sense::ds18b20_pin::{PinProbe, ProbeLine, SharedProbes};

type Probes = ProbeLine<Line, Unsteady>;

fn rig_at(chips: Vec<Chip>, resolution: Resolution) -> (Line, Probes) {
    let clock = Clock::default();
    let line = Line::new(clock.clone(), chips);
    let timing = Unsteady { clock, chance: Chance(18), stalls_ppm: 0 };
    let probes = ProbeLine::open(line.clone(), timing, resolution).unwrap();
    (line, probes)
}

fn rig(chips: Vec<Chip>) -> (Line, Probes) {
    rig_at(chips, Resolution::Bits12)
}

fn measure(probes: &mut Probes, probe: PinProbe) -> Result<f64, Fault> {
    probes.convert()?;
    probes.read(probe).map(|c| c.get())
}

#[test]
fn three_probes_are_found_and_told_apart_by_their_numbers() {
    let serials = [0x0316_A279_5F02, 0x0316_A279_5F01, 0x0000_0BAD_CAFE];
    let chips = serials.iter().zip([96.25, -0.0625, 61.5]).map(|(&s, c)| Chip::new(s, c));
    let (_line, mut probes) = rig(chips.collect());
    let found = probes.search().unwrap();
    probes.convert().unwrap();
    let mut read: Vec<(String, f64)> =
        found.iter().map(|&p| (p.rom().to_string(), probes.read(p).unwrap().get())).collect();
    read.sort_by(|a, b| a.0.cmp(&b.0));
    let expect =
        [("28-00000badcafe", 61.5), ("28-0316a2795f01", -0.0625), ("28-0316a2795f02", 96.25)];
    assert_eq!(read, expect.map(|(rom, c)| (rom.to_string(), c)));
}

#[test]
fn each_resolution_has_its_step_and_its_time() {
    for (resolution, celsius, ms) in [
        (Resolution::Bits9, 97.5, 94),
        (Resolution::Bits10, 97.75, 188),
        (Resolution::Bits11, 97.875, 375),
        (Resolution::Bits12, 97.9375, 750),
    ] {
        let (line, mut probes) = rig_at(vec![Chip::new(7, 97.9375)], resolution);
        let probe = probes.search().unwrap()[0];
        probes.set_resolution(probe).unwrap();
        let before = line.clock.us();
        probes.convert().unwrap();
        let took_ms = (line.clock.us() - before) / 1_000;
        assert!((ms..ms + 5).contains(&took_ms), "{resolution:?} took {took_ms} ms");
        assert_eq!(probes.read(probe).map(|c| c.get()), Ok(celsius));
    }
}

#[test]
fn a_probe_that_lost_power_is_not_a_pot_at_85() {
    let (line, mut probes) = rig(vec![Chip::new(7, 85.0)]);
    let probe = probes.search().unwrap()[0];
    assert_eq!(probes.read(probe), Err(Fault::PowerOn));
    assert_eq!(measure(&mut probes, probe), Ok(85.0));
    line.inner.borrow_mut().probes[0].power_on();
    assert_eq!(probes.read(probe), Err(Fault::PowerOn));
}

#[test]
fn a_probe_may_be_unplugged_and_plugged_in_again() {
    let (line, mut probes) = rig(vec![Chip::new(1, 20.0), Chip::new(2, 90.0)]);
    let found = probes.search().unwrap();
    line.inner.borrow_mut().probes[1].plugged = false;
    probes.convert().unwrap();
    // The other still answers the reset; the one that is gone answers nothing.
    let gone = found.iter().filter(|&&p| probes.read(p) == Err(Fault::Garbled)).count();
    assert_eq!(gone, 1);
    line.inner.borrow_mut().probes[0].plugged = false;
    assert_eq!(probes.convert(), Err(Fault::Absent));
    assert_eq!(probes.search().err(), Some(Fault::Absent));
    line.inner.borrow_mut().probes.iter_mut().for_each(|p| {
        p.power_on();
        p.plugged = true;
    });
    assert!(found.iter().all(|&p| measure(&mut probes, p).is_ok()));
}

#[test]
fn a_line_held_low_is_shorted() {
    let (line, mut probes) = rig(vec![Chip::new(1, 20.0)]);
    line.inner.borrow_mut().shorted = true;
    assert_eq!(probes.search().err(), Some(Fault::Shorted));
    assert_eq!(probes.convert(), Err(Fault::Shorted));
}

#[test]
fn readers_that_share_a_line_share_its_conversions_and_find_a_late_comer() {
    let (line, probes) = rig(vec![Chip::new(1, 20.0), Chip::new(2, 90.0)]);
    line.inner.borrow_mut().probes[1].plugged = false;
    let mut shared = SharedProbes::new(probes);
    let [one, two] = [1, 2].map(|serial| RomId::new(&format!("28-{serial:012x}")).unwrap());
    let (mut taken_one, mut taken_two) = (0, 0);
    assert_eq!(shared.read(&one, &mut taken_one).map(|c| c.get()), Ok(20.0));
    assert_eq!(shared.read(&two, &mut taken_two), Err(Fault::Absent));
    line.inner.borrow_mut().probes[1].plugged = true;
    let before = line.clock.us();
    assert_eq!(shared.read(&two, &mut taken_two).map(|c| c.get()), Ok(90.0));
    assert_eq!(shared.read(&one, &mut taken_one).map(|c| c.get()), Ok(20.0));
    assert!(line.clock.us() - before < 900_000, "one conversion for both");
}

/// A day of one reading a second of two probes, one wait in 2,000 stretched by 20 to 300 µs.
#[test]
fn a_day_of_readings_on_an_unsteady_machine() {
    let clock = Clock::default();
    let line = Line::new(clock.clone(), vec![Chip::new(1, 20.0), Chip::new(2, 90.0)]);
    let timing = Unsteady { clock: clock.clone(), chance: Chance(0x1820), stalls_ppm: 0 };
    let mut probes = ProbeLine::open(line.clone(), timing, Resolution::Bits12).unwrap();
    let found = probes.search().unwrap();
    let timing = Unsteady { clock: clock.clone(), chance: Chance(0x1820), stalls_ppm: 500 };
    let mut probes = ProbeLine::open(line.clone(), timing, Resolution::Bits12).unwrap();
    let mut chance = Chance(0x00DA_1820);
    let (mut good, mut stale, mut wrong, mut why) = (0, 0, 0, std::collections::BTreeMap::new());
    let day_us = 24 * 3_600 * 1_000_000;
    let mut before = 0.0;
    while clock.us() < day_us {
        let celsius = f64::from(chance.below(1_600) as u32) / 16.0;
        for chip in &mut line.inner.borrow_mut().probes {
            chip.celsius = celsius;
            chip.plugged = !chance.one_in(500);
            if chance.one_in(1_000) {
                chip.power_on();
            }
        }
        let converted = probes.convert();
        for &probe in &found {
            match converted.and_then(|()| probes.read(probe)) {
                Ok(read) if read.get() == celsius => good += 1,
                Ok(read) if read.get() == before => stale += 1,
                Ok(_) => wrong += 1,
                Err(fault) => *why.entry(format!("{fault:?}")).or_insert(0) += 1,
            }
        }
        before = celsius;
        clock.pass_us(100_000);
    }
    println!(
        "DS18B20 on a pin, 24 h at 1 Hz, two probes: {good} good, {wrong} wrong, {stale} stale, faults {why:?}"
    );
    assert_eq!((wrong, stale), (0, 0));
    assert!(good > 120_000);
}
