//! One conversion for all probes of the kernel's 1-Wire line.
//!
//! Read one by one, each probe converts for 0.75 s while the others wait. Writing `trigger` to the
//! master's `therm_bulk_read` converts on all of them at once; the reads after it take the result in
//! some 10 ms (Linux Documentation/w1/slaves/w1_therm.rst; seen with kernel 6.12). The first probe that
//! asks for a second time starts the next conversion. Where the file is missing or may not be written,
//! the probes are read one by one as before.

use std::fs;
use std::io;
use std::path::{Path, PathBuf};
use std::sync::mpsc::{Receiver, SyncSender, sync_channel};
use std::sync::{Arc, Mutex, PoisonError};
use std::thread;
use std::time::Duration;

use super::Probe;
use super::onewire_kernel::KernelProbe;
use crate::quantity::Celsius;
use crate::reading::Reading;

const STACK_BYTES: usize = 128 * 1024;

/// The conversions of one line, counted.
#[derive(Debug)]
pub struct Bulk {
    asks: SyncSender<()>,
    done: Receiver<()>,
    /// Asked and not yet done: the line stalls.
    owed: bool,
    deadline: Duration,
    conversions: u64,
}

impl Bulk {
    /// Finds the masters below `root` and starts the thread that triggers them.
    ///
    /// # Errors
    /// Where the system has no thread left.
    pub fn open(root: &Path, deadline: Duration) -> io::Result<Arc<Mutex<Self>>> {
        let files = triggers(root);
        let (asks, asked) = sync_channel::<()>(1);
        let (say_done, done) = sync_channel(1);
        thread::Builder::new().name("probes".to_owned()).stack_size(STACK_BYTES).spawn(
            move || {
                while asked.recv().is_ok() {
                    files.iter().for_each(|file| drop(fs::write(file, "trigger")));
                    if say_done.send(()).is_err() {
                        return;
                    }
                }
            },
        )?;
        Ok(Arc::new(Mutex::new(Self { asks, done, owed: false, deadline, conversions: 0 })))
    }

    /// Starts the next conversion unless the last one was not yet taken by who asks.
    fn convert_after(&mut self, taken: u64) -> u64 {
        if taken == self.conversions {
            self.conversions += 1;
            if self.owed || self.asks.try_send(()).is_ok() {
                self.owed = self.done.recv_timeout(self.deadline).is_err();
            }
        }
        self.conversions
    }
}

fn triggers(root: &Path) -> Vec<PathBuf> {
    let Ok(entries) = fs::read_dir(root) else { return Vec::new() };
    let files = entries.filter_map(|entry| Some(entry.ok()?.path().join("therm_bulk_read")));
    files.filter(|file| file.exists()).collect()
}

/// A probe that shares its conversions.
#[derive(Debug)]
pub struct BulkProbe {
    probe: KernelProbe,
    line: Arc<Mutex<Bulk>>,
    taken: u64,
}

impl BulkProbe {
    #[must_use]
    pub const fn new(probe: KernelProbe, line: Arc<Mutex<Bulk>>) -> Self {
        Self { probe, line, taken: 0 }
    }
}

impl Probe for BulkProbe {
    fn read(&mut self) -> Reading<Celsius> {
        self.taken =
            self.line.lock().unwrap_or_else(PoisonError::into_inner).convert_after(self.taken);
        self.probe.read()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::sense::ds18b20::RomId;

    const POT: &str =
        "04 06 4b 46 7f ff 0c 10 53 : crc=53 YES\n04 06 4b 46 7f ff 0c 10 53 t=96250\n";

    fn rig(with_trigger: bool) -> (tempfile::TempDir, Vec<BulkProbe>) {
        let root = tempfile::tempdir().unwrap();
        let master = root.path().join("w1_bus_master1");
        fs::create_dir(&master).unwrap();
        if with_trigger {
            fs::write(master.join("therm_bulk_read"), "0\n").unwrap();
        }
        let deadline = Duration::from_secs(5);
        let line = Bulk::open(root.path(), deadline).unwrap();
        let probes = ["28-0316a2795f01", "28-0316a2795f02"].map(|number| {
            fs::create_dir(root.path().join(number)).unwrap();
            fs::write(root.path().join(number).join("w1_slave"), POT).unwrap();
            let rom = RomId::new(number).unwrap();
            BulkProbe::new(KernelProbe::open(root.path(), &rom, deadline).unwrap(), line.clone())
        });
        (root, probes.into())
    }

    #[test]
    fn two_probes_share_each_conversion() {
        let (root, mut probes) = rig(true);
        for round in 1..=3 {
            for probe in &mut probes {
                assert_eq!(probe.read().map(Celsius::get), Ok(96.25));
            }
            assert_eq!(probes[0].line.lock().unwrap().conversions, round);
        }
        let file = root.path().join("w1_bus_master1/therm_bulk_read");
        assert_eq!(fs::read_to_string(file).unwrap(), "trigger");
    }

    #[test]
    fn without_the_file_probes_are_read_one_by_one() {
        let (_root, mut probes) = rig(false);
        assert!(probes.iter_mut().all(|probe| probe.read().is_ok()));
    }
}
