//! How the kernel has a probe set: resolution, conversion time, supply, and its own test for 85 °C.
//!
//! Files of `w1_therm` beside the probe's `w1_slave` (Linux Documentation/w1/slaves/w1_therm.rst):
//!
//! | file | holds |
//! |---|---|
//! | `resolution` | bits, 9 to 12; writing sets it until the probe loses power |
//! | `conv_time` | ms that a conversion is waited for; writing 0 returns to the kernel's own number |
//! | `features` | bit 0: refuse 85 °C with byte 6 at 0C hex; bit 1: poll for the end of a conversion |
//! | `ext_power` | 1 with a supply of its own, 0 when fed by the line |
//! | `eeprom_cmd` | `save` makes the resolution stay |
//!
//! Writing needs the group that the udev rule gives. The test for 85 °C is made by dekchi from the
//! bytes, whatever `features` says; setting bit 0 protects other readers of the same probe too.

use std::fs;
use std::io;
use std::path::Path;

use super::ds18b20::{Resolution, RomId};

/// Bit 0 of `features`.
pub const REFUSE_POWER_ON: u8 = 1;

/// What the kernel says of a probe; `None` where a file is missing or says an error.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Setup {
    pub resolution: Option<Resolution>,
    pub conversion_ms: Option<u32>,
    pub features: Option<u8>,
    pub own_supply: Option<bool>,
}

impl Setup {
    /// Reads the probe's files.
    #[must_use]
    pub fn look(root: &Path, rom: &RomId) -> Self {
        let number = |name: &str| number(&root.join(rom.as_str()).join(name));
        Self {
            resolution: number("resolution")
                .and_then(|bits| Resolution::with_bits(u8::try_from(bits).ok()?)),
            conversion_ms: number("conv_time").and_then(|ms| u32::try_from(ms).ok()),
            features: number("features").and_then(|bits| u8::try_from(bits).ok()),
            own_supply: number("ext_power").filter(|power| (0..=1).contains(power)).map(|p| p == 1),
        }
    }

    /// What the person with the screwdriver should know; empty where all is well.
    #[must_use]
    pub fn advice(&self) -> Vec<&'static str> {
        let mut advice = Vec::new();
        if self.own_supply == Some(false) {
            advice
                .push("is fed by its data line: connect its supply wire, it is surer above 85 °C");
        }
        if self.resolution.is_some_and(|r| r != Resolution::Bits12) {
            advice.push("is not at 12 bits: slow changes are seen late");
        }
        advice
    }
}

/// Sets the resolution until the probe loses power.
///
/// # Errors
/// Where the file is missing or may not be written.
pub fn set_resolution(root: &Path, rom: &RomId, resolution: Resolution) -> io::Result<()> {
    fs::write(root.join(rom.as_str()).join("resolution"), resolution.bits().to_string())
}

/// Sets the kernel's tests.
///
/// # Errors
/// Where the file is missing or may not be written.
pub fn set_features(root: &Path, rom: &RomId, bits: u8) -> io::Result<()> {
    fs::write(root.join(rom.as_str()).join("features"), bits.to_string())
}

fn number(path: &Path) -> Option<i64> {
    fs::read_to_string(path).ok()?.trim().parse().ok()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn probe(files: &[(&str, &str)]) -> (tempfile::TempDir, RomId) {
        let root = tempfile::tempdir().unwrap();
        let rom = RomId::new("28-0316a2795f01").unwrap();
        let folder = root.path().join(rom.as_str());
        fs::create_dir(&folder).unwrap();
        for (name, text) in files {
            fs::write(folder.join(name), text).unwrap();
        }
        (root, rom)
    }

    #[test]
    fn a_probes_setting_is_read_and_changed() {
        let files = [
            ("resolution", "12\n"),
            ("conv_time", "750\n"),
            ("features", "0\n"),
            ("ext_power", "1\n"),
        ];
        let (root, rom) = probe(&files);
        let setup = Setup::look(root.path(), &rom);
        assert_eq!(setup.resolution, Some(Resolution::Bits12));
        assert_eq!(setup.conversion_ms, Some(750));
        assert_eq!((setup.features, setup.own_supply), (Some(0), Some(true)));
        assert!(setup.advice().is_empty());
        set_resolution(root.path(), &rom, Resolution::Bits9).unwrap();
        set_features(root.path(), &rom, REFUSE_POWER_ON).unwrap();
        let setup = Setup::look(root.path(), &rom);
        assert_eq!((setup.resolution, setup.features), (Some(Resolution::Bits9), Some(1)));
        assert_eq!(setup.advice().len(), 1);
    }

    #[test]
    fn an_absent_probe_prints_an_error_number_and_is_not_known() {
        // Linux 6.12 prints -19 (ENODEV) in these files for a probe that is gone.
        let (root, rom) = probe(&[("resolution", "-19\n"), ("ext_power", "-19\n")]);
        let setup = Setup::look(root.path(), &rom);
        assert_eq!((setup.resolution, setup.own_supply, setup.features), (None, None, None));
    }

    #[test]
    fn a_probe_fed_by_its_line_is_advised_against() {
        let (root, rom) = probe(&[("ext_power", "0\n")]);
        assert!(Setup::look(root.path(), &rom).advice()[0].contains("supply wire"));
    }
}
