//! The one loop: samples in, judgement, actions out.
//!
//! It never waits for the card, the network or a picture; it waits only for the next sample.

use std::sync::Arc;
use std::sync::mpsc::{Receiver, RecvTimeoutError};
use std::time::Duration;

use crate::keep::Outcome;
use crate::keep::health::Health;
use crate::keep::keeper::Keeper;
use crate::moment::Moment;
use crate::show::story::Story;
use crate::watch::action::Action;
use crate::watch::event::{CookSays, Event};

use super::clock::{Clock, Jumps};
use super::draw::Drawer;
use super::post::Post;
use super::pot::{Outlets, PotLife};
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
    pub pots: Vec<Watched>,
    pub keeper: Arc<Keeper>,
    pub post: Option<Post>,
    pub drawer: Option<Drawer>,
    pub clock: Clock,
    pub observer: Option<Observer>,
    pub stove: Stove,
    /// The loop ends when every pot is over.
    pub ends_when_over: bool,
}

/// A pot and how it is heard.
#[derive(Debug)]
pub struct Watched {
    pub life: PotLife,
    /// Whether something that never ends is read for it.
    pub live: bool,
    pub heard: Moment,
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
            if !goes_on || (self.ends_when_over && self.pots.iter().all(|pot| pot.life.over)) {
                break;
            }
            let now = self.clock.now();
            if now >= watchman.due {
                watchman.due = now.plus_ms(TICK_MS);
                self.look_round(now, &mut watchman);
            }
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

    fn each(&mut self, mut act: impl FnMut(&mut PotLife, &Outlets<'_>)) {
        let Self { pots, keeper, post, clock, .. } = self;
        let outlets = Outlets { keeper, post: post.as_ref(), clock };
        pots.iter_mut().for_each(|pot| act(&mut pot.life, &outlets));
    }

    /// `false` where that was the stop.
    fn take(&mut self, item: Item) -> bool {
        match item {
            Item::Sample { pot, event, at } => self.sample(pot, event, at),
            Item::Said { pot, says, by } => self.said(pot, says, &by),
            Item::Over { pot } => self.over(pot),
            Item::Stop => return false,
        }
        true
    }

    fn sample(&mut self, number: usize, event: Event, at: Moment) {
        let Self { pots, keeper, post, clock, .. } = self;
        let outlets = Outlets { keeper, post: post.as_ref(), clock };
        let Some(pot) = pots.get_mut(number).filter(|pot| !pot.life.over) else { return };
        if event != Event::Tick {
            pot.heard = at;
        }
        let actions = pot.life.take(event, at, &outlets);
        self.stove.hear(number, &actions);
        note(&mut self.observer, &pot.life, &actions);
    }

    fn said(&mut self, number: usize, says: CookSays, by: &str) {
        let Self { pots, keeper, post, clock, .. } = self;
        let outlets = Outlets { keeper, post: post.as_ref(), clock };
        let Some(pot) = pots.get_mut(number) else { return };
        tracing::info!(pot = pot.life.name, by, "the cook says {says:?}");
        let actions = pot.life.hear(says, by, clock.now(), &outlets);
        self.stove.hear(number, &actions);
        note(&mut self.observer, &pot.life, &actions);
    }

    fn over(&mut self, pot: usize) {
        let Some(pot) = self.pots.get_mut(pot) else { return };
        pot.life.over = true;
        self.keeper.end_batch(pot.life.key(), pot.life.last, Outcome::Done);
    }

    /// What comes round every second: pots that were not heard, the wall clock, the store, curves, the
    /// watchdog.
    fn look_round(&mut self, now: Moment, watchman: &mut Watchman) {
        let quiet = |pot: &Watched| pot.live && now.ms() - pot.heard.ms() >= TICK_MS;
        let silent: Vec<usize> = (0..self.pots.len()).filter(|n| quiet(&self.pots[*n])).collect();
        silent.into_iter().for_each(|pot| self.sample(pot, Event::Tick, now));
        if let Some(wall) = watchman.jumps.notice(now, self.clock.wall(now)) {
            tracing::info!(set = wall.set, "the wall clock was set");
            self.keeper.clock(now, wall);
            let clock = self.clock.clone();
            self.pots.iter_mut().for_each(|pot| pot.life.set_wall(&clock, wall.set));
        }
        let health = self.keeper.health();
        self.tell_trouble(&health, watchman);
        self.draw_what_is_due();
        let live = self.pots.iter().filter(|pot| pot.live);
        watchman.supervisor.stepped(now, live.map(|pot| pot.heard), &health);
    }

    fn tell_trouble(&self, health: &Health, watchman: &mut Watchman) {
        let trouble: Vec<String> =
            health.trouble.iter().map(|trouble| trouble.kind.words().to_owned()).collect();
        if watchman.told.as_ref() == Some(&trouble) {
            return;
        }
        match trouble.first() {
            Some(words) => tracing::error!("{words}; watching goes on"),
            None if watchman.told.is_some() => tracing::info!("the store writes again"),
            None => {}
        }
        let line = trouble.first().map_or("watching", String::as_str);
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
        let Some(pot) = self.pots.iter_mut().find(|pot| pot.life.curve_is_due()) else { return };
        if drawer.try_draw(pot.life.sketch(clock)) {
            pot.life.curve_was_drawn();
            if let Some(post) = &self.post {
                pot.life.publish_batch(post);
            }
        }
    }

    fn end(mut self) -> Vec<PotLife> {
        self.each(PotLife::send_pack);
        if let Some(drawer) = self.drawer.take() {
            drawer.close(self.pots.iter().map(|pot| pot.life.sketch(&self.clock)).collect());
        }
        if let Some(post) = &self.post {
            self.pots.iter().for_each(|pot| pot.life.publish_batch(post));
        }
        self.pots.into_iter().map(|pot| pot.life).collect()
    }
}

fn note(observer: &mut Option<Observer>, life: &PotLife, actions: &[Action]) {
    if let Some(observer) = observer {
        observer(actions, &life.story, life.last);
    }
}
