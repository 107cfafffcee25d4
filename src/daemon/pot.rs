//! One pot in the daemon: its judgement, its story, and where its actions go.

use std::sync::Arc;

use crate::batch::plan::Plan;
use crate::keep::keeper::{BatchKey, Keeper};
use crate::keep::resolution;
use crate::keep::{LetterKind, Outcome};
use crate::moment::{Moment, Wall};
use crate::show::batch;
use crate::show::board::PotNow;
use crate::show::clock::Clock as WallClock;
use crate::show::lines;
use crate::show::story::{Story, Word};
use crate::show::words;
use crate::tell::mqtt::message::{Message, Stamp, stamped};
use crate::tell::mqtt::senml::Pack;
use crate::tell::mqtt::topic::level;
use crate::watch::Watch;
use crate::watch::action::{Action, Alarm, AlarmState, Happening, Notice, Snapshot};
use crate::watch::event::{CookSays, Event};
use crate::watch::setting::Learnt;

use super::begin::Begun;
use super::clock::Clock;
use super::draw::Sketch;
use super::post::Post;

/// The store keeps a snapshot this often, ms of the pot's time.
const KEEP_EVERY_MS: i64 = 10_000;
/// Readings that nobody heard are sent in packs of this length, ms.
const PACK_EVERY_MS: i64 = 300_000;

/// How often a pot is told of, s of the pot's time.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Rhythm {
    pub reading_s: f64,
    pub curve_s: f64,
}

/// Something that comes round every so often.
#[derive(Debug, Clone, Copy, Default)]
struct Due(Option<Moment>);

impl Due {
    fn is(&mut self, at: Moment, every_ms: i64) -> bool {
        let due = self.0.is_none_or(|due| at >= due);
        if due {
            self.0 = Some(at.plus_ms(every_ms));
        }
        due
    }
}

/// A pot that is watched.
#[derive(Debug)]
pub struct PotLife {
    pub name: String,
    /// Its name as a topic level.
    pub level: String,
    pub story: Story,
    plan: Arc<Plan>,
    learnt: Learnt,
    watch: Watch,
    key: BatchKey,
    /// UTC at the zero of the batch's clock.
    zero: Wall,
    rhythm: Rhythm,
    pack: Pack,
    keep_due: Due,
    reading_due: Due,
    pack_due: Due,
    curve_due: Due,
    /// The batch's own time at the last event.
    pub last: Moment,
    pub over: bool,
}

/// Where a pot's actions go.
#[derive(Debug, Clone, Copy)]
pub struct Outlets<'b> {
    pub keeper: &'b Keeper,
    pub post: Option<&'b Post>,
    pub clock: &'b Clock,
}

impl PotLife {
    /// A pot whose watch has begun, with the story so far.
    #[must_use]
    pub fn new(begun: Begun, rhythm: Rhythm, outlets: &Outlets<'_>) -> Self {
        let Begun { setting, watch, story, key, before: _ } = begun;
        let name = setting.pot.name.clone();
        let under = outlets.post.map_or("", |post| post.board.as_str());
        let mut life = Self {
            level: level(&name),
            pack: Pack::new(&level(under), &level(&name)),
            name,
            story,
            plan: Arc::new(setting.plan),
            learnt: setting.learnt,
            watch,
            key,
            zero: Wall { utc_ms: 0, set: false },
            rhythm,
            keep_due: Due::default(),
            reading_due: Due::default(),
            pack_due: Due::default(),
            curve_due: Due::default(),
            last: Moment::default(),
            over: false,
        };
        let set = outlets.clock.wall(outlets.clock.now()).set;
        life.set_wall(outlets.clock, set);
        life
    }

    /// Ties the batch's clock to the wall's anew, which is `set` or not.
    pub fn set_wall(&mut self, clock: &Clock, set: bool) {
        let now = clock.now();
        self.zero = Wall { utc_ms: clock.wall(now).utc_ms - self.key.time(now).ms(), set };
    }

    /// The wall at a moment of the batch's clock.
    #[must_use]
    pub const fn wall(&self, at: Moment) -> Wall {
        Wall { utc_ms: self.zero.utc_ms + at.ms(), set: self.zero.set }
    }

    /// How the batch's clock is shown; not at all while the board does not know the time.
    #[must_use]
    pub fn wall_clock(&self, clock: &Clock) -> Option<WallClock> {
        let offset_s = clock.offset_s(self.zero);
        self.zero.set.then_some(WallClock { utc_ms_at_zero: self.zero.utc_ms, offset_s })
    }

    #[must_use]
    pub const fn key(&self) -> BatchKey {
        self.key
    }

    /// Takes in what was measured at `mono` on the daemon's clock; says what came of it.
    pub fn take(&mut self, event: Event, mono: Moment, outlets: &Outlets<'_>) -> Vec<Action> {
        let at = self.key.time(mono).max(self.last);
        let event = resolution::rounded(event);
        outlets.keeper.event(self.key, &event, at);
        self.step(event, at, outlets)
    }

    /// Why something that the cook says cannot be taken, in a sentence.
    pub fn may_hear(&self, says: &CookSays) -> Result<(), String> {
        self.watch.refuses(says).map_or(Ok(()), |why| Err(why.to_string()))
    }

    /// Takes in what the cook said.
    pub fn hear(
        &mut self,
        says: CookSays,
        by: &str,
        mono: Moment,
        outlets: &Outlets<'_>,
    ) -> Vec<Action> {
        let at = self.key.time(mono).max(self.last);
        outlets.keeper.word(self.key, &says, by, at);
        self.story.hear(Word { at, says: says.clone(), by: by.to_owned() });
        let actions = self.step(Event::Cook(says), at, outlets);
        let learnt = self.watch.learnt();
        if learnt != self.learnt {
            self.learnt = learnt;
            outlets.keeper.learnt(&self.name, learnt);
        }
        actions
    }

    /// How the batch ends when another takes its place.
    #[must_use]
    pub const fn outcome(&self) -> Outcome {
        if self.story.reached.is_some() { Outcome::Done } else { Outcome::Abandoned }
    }

    fn step(&mut self, event: Event, at: Moment, outlets: &Outlets<'_>) -> Vec<Action> {
        self.last = at;
        let actions = self.watch.step(event, at);
        for action in &actions {
            self.story.take(action);
            match action {
                Action::Show(now) => self.show(now, action, outlets),
                Action::Happened(happening) => self.happened(happening, action, outlets),
                Action::Tell(notice) => self.tell(notice, action, outlets),
            }
        }
        actions
    }

    fn show(&mut self, now: &Snapshot, action: &Action, outlets: &Outlets<'_>) {
        if self.keep_due.is(now.at, KEEP_EVERY_MS) {
            outlets.keeper.action(self.key, action);
            self.gather(now, outlets);
        }
        let Some(post) = outlets.post else { return };
        if self.reading_due.is(now.at, (self.rhythm.reading_s * 1000.0) as i64) {
            let json = self.reading(now, outlets.clock);
            post.hold(Message::reading(&post.topics, &self.name, json, self.rhythm.reading_s));
            if let Some(homie) = &post.homie {
                homie.show(&self.name, now);
                self.story.raised().for_each(|notice| homie.stands(&self.name, notice, now));
            }
        }
    }

    fn reading(&self, now: &Snapshot, clock: &Clock) -> String {
        let wall = self.wall(now.at);
        let line = lines::worded(&self.name, now, &words::of(&self.story, self.wall_clock(clock)));
        stamped(&line, &Stamp { utc_ms: wall.utc_ms, clock_set: wall.set, key: None })
    }

    /// Keeps a reading for the broker while it is away, and hands the pack on when that is due.
    fn gather(&mut self, now: &Snapshot, outlets: &Outlets<'_>) {
        let Some(post) = outlets.post else { return };
        if !post.is_connected() {
            self.pack.add(self.wall(now.at).utc_ms, now);
        }
        let due = post.is_connected() || self.pack_due.is(now.at, PACK_EVERY_MS);
        if due && !self.pack.is_empty() {
            self.send_pack(outlets);
        }
    }

    /// Hands the readings that nobody heard to the outbox.
    pub fn send_pack(&mut self, outlets: &Outlets<'_>) {
        let Some(post) = outlets.post else { return };
        let Some(senml) = self.pack.seal() else { return };
        let key = post.stamp(self.zero).key.unwrap_or_default();
        let message = Message::backlog(&post.topics, &self.name, senml);
        post.send(LetterKind::Telemetry, outlets.clock.now(), &key, message);
    }

    fn happened(&self, happening: &Happening, action: &Action, outlets: &Outlets<'_>) {
        outlets.keeper.action(self.key, action);
        tracing::info!(pot = self.name, "{}", words::happened(&happening.what));
        let Some(post) = outlets.post else { return };
        let (at, line) = lines::line(&self.name, action);
        let when = (outlets.clock.now(), self.wall(at));
        post.word(LetterKind::Event, when, &line, |json| {
            Message::event(&post.topics, &self.name, json)
        });
    }

    fn tell(&self, notice: &Notice, action: &Action, outlets: &Outlets<'_>) {
        outlets.keeper.action(self.key, action);
        let (alert, state) = (notice.alarm.name(), notice.state.name());
        match notice.state {
            AlarmState::Raised => tracing::warn!(pot = self.name, alert, "{}", notice.why),
            _ => tracing::info!(pot = self.name, alert, state, "the alert changes"),
        }
        let Some(post) = outlets.post else { return };
        let (at, line) = lines::line(&self.name, action);
        let when = (outlets.clock.now(), self.wall(at));
        let cleared = notice.state == AlarmState::Cleared;
        if let Some(homie) = &post.homie {
            homie.alert(&self.name, notice.alarm, (!cleared).then_some(&notice.why));
        }
        post.word(LetterKind::Alert, when, &line, |json| match cleared {
            true => Message::alert_cleared(&post.topics, &self.name, alert, json),
            false => Message::alert(&post.topics, &self.name, alert, json),
        });
        if cleared {
            post.take_away(when.0, when.1, Message::no_alert(&post.topics, &self.name, alert));
        }
    }

    /// Says anew what stands: alerts that an earlier start raised, and of all others that they do not
    /// stand, whatever an earlier batch may have left at the broker.
    pub fn restate(&mut self, outlets: &Outlets<'_>) {
        let Some(post) = outlets.post else { return };
        for alarm in Alarm::ALL {
            let standing = self.story.raised().find(|notice| notice.alarm == alarm);
            if let Some(homie) = &post.homie {
                let now = self.story.now.as_ref();
                let why =
                    |notice: &Notice| now.map_or(notice.why.clone(), |now| notice.why_now(now));
                homie.alert(&self.name, alarm, standing.map(why).as_deref());
            }
            post.hold(match standing {
                Some(notice) => self.standing(notice, post),
                None => Message::no_alert(&post.topics, &self.name, alarm.name()),
            });
        }
        self.publish_batch(post);
    }

    fn standing(&self, notice: &Notice, post: &Post) -> Message {
        let (at, line) = lines::line(&self.name, &Action::Tell(notice.clone()));
        let wall = self.wall(at);
        let stamp = Stamp { utc_ms: wall.utc_ms, clock_set: wall.set, key: None };
        Message::alert(&post.topics, &self.name, notice.alarm.name(), stamped(&line, &stamp))
    }

    /// The plan and the ledger.
    pub fn publish_batch(&self, post: &Post) {
        let line = batch::json(&self.plan, &self.story);
        let wall = self.wall(self.last);
        let stamp = Stamp { utc_ms: wall.utc_ms, clock_set: wall.set, key: None };
        post.hold(Message::batch(&post.topics, &self.name, stamped(&line, &stamp)));
    }

    /// Whether the curve should be drawn now.
    #[must_use]
    pub fn curve_is_due(&self) -> bool {
        let shown = self.story.now.as_ref();
        shown.is_some_and(|now| self.curve_due.0.is_none_or(|due| now.at >= due))
    }

    pub fn curve_was_drawn(&mut self) {
        let at = self.story.now.as_ref().map_or(self.last, |now| now.at);
        self.curve_due.is(at, (self.rhythm.curve_s * 1000.0) as i64);
    }

    /// The pot as the page has it.
    #[must_use]
    pub fn on_the_page(&self, clock: &Clock) -> PotNow {
        PotNow {
            name: self.name.clone(),
            plan: Arc::clone(&self.plan),
            story: Arc::new(self.story.clone()),
            clock: self.wall_clock(clock),
            now: self.last,
            silent_s: 0.0,
            idle: None,
            over: self.over,
        }
    }

    #[must_use]
    pub fn sketch(&self, clock: &Clock) -> Sketch {
        let clock = self.wall_clock(clock);
        Sketch { pot: self.name.clone(), story: self.story.clone(), clock }
    }
}
