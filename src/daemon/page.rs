//! The page's side of the daemon: the board as it is now goes out, a cook's words come in.
//!
//! Neither ever waits: of the board the page has the newest, and a word that finds the judgement's
//! queue full is refused where it was said.

use std::path::{Path, PathBuf};
use std::sync::mpsc::{Receiver, SyncSender, sync_channel};
use std::sync::{Arc, OnceLock};
use std::time::Duration;

use tokio::sync::watch;

use crate::batch::composition::Composition;
use crate::batch::plan::{Plan, Start};
use crate::config::kitchen::Kitchen;
use crate::keep::Browser;
use crate::keep::health::Health;
use crate::keep::keeper::Keeper;
use crate::keep::library::{Library, Unreadable};
use crate::keep::phones::{self, InBoot, Phones, PhonesTrouble};
use crate::moment::Moment;
use crate::serve::token::{self, Hash, NoRandom};
use crate::serve::{self, CannotServe, House, Serving, Settings};
use crate::show::board::{Board, Kept, KeptBatch, PotNow, StoreNow};
use crate::show::clock::Clock as WallClock;
use crate::show::story::Story;
use crate::watch::event::CookSays;

use super::clock::{Clock, boot_id};
use super::earlier::{self, CannotTell, Earlier};
use super::main_loop::Station;
use super::pocket::{Pocket, Push};
use super::source::Item;
use super::telling::host_name;

/// How often the page hears of the board, in real time.
const EVERY: Duration = Duration::from_secs(1);

/// A code is good for this long, ms.
pub const CODE_MS: i64 = 600_000;

/// Browsers that may wait to be kept.
const BROWSERS: usize = 8;

/// Where the board is shown.
#[derive(Debug)]
pub struct Page {
    board: watch::Sender<Arc<Board>>,
    ear: Arc<Ear>,
    kitchen: String,
    /// Milliseconds of the pots' time between two tellings.
    every_ms: i64,
    due_ms: i64,
    /// Browsers that asked to be told, to be kept.
    browsers: Receiver<Browser>,
    /// Kept so that the page ends with the daemon.
    serving: Serving,
}

/// Serves the page of this board, which shows nothing yet; the phones are those beside the store.
///
/// # Errors
/// Where the page cannot be served.
pub fn open(
    mut settings: Settings,
    kitchen: &Kitchen,
    store: &Path,
    clock: &Clock,
    push: Option<Push>,
) -> Result<Page, CannotServe> {
    let host = host_name();
    settings.names.extend([format!("{host}.local"), host]);
    let name = kitchen.name.clone().unwrap_or_else(|| "The kitchen".to_owned());
    let (board, shown) =
        watch::channel(Arc::new(Board { kitchen: name.clone(), ..Board::default() }));
    let ear = Arc::<Ear>::default();
    let (kept, browsers) = sync_channel(BROWSERS);
    let house = House {
        board: shown,
        ear: Arc::clone(&ear) as Arc<dyn serve::Ear>,
        shelf: Arc::new(Shelf { store: store.to_owned(), clock: clock.clone() }),
        phones: Arc::new(Paired::beside(store, clock)),
        pocket: push.map(|push| Arc::new(Pocket { push, kept }) as Arc<dyn serve::Pocket>),
        larder: Arc::new(kitchen.larder.clone()),
    };
    let serving = serve::open(settings, house)?;
    let every_ms = clock.in_real(EVERY);
    Ok(Page { board, ear, kitchen: name, every_ms, due_ms: 0, browsers, serving })
}

impl Page {
    /// The address to type into a browser on this machine.
    #[must_use]
    pub fn url(&self) -> String {
        self.serving.url()
    }

    /// From now on what is said by the page goes to this judgement.
    pub fn speak_to(&self, items: SyncSender<Item>) {
        // It is opened for one judgement.
        let _ = self.ear.0.set(items);
    }

    /// Something happened that the page should not wait for.
    pub const fn hurry(&mut self) {
        self.due_ms = 0;
    }

    /// Shows the board where that is due.
    pub fn show(
        &mut self,
        stations: &[Station],
        keeper: &Keeper,
        broker: Option<bool>,
        clock: &Clock,
    ) {
        let now = clock.now();
        if now.ms() < self.due_ms {
            return;
        }
        self.due_ms = now.ms() + self.every_ms;
        self.browsers.try_iter().for_each(|browser| keeper.browser(browser));
        let pots = stations.iter().map(|station| {
            let silent_s = if station.live { (now - station.heard).max(0.0) } else { 0.0 };
            let pot = station.life.as_ref().map(|life| life.on_the_page(clock));
            PotNow { silent_s, ..pot.unwrap_or_else(|| idle(station, clock)) }
        });
        let (kitchen, pots) = (self.kitchen.clone(), pots.collect());
        self.board.send_replace(Arc::new(Board {
            kitchen,
            pots,
            store: store(&keeper.health()),
            broker,
        }));
    }
}

fn idle(station: &Station, clock: &Clock) -> PotNow {
    let (pot, now) = (&station.pot, clock.now());
    let start = Start { contents_kg: 0.0, lid_on: false, composition: Composition::WATER };
    let (name, additions) = (pot.name.clone(), vec![]);
    let plan = Plan {
        name: String::new(),
        pot: name.clone(),
        start,
        additions,
        target: None,
        stages: vec![],
    };
    PotNow {
        name,
        plan: Arc::new(plan),
        story: Arc::new(Story::new("", pot.clone(), None)),
        clock: on_the_wall(clock, now),
        now,
        silent_s: 0.0,
        idle: Some(station.idle.clone()),
        over: false,
    }
}

/// The board's own clock as the wall has it; `None` while the board does not know the time.
fn on_the_wall(clock: &Clock, now: Moment) -> Option<WallClock> {
    let wall = clock.wall(now);
    let offset_s = clock.offset_s(wall);
    wall.set.then_some(WallClock { utc_ms_at_zero: wall.utc_ms - now.ms(), offset_s })
}

fn store(health: &Health) -> StoreNow {
    StoreNow {
        trouble: health.trouble.as_ref().map(|trouble| trouble.kind.words()),
        commits: health.commits,
        waiting_rows: health.waiting_rows as u64,
        lost_samples: health.lost_samples,
        lost_rows: health.lost_rows,
    }
}

#[derive(Debug, Default)]
struct Ear(OnceLock<SyncSender<Item>>);

impl serve::Ear for Ear {
    fn hear(&self, pot: usize, says: CookSays, by: &str) -> bool {
        let said = Item::Said { pot, says, by: by.to_owned(), answer: None };
        self.0.get().is_some_and(|items| items.try_send(said).is_ok())
    }
}

/// Why no code is to be had: one sentence.
#[derive(Debug, thiserror::Error)]
pub enum NoCode {
    #[error(transparent)]
    Phones(#[from] PhonesTrouble),
    #[error(transparent)]
    Random(#[from] NoRandom),
}

/// A one-time code by which one phone can be paired, good for [`CODE_MS`].
///
/// # Errors
/// Where it cannot be kept.
pub fn offer(phones: &Phones) -> Result<String, NoCode> {
    let code = token::code()?;
    let (boot, at) = (boot_id(), Clock::of_the_board().now());
    phones.offer(&token::code_hash(&code), InBoot { boot: &boot, at }, CODE_MS)?;
    Ok(code)
}

struct Shelf {
    store: PathBuf,
    clock: Clock,
}

impl serve::Shelf for Shelf {
    fn list(&self) -> Result<Vec<Kept>, String> {
        let entries = Library::open(&self.store).and_then(|library| library.list());
        let entries = entries.map_err(|why| why.to_string())?;
        Ok(entries.iter().map(|entry| earlier::kept(entry, &self.clock)).collect())
    }

    fn batch(&self, number: i64) -> Result<Option<KeptBatch>, String> {
        let library = Library::open(&self.store).map_err(|why| why.to_string())?;
        match Earlier::read(&library, number) {
            Ok(batch) => Ok(Some(batch.on_the_page(&self.clock))),
            Err(CannotTell::Store(Unreadable::NoBatch(_))) => Ok(None),
            Err(why) => Err(why.to_string()),
        }
    }
}

/// The phones that are paired with this board. Codes end by the board's own clock.
struct Paired {
    phones: Option<Phones>,
    boot: String,
    clock: Clock,
}

impl Paired {
    fn beside(store: &Path, clock: &Clock) -> Self {
        let phones = Phones::open(&phones::beside(store));
        if let Err(why) = &phones {
            tracing::error!("{why}; nobody can speak to the pots by the page");
        }
        Self { phones: phones.ok(), boot: boot_id(), clock: clock.clone() }
    }

    fn phones(&self) -> Result<&Phones, String> {
        self.phones.as_ref().ok_or_else(|| "The board cannot keep phones now.".to_owned())
    }
}

impl serve::Phones for Paired {
    fn name(&self, token: &Hash) -> Option<String> {
        let name = self.phones.as_ref()?.name(token);
        name.inspect_err(|why| tracing::error!("{why}")).ok().flatten()
    }

    fn pair(&self, code: &Hash, token: &Hash, name: &str) -> Result<(), String> {
        let at = Clock::of_the_board().now();
        let wall = self.clock.wall(self.clock.now());
        let now = InBoot { boot: &self.boot, at };
        let paired = self.phones()?.pair(code, token, name, now, wall);
        paired.inspect(|()| tracing::info!("a phone was paired as {name:?}")).map_err(|why| {
            tracing::warn!("no phone was paired: {why}");
            why.to_string()
        })
    }

    fn forget(&self, token: &Hash) -> Result<(), String> {
        self.phones()?.forget_token(token).map_err(|why| why.to_string())
    }
}
