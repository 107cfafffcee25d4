//! The places on the stove: which sensors are opened and which batches begin.

use std::path::{Path, PathBuf};

use crate::batch::pot::Pot;
use crate::config::kitchen::Kitchen;
use crate::daemon::StationSetup;
use crate::daemon::begin::{BatchFile, Begun, Laid, Opening, UsualFile};
use crate::daemon::board::Opener;
use crate::daemon::calibrations::Calibrations;
use crate::daemon::sensors::{self, Deaf, Named};
use crate::daemon::source::Source;
use crate::sense::Barometer;
use crate::show::idle::Begins;

use crate::cli::failure::Failure;

/// Whether each pot that a batch is there for has sensors in the kitchen file.
pub fn can_hear(kitchen: &Kitchen, given: &[BatchFile], directory: &Path) -> Result<(), Failure> {
    for (number, pot) in kitchen.pots.iter().enumerate() {
        let usual = kitchen.batches.get(number).and_then(Option::as_ref);
        let has_batch = given.iter().any(|file| file.plan.pot == pot.name)
            || usual.is_some_and(|path| directory.join(path).exists());
        let hung = kitchen.sensors.get(number).cloned().unwrap_or_default();
        if has_batch && !hung.say_something() {
            return Err(Failure::config(deaf(pot)));
        }
    }
    Ok(())
}

fn deaf(pot: &Pot) -> String {
    format!("the pot \"{}\" has no sensors: name them in [pot.sensors]", pot.name)
}

/// What is read, opened before any batch begins.
pub struct Hung<'k> {
    opener: Opener<'k>,
    /// The sensors of each pot that a batch may begin in; `None` for the others.
    pots: Vec<Option<Vec<Named>>>,
    barometer: Option<Box<dyn Barometer>>,
}

impl<'k> Hung<'k> {
    pub fn open(kitchen: &'k Kitchen, given: &[BatchFile], directory: &Path) -> Result<Self, Deaf> {
        let mut opener = Opener::new(&kitchen.board)?;
        let one = |(number, pot): (usize, &Pot)| {
            let usual = kitchen.batches.get(number).is_some_and(Option::is_some);
            let may_begin = usual || given.iter().any(|file| file.plan.pot == pot.name);
            let hung = kitchen.sensors.get(number).cloned().unwrap_or_default();
            may_begin.then(|| sensors::open(&mut opener, &pot.name, &hung, directory)).transpose()
        };
        let pots = kitchen.pots.iter().enumerate().map(one).collect::<Result<_, _>>()?;
        let barometer = opener.barometer()?;
        Ok(Self { opener, pots, barometer })
    }
}

/// The places on the stove, and what is read for all of them. Where there is a page, pots in which no
/// batch can begin yet are among them: it says what is missing.
pub fn open(
    opening: &Opening<'_>,
    hung: Hung<'_>,
    mut given: Vec<BatchFile>,
    directory: &Path,
) -> Result<(Vec<StationSetup>, Vec<Named>), Failure> {
    let kitchen = &opening.grounds.kitchen;
    let Hung { mut opener, pots, barometer } = hung;
    let (mut stations, mut waits) = (Vec::new(), kitchen.page.is_some());
    for ((number, pot), opened) in kitchen.pots.iter().enumerate().zip(pots) {
        let place = given.iter().position(|file| file.plan.pot == pot.name);
        let given = place.map(|place| given.swap_remove(place));
        let path = kitchen.batches.get(number).and_then(Option::as_ref);
        let path = path.map(|path| directory.join(path));
        let (begun, usual) = begin(opening, pot, given, path)?;
        if begun.is_none() && usual.is_none() {
            tracing::info!(pot = pot.name, "stands idle: no batch was given for it");
            if kitchen.page.is_none() {
                continue;
            }
        }
        waits |= begun.is_some() || usual.is_some();
        let hung = kitchen.sensors.get(number).cloned().unwrap_or_default();
        let calibrations = Calibrations::of(opener.book(), &pot.name, &hung);
        let station = |begins, begun, usual, sources| StationSetup {
            pot: pot.clone(),
            begun,
            usual,
            begins,
            sources,
            calibrations,
        };
        if !hung.say_something() {
            let words = deaf(pot);
            if begun.is_some() {
                return Err(Failure::config(words));
            }
            // A board that was just set up: nothing is wrong yet.
            tracing::warn!("{words}, and start again; until then it stands idle");
            stations.push(station(Begins::Deaf, None, None, vec![]));
            continue;
        }
        let begins = usual.as_ref().map_or(Begins::Given, UsualFile::begins);
        let sources = match opened {
            Some(sources) => Ok(sources),
            None => sensors::open(&mut opener, &pot.name, &hung, directory),
        };
        stations.push(match sources {
            Ok(sources) => station(begins, begun, usual, sources),
            Err(why) if begun.is_some() => return Err(why.into()),
            Err(why) => {
                tracing::warn!("{}: {why}; until then it stands idle", pot.name);
                station(Begins::Shut(why.to_string()), None, None, vec![])
            }
        });
    }
    if !waits {
        let words = "no pot has a batch: give one with --batch, or name its file with batch = \"…\" \
                     under a [[pot]] of the kitchen file";
        return Err(Failure::config(words));
    }
    let common = barometer.map(|barometer| ("air".to_owned(), Source::Barometer(barometer)));
    Ok((stations, common.into_iter().collect()))
}

/// A pot's batch, where it has one, and the file with which the next begins.
fn begin(
    opening: &Opening<'_>,
    pot: &Pot,
    given: Option<BatchFile>,
    path: Option<PathBuf>,
) -> Result<(Option<Begun>, Option<UsualFile>), Failure> {
    let Some(path) = path else { return Ok((opening.begin(pot, given, None), None)) };
    let laid = Laid::read(&path, &opening.grounds.kitchen, &pot.name)?;
    let text = laid.as_ref().map(|laid| laid.file.text.clone());
    let begun = opening.begin(pot, given, laid);
    if begun.is_none() {
        tracing::info!(pot = pot.name, "stands idle until {} is there", path.display());
    }
    Ok((begun, Some(UsualFile::known(path, text))))
}
