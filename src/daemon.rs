//! Assembly of the running whole.
//!
//! ```text
//! source ─▶ items ─▶ main_loop ─▶ pot: judgement, story ─┬─▶ keeper     (its own thread)
//!  (one thread each)  (one thread)                       ├─▶ post ─▶ MQTT  (the main thread)
//!                                                        └─▶ drawer     (its own thread)
//! ```
//!
//! Each arrow is bounded or keeps only the newest, and nothing to the right of the loop can hold it
//! up. At a stop the sources fall silent first; the loop works off what they said, hands on its last
//! packs and curves, and ends; the broker is told goodbye; the store is written and closed. So nothing
//! that was measured is lost.

pub mod begin;
pub mod board;
pub mod clock;
pub mod door;
pub mod draw;
pub mod halt;
pub mod main_loop;
pub mod post;
pub mod pot;
pub mod sensors;
pub mod source;
pub mod stove;
pub mod supervise;
pub mod telling;

use std::future::Future;
use std::io;
use std::sync::Arc;
use std::sync::mpsc::{SyncSender, sync_channel};
use std::thread;

use tokio::runtime::Builder;
use tokio::sync::oneshot;

use crate::batch::larder::Larder;
use crate::keep::health::Health;
use crate::keep::keeper::Keeper;
use crate::moment::Moment;
use crate::tell::mqtt::{self, Heard};
use crate::watch::words;

use begin::Begun;
use clock::Clock;
use draw::Drawer;
use halt::Halt;
use main_loop::{Daemon, Observer, Watched};
use post::Post;
use pot::{Outlets, PotLife, Rhythm};
use sensors::Named;
use source::{Item, Line};
use stove::{Fittings, Stove};

/// Samples that may wait for the judgement: some seconds of a board's.
const ITEMS: usize = 1024;
/// Name look-ups.
const BLOCKING_THREADS: usize = 2;

/// A pot that is to be watched.
pub struct PotSetup {
    pub begun: Begun,
    pub sources: Vec<Named>,
}

/// Whom the board tells, and what the cook may call things by when speaking through the broker.
pub struct Telling {
    pub settings: mqtt::Settings,
    pub larder: Larder,
}

/// Everything that is needed to run.
pub struct Setup {
    pub clock: Clock,
    pub boot: String,
    /// When the pots began, on the clock.
    pub began: Moment,
    pub keeper: Keeper,
    pub pots: Vec<PotSetup>,
    pub telling: Option<Telling>,
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
    let Setup {
        clock,
        boot,
        began,
        keeper,
        telling,
        pots,
        rhythm,
        observer,
        fittings,
        ends_when_over,
    } = setup;
    let stove = Stove::default();
    let keeper = Arc::new(keeper);
    let post = telling
        .as_ref()
        .map(|telling| Post::open(&telling.settings.board, Arc::clone(&keeper), &boot, began));
    let drawer = post.clone().map(Drawer::open).transpose()?;
    let (items, taken) = sync_channel(ITEMS);
    let halt = Halt::default();
    let outlets = Outlets { keeper: &keeper, post: post.as_ref(), clock: &clock };
    let mut watched = Vec::new();
    let mut sources = Vec::new();
    for (number, pot) in pots.into_iter().enumerate() {
        let live = pot.sources.iter().any(|(_, source)| source.is_live());
        sources.extend(pot.sources.into_iter().map(|source| (number, source)));
        let Begun { setting, watch, story, key } = pot.begun;
        let life = PotLife::new((watch, story), setting, key, rhythm, &outlets);
        watched.push(Watched { life, live, heard: began });
    }
    let names = watched.iter().map(|pot| pot.life.level.clone()).collect();
    let daemon = Daemon {
        pots: watched,
        keeper: Arc::clone(&keeper),
        post: post.clone(),
        drawer,
        clock: clock.clone(),
        observer,
        stove: stove.clone(),
        ends_when_over,
    };
    stove.open(fittings, daemon.pots.len(), clock.clone(), items.clone(), halt.clone())?;
    let (end, ended) = oneshot::channel();
    let looping = thread::Builder::new()
        .name("watch".to_owned())
        .spawn(move || drop(end.send(daemon.run(&taken))))?;
    for (pot, (name, source)) in sources {
        let line =
            Line { pot, clock: clock.clone(), items: items.clone(), halt: halt.clone(), began };
        line.open(&name, source)?;
    }
    let pots = runtime.block_on(async {
        let talk = telling.zip(post.clone()).map(|(telling, post)| {
            let listener = Listener {
                post: post.clone(),
                names,
                items: items.clone(),
                larder: telling.larder,
                away: None,
            };
            tokio::spawn(talk(telling.settings, post, listener))
        });
        let pots = until_stopped(stop, ended, items, &halt).await;
        if let Some(post) = &post {
            post.mailbox.stop();
        }
        if let Some(talk) = talk {
            let _ = talk.await;
        }
        pots
    });
    let _ = looping.join();
    drop(post);
    let store = close(keeper);
    Ok(Ended { pots, store })
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

async fn talk(settings: mqtt::Settings, post: Post, mut listener: Listener) {
    let (mailbox, outbox) = (post.mailbox.clone(), post.outbox());
    mqtt::run(settings, mailbox, outbox, move |heard| listener.hear(heard)).await;
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
                    .try_send(Item::Said { pot, says, by: "the broker".to_owned() })
                    .is_err()
                {
                    tracing::error!("the cook's word \"{text}\" came while too much was waiting");
                }
            }
            Err(why) => tracing::warn!("{why}"),
        }
    }
}
