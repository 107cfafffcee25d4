//! The board and what hangs on it: two parts of the kitchen file.
//!
//! ```toml
//! [board]                          # left out on a laptop
//! onewire = "kernel"               # or "pin": pulsed by dekchi itself
//! onewire_root = "/sys/bus/w1/devices"
//! i2c_bus = 1
//! bridge_supply = "converter"      # or "outside": the load cells have a 3.3 V supply of their own
//! barometer = false                # the first that the kernel's industrial I/O shows
//! iio_root = "/sys/bus/iio/devices"
//! lamp = false                     # lamp and buzzer at the stove
//! button = false
//! calibrations = "/var/lib/dekchi/calibrations.toml"
//!
//! [board.pins]                     # by the processor's numbers; these are the defaults
//! red = 17
//! …
//!
//! [pot.sensors]                    # under each [[pot]]
//! probe = "28-0316a2795f01"        # the probe in the food, by its own number
//! base = "28-0316a2795f02"         # may be left out, as may each of these
//! platform = "28-0316a2795f03"     # or "converter": the temperature of the NAU7802 itself
//! scale = "nau7802"                # or "hx711"
//! recording = "tuesday.csv"        # what is not named above comes from here, for trials
//! ```

use std::path::PathBuf;

use crate::sense::ds18b20::RomId;
use crate::sense::iio_barometer::IIO_ROOT;
use crate::sense::onewire_kernel;

use super::section::Section;

/// The keys of `[board]`.
pub const BOARD_KEYS: &[&str] = &[
    "onewire",
    "onewire_root",
    "i2c_bus",
    "bridge_supply",
    "barometer",
    "iio_root",
    "lamp",
    "button",
    "calibrations",
    "pins",
];
/// The keys of `[board.pins]`.
pub const PIN_KEYS: &[&str] =
    &["red", "yellow", "green", "buzzer", "button", "onewire", "hx711_data", "hx711_clock"];
/// The keys of `[pot.sensors]`.
pub const SENSOR_KEYS: &[&str] = &["probe", "base", "platform", "scale", "scale_rate", "recording"];

/// Where the calibrations are kept unless the file says otherwise.
pub const CALIBRATIONS: &str = "/var/lib/dekchi/calibrations.toml";

/// How the DS18B20 probes are reached.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum OneWire {
    Kernel,
    Pin,
}

/// The board's buses, pins and files.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Board {
    pub onewire: OneWire,
    pub onewire_root: PathBuf,
    pub i2c_bus: u8,
    /// The load cells are fed from outside, and not by the NAU7802's regulator.
    pub outside_supply: bool,
    pub barometer: bool,
    pub iio_root: PathBuf,
    pub lamp: bool,
    pub button: bool,
    pub calibrations: PathBuf,
    pub pins: Pins,
}

impl Default for Board {
    fn default() -> Self {
        Self {
            onewire: OneWire::Kernel,
            onewire_root: onewire_kernel::ROOT.into(),
            i2c_bus: 1,
            outside_supply: false,
            barometer: false,
            iio_root: IIO_ROOT.into(),
            lamp: false,
            button: false,
            calibrations: CALIBRATIONS.into(),
            pins: Pins::default(),
        }
    }
}

/// Pins of the 40-pin header by the processor's numbers. I²C bus 1 is always on 2 and 3, and the
/// kernel's 1-Wire on 4 unless the boot configuration moves it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Pins {
    pub red: u8,
    pub yellow: u8,
    pub green: u8,
    pub buzzer: u8,
    pub button: u8,
    pub onewire: u8,
    pub hx711_data: u8,
    pub hx711_clock: u8,
}

impl Default for Pins {
    fn default() -> Self {
        Self {
            red: 17,
            yellow: 27,
            green: 22,
            buzzer: 23,
            button: 24,
            onewire: 4,
            hx711_data: 5,
            hx711_clock: 6,
        }
    }
}

impl Pins {
    /// Every pin with the key that it goes by.
    #[must_use]
    pub const fn named(&self) -> [(&'static str, u8); 8] {
        [
            ("red", self.red),
            ("yellow", self.yellow),
            ("green", self.green),
            ("buzzer", self.buzzer),
            ("button", self.button),
            ("onewire", self.onewire),
            ("hx711_data", self.hx711_data),
            ("hx711_clock", self.hx711_clock),
        ]
    }
}

/// What the platform's temperature is taken from.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum PlatformTemperature {
    Probe(RomId),
    /// The load cells' converter.
    Converter,
}

/// The converter at the load cells.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Converter {
    Nau7802,
    Hx711 { fast: bool },
}

/// What hangs on one pot.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Sensors {
    pub probe: Option<RomId>,
    pub base: Option<RomId>,
    pub platform: Option<PlatformTemperature>,
    pub scale: Option<Converter>,
    /// A recording that stands in for the sensors that are not named.
    pub recording: Option<PathBuf>,
}

impl Sensors {
    /// Whether anything can be heard of the pot.
    #[must_use]
    pub fn say_something(&self) -> bool {
        self.scale.is_some() || self.recording.is_some() || self.roms().next().is_some()
    }

    fn roms(&self) -> impl Iterator<Item = &RomId> {
        let platform = match &self.platform {
            Some(PlatformTemperature::Probe(rom)) => Some(rom),
            _ => None,
        };
        self.probe.iter().chain(&self.base).chain(platform)
    }
}

/// Reads `[board]`; the defaults where it is left out.
pub(super) fn board(root: &Section<'_>) -> Option<Board> {
    let Some(section) = root.table_or_none("board", BOARD_KEYS) else {
        return (!root.has("board")).then(Board::default);
    };
    let usual = Board::default();
    let path = |key: &str, usual: &PathBuf| {
        section.text_or(key, &usual.display().to_string()).map(PathBuf::from)
    };
    let onewire = match section.has("onewire") {
        true => section.choice("onewire", &[("kernel", OneWire::Kernel), ("pin", OneWire::Pin)]),
        false => Some(usual.onewire),
    };
    let onewire_root = path("onewire_root", &usual.onewire_root);
    let i2c_bus = section.whole_or("i2c_bus", i64::from(usual.i2c_bus), 0..=255);
    let outside_supply = match section.has("bridge_supply") {
        true => section.choice("bridge_supply", &[("converter", false), ("outside", true)]),
        false => Some(usual.outside_supply),
    };
    let barometer = section.flag_or("barometer", usual.barometer);
    let iio_root = path("iio_root", &usual.iio_root);
    let lamp = section.flag_or("lamp", usual.lamp);
    let button = section.flag_or("button", usual.button);
    let calibrations = path("calibrations", &usual.calibrations);
    let pins = pins(&section);
    Some(Board {
        onewire: onewire?,
        onewire_root: onewire_root?,
        i2c_bus: u8::try_from(i2c_bus?).ok()?,
        outside_supply: outside_supply?,
        barometer: barometer?,
        iio_root: iio_root?,
        lamp: lamp?,
        button: button?,
        calibrations: calibrations?,
        pins: pins?,
    })
}

fn pins(board: &Section<'_>) -> Option<Pins> {
    let Some(section) = board.table_or_none("pins", PIN_KEYS) else {
        return (!board.has("pins")).then(Pins::default);
    };
    let usual = Pins::default();
    let pin = |key: &str, usual: u8| {
        // 0 and 1 belong to the board's own memory; the header ends at 27.
        let number = section.whole_or(key, i64::from(usual), 2..=27)?;
        u8::try_from(number).ok()
    };
    let pins = Pins {
        red: pin("red", usual.red)?,
        yellow: pin("yellow", usual.yellow)?,
        green: pin("green", usual.green)?,
        buzzer: pin("buzzer", usual.buzzer)?,
        button: pin("button", usual.button)?,
        onewire: pin("onewire", usual.onewire)?,
        hx711_data: pin("hx711_data", usual.hx711_data)?,
        hx711_clock: pin("hx711_clock", usual.hx711_clock)?,
    };
    each_pin_once(&section, &pins)?;
    Some(pins)
}

fn each_pin_once(section: &Section<'_>, pins: &Pins) -> Option<()> {
    let named = pins.named();
    for (at, (key, pin)) in named.iter().enumerate() {
        if let Some((other, _)) = named[..at].iter().find(|(_, earlier)| earlier == pin) {
            let wrong = format!("pin {pin} is already \"{other}\"");
            section.refuse(key, wrong, "a pin of its own for each");
            return None;
        }
    }
    Some(())
}

/// Reads `[pot.sensors]`; none where it is left out.
pub(super) fn sensors(pot: &Section<'_>) -> Option<Sensors> {
    let Some(section) = pot.table_or_none("sensors", SENSOR_KEYS) else {
        return (!pot.has("sensors")).then(Sensors::default);
    };
    let probe = rom(&section, "probe");
    let base = rom(&section, "base");
    let platform = platform(&section);
    let scale = scale(&section);
    let recording = section.text_or_none("recording").map(PathBuf::from);
    Some(Sensors { probe: probe?, base: base?, platform: platform?, scale: scale?, recording })
}

const ROM: &str = "a probe's number such as \"28-0316a2795f01\"";

/// The outer `None` is a wrong value; the inner, a key that was left out.
#[expect(clippy::option_option, reason = "wrong and left out are two things")]
fn rom(section: &Section<'_>, key: &str) -> Option<Option<RomId>> {
    if !section.has(key) {
        return Some(None);
    }
    let text = section.text(key)?;
    let rom = RomId::new(&text);
    if rom.is_none() {
        section.refuse(key, format!("\"{text}\" cannot be"), ROM);
    }
    rom.map(Some)
}

#[expect(clippy::option_option, reason = "wrong and left out are two things")]
fn platform(section: &Section<'_>) -> Option<Option<PlatformTemperature>> {
    if section.has("platform") && section.text("platform").as_deref() == Some("converter") {
        return Some(Some(PlatformTemperature::Converter));
    }
    rom(section, "platform").map(|rom| rom.map(PlatformTemperature::Probe))
}

#[expect(clippy::option_option, reason = "wrong and left out are two things")]
fn scale(section: &Section<'_>) -> Option<Option<Converter>> {
    if !section.has("scale") {
        return Some(None);
    }
    let rate = section.whole_or("scale_rate", 10, 10..=80)?;
    if ![10, 80].contains(&rate) {
        section.refuse("scale_rate", format!("{rate} cannot be"), "10 or 80 a second");
        return None;
    }
    let kinds = [("nau7802", Converter::Nau7802), ("hx711", Converter::Hx711 { fast: rate == 80 })];
    section.choice("scale", &kinds).map(Some)
}

/// Complains of a probe or converter that already serves another place.
pub(super) fn refuse_shared(pot: &Section<'_>, earlier: &[Sensors], these: &Sensors) {
    let mut taken: Vec<&RomId> = earlier.iter().flat_map(Sensors::roms).collect();
    for rom in these.roms() {
        if taken.contains(&rom) {
            let wrong = format!("the probe {rom} already serves another place");
            pot.refuse("sensors", wrong, "a probe of its own for each place");
        }
        taken.push(rom);
    }
    if these.scale.is_some() && earlier.iter().any(|other| other.scale == these.scale) {
        let wrong = "the board has one nau7802 and one hx711, and another pot stands on it";
        pot.refuse("sensors", wrong, "a converter of its own for each pot");
    }
}

#[cfg(test)]
mod tests {
    use super::super::kitchen::Kitchen;
    use super::*;

    fn kitchen(board: &str, sensors: &str) -> Result<Kitchen, Vec<String>> {
        let text = format!(
            "[site]\naltitude_m = 40.0\n{board}\n[[pot]]\nname = \"big\"\nbase_diameter_m = 0.40\n\
             tare_kg = 6.2\nlid_kg = 1.35\n{sensors}"
        );
        Kitchen::parse("kitchen.toml", &text)
            .map_err(|complaints| complaints.0.iter().map(ToString::to_string).collect())
    }

    #[test]
    fn what_is_left_out_is_the_usual_board() {
        let read = kitchen("", "").unwrap();
        assert_eq!(read.board, Board::default());
        assert_eq!(read.sensors, [Sensors::default()]);
    }

    #[test]
    fn a_board_and_its_sensors_are_understood() {
        let board = "[board]\nlamp = true\nonewire = \"pin\"\n[board.pins]\nbutton = 25\n";
        let sensors = "[pot.sensors]\nprobe = \"28-0316A2795F01\"\nplatform = \"converter\"\n\
             scale = \"hx711\"\nscale_rate = 80\n";
        let read = kitchen(board, sensors).unwrap();
        assert!(read.board.lamp && !read.board.button);
        assert_eq!((read.board.onewire, read.board.pins.button), (OneWire::Pin, 25));
        assert_eq!(read.sensors[0].probe, RomId::new("28-0316a2795f01"));
        assert_eq!(read.sensors[0].platform, Some(PlatformTemperature::Converter));
        assert_eq!(read.sensors[0].scale, Some(Converter::Hx711 { fast: true }));
    }

    #[test]
    fn each_wrong_value_gets_its_sentence() {
        for (board, sensors, says) in [
            ("[board]\nlamp = 1\n", "", "board.lamp"),
            ("[board]\nled = true\n", "", "board.led"),
            ("[board]\ni2c_bus = 300\n", "", "0 to 255"),
            ("[board.pins]\nred = 40\n", "", "2 to 27"),
            ("[board.pins]\nred = 22\n", "", "pin 22 is already"),
            ("", "[pot.sensors]\nprobe = \"85\"\n", "28-0316a2795f01"),
            ("", "[pot.sensors]\nplatform = \"chip\"\n", "28-0316a2795f01"),
            ("", "[pot.sensors]\nscale = \"bathroom\"\n", "\"nau7802\", \"hx711\""),
            ("", "[pot.sensors]\nscale = \"hx711\"\nscale_rate = 20\n", "10 or 80"),
        ] {
            let complaints = kitchen(board, sensors).unwrap_err();
            assert!(complaints.iter().any(|c| c.contains(says)), "{complaints:?}");
        }
    }

    #[test]
    fn one_probe_or_converter_serves_one_place() {
        let sensors = "[pot.sensors]\nprobe = \"28-0316a2795f01\"\nbase = \"28-0316a2795f01\"\n";
        assert!(kitchen("", sensors).unwrap_err()[0].contains("28-0316a2795f01"));
        let two = "[pot.sensors]\nscale = \"nau7802\"\n[[pot]]\nname = \"small\"\n\
            base_diameter_m = 0.2\ntare_kg = 2.0\nlid_kg = 0.5\n[pot.sensors]\nscale = \"nau7802\"\n";
        assert!(kitchen("", two).unwrap_err()[0].contains("nau7802"));
    }
}
