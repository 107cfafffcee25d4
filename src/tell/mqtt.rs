//! The board's word to an MQTT broker.
//!
//! [`run`] keeps one connection, and tries again for as long as it must. Birth: on every connection
//! the status `online`, then all state, then what waits in the outbox. Clean stop: the status
//! `disconnected`, its acknowledgement awaited for a moment, then a goodbye, after which the broker
//! sends no will. If the board falls silent the broker says `lost` for it.
//!
//! Commands are heard only where the settings allow them, only on `…/set`, and never when retained:
//! a retained command would be obeyed again at every start. Who may say them is the broker's to
//! decide.

pub mod backoff;
pub mod desk;
pub mod homie;
mod link;
pub mod mailbox;
pub mod message;
pub mod outbox;
pub mod senml;
pub mod tls;
pub mod topic;
pub mod trial;
mod trouble;

use std::fmt;
use std::hash::{BuildHasher, RandomState};
use std::sync::Arc;
use std::time::Duration;

use tokio::sync::mpsc;
use tokio::time::{Instant, sleep_until, timeout};

use backoff::Backoff;
use desk::Desk;
use homie::Device;
use link::{Event, Link, Protocol};
use mailbox::Mailbox;
use message::{Message, State, Status};
use outbox::Outbox;
use topic::Topics;
use trouble::{Kind, Trouble};

/// Where the broker is and who we are there.
#[derive(Debug, Clone)]
pub struct Settings {
    pub host: String,
    pub port: u16,
    /// Unique at the broker, and the same at every start.
    pub client_id: String,
    pub board: String,
    /// As topic levels.
    pub pots: Vec<String>,
    pub version: &'static str,
    pub login: Option<Login>,
    pub tls: Option<Arc<rustls::ClientConfig>>,
    /// Whether the cook may speak through `…/set`.
    pub commands: bool,
    /// Speaks as this device by the Homie convention, and not by dekchi's own topics.
    pub homie: Option<Device>,
}

#[derive(Clone, PartialEq, Eq)]
pub struct Login {
    pub user: String,
    pub password: String,
}

/// Never shows the password.
impl fmt::Debug for Login {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "Login({:?})", self.user)
    }
}

/// What the broker's side tells the daemon.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Heard {
    Connected {
        protocol: &'static str,
    },
    /// No connection; why, in words.
    Away {
        why: String,
    },
    /// Somebody spoke to a pot, named as a topic level.
    Said {
        pot: String,
        words: String,
    },
}

/// How long a clean stop may take.
const GOODBYE: Duration = Duration::from_secs(2);
const EVENTS: usize = 16;
/// A status names another client with our name for this long after it was met.
const RIVAL_IS_NEWS: Duration = Duration::from_secs(600);
/// A broker that shuts this many connections in a row has a reason.
const SUSPICIOUS: u32 = 3;

/// Publishes until told to stop. `heard` must not block.
pub async fn run<O: Outbox>(
    settings: Settings,
    mailbox: Mailbox,
    outbox: O,
    heard: impl FnMut(Heard),
) {
    let topics = Topics::of(&settings.board);
    let mut board = Board {
        desk: Desk::new(outbox),
        topics,
        mailbox,
        heard,
        told: Vec::new(),
        rival: None,
        shut: 0,
        stopping: false,
        settings,
    };
    board.live().await;
}

struct Board<O, H> {
    settings: Settings,
    topics: Topics,
    desk: Desk<O>,
    mailbox: Mailbox,
    heard: H,
    /// What the daemon says is amiss.
    told: Vec<String>,
    /// Another client with our name, in words.
    rival: Option<String>,
    /// How often in a row the broker shut the connection soon after it was made.
    shut: u32,
    stopping: bool,
}

impl<O: Outbox, H: FnMut(Heard)> Board<O, H> {
    async fn live(&mut self) {
        let mut protocol = Protocol::V5;
        let mut backoff = Backoff::default();
        loop {
            let begun = Instant::now();
            let (trouble, was_up) = self.connection(protocol).await;
            if self.stopping {
                return;
            }
            let stood = if was_up { begun.elapsed() } else { Duration::ZERO };
            self.lost(&trouble, was_up, stood);
            let refused = matches!(trouble.kind, Kind::OtherProtocol | Kind::Shut) && !was_up;
            if refused && protocol == Protocol::V5 {
                protocol = Protocol::V311;
                continue;
            }
            protocol = Protocol::V5;
            self.rest(backoff.pause(stood, trouble.kind == Kind::Refused, luck())).await;
        }
    }

    fn lost(&mut self, trouble: &Trouble, was_up: bool, stood: Duration) {
        let shut_again = trouble.kind == Kind::Shut && was_up && stood < RIVAL_IS_NEWS;
        self.shut = if shut_again { self.shut + 1 } else { 0 };
        if trouble.kind == Kind::TakenOver {
            self.rival = Some(trouble.words.clone());
        } else if self.shut >= SUSPICIOUS {
            self.rival = Some(Trouble::suspicion(&self.settings));
        }
        (self.heard)(Heard::Away { why: trouble.words.clone() });
    }

    /// Waits for the next attempt; the mailbox is emptied meanwhile.
    async fn rest(&mut self, pause: Duration) {
        let until = Instant::now() + pause;
        while !self.stopping {
            tokio::select! {
                () = sleep_until(until) => return,
                () = self.mailbox.news() => self.empty_mailbox(),
            }
        }
    }

    fn empty_mailbox(&mut self) {
        let mail = self.mailbox.empty();
        mail.held.into_values().for_each(|message| self.desk.hold(message));
        if mail.look {
            self.desk.look();
        }
        if let Some(told) = mail.trouble {
            self.told = told;
            self.hold_status(State::Online);
        }
        self.stopping |= mail.stop;
    }

    fn hold_status(&mut self, state: State) {
        let message = self.status(state);
        match self.settings.homie {
            None => self.desk.hold_status(message),
            // "ready" is said after all that is to be found there.
            Some(_) => self.desk.hold_last(message),
        }
    }

    fn status(&self, state: State) -> Message {
        if let Some(device) = &self.settings.homie {
            return device.state(state);
        }
        let trouble = self.told.iter().chain(&self.rival).cloned().collect();
        let (version, pots) = (self.settings.version, self.settings.pots.clone());
        Message::status(&self.topics, &Status { state, version, pots, trouble })
    }

    /// One connection from its opening to its end, and whether it ever stood.
    async fn connection(&mut self, protocol: Protocol) -> (Trouble, bool) {
        let settings = self.settings.clone();
        let (link, line) = link::open(protocol, &settings, &self.status(State::Lost));
        let (sender, mut events) = mpsc::channel(EVENTS);
        let line = line.drive(sender, &settings);
        tokio::pin!(line);
        let mut up = false;
        let mut forget_at = self.rival.is_some().then(|| Instant::now() + RIVAL_IS_NEWS);
        loop {
            if self.stopping {
                if up {
                    let leave = async { tokio::join!(self.leave(&link, &mut events), line) };
                    let _ = timeout(GOODBYE, leave).await;
                }
                return (Trouble::goodbye(), up);
            }
            let old_news = forget_at.unwrap_or_else(Instant::now);
            tokio::select! {
                trouble = &mut line => return (trouble, up),
                event = events.recv() => up |= self.on(event, &link, protocol),
                () = self.mailbox.news() => self.empty_mailbox(),
                () = sleep_until(old_news), if forget_at.is_some() => {
                    forget_at = None;
                    self.rival = None;
                    self.hold_status(State::Online);
                }
            }
            if up && !self.send(&link) {
                return (Trouble::silent(&settings), up);
            }
        }
    }

    /// `true` where the connection has just been made.
    fn on(&mut self, event: Option<Event>, link: &Link, protocol: Protocol) -> bool {
        match event {
            Some(Event::Up(limit)) => {
                self.hold_status(State::Online);
                self.desk.connected(limit);
                if self.settings.commands && !link.subscribe(&self.topics.set_filter()) {
                    tracing::warn!("cannot listen for commands");
                }
                (self.heard)(Heard::Connected { protocol: protocol.name() });
                return true;
            }
            Some(Event::Written(packet)) => self.desk.written(packet),
            Some(Event::Answered { packet, accepted }) => self.desk.answered(packet, accepted),
            Some(Event::Said { topic, payload, retained }) => {
                self.listen(&topic, payload, retained);
            }
            None => {}
        }
        false
    }

    fn listen(&mut self, topic: &[u8], payload: Vec<u8>, retained: bool) {
        if retained || !self.settings.commands {
            return;
        }
        let pot = std::str::from_utf8(topic).ok().and_then(|topic| self.topics.pot_of_set(topic));
        if let (Some(pot), Ok(words)) = (pot, String::from_utf8(payload)) {
            (self.heard)(Heard::Said { pot: pot.to_owned(), words });
        }
    }

    /// `false` where the library did not take what it has room for.
    fn send(&mut self, link: &Link) -> bool {
        while let Some(message) = self.desk.take() {
            if !link.publish(message) {
                return false;
            }
        }
        true
    }

    /// Says `disconnected`, waits for the answers to all that is on its way, and says goodbye.
    async fn leave(&mut self, link: &Link, events: &mut mpsc::Receiver<Event>) {
        self.hold_status(State::Disconnected);
        while self.send(link) && self.desk.on_the_way() > 0 {
            match events.recv().await {
                Some(event) => self.on_answer(event),
                None => return,
            }
        }
        let _ = link.goodbye();
    }

    fn on_answer(&mut self, event: Event) {
        match event {
            Event::Written(packet) => self.desk.written(packet),
            Event::Answered { packet, accepted } => self.desk.answered(packet, accepted),
            Event::Up(_) | Event::Said { .. } => {}
        }
    }
}

/// A number in 0..1 that differs from board to board and from call to call.
fn luck() -> f64 {
    (RandomState::new().hash_one(0_u8) >> 11) as f64 / (1_u64 << 53) as f64
}
