//! Assembly of the running whole.
//!
//! ```text
//! source ─▶ items ─▶ main_loop ─▶ pot: judgement, story ─┬─▶ keeper     (its own thread)
//!  (one thread each)  (one thread)                       ├─▶ post ─▶ MQTT  (the main thread)
//!                                                        ├─▶ drawer     (its own thread)
//!                                                        └─▶ page       (its own thread)
//! ```
//!
//! Each arrow is bounded or keeps only the newest, and nothing to the right of the loop can hold it
//! up. At a stop the sources fall silent first; the loop works off what they said, hands on its last
//! packs and curves, and ends; the broker is told goodbye; the store is written and closed. So nothing
//! that was measured is lost.

pub mod begin;
pub mod board;
pub mod calibrations;
pub mod clock;
pub mod courier;
pub mod door;
pub mod draw;
pub mod earlier;
pub mod halt;
pub mod herald;
pub mod homie;
pub mod like;
pub mod main_loop;
pub mod page;
pub mod pocket;
pub mod post;
pub mod pot;
pub mod sensors;
pub mod source;
pub mod stove;
pub mod supervise;
pub mod telling;
pub mod ways;

use std::future::Future;
use std::io;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::mpsc::{SyncSender, sync_channel};
use std::thread;

use tokio::runtime::Builder;
use tokio::sync::oneshot;
use tokio::task::JoinHandle;

use crate::batch::larder::Larder;
use crate::batch::pot::Pot;
use crate::keep::health::Health;
use crate::keep::keeper::Keeper;
use crate::moment::Moment;
use crate::show::idle::{Begins, Idle};
use crate::tell::mqtt::mailbox::Mailbox;
use crate::tell::mqtt::outbox::{Outbox, Queue};
use crate::tell::mqtt::topic::level;
use crate::tell::mqtt::{self, Heard};
use crate::tell::route::{Person, Router};
use crate::watch::words;

use begin::{Begun, Grounds, UsualFile};
use calibrations::Calibrations;
use clock::Clock;
use courier::{Courier, Open};
use door::{Door, Doorkeeper};
use draw::Drawer;
use halt::Halt;
use herald::{Herald, Office};
use homie::Homie;
use main_loop::{Daemon, Observer, Station};
use page::Page;
use post::Post;
use pot::{Outlets, PotLife, Rhythm};
use sensors::Named;
use source::{Item, Line};
use stove::{Fittings, Stove};

/// Samples that may wait for the judgement: some seconds of a board's.
const ITEMS: usize = 1024;
/// Name look-ups.
const BLOCKING_THREADS: usize = 2;

/// A place on the stove.
pub struct StationSetup {
    pub pot: Pot,
    /// `None` where it stands idle.
    pub begun: Option<Begun>,
    /// The file with which its next batch begins.
    pub usual: Option<UsualFile>,
    /// How a batch begins where none has.
    pub begins: Begins,
    pub sources: Vec<Named>,
    /// What is in force of its scale and probes.
    pub calibrations: Calibrations,
}

/// Whom the board tells, and what the cook may call things by when speaking through the broker.
pub struct Telling {
    pub settings: mqtt::Settings,
    pub larder: Larder,
}

/// Who is told of alerts beyond the stove.
#[derive(Default)]
pub struct Alerting {
    pub people: Vec<Person>,
    pub channels: Vec<Open>,
    pub heartbeat_s: Option<f64>,
    /// This board's name in what is told.
    pub board: String,
}

impl Alerting {
    /// `stove` is whether a lamp or a page can be seen in the kitchen.
    fn open(self, stove: bool, clock: &Clock, halt: &Halt) -> io::Result<Herald> {
        let courier = Courier::open(self.channels, clock, halt)?;
        let (router, heartbeat_s) = (Router::new(self.people), self.heartbeat_s);
        Ok(Herald::new(Office { router, courier, heartbeat_s, stove, board: self.board }))
    }
}

/// Everything that is needed to run.
pub struct Setup {
    pub clock: Clock,
    pub boot: String,
    /// When the pots began, on the clock.
    pub began: Moment,
    pub keeper: Keeper,
    pub grounds: Grounds,
    pub stations: Vec<StationSetup>,
    /// What is read for all pots.
    pub common: Vec<Named>,
    pub telling: Option<Telling>,
    pub alerting: Alerting,
    /// Where the cook's words are heard on this machine.
    pub door: Option<PathBuf>,
    pub page: Option<Page>,
    pub rhythm: Rhythm,
    pub observer: Option<Observer>,
    /// Lamp, buzzer and button at the stove.
    pub fittings: Fittings,
    /// The run ends when every pot is over.
    pub ends_when_over: bool,
}

/// What is left after a run.
pub struct Ended {
    pub pots: Vec<PotLife>,
    /// How the store was when it was closed.
    pub store: Health,
}

/// Runs until `stop` is ready, or until every pot is over where that ends it.
///
/// # Errors
/// Where the system has no thread or no event loop left.
pub fn run(setup: Setup, stop: impl Future<Output = ()>) -> io::Result<Ended> {
    let runtime = Builder::new_current_thread()
        .enable_all()
        .max_blocking_threads(BLOCKING_THREADS)
        .build()?;
    let keeper = Arc::new(setup.keeper);
    let (clock, began) = (setup.clock, setup.began);
    let post = setup.telling.as_ref().map(|telling| {
        let post = Post::open(&telling.settings.board, Arc::clone(&keeper), &setup.boot, began);
        post.by_homie(telling.settings.homie.clone().map(Homie::open))
    });
    let stove = Stove::default();
    let (items, taken) = sync_channel(ITEMS);
    let halt = Halt::default();
    let lines = Lines { clock: clock.clone(), items: items.clone(), halt: halt.clone(), began };
    let names = setup.stations.iter().map(|station| level(&station.pot.name)).collect();
    let everyone: Vec<usize> = (0..setup.stations.len()).collect();
    let pots_by_name = setup.stations.iter().map(|station| station.pot.name.clone()).collect();
    let larder = setup.grounds.kitchen.larder.clone();
    let outlets = Outlets { keeper: &keeper, post: post.as_ref(), clock: &clock };
    let mut sources: Vec<(Vec<usize>, Named)> = Vec::new();
    sources.extend(setup.common.into_iter().map(|source| (everyone.clone(), source)));
    let stands_out = setup.fittings.lamp.is_some() || setup.page.is_some();
    let mut herald = setup.alerting.open(stands_out, &clock, &halt)?;
    let mut stations = Vec::new();
    for (number, mut station) in setup.stations.into_iter().enumerate() {
        let live = station.sources.iter().any(|(_, source)| source.is_live());
        sources.extend(
            std::mem::take(&mut station.sources).into_iter().map(|source| (vec![number], source)),
        );
        let life = station.begun.take().map(|mut begun| {
            let before = std::mem::take(&mut begun.before);
            let life = PotLife::new(begun, setup.rhythm, &outlets);
            herald.resume(number, &life, &before, &clock);
            life
        });
        let StationSetup { usual, begins, pot, calibrations, .. } = station;
        let idle = Idle::new(begins);
        stations.push(Station { life, live, heard: began, usual, pot, idle, calibrations });
    }
    let daemon = Daemon {
        stations,
        grounds: setup.grounds,
        rhythm: setup.rhythm,
        keeper: Arc::clone(&keeper),
        post: post.clone(),
        drawer: post.clone().map(Drawer::open).transpose()?,
        herald,
        clock,
        page: setup.page.inspect(|page| page.speak_to(items.clone())),
        observer: setup.observer,
        stove: stove.clone(),
        ends_when_over: setup.ends_when_over,
    };
    stove.open(setup.fittings, daemon.clock.clone(), items.clone(), halt.clone())?;
    let (end, ended) = oneshot::channel();
    let looping = thread::Builder::new()
        .name("watch".to_owned())
        .spawn(move || drop(end.send(daemon.run(&taken))))?;
    lines.open(sources)?;
    let door = setup.door.and_then(|path| open_door(&path, pots_by_name, larder, items.clone()));
    let mouth = setup.telling.zip(post);
    let pots = runtime.block_on(async {
        let talk = mouth.map(|(telling, post)| Talk::begin(telling, post, names, items.clone()));
        let pots = until_stopped(stop, ended, items, &halt).await;
        if let Some(talk) = talk {
            talk.end().await;
        }
        pots
    });
    drop(door);
    let _ = looping.join();
    let store = close(keeper);
    Ok(Ended { pots, store })
}

/// A door that does not open keeps nobody from watching.
fn open_door(
    path: &Path,
    pots: Vec<String>,
    larder: Larder,
    items: SyncSender<Item>,
) -> Option<Door> {
    let opened = Door::open(path, Doorkeeper { pots, larder, items });
    opened
        .map_err(|why| tracing::warn!("the cook cannot be heard at {}: {why}", path.display()))
        .ok()
}

/// What all sources are given.
struct Lines {
    clock: Clock,
    items: SyncSender<Item>,
    halt: Halt,
    began: Moment,
}

impl Lines {
    fn open(self, sources: Vec<(Vec<usize>, Named)>) -> io::Result<()> {
        for (pots, (name, source)) in sources {
            let (clock, items, halt) = (self.clock.clone(), self.items.clone(), self.halt.clone());
            Line { pots, clock, items, halt, began: self.began }.open(&name, source)?;
        }
        Ok(())
    }
}

/// The conversations with the broker.
struct Talk(Vec<(Mailbox, JoinHandle<()>)>);

impl Talk {
    fn begin(telling: Telling, post: Post, names: Vec<String>, items: SyncSender<Item>) -> Self {
        let (outbox, by_homie) = (post.outbox(), post.homie.clone());
        let own = mqtt::Settings { homie: None, ..telling.settings.clone() };
        let mut talk = Self(Vec::new());
        let mailbox = post.mailbox.clone();
        let mut listener = Listener { post, names, items, larder: telling.larder, away: None };
        talk.open(own, mailbox, outbox, move |heard| listener.hear(heard));
        if let Some(homie) = by_homie {
            let client_id = format!("{}-homie", telling.settings.client_id);
            let settings = mqtt::Settings { client_id, commands: false, ..telling.settings };
            // What is amiss with the broker is said by the other.
            talk.open(settings, homie.mailbox, Queue::with_room(0), |_| ());
        }
        talk
    }

    fn open(
        &mut self,
        settings: mqtt::Settings,
        mailbox: Mailbox,
        outbox: impl Outbox + 'static,
        heard: impl FnMut(Heard) + Send + 'static,
    ) {
        let task = mqtt::run(settings, mailbox.clone(), outbox, heard);
        self.0.push((mailbox, tokio::spawn(task)));
    }

    async fn end(self) {
        self.0.iter().for_each(|(mailbox, _)| mailbox.stop());
        for (_, task) in self.0 {
            let _ = task.await;
        }
    }
}

/// Waits for the loop's end, which comes by itself or by the stop.
async fn until_stopped(
    stop: impl Future<Output = ()>,
    mut ended: oneshot::Receiver<Vec<PotLife>>,
    items: SyncSender<Item>,
    halt: &Halt,
) -> Vec<PotLife> {
    tokio::select! {
        pots = &mut ended => {
            halt.tell();
            return pots.unwrap_or_default();
        }
        () = stop => {}
    }
    halt.tell();
    // The queue may be full: its loop is working it off.
    let _ = tokio::task::spawn_blocking(move || items.send(Item::Stop)).await;
    ended.await.unwrap_or_default()
}

fn close(keeper: Arc<Keeper>) -> Health {
    match Arc::try_unwrap(keeper) {
        Ok(keeper) => keeper.close(),
        // A source that hangs in its device may still hold on to it.
        Err(keeper) => keeper.flush(),
    }
}

/// What comes from the broker's side.
struct Listener {
    post: Post,
    /// The pots as topic levels.
    names: Vec<String>,
    items: SyncSender<Item>,
    larder: Larder,
    /// Why there is no connection, said once.
    away: Option<String>,
}

impl Listener {
    fn hear(&mut self, heard: Heard) {
        match heard {
            Heard::Connected { protocol } => {
                self.post.set_connected(true);
                self.away = None;
                tracing::info!("the broker is told, by MQTT {protocol}");
            }
            Heard::Away { why } => {
                self.post.set_connected(false);
                if self.away.as_ref() != Some(&why) {
                    tracing::warn!("{why}; what must arrive is kept");
                    self.away = Some(why);
                }
            }
            Heard::Said { pot, words } => self.said(&pot, &words),
        }
    }

    fn said(&self, level: &str, text: &str) {
        let Some(pot) = self.names.iter().position(|name| name == level) else {
            tracing::warn!("the broker speaks to \"{level}\", which is no pot that is watched");
            return;
        };
        match words::understand(text, &self.larder) {
            Ok(says) => {
                if self
                    .items
                    .try_send(Item::Said { pot, says, by: "the broker".to_owned(), answer: None })
                    .is_err()
                {
                    tracing::error!("the cook's word \"{text}\" came while too much was waiting");
                }
            }
            Err(why) => tracing::warn!("{why}"),
        }
    }
}
