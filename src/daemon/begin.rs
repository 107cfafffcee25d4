//! How a pot's batch begins.
//!
//! 1. A batch file given at the start begins in its pot. If the very same file's batch stands
//!    unfinished in the store, as after a restart of the service, that batch goes on instead.
//! 2. A pot without a given file goes on with its unfinished batch.
//! 3. Else it begins with the batch file that the kitchen file names for it, if that is there. A file
//!    that was laid down after the last that is known of the unfinished batch comes before 2.
//! 4. Else it stands idle.
//!
//! While the daemon runs, the batch file that the kitchen file names for a pot is looked at every
//! second: laid down or changed, its batch begins and takes the place of the one before.
//!
//! An unfinished batch that nothing was heard of for half a day does not go on: it is put down as
//! abandoned, as is one that another takes the place of.
//!
//! A batch goes on by replaying its kept samples and words through the judgement: contents, ledger,
//! bottom and alerts are then as they were, and nothing is told twice.

mod file;

use super::herald::Remembered;
use crate::batch::plan::Plan;
use crate::batch::pot::Pot;
use crate::config::batch;
use crate::config::kitchen::Kitchen;
use crate::keep::keeper::{BatchKey, Keeper};
use crate::keep::library::{Library, Unfinished};
use crate::keep::{About, Outcome};
use crate::moment::{Moment, Wall};
use crate::show::story::Story;
use crate::watch::Watch;
use crate::watch::setting::{Learnt, Setting};

use super::earlier::heard;
pub use file::{BatchFile, Laid, UsualFile};

/// An unfinished batch that was not heard of for longer than this is over, ms.
const STALE_MS: i64 = 12 * 3_600_000;

/// What a batch begins on.
#[derive(Debug, Clone)]
pub struct Grounds {
    pub kitchen: Kitchen,
    /// The kitchen file's text, as it is kept with each batch.
    pub kitchen_text: String,
    /// How often a pot is shown, ms of its time.
    pub show_every_ms: i64,
}

/// What is known when the pots begin.
#[derive(Debug)]
pub struct Opening<'o> {
    pub grounds: &'o Grounds,
    pub keeper: &'o Keeper,
    pub library: Option<&'o Library>,
    pub unfinished: &'o [Unfinished],
    pub now: Moment,
    pub wall: Wall,
    /// The kernel's id of this boot.
    pub boot: &'o str,
    /// Nothing goes on: what is given begins anew.
    pub fresh: bool,
}

/// A batch that has begun, or gone on.
#[derive(Debug)]
pub struct Begun {
    pub setting: Setting,
    pub watch: Watch,
    pub story: Story,
    pub key: BatchKey,
    /// What an earlier start told of it.
    pub before: Remembered,
}

impl Opening<'_> {
    /// Begins a pot's batch, or goes on with it; `None` where it stands idle.
    #[must_use]
    pub fn begin(&self, pot: &Pot, given: Option<BatchFile>, usual: Option<Laid>) -> Option<Begun> {
        let mut old = self.unfinished.iter().filter(|batch| batch.about.pot == pot.name).peekable();
        let newest = old.clone().max_by_key(|batch| batch.number);
        let is_newer =
            |laid: &Laid| newest.is_some_and(|batch| laid.utc_ms > batch.last_wall.utc_ms);
        let (newer, usual) = match usual {
            Some(laid) if is_newer(&laid) => (Some(laid.file), None),
            usual => (None, usual.map(|laid| laid.file)),
        };
        let given = given.or(newer);
        let goes_on = newest.filter(|batch| self.may_go_on(batch, given.as_ref()));
        if let Some(begun) = goes_on.and_then(|batch| self.go_on(pot, batch)) {
            return Some(begun);
        }
        let file = given.or(usual);
        if file.is_some() || old.peek().is_some_and(|batch| self.is_stale(batch)) {
            old.for_each(|batch| self.abandon(batch));
        }
        file.map(|file| self.grounds.anew(self.keeper, self.library, self.now, pot, file))
    }

    fn may_go_on(&self, batch: &Unfinished, given: Option<&BatchFile>) -> bool {
        let same = given.is_none_or(|file| file.text == batch.about.batch_toml);
        same && !self.fresh && !self.is_stale(batch)
    }

    fn is_stale(&self, batch: &Unfinished) -> bool {
        self.away_ms(batch).is_some_and(|away_ms| away_ms > STALE_MS)
    }

    /// How long nothing was heard of it: within one boot by the daemon's own clock, else by the wall
    /// clock where that was known then and is now.
    fn away_ms(&self, batch: &Unfinished) -> Option<i64> {
        let here_ms = self.now.ms() - batch.last_mono.ms();
        let known = self.wall.set && batch.last_wall.set;
        let wall_ms = known.then(|| self.wall.utc_ms - batch.last_wall.utc_ms);
        (self.boot == batch.last_boot && here_ms >= 0).then_some(here_ms).or(wall_ms)
    }

    fn abandon(&self, batch: &Unfinished) {
        tracing::info!(pot = batch.about.pot, "batch {} is put down as abandoned", batch.number);
        let key = self.keeper.resume_batch(batch, self.now, batch.last);
        self.keeper.end_batch(key, batch.last, Outcome::Abandoned);
    }

    fn go_on(&self, pot: &Pot, batch: &Unfinished) -> Option<Begun> {
        let name = format!("batch {} of the store", batch.number);
        let plan = batch::parse(&name, &batch.about.batch_toml, &self.grounds.kitchen);
        let samples = self.library?.samples(batch.number);
        let (plan, samples) = match (plan, samples) {
            (Ok(plan), Ok(samples)) => (plan, samples),
            (Err(why), _) => {
                tracing::error!("{why}");
                return None;
            }
            (_, Err(why)) => {
                tracing::error!("{why}");
                return None;
            }
        };
        let setting = self.grounds.setting(pot, plan, batch.about.learnt);
        let (mut watch, mut story) = (Watch::new(setting.clone()), Story::of(&setting));
        for (at, event) in samples.events {
            watch.step(event, at).iter().for_each(|action| story.take(action));
        }
        let words = self.library.and_then(|library| library.words(batch.number).ok());
        words.into_iter().flatten().for_each(|word| story.hear(heard(word)));
        tracing::info!(pot = pot.name, "batch {} \"{}\" goes on", batch.number, setting.plan.name);
        let key = self.keeper.resume_batch(batch, self.now, self.clock_now(batch));
        let before = self.remembered(batch.number);
        Some(Begun { setting, watch, story, key, before })
    }

    fn remembered(&self, number: i64) -> Remembered {
        let Some(library) = self.library else { return Remembered::default() };
        Remembered {
            notices: library.notices(number).unwrap_or_default(),
            deliveries: library.deliveries(number).unwrap_or_default(),
        }
    }

    /// Where the batch's own clock stands now: on by the time that went by, where that is known.
    fn clock_now(&self, batch: &Unfinished) -> Moment {
        batch.last.plus_ms(self.away_ms(batch).unwrap_or(0).max(1))
    }
}

impl Grounds {
    /// Begins a batch now.
    #[must_use]
    pub fn anew(
        &self,
        keeper: &Keeper,
        library: Option<&Library>,
        now: Moment,
        pot: &Pot,
        file: BatchFile,
    ) -> Begun {
        let learnt = library.and_then(|library| library.learnt(&pot.name).ok());
        let setting = self.setting(pot, file.plan, learnt.unwrap_or_default());
        let about = About {
            pot: pot.name.clone(),
            name: setting.plan.name.clone(),
            kitchen_toml: self.kitchen_text.clone(),
            batch_toml: file.text,
            learnt: setting.learnt,
        };
        tracing::info!(pot = pot.name, "batch \"{}\" begins", setting.plan.name);
        let key = keeper.begin_batch(about, now);
        let (watch, story) = (Watch::new(setting.clone()), Story::of(&setting));
        Begun { setting, watch, story, key, before: Remembered::default() }
    }

    fn setting(&self, pot: &Pot, plan: Plan, learnt: Learnt) -> Setting {
        Setting {
            learnt,
            rules: self.kitchen.habits.rules,
            larder: self.kitchen.larder.clone(),
            show_every_ms: self.show_every_ms,
            ..Setting::of(self.kitchen.site, pot.clone(), plan)
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::keep::Start;
    use crate::keep::keeper::{Report, Room};
    use crate::quantity::Kilograms;
    use crate::watch::event::Event;
    use std::path::Path;

    pub(super) const KITCHEN: &str = "[site]\naltitude_m = 40.0\n[[pot]]\nname = \"big\"\n\
        base_diameter_m = 0.40\ntare_kg = 6.2\nlid_kg = 1.35\n";
    pub(super) const BATCH: &str = "name = \"Tuesday base\"\npot = \"big\"\n[start]\ncontents_kg = 23.6\n\
        lid = \"off\"\ncomposition = { water = 0.9, solids = 0.1 }\n";

    fn grounds() -> Grounds {
        let kitchen = Kitchen::parse("k.toml", KITCHEN).unwrap();
        Grounds { kitchen, kitchen_text: KITCHEN.into(), show_every_ms: 1000 }
    }

    const fn wall(hours: i64) -> Wall {
        Wall { utc_ms: 1_795_636_960_000 + hours * 3_600_000, set: true }
    }

    fn open(path: &Path, at: Moment, wall: Wall) -> (Keeper, Report) {
        let start = Start { boot: "boot".into(), at, wall };
        Keeper::open(path, start, Room::default()).unwrap()
    }

    fn file(kitchen: &Kitchen, text: &str) -> BatchFile {
        let plan = batch::parse("b.toml", text, kitchen).unwrap();
        BatchFile { plan, text: text.to_owned() }
    }

    /// One start of the daemon `hours` after the first, with this batch file given: what became of the
    /// pot, and whether its contents were known at once.
    fn start(path: &Path, hours: i64, given: Option<&str>, fresh: bool) -> Option<(i64, Begun)> {
        let grounds = grounds();
        let kitchen = &grounds.kitchen;
        let now = Moment::from_ms(hours * 3_600_000);
        let (keeper, report) = open(path, now, wall(hours));
        let library = Library::open(path).ok();
        let opening = Opening {
            grounds: &grounds,
            keeper: &keeper,
            library: library.as_ref(),
            unfinished: &report.unfinished,
            now,
            wall: wall(hours),
            boot: "boot",
            fresh,
        };
        let given = given.map(|text| file(kitchen, text));
        let mut begun = opening.begin(&kitchen.pots[0], given, None)?;
        for s in 0..60 {
            let (mono, load) = (now.plus_ms(s * 1000), Kilograms::new(29.8).unwrap());
            let (event, at) = (Event::Load(Ok(load)), begun.key.time(mono));
            keeper.event(begun.key, &event, at);
            for action in begun.watch.step(event, at) {
                begun.story.take(&action);
                keeper.action(begun.key, &action);
            }
        }
        keeper.flush();
        Some((keeper.number(begun.key)?, begun))
    }

    fn outcome(path: &Path, batch: i64) -> Option<String> {
        Library::open(path).unwrap().entry(batch).unwrap().outcome
    }

    #[test]
    fn after_a_restart_the_same_batch_goes_on_with_its_story() {
        let directory = tempfile::tempdir().unwrap();
        let path = directory.path().join("s.sqlite");
        let (first, _) = start(&path, 0, Some(BATCH), false).unwrap();
        let (second, begun) = start(&path, 1, Some(BATCH), false).unwrap();
        assert_eq!(first, second);
        let (from, to) = begun.story.extent_s().unwrap();
        assert!(from == 0.0 && (3600.0..3700.0).contains(&to), "{from} {to}");
        let (third, _) = start(&path, 2, None, false).unwrap();
        assert_eq!(first, third);
    }

    #[test]
    fn another_batch_takes_the_place_of_an_unfinished_one() {
        let directory = tempfile::tempdir().unwrap();
        let path = directory.path().join("s.sqlite");
        let (first, _) = start(&path, 0, Some(BATCH), false).unwrap();
        let other = BATCH.replace("Tuesday", "Wednesday");
        let (second, begun) = start(&path, 1, Some(&other), false).unwrap();
        assert_ne!(first, second);
        assert_eq!(begun.key.time(Moment::from_ms(3_600_000)), Moment::default());
        assert_eq!(outcome(&path, first).as_deref(), Some("abandoned"));
    }

    #[test]
    fn a_board_that_never_knew_the_time_knows_how_long_it_was_away_within_one_boot() {
        let directory = tempfile::tempdir().unwrap();
        let path = directory.path().join("s.sqlite");
        start(&path, 0, Some(BATCH), false).unwrap();
        let (grounds, unknown) = (grounds(), Wall { utc_ms: 0, set: false });
        let now = Moment::from_ms(3_600_000);
        let (keeper, report) = open(&path, now, unknown);
        let at = |boot: &'static str| {
            let opening = Opening {
                grounds: &grounds,
                keeper: &keeper,
                library: None,
                unfinished: &report.unfinished,
                now,
                wall: unknown,
                boot,
                fresh: false,
            };
            opening.clock_now(&report.unfinished[0])
        };
        assert_eq!(at("boot"), now);
        assert_eq!(at("another"), report.unfinished[0].last.plus_ms(1));
    }

    #[test]
    fn yesterdays_batch_does_not_go_on() {
        let directory = tempfile::tempdir().unwrap();
        let path = directory.path().join("s.sqlite");
        let (first, _) = start(&path, 0, Some(BATCH), false).unwrap();
        assert!(start(&path, 20, None, false).is_none());
        assert_eq!(outcome(&path, first).as_deref(), Some("abandoned"));
    }

    #[test]
    fn a_cook_may_begin_the_same_batch_anew() {
        let directory = tempfile::tempdir().unwrap();
        let path = directory.path().join("s.sqlite");
        let (first, _) = start(&path, 0, Some(BATCH), false).unwrap();
        let (second, _) = start(&path, 1, Some(BATCH), true).unwrap();
        assert_ne!(first, second);
    }

    #[test]
    fn a_pot_without_any_batch_stands_idle() {
        let directory = tempfile::tempdir().unwrap();
        assert!(start(&directory.path().join("s.sqlite"), 0, None, false).is_none());
    }

    #[test]
    fn what_was_known_before_the_restart_is_known_after_it() {
        let directory = tempfile::tempdir().unwrap();
        let path = directory.path().join("s.sqlite");
        let (_, begun) = start(&path, 0, Some(BATCH), false).unwrap();
        let before = begun.story.now.unwrap().contents_kg.unwrap();
        let (_, begun) = start(&path, 1, Some(BATCH), false).unwrap();
        let after = begun.story.now.unwrap().contents_kg.unwrap();
        assert!((before - after).abs() < 0.2, "{before} {after}");
    }

    #[test]
    fn a_batch_file_laid_down_while_the_board_was_off_begins() {
        let directory = tempfile::tempdir().unwrap();
        let path = directory.path().join("s.sqlite");
        start(&path, 0, Some(BATCH), false).unwrap();
        let grounds = grounds();
        let (keeper, report) = open(&path, Moment::from_ms(3_600_000), wall(1));
        let library = Library::open(&path).ok();
        let opening = Opening {
            grounds: &grounds,
            keeper: &keeper,
            library: library.as_ref(),
            unfinished: &report.unfinished,
            now: Moment::from_ms(3_600_000),
            wall: wall(1),
            boot: "boot",
            fresh: false,
        };
        let pot = &grounds.kitchen.pots[0];
        let laid = |hours: i64| {
            let text = BATCH.replace("Tuesday", "Wednesday");
            Some(Laid {
                file: file(&grounds.kitchen, &text),
                utc_ms: wall(0).utc_ms + hours * 1_800_000,
            })
        };
        let begun = opening.begin(pot, None, laid(1)).unwrap();
        assert_eq!(begun.setting.plan.name, "Wednesday base");
        let begun = opening.begin(pot, None, laid(-1)).unwrap();
        assert_eq!(begun.setting.plan.name, "Tuesday base", "that file was there before");
    }
}
