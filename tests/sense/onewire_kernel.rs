//! A day of the kernel's 1-Wire files, with everything that they were seen to say.

use super::clock::Chance;
use dekchi::quantity::Celsius;
use dekchi::reading::Fault;
use dekchi::sense::Probe;
use dekchi::sense::ds18b20::{RomId, crc8};
use dekchi::sense::onewire_kernel::{KernelProbe, reading};
use std::collections::BTreeMap;
use std::fs;
use std::time::Duration;

/// `w1_slave` as the kernel writes it for these sixteenths of a degree.
fn sound(sixteenths: i16, byte_6: u8) -> String {
    let [low, high] = sixteenths.to_le_bytes();
    let mut bytes = vec![low, high, 0x4B, 0x46, 0x7F, 0xFF, byte_6, 0x10];
    bytes.push(crc8(&bytes));
    let hex: Vec<String> = bytes.iter().map(|byte| format!("{byte:02x}")).collect();
    let (hex, crc) = (hex.join(" "), bytes[8]);
    format!("{hex} : crc={crc:02x} YES\n{hex} t={}\n", i32::from(sixteenths) * 1_000 / 16)
}

/// What the file says when something is wrong, and the fault that this is.
fn wrong(kind: u64, sixteenths: i16, chance: &mut Chance) -> (String, Fault) {
    let good = sound(sixteenths, 0x10);
    match kind {
        0 => (String::new(), Fault::Garbled),
        1 => (good.replace("YES", "NO"), Fault::Garbled),
        2 => (sound(0x0550, 0x0C), Fault::PowerOn),
        3 => {
            let zeros = ["00"; 9].join(" ");
            (format!("{zeros} : crc=00 YES\n{zeros} t=0\n"), Fault::Shorted)
        }
        4 => {
            // One bit flipped on the line: the kernel's verdict and the checksum both say so.
            let at = chance.below(2) as usize;
            let flipped = sixteenths ^ (1 << (8 * at + chance.below(8) as usize));
            let [low, high] = flipped.to_le_bytes();
            (format!("{low:02x} {high:02x}{}", &good[5..]), Fault::Garbled)
        }
        5 => (good[..chance.below(60) as usize].to_owned(), Fault::Garbled),
        _ => {
            let ones = ["ff"; 9].join(" ");
            (format!("{ones} : crc=c9 NO\n{ones} t=-62\n"), Fault::Absent)
        }
    }
}

/// What the probe says in a second, and what must come of it; no text is a probe pulled out.
fn second(chance: &mut Chance) -> (Option<String>, Result<f64, Fault>) {
    let sixteenths = chance.below(1_600) as i16;
    match chance.below(50) {
        0 => {
            let kind = chance.below(7);
            let (text, fault) = wrong(kind, sixteenths, chance);
            (Some(text), Err(fault))
        }
        1 if chance.one_in(72) => (None, Err(Fault::Absent)),
        _ => (Some(sound(sixteenths, 0x10)), Ok(f64::from(sixteenths) / 16.0)),
    }
}

/// Counts of one run.
#[derive(Debug, Default)]
struct Counts {
    good: u32,
    mistaken: u32,
    faults: BTreeMap<String, u32>,
}

impl Counts {
    fn take(&mut self, read: Result<f64, Fault>, expect: Result<f64, Fault>) {
        match read {
            Ok(_) => self.good += 1,
            Err(fault) => *self.faults.entry(format!("{fault:?}")).or_insert(0) += 1,
        }
        self.mistaken += u32::from(read != expect);
    }
}

/// A reading a second, one in fifty wrong in a random way.
#[test]
fn a_day_of_texts_with_random_faults() {
    let (mut chance, mut counts) = (Chance(0x00DA_1824), Counts::default());
    for _ in 0..24 * 3_600 {
        let (text, expect) = second(&mut chance);
        let read = match text {
            Some(text) => reading(&text).map(Celsius::get),
            None => Err(Fault::Absent),
        };
        counts.take(read, expect);
    }
    println!("DS18B20 by the kernel, 24 h at 1 Hz: {counts:?}");
    assert_eq!(counts.mistaken, 0);
    assert!(counts.faults.len() >= 4 && counts.good > 80_000);
}

/// The same through files and the reading thread, the probe pulled out now and then.
#[test]
fn half_an_hour_of_files_with_random_faults() {
    let root = tempfile::tempdir().unwrap();
    let rom = RomId::new("28-0316a2795f01").unwrap();
    let folder = root.path().join(rom.as_str());
    fs::create_dir(&folder).unwrap();
    let mut probe = KernelProbe::open(root.path(), &rom, Duration::from_secs(60)).unwrap();
    let (mut chance, mut counts) = (Chance(0x00F1_1824), Counts::default());
    for _ in 0..1_800 {
        let (text, expect) = second(&mut chance);
        match text {
            Some(text) => {
                fs::create_dir_all(&folder).unwrap();
                fs::write(folder.join("w1_slave"), text).unwrap();
            }
            None => fs::remove_dir_all(&folder).unwrap(),
        }
        counts.take(probe.read().map(Celsius::get), expect);
    }
    assert_eq!(counts.mistaken, 0, "{counts:?}");
    assert!(counts.good > 1_500);
}
