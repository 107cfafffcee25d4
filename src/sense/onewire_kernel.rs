//! A DS18B20 read through the files of the kernel's 1-Wire driver (`w1_therm`).
//!
//! Each probe is a directory `28-<twelve hex digits>` under `/sys/bus/w1/devices`; reading its
//! `w1_slave` starts a conversion and blocks until it is done, 0.75 s at 12 bits and several times
//! that where the kernel repeats a damaged read. It gives two lines, the nine bytes of the
//! scratchpad on both, the kernel's verdict on the first and millidegrees on the second:
//!
//! ```text
//! 04 06 4b 46 7f ff 0c 10 53 : crc=53 YES
//! 04 06 4b 46 7f ff 0c 10 53 t=96250
//! ```
//!
//! The bytes (see [`ds18b20`]) are what is trusted here, because four failures look like a reading
//! elsewhere:
//!
//! - A line shorted low reads as nine zero bytes, whose CRC is right.
//! - After a loss of power the chip holds 85 °C (some copies of it 127.94 °C) until its first
//!   conversion. A pot does pass 85 °C, but byte 6 is then 0x10 at a whole degree; at power-on it is
//!   0x0C. The kernel knows the same test for the same two values (`w1_therm.c`,
//!   `W1_THERM_CHECK_RESULT`) and leaves it off.
//! - A damaged read on a newer kernel is an empty file with no error.
//! - An unplugged probe is an empty file too, until the directory goes, a minute and a half later.
//!   The same probe's `hwmon` file tells the two apart by its error.

use std::fs::{self, File};
use std::io::{self, Read};
use std::path::{Path, PathBuf};
use std::sync::mpsc::{Receiver, RecvTimeoutError, SyncSender, sync_channel};
use std::thread;
use std::time::Duration;

use crate::quantity::Celsius;
use crate::reading::{Fault, Reading};

use super::Probe;
use super::ds18b20::{self, RomId};

/// Where the kernel shows its 1-Wire devices.
pub const ROOT: &str = "/sys/bus/w1/devices";

/// Longer than a conversion at 12 bits and one repetition of it.
pub const DEADLINE: Duration = Duration::from_millis(2000);

/// No sound `w1_slave` is longer.
const LONGEST_FILE: u64 = 512;
/// A reading thread needs a file's path and a few buffers.
const STACK_BYTES: usize = 128 * 1024;
const ENODEV: i32 = 19;

/// The probes that the kernel sees now, in order of their numbers.
///
/// # Errors
/// Where `root` cannot be listed, as on a board without 1-Wire.
pub fn present(root: &Path) -> io::Result<Vec<RomId>> {
    let mut found = Vec::new();
    for entry in fs::read_dir(root)? {
        found.extend(entry?.file_name().to_str().and_then(RomId::new));
    }
    found.sort();
    Ok(found)
}

/// One probe, read by a thread of its own so that a stalled bus stalls nobody.
#[derive(Debug)]
pub struct KernelProbe {
    asks: SyncSender<()>,
    answers: Receiver<Reading<Celsius>>,
    /// Asked and not yet answered.
    owed: bool,
    deadline: Duration,
}

impl KernelProbe {
    /// Starts the reading thread. A probe that is not there yet is no error: it reads
    /// [`Fault::Absent`] until it is plugged in.
    ///
    /// # Errors
    /// Where the system has no thread left.
    pub fn open(root: &Path, rom: &RomId, deadline: Duration) -> io::Result<Self> {
        let directory = root.join(rom.as_str());
        let (asks, asked) = sync_channel::<()>(1);
        let (answer, answers) = sync_channel(1);
        thread::Builder::new()
            .name(format!("probe {rom}"))
            .stack_size(STACK_BYTES)
            .spawn(move || answer_each(&directory, &asked, &answer))?;
        Ok(Self { asks, answers, owed: false, deadline })
    }

    fn wait(&mut self) -> Reading<Celsius> {
        match self.answers.recv_timeout(self.deadline) {
            Ok(reading) => {
                self.owed = false;
                reading
            }
            Err(RecvTimeoutError::Timeout) => Err(Fault::Late),
            Err(RecvTimeoutError::Disconnected) => Err(Fault::Absent),
        }
    }
}

fn answer_each(directory: &Path, asked: &Receiver<()>, answer: &SyncSender<Reading<Celsius>>) {
    while asked.recv().is_ok() {
        if answer.send(read_once(directory)).is_err() {
            return;
        }
    }
}

impl Probe for KernelProbe {
    /// An answer that comes after its deadline is thrown away: nobody knows how old it is.
    fn read(&mut self) -> Reading<Celsius> {
        if self.owed && self.wait() == Err(Fault::Late) {
            return Err(Fault::Late);
        }
        if self.asks.try_send(()).is_err() {
            return Err(Fault::Absent);
        }
        self.owed = true;
        self.wait()
    }
}

fn read_once(directory: &Path) -> Reading<Celsius> {
    let text = slurp(&directory.join("w1_slave")).map_err(|error| fault_of(&error))?;
    if text.trim().is_empty() {
        return Err(why_empty(directory));
    }
    reading(&text)
}

fn slurp(path: &Path) -> io::Result<String> {
    let mut text = String::new();
    File::open(path)?.take(LONGEST_FILE).read_to_string(&mut text)?;
    Ok(text)
}

fn fault_of(error: &io::Error) -> Fault {
    if error.kind() == io::ErrorKind::NotFound || error.raw_os_error() == Some(ENODEV) {
        Fault::Absent
    } else {
        Fault::Garbled
    }
}

/// What an empty `w1_slave` means: unplugged where `hwmon` says so, else damaged.
fn why_empty(directory: &Path) -> Fault {
    match hwmon_input(directory).map(|path| slurp(&path)) {
        Some(Err(error)) => fault_of(&error),
        Some(Ok(_)) | None => Fault::Garbled,
    }
}

fn hwmon_input(directory: &Path) -> Option<PathBuf> {
    let entry = fs::read_dir(directory.join("hwmon")).ok()?.next()?.ok()?;
    Some(entry.path().join("temp1_input"))
}

/// What the text of a `w1_slave` file says.
///
/// # Errors
/// [`Fault::Garbled`] where it is cut, damaged or refused by the kernel; [`Fault::Shorted`],
/// [`Fault::Absent`], [`Fault::PowerOn`] and [`Fault::OutOfRange`] where the bytes show it.
pub fn reading(text: &str) -> Reading<Celsius> {
    let (first, second) = text.split_once('\n').ok_or(Fault::Garbled)?;
    let bytes = scratchpad(first).ok_or(Fault::Garbled)?;
    let outcome = ds18b20::temperature(&bytes);
    let whole = first.trim_end().ends_with(" YES") && second.contains("t=");
    if outcome.is_ok() && !whole { Err(Fault::Garbled) } else { outcome }
}

/// The nine bytes at the head of a line.
fn scratchpad(line: &str) -> Option<[u8; 9]> {
    let mut words = line.split_ascii_whitespace();
    let mut bytes = [0; 9];
    for byte in &mut bytes {
        *byte =
            words.next().filter(|w| w.len() == 2).and_then(|w| u8::from_str_radix(w, 16).ok())?;
    }
    Some(bytes)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::sense::ds18b20::crc8;
    use std::process::Command;

    /// Read from `w1_therm` of kernel 6.12 over an emulated DS18B20.
    const POT: &str =
        "04 06 4b 46 7f ff 0c 10 53 : crc=53 YES\n04 06 4b 46 7f ff 0c 10 53 t=96250\n";

    /// Text as the kernel writes it, with the CRC that belongs to the bytes.
    fn file(sixteenths: i16, byte_6: u8) -> String {
        let [low, high] = sixteenths.to_le_bytes();
        let mut bytes = vec![low, high, 0x4b, 0x46, 0x7f, 0xff, byte_6, 0x10];
        bytes.push(crc8(&bytes));
        let hex: Vec<String> = bytes.iter().map(|b| format!("{b:02x}")).collect();
        let (hex, crc) = (hex.join(" "), bytes[8]);
        let milli = i32::from(sixteenths) * 1000 / 16;
        format!("{hex} : crc={crc:02x} YES\n{hex} t={milli}\n")
    }

    fn degrees(text: &str) -> Result<f64, Fault> {
        reading(text).map(Celsius::get)
    }

    #[test]
    fn a_hot_pot_reads_in_sixteenths_of_a_degree() {
        assert_eq!(degrees(POT), Ok(96.25));
    }

    /// Values from the DS18B20 data sheet, table "Temperature/Data Relationship".
    #[test]
    fn temperatures_agree_with_the_data_sheet() {
        for (bits, c) in [
            (0x07d0, 125.0),
            (0x0191, 25.0625),
            (0x00a2, 10.125),
            (0x0008, 0.5),
            (0x0000, 0.0),
            (-8, -0.5),
            (-162, -10.125),
            (-401, -25.0625),
            (-880, -55.0),
        ] {
            assert_eq!(degrees(&file(bits, 0x10)), Ok(c));
        }
    }

    #[test]
    fn a_probe_that_lost_power_is_told_from_a_pot_at_85() {
        assert_eq!(degrees(&file(0x0550, 0x0c)), Err(Fault::PowerOn));
        assert_eq!(degrees(&file(0x0550, 0x10)), Ok(85.0));
        assert_eq!(degrees(&file(0x07ff, 0x0c)), Err(Fault::PowerOn));
        assert_eq!(degrees(&file(0x07ff, 0x01)), Err(Fault::OutOfRange));
    }

    #[test]
    fn a_shorted_line_is_not_zero_degrees() {
        let text = "00 00 00 00 00 00 00 00 00 : crc=00 YES\n00 00 00 00 00 00 00 00 00 t=0\n";
        assert_eq!(degrees(text), Err(Fault::Shorted));
        assert_eq!(degrees(&file(0, 0x10)), Ok(0.0));
    }

    #[test]
    fn a_line_that_nobody_pulls_down_is_an_absent_probe() {
        let ones = ["ff"; 9].join(" ");
        let text = format!("{ones} : crc=c9 NO\n{ones} t=-62\n");
        assert_eq!(degrees(&text), Err(Fault::Absent));
    }

    #[test]
    fn damaged_text_is_garbled() {
        assert_eq!(degrees(&POT.replace("YES", "NO")), Err(Fault::Garbled));
        assert_eq!(degrees(&POT.replacen("04", "05", 1)), Err(Fault::Garbled));
        assert_eq!(degrees(&POT.replace("t=", "")), Err(Fault::Garbled));
        assert_eq!(degrees("none of your business\n t=3"), Err(Fault::Garbled));
    }

    #[test]
    fn text_cut_anywhere_is_garbled() {
        let number = POT.find("t=").unwrap() + 2;
        for end in 0..number {
            assert_eq!(degrees(&POT[..end]), Err(Fault::Garbled), "cut at {end}");
        }
    }

    /// A directory of probes as the kernel shows it.
    fn tree(files: &[(&str, &str)]) -> tempfile::TempDir {
        let root = tempfile::tempdir().unwrap();
        for (rom, text) in files {
            fs::create_dir(root.path().join(rom)).unwrap();
            fs::write(root.path().join(rom).join("w1_slave"), text).unwrap();
        }
        root
    }

    fn probe(root: &Path, rom: &str, deadline_ms: u64) -> KernelProbe {
        let rom = RomId::new(rom).unwrap();
        KernelProbe::open(root, &rom, Duration::from_millis(deadline_ms)).unwrap()
    }

    const A: &str = "28-0316a2795f01";
    const B: &str = "28-0316a2795f02";

    #[test]
    fn several_probes_are_told_apart_by_their_numbers() {
        let root = tree(&[(B, &file(0x0191, 0x0f)), (A, POT), ("w1_bus_master1", "")]);
        let found: Vec<String> =
            present(root.path()).unwrap().iter().map(ToString::to_string).collect();
        assert_eq!(found, [A, B]);
        assert_eq!(probe(root.path(), B, 5000).read().map(Celsius::get), Ok(25.0625));
        assert_eq!(probe(root.path(), "28-0316A2795F01", 5000).read().map(Celsius::get), Ok(96.25));
    }

    #[test]
    fn a_probe_may_be_unplugged_and_plugged_in_again() {
        let root = tree(&[(A, POT)]);
        let mut probe = probe(root.path(), A, 5000);
        assert!(probe.read().is_ok());
        fs::remove_dir_all(root.path().join(A)).unwrap();
        assert_eq!(probe.read(), Err(Fault::Absent));
        fs::create_dir(root.path().join(A)).unwrap();
        fs::write(root.path().join(A).join("w1_slave"), POT).unwrap();
        assert!(probe.read().is_ok());
    }

    #[test]
    fn an_empty_file_is_a_failure() {
        let root = tree(&[(A, ""), (B, "\n")]);
        assert_eq!(probe(root.path(), A, 5000).read(), Err(Fault::Garbled));
        assert_eq!(probe(root.path(), B, 5000).read(), Err(Fault::Garbled));
    }

    #[test]
    fn a_bus_that_stalls_makes_the_probe_late_and_recovers() {
        let root = tree(&[(A, "")]);
        let fifo = root.path().join(A).join("w1_slave");
        fs::remove_file(&fifo).unwrap();
        assert!(Command::new("mkfifo").arg(&fifo).status().unwrap().success());
        let mut probe = probe(root.path(), A, 20);
        assert_eq!(probe.read(), Err(Fault::Late));
        assert_eq!(probe.read(), Err(Fault::Late));
        // The stalled read ends at last; what it brought is of unknown age and not handed on.
        fs::write(&fifo, file(0x0191, 0x0f)).unwrap();
        fs::remove_file(&fifo).unwrap();
        fs::write(&fifo, POT).unwrap();
        probe.deadline = Duration::from_secs(5);
        assert_eq!(probe.read().map(Celsius::get), Ok(96.25));
    }
}
