//! The one loop: samples in, judgement, actions out.
//!
//! It never waits for the card, the network or a picture; it waits only for the next sample.

use std::sync::Arc;
use std::sync::mpsc::{Receiver, RecvTimeoutError};
use std::time::Duration;

use crate::batch::pot::Pot;
use crate::keep::Outcome;
use crate::keep::keeper::Keeper;
use crate::moment::Moment;
use crate::sense::calibration::book::ScaleEntry;
use crate::show::answer::Before;
use crate::show::idle::Idle;
use crate::show::story::Story;
use crate::watch::action::Action;
use crate::watch::event::{CookSays, Event};
use crate::watch::words::said_back;

use super::begin::{Grounds, UsualFile};
use super::calibrations::Calibrations;
use super::clock::{Clock, Jumps};
use super::draw::Drawer;
use super::herald::Herald;
use super::page::Page;
use super::post::Post;
use super::pot::{Outlets, PotLife, Rhythm};
use super::source::Item;
use super::stove::Stove;
use super::supervise::Supervisor;

/// A pot that nothing was heard of is judged this often all the same, ms.
const TICK_MS: i64 = 1000;
/// How often the loop looks round, in real time.
const LOOK_ROUND: Duration = Duration::from_millis(500);

/// Is told of a pot what was just recognised, its story, and the batch's own time.
pub type Observer = Box<dyn FnMut(&[Action], &Story, Moment) + Send>;

/// The running whole.
pub struct Daemon {
    pub stations: Vec<Station>,
    pub grounds: Grounds,
    pub rhythm: Rhythm,
    pub keeper: Arc<Keeper>,
    pub post: Option<Post>,
    pub drawer: Option<Drawer>,
    pub herald: Herald,
    pub page: Option<Page>,
    pub clock: Clock,
    pub observer: Option<Observer>,
    pub stove: Stove,
    /// The loop ends when every pot is over.
    pub ends_when_over: bool,
}

/// A place on the stove: the pot that is watched there, and how it is heard.
#[derive(Debug)]
pub struct Station {
    /// `None` while it stands idle.
    pub life: Option<PotLife>,
    /// Whether something that never ends is read for it.
    pub live: bool,
    pub heard: Moment,
    /// The file with which its next batch begins.
    pub usual: Option<UsualFile>,
    pub pot: Pot,
    /// What is known of it while no batch has begun.
    pub idle: Idle,
    pub calibrations: Calibrations,
}

/// What the loop looks after beside the pots.
struct Watchman {
    supervisor: Supervisor,
    jumps: Jumps,
    told: Option<Vec<String>>,
    due: Moment,
}

impl Daemon {
    /// Runs until told to stop, until nobody is left who could tell it anything, or until every pot is
    /// over where that ends it. Gives the pots back as they are then.
    #[must_use]
    pub fn run(mut self, items: &Receiver<Item>) -> Vec<PotLife> {
        let mut watchman = self.begin();
        loop {
            let goes_on = match items.recv_timeout(LOOK_ROUND) {
                Ok(item) => self.take(item),
                Err(RecvTimeoutError::Timeout) => true,
                Err(RecvTimeoutError::Disconnected) => false,
            };
            if !goes_on || (self.ends_when_over && self.lives().all(|life| life.over)) {
                break;
            }
            let now = self.clock.now();
            if now >= watchman.due {
                watchman.due = now.plus_ms(TICK_MS);
                self.look_round(now, &mut watchman);
            }
            self.show_page();
        }
        watchman.supervisor.stopping();
        self.end()
    }

    fn begin(&mut self) -> Watchman {
        let now = self.clock.now();
        self.each(|life, outlets| life.restate(outlets));
        let watchman = Watchman {
            supervisor: Supervisor::at(now),
            jumps: Jumps::from(now, self.clock.wall(now)),
            told: None,
            due: now,
        };
        watchman.supervisor.ready();
        watchman
    }

    fn lives(&self) -> impl Iterator<Item = &PotLife> {
        self.stations.iter().filter_map(|station| station.life.as_ref())
    }

    fn each(&mut self, mut act: impl FnMut(&mut PotLife, &Outlets<'_>)) {
        let Self { stations, keeper, post, clock, .. } = self;
        let outlets = Outlets { keeper, post: post.as_ref(), clock };
        let lives = stations.iter_mut().filter_map(|station| station.life.as_mut());
        lives.for_each(|life| act(life, &outlets));
    }

    /// `false` where that was the stop.
    fn take(&mut self, item: Item) -> bool {
        match item {
            Item::Sample { pot, event, at } => self.sample(pot, event, at),
            Item::Said { pot, says, by, answer } => {
                let taken = self.said(pot, says, &by);
                if let Some(answer) = answer {
                    // Whoever asked may have gone.
                    let _ = answer.try_send(taken);
                } else if let Err(why) = taken {
                    tracing::warn!(by, "{why}");
                }
            }
            Item::Calibrated { pot, entry } => self.calibrated(pot, *entry),
            Item::Over { pot } => self.over(pot),
            Item::Stop => return false,
        }
        true
    }

    fn sample(&mut self, number: usize, event: Event, at: Moment) {
        let Self { stations, keeper, post, clock, .. } = self;
        let outlets = Outlets { keeper, post: post.as_ref(), clock };
        let Some(station) = stations.get_mut(number) else { return };
        if event != Event::Tick {
            station.heard = at;
            station.calibrations.hear(&event, at);
            station.idle.hear(&event);
        }
        let Some(life) = station.life.as_mut().filter(|life| !life.over) else { return };
        let actions = life.take(event, at, &outlets);
        if let Some(page) = self.page.as_mut().filter(|_| has_news(&actions)) {
            page.hurry();
        }
        self.note(number, &actions);
    }

    /// What was changed by a word, or why it was not taken.
    fn said(&mut self, number: usize, says: CookSays, by: &str) -> Result<String, String> {
        let Self { stations, keeper, post, clock, .. } = self;
        let outlets = Outlets { keeper, post: post.as_ref(), clock };
        let life = stations.get_mut(number).and_then(|s| s.life.as_mut());
        let life = life.ok_or("no batch has begun in this pot: there is nothing to say it to")?;
        life.may_hear(&says)?;
        tracing::info!(pot = life.name, by, "the cook says: {}", said_back(&says));
        let (before, noted) = (Before::of(&life.story), format!("Noted: {}.", said_back(&says)));
        let actions = life.hear(says.clone(), by, clock.now(), &outlets);
        let answer = before.answer(&says, &life.story, life.wall_clock(clock));
        self.page.iter_mut().for_each(Page::hurry);
        self.note(number, &actions);
        Ok(answer.unwrap_or(noted))
    }

    /// Tells of what was just recognised.
    fn note(&mut self, number: usize, actions: &[Action]) {
        let Self { stations, clock, herald, stove, observer, .. } = self;
        stove.hear(number, actions);
        let Some(life) = stations.get(number).and_then(|s| s.life.as_ref()) else { return };
        for action in actions {
            if let Action::Tell(notice) = action {
                herald.notice(number, life, notice, clock);
            }
        }
        if let Some(observer) = observer {
            observer(actions, &life.story, life.last);
        }
    }

    fn calibrated(&mut self, number: usize, entry: ScaleEntry) {
        let Some(station) = self.stations.get_mut(number) else { return };
        tracing::info!(pot = station.pot.name, "the scale is calibrated and is read from now on");
        station.calibrations.calibrated(entry);
    }

    fn over(&mut self, number: usize) {
        self.herald.over(number);
        let station = self.stations.get_mut(number);
        let Some(life) = station.and_then(|station| station.life.as_mut()) else { return };
        life.over = true;
        self.keeper.end_batch(life.key(), life.last, Outcome::Done);
    }

    /// What comes round every second: pots that were not heard, new batch files, the wall clock, the
    /// store, curves, the watchdog.
    fn look_round(&mut self, now: Moment, watchman: &mut Watchman) {
        let quiet = |s: &Station| s.live && now.ms() - s.heard.ms() >= TICK_MS;
        for number in 0..self.stations.len() {
            if quiet(&self.stations[number]) {
                self.sample(number, Event::Tick, now);
            }
            self.begin_what_is_new(number, now);
        }
        if let Some(wall) = watchman.jumps.notice(now, self.clock.wall(now)) {
            tracing::info!(set = wall.set, "the wall clock was set");
            self.keeper.clock(now, wall);
            self.each(|life, outlets| life.set_wall(outlets.clock, wall.set));
        }
        let health = self.keeper.health();
        let stations = &self.stations;
        let life = |number: usize| stations.get(number).and_then(|s| s.life.as_ref());
        let unheard = self.herald.look(life, &self.keeper, &self.clock);
        let trouble = health.words().into_iter().chain(unheard).collect();
        self.tell_trouble(trouble, watchman);
        self.draw_what_is_due();
        let live = self.stations.iter().filter(|station| station.live);
        watchman.supervisor.stepped(now, live.map(|station| station.heard), &health);
    }

    /// A batch file that was laid down or changed while the daemon runs begins its batch.
    fn begin_what_is_new(&mut self, number: usize, now: Moment) {
        let Some(station) = self.stations.get_mut(number) else { return };
        let Some(usual) = &mut station.usual else { return };
        let news = usual.news(&self.grounds.kitchen, &station.pot.name);
        station.idle.begins = usual.begins();
        let Some(file) = news else { return };
        if let Some(old) = station.life.take() {
            self.herald.over(number);
            let outcome = old.outcome();
            self.keeper.end_batch(old.key(), old.last, outcome);
        }
        let outlets =
            Outlets { keeper: &self.keeper, post: self.post.as_ref(), clock: &self.clock };
        let begun = self.grounds.anew(&self.keeper, None, now, &station.pot, file);
        let mut life = PotLife::new(begun, self.rhythm, &outlets);
        life.restate(&outlets);
        station.life = Some(life);
    }

    /// What is amiss, and which calibrations are old or used outside what they were learnt for.
    fn tell_trouble(&self, mut trouble: Vec<String>, watchman: &mut Watchman) {
        let (amiss, before) = (trouble.len(), watchman.told.as_deref().unwrap_or_default());
        let wall = self.clock.wall(self.clock.now());
        let day = wall.set.then(|| wall.utc_ms.div_euclid(86_400_000));
        let stations = self.stations.iter();
        trouble.extend(stations.flat_map(|s| s.calibrations.warnings(&s.pot.name, day)));
        if watchman.told.as_ref() == Some(&trouble) {
            return;
        }
        let news = |words: &&String| !before.contains(words);
        for words in trouble[..amiss].iter().filter(news) {
            tracing::error!("{words}; watching goes on");
        }
        trouble[amiss..].iter().filter(news).for_each(|words| tracing::warn!("{words}"));
        if trouble.is_empty() && watchman.told.is_some() {
            tracing::info!("nothing is amiss any more");
        }
        let well =
            if self.lives().next().is_none() { "idle: no batch has begun" } else { "watching" };
        let line = trouble.first().map_or(well, String::as_str);
        watchman.supervisor.status(line);
        if let Some(post) = &self.post {
            post.mailbox.trouble(trouble.clone());
        }
        watchman.told = Some(trouble);
    }

    /// At most one curve at a time, so that the drawer is never behind.
    fn draw_what_is_due(&mut self) {
        let Some(drawer) = &self.drawer else { return };
        let clock = &self.clock;
        let mut lives = self.stations.iter_mut().filter_map(|station| station.life.as_mut());
        let Some(life) = lives.find(|life| life.curve_is_due()) else { return };
        if drawer.try_draw(life.sketch(clock)) {
            life.curve_was_drawn();
            if let Some(post) = &self.post {
                life.publish_batch(post);
            }
        }
    }

    fn show_page(&mut self) {
        let Some(page) = &mut self.page else { return };
        let broker = self.post.as_ref().map(Post::is_connected);
        page.show(&self.stations, &self.keeper, broker, &self.clock);
    }

    fn end(mut self) -> Vec<PotLife> {
        self.each(PotLife::send_pack);
        if let Some(drawer) = self.drawer.take() {
            drawer.close(self.lives().map(|life| life.sketch(&self.clock)).collect());
        }
        if let Some(post) = &self.post {
            self.lives().for_each(|life| life.publish_batch(post));
        }
        self.stations.into_iter().filter_map(|station| station.life).collect()
    }
}

/// Whether something happened that should be seen at once.
fn has_news(actions: &[Action]) -> bool {
    actions.iter().any(|action| !matches!(action, Action::Show(_)))
}
