//! What the routes share.

use std::collections::HashMap;
use std::net::IpAddr;
use std::sync::{Arc, Mutex, PoisonError};

use axum::body::Bytes;
use tokio::sync::{OwnedSemaphorePermit, Semaphore, watch};
use tokio::time::Instant;

use crate::show::board::{Board, PotNow};
use crate::show::comparison::{self, Comparison};
use crate::show::curve::{self, Size, Style};
use crate::show::page;
use crate::show::paint::{Type, Unpainted};

use super::live::News;
use super::rate::{Ask, Rates};
use super::token::{self, Hash};
use super::{House, Settings};

/// Streams that are open at once.
pub const STREAMS: usize = 160;
/// Pictures that are drawn at once.
const DRAWERS: usize = 2;

pub type Shared = Arc<Site>;

/// The site as its routes know it.
pub struct Site {
    pub settings: Settings,
    pub house: House,
    /// What was told last; sent by [`super::live::tell`].
    pub news: watch::Sender<Arc<News>>,
    pub stopped: watch::Receiver<bool>,
    pub etag: String,
    rates: Mutex<Rates>,
    streams: Arc<Semaphore>,
    drawers: Semaphore,
    drawings: Mutex<HashMap<Sheet, (u64, Bytes)>>,
}

/// How wide a drawing is: for a phone in the hand, for a tablet, and for anything wider.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Width {
    Narrow,
    Middle,
    Wide,
}

impl Width {
    const fn size(self) -> Size {
        let (width, height) = match self {
            Self::Narrow => (380, 420),
            Self::Middle => (720, 430),
            Self::Wide => (1000, 520),
        };
        Size { width, height, density: 1 }
    }
}

/// A drawing that is kept until a newer one is due.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Sheet {
    pub pot: usize,
    pub width: Width,
    pub dark: bool,
}

impl Site {
    pub fn new(settings: Settings, house: House, stopped: watch::Receiver<bool>) -> Shared {
        let board = house.board.borrow().clone();
        let (news, _) = watch::channel(Arc::new(News::first(board)));
        Arc::new(Self {
            settings,
            house,
            news,
            stopped,
            etag: etag(),
            rates: Mutex::default(),
            streams: Arc::new(Semaphore::new(STREAMS)),
            drawers: Semaphore::new(DRAWERS),
            drawings: Mutex::default(),
        })
    }

    /// Takes one from an address's allowance; how many seconds it must wait where none is left.
    pub fn take(&self, from: IpAddr, ask: Ask) -> Result<(), u64> {
        let mut rates = self.rates.lock().unwrap_or_else(PoisonError::into_inner);
        rates.take(from, ask, Instant::now())
    }

    /// What the phone with this token is called.
    pub async fn phone(&self, token: Hash) -> Option<String> {
        let phones = Arc::clone(&self.house.phones);
        tokio::task::spawn_blocking(move || phones.name(&token)).await.ok().flatten()
    }

    /// A place among the streams.
    pub fn stream(&self) -> Option<OwnedSemaphorePermit> {
        Arc::clone(&self.streams).try_acquire_owned().ok()
    }

    pub fn news(&self) -> Arc<News> {
        self.news.borrow().clone()
    }

    pub fn board(&self) -> Arc<Board> {
        Arc::clone(&self.news.borrow().board)
    }

    /// The curve of a pot as it was told last, drawn once for everyone.
    pub async fn curve(&self, sheet: Sheet) -> Result<Bytes, String> {
        // The turn first: who waits finds the drawing that the one before has made.
        let _turn = self.drawers.acquire().await.map_err(|closed| closed.to_string())?;
        let news = self.news();
        let drawn = news.drawn(sheet.pot);
        if let Some((kept, bytes)) = self.drawings().get(&sheet) {
            if *kept == drawn {
                return Ok(bytes.clone());
            }
        }
        let pot = news.board.pots.get(sheet.pot).cloned().ok_or("there is no such pot")?;
        let bytes = draw(pot, sheet.width, sheet.dark).await?;
        self.drawings().insert(sheet, (drawn, bytes.clone()));
        Ok(bytes)
    }

    /// The curve of a pot that is not watched now.
    pub async fn kept_curve(&self, pot: PotNow, width: Width, dark: bool) -> Result<Bytes, String> {
        let _turn = self.drawers.acquire().await.map_err(|closed| closed.to_string())?;
        draw(pot, width, dark).await
    }

    /// Batches laid over each other.
    pub async fn compared(
        &self,
        all: Comparison,
        width: Width,
        dark: bool,
    ) -> Result<Bytes, String> {
        let _turn = self.drawers.acquire().await.map_err(|closed| closed.to_string())?;
        let width = width.size().width;
        let look = comparison::Look { width, density: 1, dark, set_in: Type::Embedded, bare: true };
        painted(move || comparison::svg(&all, look)).await
    }

    fn drawings(&self) -> std::sync::MutexGuard<'_, HashMap<Sheet, (u64, Bytes)>> {
        self.drawings.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

/// The tag of the style and the script as this program has them.
fn etag() -> String {
    let [a, b, c, d, ..] = token::hash(&(page::style() + page::SCRIPT + page::PUSH_SCRIPT));
    format!("\"{:08x}\"", u32::from_be_bytes([a, b, c, d]))
}

async fn draw(pot: PotNow, width: Width, dark: bool) -> Result<Bytes, String> {
    let size = width.size();
    let style = Style {
        dark,
        clock: pot.clock,
        heading: false,
        set_in: Type::Embedded,
        ..Style::new(size)
    };
    painted(move || curve::svg(&pot.story, &style)).await
}

/// Paints on a thread where painting may take its time.
async fn painted(
    paint: impl FnOnce() -> Result<String, Unpainted> + Send + 'static,
) -> Result<Bytes, String> {
    let svg = tokio::task::spawn_blocking(paint).await.map_err(|gone| gone.to_string())?;
    svg.map(Bytes::from).map_err(|unpainted| unpainted.to_string())
}
