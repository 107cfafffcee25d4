//! Station pressure by the kernel's industrial I/O files, for the boiling point here and now.
//!
//! A barometer's driver gives `in_pressure_input`, or `in_pressure_raw` with `in_pressure_scale` and
//! perhaps `in_pressure_offset`; after (raw + offset)·scale the unit is the kilopascal (Linux
//! Documentation/ABI/testing/sysfs-bus-iio). Station pressure is what boils the pot; sea-level
//! pressure from a weather report is not.

use std::fs;
use std::io::ErrorKind;
use std::path::{Path, PathBuf};

use super::Barometer;
use crate::quantity::Pascals;
use crate::reading::{Fault, Reading};

/// Where the kernel shows its devices.
pub const IIO_ROOT: &str = "/sys/bus/iio/devices";

/// Pressures met where people cook, Pa: from a little above the highest towns to a deep valley's high.
const LOWEST_PA: f64 = 45_000.0;
const HIGHEST_PA: f64 = 112_000.0;

/// One barometer's folder.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct IioBarometer {
    folder: PathBuf,
}

impl IioBarometer {
    /// The first barometer below `root`, by name; `None` where there is none.
    #[must_use]
    pub fn find(root: &Path) -> Option<Self> {
        let mut folders: Vec<PathBuf> =
            fs::read_dir(root).ok()?.filter_map(|entry| Some(entry.ok()?.path())).collect();
        folders.sort();
        let has = |folder: &PathBuf, name: &str| folder.join(name).exists();
        folders
            .into_iter()
            .find(|f| has(f, "in_pressure_input") || has(f, "in_pressure_raw"))
            .map(|folder| Self { folder })
    }

    /// A barometer known by its folder.
    #[must_use]
    pub const fn at(folder: PathBuf) -> Self {
        Self { folder }
    }

    /// Pressure here and now.
    ///
    /// # Errors
    /// `Absent` where the files are gone, `Garbled` where they do not hold a number, `OutOfRange`
    /// below 45 or above 112 kPa, `Late` where the driver gave up.
    pub fn pressure(&self) -> Reading<Pascals> {
        let pa = match self.number("in_pressure_input") {
            Err(Fault::Absent) => self.scaled()?,
            processed => processed?,
        } * 1000.0;
        if !(LOWEST_PA..=HIGHEST_PA).contains(&pa) {
            return Err(Fault::OutOfRange);
        }
        Pascals::new(pa).ok_or(Fault::OutOfRange)
    }

    fn scaled(&self) -> Reading<f64> {
        let offset = match self.number("in_pressure_offset") {
            Err(Fault::Absent) => 0.0,
            other => other?,
        };
        Ok((self.number("in_pressure_raw")? + offset) * self.number("in_pressure_scale")?)
    }

    fn number(&self, name: &str) -> Reading<f64> {
        match fs::read_to_string(self.folder.join(name)) {
            Ok(text) => text.trim().parse().map_err(|_| Fault::Garbled),
            Err(error) if error.kind() == ErrorKind::NotFound => Err(Fault::Absent),
            Err(error) if error.kind() == ErrorKind::TimedOut => Err(Fault::Late),
            Err(error) if error.kind() == ErrorKind::InvalidData => Err(Fault::Garbled),
            Err(_) => Err(Fault::Absent),
        }
    }
}

impl Barometer for IioBarometer {
    fn read(&mut self) -> Reading<Pascals> {
        self.pressure()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn device(files: &[(&str, &str)]) -> (tempfile::TempDir, IioBarometer) {
        let root = tempfile::tempdir().unwrap();
        fs::create_dir(root.path().join("iio:device0")).unwrap();
        let folder = root.path().join("iio:device1");
        fs::create_dir(&folder).unwrap();
        for (name, text) in files {
            fs::write(folder.join(name), text).unwrap();
        }
        (root, IioBarometer::at(folder))
    }

    #[test]
    fn a_processed_pressure_is_in_kilopascals() {
        let (root, barometer) = device(&[("in_pressure_input", "100.873800000\n")]);
        assert_eq!(IioBarometer::find(root.path()), Some(barometer.clone()));
        assert!((barometer.pressure().unwrap().get() - 100_873.8).abs() < 1e-6);
    }

    #[test]
    fn a_raw_pressure_takes_its_offset_and_scale() {
        let (_root, barometer) = device(&[
            ("in_pressure_raw", "4096000"),
            ("in_pressure_offset", "104000"),
            ("in_pressure_scale", "0.000024414"),
        ]);
        assert!((barometer.pressure().unwrap().get() - 102_538.8).abs() < 0.1);
    }

    #[test]
    fn what_is_not_a_pressure_here_is_a_fault() {
        assert_eq!(device(&[]).1.pressure(), Err(Fault::Absent));
        assert_eq!(device(&[("in_pressure_input", "")]).1.pressure(), Err(Fault::Garbled));
        assert_eq!(device(&[("in_pressure_input", "0.0")]).1.pressure(), Err(Fault::OutOfRange));
        assert_eq!(device(&[("in_pressure_input", "NaN")]).1.pressure(), Err(Fault::OutOfRange));
        assert_eq!(device(&[("in_pressure_raw", "7")]).1.pressure(), Err(Fault::Absent));
        assert_eq!(IioBarometer::find(Path::new("/nowhere")), None);
    }
}
