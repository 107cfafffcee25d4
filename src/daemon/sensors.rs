//! A pot's sensors as sources: the devices that its kitchen file names, and a recording in place of
//! those that it does not.

use std::fs::File;
use std::io::BufReader;
use std::path::Path;

use crate::config::board::Sensors;
use crate::moment::Moment;
use crate::reading::Fault;
use crate::sense::recording::{Bad, Recording, Row};
use crate::watch::event::Event;

use super::board::{Devices, NotThere, Opener, Weighing};
use super::source::{Place, Script, Source};

/// A source and the name of its thread.
pub type Named = (String, Source);

/// Why a pot cannot be heard.
#[derive(Debug, thiserror::Error)]
pub enum Deaf {
    #[error(transparent)]
    Recording(#[from] Bad),
    #[error("{0}")]
    Device(String),
}

impl From<NotThere> for Deaf {
    fn from(NotThere(words): NotThere) -> Self {
        Self::Device(words)
    }
}

/// Opens what hangs on the pot of this name. Paths begin at `directory`.
///
/// # Errors
/// Where a recording cannot be used or a device cannot be opened; a probe that is not plugged in is no
/// error.
pub fn open(
    opener: &mut Opener<'_>,
    pot: &str,
    sensors: &Sensors,
    directory: &Path,
) -> Result<Vec<Named>, Deaf> {
    let Devices { probe, base, platform, scale } = opener.devices(pot, sensors)?;
    let probes = [
        ("food", Place::Food, probe),
        ("base", Place::Base, base),
        ("platform", Place::Platform, platform),
    ];
    let mut sources: Vec<Named> = Vec::new();
    for (name, place, probe) in probes {
        sources.extend(probe.map(|probe| (name.to_owned(), Source::Probe(place, probe))));
    }
    let scale = scale.map(|scale| match scale {
        Weighing::Scale(scale) => Source::Scale(scale),
        Weighing::Awaited(look) => Source::Awaited(look),
    });
    sources.extend(scale.map(|scale| ("scale".to_owned(), scale)));
    if let Some(path) = &sensors.recording {
        sources.push(("recording".to_owned(), recorded(&directory.join(path), sensors)?));
    }
    Ok(sources)
}

/// Which columns of a recording are used.
#[derive(Debug, Clone, Copy)]
struct Columns {
    load: bool,
    probe: bool,
    base: bool,
    platform: bool,
}

impl Columns {
    /// Those that no device stands for.
    const fn without(sensors: &Sensors) -> Self {
        Self {
            load: sensors.scale.is_none(),
            probe: sensors.probe.is_none(),
            base: sensors.base.is_none(),
            platform: sensors.platform.is_none(),
        }
    }

    fn of(self, row: Row) -> impl Iterator<Item = (Moment, Event)> {
        let at = row.at;
        row.events().filter(move |event| self.has(event)).map(move |event| (at, event))
    }

    const fn has(self, event: &Event) -> bool {
        match event {
            Event::Load(_) => self.load,
            Event::Probe(_) => self.probe,
            Event::Base(_) => self.base,
            Event::Platform(_) => self.platform,
            Event::Air(_) | Event::Cook(_) | Event::Tick => true,
        }
    }

    /// What these sensors say once the recording is at its end.
    fn silent(self) -> Vec<Event> {
        let load = self.load.then_some(Event::Load(Err(Fault::Absent)));
        let probe = self.probe.then_some(Event::Probe(Err(Fault::Absent)));
        load.into_iter().chain(probe).collect()
    }
}

fn recorded(path: &Path, sensors: &Sensors) -> Result<Source, Deaf> {
    let columns = Columns::without(sensors);
    // Read through once: a recording that is broken in the middle is refused before the first sample.
    let mut whole = open_recording(path)?;
    while whole.next_row()?.is_some() {}
    let mut recording = open_recording(path)?;
    let rows = std::iter::from_fn(move || recording.next_row().transpose());
    let script: Script = Box::new(rows.flat_map(move |row| -> Vec<_> {
        match row {
            Ok(row) => columns.of(row).map(Ok).collect(),
            Err(bad) => vec![Err(bad.to_string())],
        }
    }));
    Ok(Source::Script { script, silent: columns.silent() })
}

fn open_recording(path: &Path) -> Result<Recording<BufReader<File>>, Deaf> {
    let name = path.display().to_string();
    let file = File::open(path)
        .map_err(|error| Deaf::Device(format!("{name}: cannot be opened: {error}")))?;
    Ok(Recording::open(name, BufReader::new(file))?)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::config::board::Board;
    use crate::quantity::{Celsius, Kilograms};
    use crate::sense::ds18b20::RomId;
    use std::fs;

    fn script(sensors: &Sensors, text: &str) -> Result<Vec<(Moment, Event)>, String> {
        let directory = tempfile::tempdir().unwrap();
        fs::write(directory.path().join("r.csv"), text).unwrap();
        let sensors = Sensors { recording: Some("r.csv".into()), ..sensors.clone() };
        let board = Board { calibrations: directory.path().join("none"), ..Board::default() };
        let mut opener = Opener::new(&board).unwrap();
        let sources = open(&mut opener, "big", &sensors, directory.path());
        match sources.map_err(|why| why.to_string())?.pop() {
            Some((_, Source::Script { script, .. })) => script.collect(),
            _ => panic!("no script"),
        }
    }

    const ROWS: &str = "t_s,probe_c,load_kg\n0.0,45.0,54.9\n0.1,,54.8\n";

    #[test]
    fn a_recording_stands_for_the_sensors_that_are_not_named() {
        let load = |kg| Event::Load(Ok(Kilograms::new(kg).unwrap()));
        let probe = Event::Probe(Ok(Celsius::new(45.0).unwrap()));
        let (zero, tenth) = (Moment::from_ms(0), Moment::from_ms(100));
        assert_eq!(
            script(&Sensors::default(), ROWS).unwrap(),
            [(zero, probe), (zero, load(54.9)), (tenth, load(54.8))]
        );
        let rom = RomId::new("28-0316a2795f01");
        let with_probe = Sensors { probe: rom, ..Sensors::default() };
        assert_eq!(script(&with_probe, ROWS).unwrap(), [(zero, load(54.9)), (tenth, load(54.8))]);
    }

    #[test]
    fn a_recording_that_is_broken_in_the_middle_is_refused_at_the_start() {
        let told = script(&Sensors::default(), &format!("{ROWS}0.2,x,1\n")).unwrap_err();
        assert!(told.contains("r.csv, line 4, column probe_c"), "{told}");
    }
}
