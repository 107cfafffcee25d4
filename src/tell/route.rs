//! Who is told of an alert, when, and through what. Pure.
//!
//! ```text
//! raised ──▶ stove: lamp, buzzer, open page, broker                     always, at once
//!        └─▶ each person whose `from` is reached
//!               at once        where the priority reaches `at_once`, or nothing shines at the stove
//!               unanswered     where nobody acknowledged it within its time to act
//!               after a rest   where quiet hours kept it back and it still stands
//!            by the first way that works; when a way fails the next is tried and says so
//! ```
//!
//! Quiet hours never keep back what is of high priority, and do not count while the board does not know
//! the time. What is acknowledged, shelved or cleared is not told any further; who was told of it hears
//! once that it is over, unless another alert says the same and more. An alert that stands is told to a
//! person once: after a restart the router is given what the store remembers ([`Router::remember`]).
//! Where every way to a person fails all are tried again every [`AGAIN_S`], for as long as the alert
//! stands.

use std::collections::{BTreeMap, BTreeSet};

use crate::moment::Moment;
use crate::watch::action::{Alarm, AlarmState, Notice};
use crate::watch::urgency::{Priority, said_by};

/// After every way failed, s.
const AGAIN_S: f64 = 60.0;
/// An alert that stood when the board fell silent and is not raised again is forgotten after this, s.
const FORGOTTEN_S: f64 = 180.0;

/// A way to a person.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Way {
    Webhook,
    Mail,
    Push,
}

impl Way {
    pub const ALL: [Self; 3] = [Self::Webhook, Self::Mail, Self::Push];

    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Webhook => "webhook",
            Self::Mail => "mail",
            Self::Push => "push",
        }
    }

    #[must_use]
    pub fn by_name(name: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|way| way.name() == name)
    }
}

/// Hours of the day, in minutes after midnight; they may go over midnight.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Quiet {
    pub from_min: u16,
    pub to_min: u16,
}

impl Quiet {
    #[must_use]
    pub const fn holds(self, minute: u16) -> bool {
        if self.from_min <= self.to_min {
            self.from_min <= minute && minute < self.to_min
        } else {
            self.from_min <= minute || minute < self.to_min
        }
    }
}

/// Somebody who is told.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Person {
    pub name: String,
    /// In the order in which they are tried; at least one.
    pub ways: Vec<Way>,
    /// Nothing below this is told.
    pub from: Priority,
    /// From this priority on it is told at once, below it only what was not answered at the stove.
    pub at_once: Priority,
    pub quiet: Option<Quiet>,
    pub mail: Option<String>,
}

/// What a decision is taken by.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Now {
    pub at: Moment,
    /// Minutes after midnight on the kitchen's clock; `None` while it is not known.
    pub minute: Option<u16>,
    /// Whether lamp or page can be seen in the kitchen.
    pub stove: bool,
}

/// Why somebody is told.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Because {
    AtOnce,
    /// Nothing shines at the stove.
    NoStove,
    /// Nobody acknowledged it in its time to act.
    Unanswered,
    /// Quiet hours are over and it still stands.
    QuietIsOver,
    /// Who was told hears that it is over.
    Over,
}

/// Something to be sent.
#[derive(Debug, Clone, PartialEq)]
pub struct Errand {
    pub pot: usize,
    pub notice: Notice,
    /// When the alert was raised: with pot and alarm the mark of this one time.
    pub raised: Moment,
    /// Place of the person in the list.
    pub person: usize,
    pub way: Way,
    pub because: Because,
    /// The ways that failed before this one.
    pub failed: Vec<Way>,
}

/// What an earlier start left behind.
#[derive(Debug, Clone, PartialEq)]
pub struct Standing {
    pub pot: usize,
    pub notice: Notice,
    pub raised: Moment,
    /// When it was raised on the clock of [`Now`].
    pub since: Moment,
    /// Who was told, and by what.
    pub told: Vec<(String, Way)>,
}

/// How far one person has been told of one alert.
#[derive(Debug, Clone, PartialEq, Default)]
enum Progress {
    #[default]
    NotYet,
    OnTheWay,
    Told(Way),
    /// All ways failed; again from this moment on.
    Later(Moment),
}

/// An alert that stands.
#[derive(Debug, Clone)]
struct Episode {
    notice: Notice,
    raised: Moment,
    /// When it was raised on the clock of [`Now`].
    since: Moment,
    seen: bool,
    kept_back: BTreeSet<usize>,
    progress: Vec<Progress>,
    /// Until when an episode of an earlier start waits to be raised again.
    doubtful_until: Option<Moment>,
}

/// Who is told what.
#[derive(Debug, Clone)]
pub struct Router {
    people: Vec<Person>,
    standing: BTreeMap<(usize, Alarm), Episode>,
    down: BTreeMap<Way, String>,
}

impl Router {
    #[must_use]
    pub const fn new(people: Vec<Person>) -> Self {
        Self { people, standing: BTreeMap::new(), down: BTreeMap::new() }
    }

    #[must_use]
    pub fn people(&self) -> &[Person] {
        &self.people
    }

    /// Takes up what an earlier start left, at `now`.
    pub fn remember(&mut self, before: Standing, now: &Now) {
        let told = |person: &Person| {
            let way =
                before.told.iter().find(|(name, _)| *name == person.name).map(|(_, way)| *way);
            way.map_or(Progress::NotYet, Progress::Told)
        };
        let episode = Episode {
            progress: self.people.iter().map(told).collect(),
            seen: before.notice.state != AlarmState::Raised,
            kept_back: BTreeSet::new(),
            since: before.since,
            raised: before.raised,
            doubtful_until: Some(now.at.plus_ms((FORGOTTEN_S * 1000.0) as i64)),
            notice: before.notice,
        };
        self.standing.insert((before.pot, episode.notice.alarm), episode);
    }

    /// An alert is known to stand: what was remembered of it is no longer in doubt. `false` where
    /// nothing was.
    pub fn confirm(&mut self, pot: usize, alarm: Alarm) -> bool {
        let episode = self.standing.get_mut(&(pot, alarm));
        episode.map(|episode| episode.doubtful_until = None).is_some()
    }

    /// An alert changed its state.
    #[must_use]
    pub fn notice(&mut self, pot: usize, notice: &Notice, now: &Now) -> Vec<Errand> {
        let key = (pot, notice.alarm);
        if notice.state == AlarmState::Cleared {
            let gone = self.standing.remove(&key);
            // It is not over where another alert now says it, and more.
            let said = said_by(notice.alarm).iter().any(|a| self.standing.contains_key(&(pot, *a)));
            return gone.filter(|_| !said).map_or_else(Vec::new, |e| over(pot, notice, e));
        }
        let people = self.people.len();
        let episode = self.standing.entry(key).or_insert_with(|| Episode {
            notice: notice.clone(),
            raised: notice.at,
            since: now.at,
            seen: false,
            kept_back: BTreeSet::new(),
            progress: vec![Progress::NotYet; people],
            doubtful_until: None,
        });
        episode.doubtful_until = None;
        if episode.seen && notice.state == AlarmState::Raised {
            // It comes off the shelf: its time to act begins anew.
            episode.since = now.at;
        }
        episode.seen = notice.state != AlarmState::Raised;
        episode.notice = notice.clone();
        self.look(now)
    }

    /// Nothing more is heard of this pot.
    pub fn forget(&mut self, pot: usize) {
        self.standing.retain(|(theirs, _), _| *theirs != pot);
    }

    /// What has fallen due by now.
    #[must_use]
    pub fn look(&mut self, now: &Now) -> Vec<Errand> {
        self.standing.retain(|_, e| e.doubtful_until.is_none_or(|until| now.at < until));
        let Self { people, standing, down } = self;
        let mut errands = Vec::new();
        for ((pot, _), episode) in standing.iter_mut() {
            for (number, person) in people.iter().enumerate() {
                let Some(because) = due(episode, number, person, now) else { continue };
                let Some(way) = next_way(person, &[], down) else { continue };
                episode.progress[number] = Progress::OnTheWay;
                errands.push(errand(*pot, episode, number, way, because, Vec::new()));
            }
        }
        errands
    }

    /// How an errand went; says what is to be tried instead.
    #[must_use]
    pub fn outcome(&mut self, errand: Errand, failed: Option<&str>, now: &Now) -> Option<Errand> {
        match failed {
            Some(why) => self.down.insert(errand.way, why.to_owned()),
            None => self.down.remove(&errand.way),
        };
        let Self { people, standing, down } = self;
        let person = people.get(errand.person)?;
        let mut tried = errand.failed.clone();
        tried.push(errand.way);
        let next = failed.and_then(|_| next_way(person, &tried, down));
        if errand.because == Because::Over {
            return next.map(|way| Errand { way, failed: tried, ..errand });
        }
        let same = |e: &&mut Episode| e.raised == errand.raised;
        let episode = standing.get_mut(&(errand.pot, errand.notice.alarm)).filter(same)?;
        let progress = episode.progress.get_mut(errand.person)?;
        *progress = match (failed, next) {
            (None, _) => Progress::Told(errand.way),
            (Some(_), Some(_)) => Progress::OnTheWay,
            (Some(_), None) => Progress::Later(now.at.plus_ms((AGAIN_S * 1000.0) as i64)),
        };
        let notice = episode.notice.clone();
        next.filter(|_| !episode.seen).map(|way| Errand { way, notice, failed: tried, ..errand })
    }

    /// The ways that failed when they were last tried, and why.
    pub fn down(&self) -> impl Iterator<Item = (Way, &str)> {
        self.down.iter().map(|(way, why)| (*way, why.as_str()))
    }
}

/// Why this person should be told now, if so.
fn due(episode: &mut Episode, number: usize, person: &Person, now: &Now) -> Option<Because> {
    let again = match episode.progress.get(number)? {
        Progress::NotYet => false,
        Progress::Later(from) if now.at >= *from => true,
        _ => return None,
    };
    let priority = episode.notice.priority();
    if episode.seen || episode.doubtful_until.is_some() || priority < person.from {
        return None;
    }
    let because = because(episode, person, now)?;
    let quiet = person.quiet.zip(now.minute).is_some_and(|(quiet, minute)| quiet.holds(minute));
    if quiet && priority < Priority::High {
        episode.kept_back.insert(number);
        return None;
    }
    let rested = episode.kept_back.remove(&number) && !again;
    Some(if rested { Because::QuietIsOver } else { because })
}

fn because(episode: &Episode, person: &Person, now: &Now) -> Option<Because> {
    if episode.notice.priority() >= person.at_once {
        return Some(Because::AtOnce);
    }
    if !now.stove {
        return Some(Because::NoStove);
    }
    (now.at - episode.since >= episode.notice.act_within_s()).then_some(Because::Unanswered)
}

/// The first way that was not tried; those that worked when last tried come first.
fn next_way(person: &Person, tried: &[Way], down: &BTreeMap<Way, String>) -> Option<Way> {
    let left = || person.ways.iter().copied().filter(|way| !tried.contains(way));
    left().find(|way| !down.contains_key(way)).or_else(|| left().next())
}

fn errand(
    pot: usize,
    episode: &Episode,
    person: usize,
    way: Way,
    because: Because,
    failed: Vec<Way>,
) -> Errand {
    let (notice, raised) = (episode.notice.clone(), episode.raised);
    Errand { pot, notice, raised, person, way, because, failed }
}

/// Those who were told hear that it is over.
fn over(pot: usize, notice: &Notice, episode: Episode) -> Vec<Errand> {
    let told =
        episode.progress.iter().enumerate().filter_map(|(number, progress)| match progress {
            Progress::Told(way) => Some((number, *way)),
            _ => None,
        });
    let over = |(number, way)| Errand {
        notice: notice.clone(),
        ..errand(pot, &episode, number, way, Because::Over, Vec::new())
    };
    told.map(over).collect()
}

#[cfg(test)]
mod tests;
