//! News: the parts of the page that changed, by Server-Sent Events.
//!
//! One task draws the parts anew whenever the board has something new, at most a few times a second
//! and once for everyone who looks. Each part remembers the news in which it changed last, so that
//! one who was away says which he had last (`Last-Event-ID`) and gets what changed since, in one
//! piece; who comes from before the board's last start gets everything.

use std::convert::Infallible;
use std::sync::Arc;
use std::time::Duration;

use axum::response::sse::Event;
use futures_util::stream::{Stream, unfold};
use serde_json::{Value, json};
use tokio::sync::{OwnedSemaphorePermit, watch};
use tokio::time::{Instant, Interval, interval, sleep};

use crate::show::board::{Board, PotNow};
use crate::show::page::{self, Part, pot, sentence};
use crate::watch::action::AlarmState;

use super::door::told;
use super::site::Shared;
use super::token::{self, Hash};

/// News come no faster than this.
const REST: Duration = Duration::from_millis(250);
/// A curve is drawn anew no faster than this.
const CURVE: Duration = Duration::from_secs(10);
/// A sign of life while there are no news.
const PULSE: Duration = Duration::from_secs(10);
/// After how many signs of life it is asked whether the phone is still paired.
const ASK_AGAIN: u32 = 6;

/// The board and its parts as they were told last.
#[derive(Debug, Clone)]
pub struct News {
    pub board: Arc<Board>,
    /// When the board was heard last.
    pub heard: Instant,
    /// Unlike every other start's.
    start: String,
    number: u64,
    pots: Vec<PotNews>,
}

#[derive(Debug, Clone, Default)]
struct PotNews {
    /// Each part, and the news in which it changed last.
    parts: Vec<(Part, u64)>,
    drawn: u64,
    drawn_at: Option<Instant>,
    /// What the drawing shows that does not wait: so many things happened.
    happened: usize,
}

/// Whose news one wants.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Of {
    Pot(usize),
    Pass,
}

impl News {
    pub fn first(board: Arc<Board>) -> Self {
        let start = token::random::<4>().map_or(0, u32::from_be_bytes);
        let start = format!("{start:08x}");
        let now = Instant::now();
        let none = Self { board: Arc::default(), heard: now, start, number: 0, pots: vec![] };
        none.next(board, now)
    }

    /// The news after these.
    fn next(&self, board: Arc<Board>, now: Instant) -> Self {
        let number = self.number + 1;
        let none = PotNews::default();
        let before = |n| self.pots.get(n).unwrap_or(&none);
        let pots = board.pots.iter().enumerate();
        let pots = pots.map(|(n, pot)| before(n).next(n, pot, number, now)).collect();
        Self { board, heard: now, start: self.start.clone(), number, pots }
    }

    /// The number of the newest drawing of a pot's curve.
    pub fn drawn(&self, pot: usize) -> u64 {
        self.pots.get(pot).map_or(0, |pot| pot.drawn)
    }

    pub fn all_drawn(&self) -> Vec<u64> {
        self.pots.iter().map(|pot| pot.drawn).collect()
    }

    /// The id of this as an event.
    pub fn id(&self) -> String {
        format!("{}-{}", self.start, self.number)
    }

    /// The clock on the wall.
    pub fn time(&self) -> Option<String> {
        let mut told = self.board.pots.iter().filter_map(|pot| Some(pot.clock?.hh_mm(pot.now)));
        told.next()
    }

    /// The news that one has who had this event last.
    fn after(&self, id: &str) -> u64 {
        let number = id.split_once('-').filter(|(start, _)| *start == self.start);
        number.and_then(|(_, number)| number.parse().ok()).unwrap_or(0)
    }

    /// What changed for someone since the news with this number.
    fn since(&self, number: u64, of: Of) -> Value {
        let mut parts = Vec::new();
        for (n, pot) in self.pots.iter().enumerate() {
            if matches!(of, Of::Pot(one) if one != n) {
                continue;
            }
            let shown = |part: &Part| part.on_the_pass == (of == Of::Pass);
            let changed = pot.parts.iter().filter(|(part, at)| shown(part) && *at > number);
            parts.extend(changed.map(|(part, _)| json!({ "id": part.id, "html": part.html })));
            if pot.drawn > number {
                let told = sentence::curve(&self.board.pots[n]);
                parts.push(json!({ "id": pot::curve_id(n), "drawn": pot.drawn, "told": told }));
            }
        }
        json!({ "time": self.time(), "title": self.title(of), "alert": self.alert(of), "parts": parts })
    }

    fn title(&self, of: Of) -> Option<String> {
        match of {
            Of::Pot(n) => self.board.pots.get(n).map(pot::title),
            Of::Pass => None,
        }
    }

    /// The first alert that nobody has seen, for the sound.
    fn alert(&self, of: Of) -> Option<String> {
        let pots = self.board.pots.iter().enumerate();
        let mut alerts =
            pots.filter(|(n, _)| of == Of::Pass || of == Of::Pot(*n)).filter_map(|(n, pot)| {
                let unseen =
                    pot.story.raised().find(|notice| notice.state == AlarmState::Raised)?;
                Some(format!("{n} {} {}", unseen.alarm.name(), unseen.at.ms()))
            });
        alerts.next()
    }
}

impl PotNews {
    fn next(&self, n: usize, pot: &PotNow, number: u64, now: Instant) -> Self {
        let old = |id: &str| self.parts.iter().find(|(part, _)| part.id == id);
        let parts = page::parts(n, pot).into_iter().map(|part| match old(&part.id) {
            Some((before, at)) if *before == part => (part, *at),
            _ => (part, number),
        });
        let parts = parts.collect();
        let happened = pot.story.happenings.len() + pot.story.words.len();
        if pot.idle.is_some() {
            return Self { parts, ..Self::default() };
        }
        let due = self.drawn_at.is_none_or(|at| now - at >= CURVE) || happened != self.happened;
        let (drawn, drawn_at) = if due { (number, Some(now)) } else { (self.drawn, self.drawn_at) };
        Self { parts, drawn, drawn_at, happened }
    }
}

/// Tells what is new, until the stop or until the board is gone.
pub async fn tell(site: Shared) {
    let mut board = site.house.board.clone();
    let mut stopped = site.stopped.clone();
    loop {
        tokio::select! {
            () = told(&mut stopped) => return,
            changed = board.changed() => if changed.is_err() { return },
        }
        let newest = board.borrow_and_update().clone();
        let news = site.news().next(newest, Instant::now());
        site.news.send_replace(Arc::new(news));
        sleep(REST).await;
    }
}

/// Why one who listens was woken.
enum Woken {
    Stop,
    News,
    Pulse,
}

/// One who listens.
struct Listener {
    site: Shared,
    news: watch::Receiver<Arc<News>>,
    stopped: watch::Receiver<bool>,
    of: Of,
    /// The last news that was sent.
    had: u64,
    /// There are news that were not looked at.
    unread: bool,
    pulse: Interval,
    pulses: u32,
    token: Option<Hash>,
    _place: OwnedSemaphorePermit,
}

/// The events for one who listens and had `last` before.
pub fn stream(
    site: &Shared,
    of: Of,
    last: &str,
    token: Option<Hash>,
    place: OwnedSemaphorePermit,
) -> impl Stream<Item = Result<Event, Infallible>> + use<> {
    let listener = Listener {
        site: Arc::clone(site),
        news: site.news.subscribe(),
        stopped: site.stopped.clone(),
        of,
        had: site.news().after(last),
        unread: true,
        pulse: interval(PULSE),
        pulses: 0,
        token,
        _place: place,
    };
    unfold(listener, |mut listener| async move {
        let event = listener.next().await?;
        Some((Ok(event), listener))
    })
}

impl Listener {
    /// The next event; `None` at the end.
    async fn next(&mut self) -> Option<Event> {
        loop {
            if *self.stopped.borrow() {
                return None;
            }
            if std::mem::take(&mut self.unread) {
                if let Some(event) = self.changed() {
                    return Some(event);
                }
            }
            match self.wait().await {
                Woken::Stop => return None,
                Woken::News => self.unread = true,
                Woken::Pulse => return self.pulse().await,
            }
        }
    }

    async fn wait(&mut self) -> Woken {
        tokio::select! {
            () = told(&mut self.stopped) => Woken::Stop,
            changed = self.news.changed() => if changed.is_ok() { Woken::News } else { Woken::Stop },
            _ = self.pulse.tick() => Woken::Pulse,
        }
    }

    async fn pulse(&mut self) -> Option<Event> {
        self.pulses += 1;
        let asks = self.pulses % ASK_AGAIN == 0;
        if asks && !self.may_stay().await {
            return None;
        }
        Some(self.event("pulse", &Value::Null))
    }

    fn changed(&mut self) -> Option<Event> {
        let news = self.news.borrow_and_update().clone();
        if self.had == news.number {
            return None;
        }
        let what = news.since(self.had, self.of);
        self.had = news.number;
        Some(self.event("news", &what))
    }

    fn event(&self, name: &str, data: &Value) -> Event {
        let news = self.site.news();
        let id = format!("{}-{}", news.start, self.had);
        Event::default().event(name).id(id).retry(Duration::from_secs(2)).data(data.to_string())
    }

    /// A phone that was forgotten hears no more where reading is not open.
    async fn may_stay(&self) -> bool {
        match self.token {
            _ if self.site.settings.open => true,
            Some(token) => self.site.phone(token).await.is_some(),
            None => false,
        }
    }
}
