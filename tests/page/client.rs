//! A client that says exactly what it is told to, and a board to say it to.

use std::collections::HashMap;
use std::net::SocketAddr;
use std::sync::{Arc, Mutex};
use std::time::Duration;

use dekchi::batch::composition::Composition;
use dekchi::batch::larder::Larder;
use dekchi::batch::plan::{Plan, PlannedAddition, Start};
use dekchi::batch::pot::Pot;
use dekchi::moment::Moment;
use dekchi::serve::token::{self, Hash};
use dekchi::serve::{self, Ear, House, Phones, Pocket, Serving, Settings, Shelf, TlsFiles};
use dekchi::show::board::{Board, Kept, KeptBatch, PotNow};
use dekchi::show::clock::Clock;
use dekchi::show::page::Offer;
use dekchi::show::story::{Story, Word};
use dekchi::watch::action::{Action, Alarm, AlarmState, Happening, Notice, Snapshot, Spread, What};
use dekchi::watch::event::CookSays;
use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::{TcpSocket, TcpStream};
use tokio::sync::watch;

/// A board whose pots stand in memory.
pub struct Stand {
    pub serving: Serving,
    pub board: watch::Sender<Arc<Board>>,
    pub heard: Arc<Mutex<Vec<(usize, CookSays, String)>>>,
    pub phones: Arc<Book>,
    /// Who asked to be told, and where.
    pub told: Arc<Mutex<Vec<(String, String)>>>,
    house: House,
}

/// The phones of a test.
#[derive(Default)]
pub struct Book(Mutex<HashMap<Hash, String>>, Mutex<Option<Hash>>);

impl Book {
    /// Pairs a phone; its token.
    pub fn add(&self, name: &str) -> String {
        let token = token::token().unwrap();
        self.0.lock().unwrap().insert(token::hash(&token), name.to_owned());
        token
    }

    pub fn offer(&self, code: &str) {
        *self.1.lock().unwrap() = Some(token::code_hash(code));
    }
}

impl Phones for Book {
    fn name(&self, token: &Hash) -> Option<String> {
        self.0.lock().unwrap().get(token).cloned()
    }

    fn pair(&self, code: &Hash, token: &Hash, name: &str) -> Result<(), String> {
        let mut good = self.1.lock().unwrap();
        if good.as_ref() != Some(code) {
            return Err("that code is not the one that is good now".into());
        }
        *good = None;
        self.0.lock().unwrap().insert(*token, name.to_owned());
        Ok(())
    }

    fn forget(&self, token: &Hash) -> Result<(), String> {
        self.0.lock().unwrap().remove(token);
        Ok(())
    }
}

/// Hears, and shows the board what it heard, as the daemon does.
struct Listening {
    heard: Arc<Mutex<Vec<(usize, CookSays, String)>>>,
    board: watch::Sender<Arc<Board>>,
}

impl Ear for Listening {
    fn hear(&self, pot: usize, says: CookSays, by: &str) -> bool {
        self.heard.lock().unwrap().push((pot, says.clone(), by.to_owned()));
        self.board.send_modify(|board| {
            let board = Arc::make_mut(board);
            let story = Arc::make_mut(&mut board.pots[pot].story);
            story.hear(Word { at: Moment::from_ms(7_000_000), says, by: by.to_owned() });
        });
        true
    }
}

struct Telephones(Arc<Mutex<Vec<(String, String)>>>);

impl Pocket for Telephones {
    fn offer(&self) -> Offer {
        Offer { key: "BKey".into(), people: vec!["pass".into(), "chef's \"own\"".into()] }
    }

    fn add(&self, person: &str, subscription: &str) -> Result<(), String> {
        self.0.lock().unwrap().push((person.to_owned(), subscription.to_owned()));
        Ok(())
    }
}

struct OneBatch(Board);

impl Shelf for OneBatch {
    fn list(&self) -> Result<Vec<Kept>, String> {
        Ok(vec![self.batch(1)?.unwrap().entry])
    }

    fn batch(&self, number: i64) -> Result<Option<KeptBatch>, String> {
        let pot = self.0.pots[0].clone();
        let (name, outcome) = (pot.story.batch.clone(), Some("done".into()));
        let entry = Kept {
            number,
            pot: pot.name.clone(),
            name,
            clock: pot.clock,
            lasted_s: 7000.0,
            outcome,
        };
        Ok((number == 1).then_some(KeptBatch { entry, pot, stove: None }))
    }
}

fn plan(name: &str) -> Plan {
    let composition = Composition::WATER;
    let cream = PlannedAddition { name: name.to_owned(), kg: 0.45, composition };
    let start = Start { contents_kg: 23.6, lid_on: false, composition };
    let (additions, stages) = (vec![cream], vec![]);
    Plan { name: name.into(), pot: "big".into(), start, additions, target: None, stages }
}

/// A pot that reduces, with an alert; everything that can be named is called `name`.
pub fn pot(pot: &str, name: &str) -> PotNow {
    let vessel = Pot {
        name: pot.into(),
        base_diameter_m: 0.4,
        tare_kg: 6.2,
        lid_kg: 1.35,
        height_m: Some(0.3),
    };
    let mut story = Story::new(name, vessel, None);
    for s in 0..700 {
        story.take(&Action::Show(Box::new(Snapshot {
            at: Moment::from_ms(s * 10_000),
            pot_c: Some(98.0),
            contents_kg: Some(24.0 - s as f64 * 0.004),
            target_kg: Some(20.0),
            target_in_s: Some(Spread { p10: 3000.0, p50: 3300.0, p90: 3900.0 }),
            catch_index: Some(0.3),
            stir_within_s: Some(240.0),
            raised: vec![Alarm::StirDue],
            ..Snapshot::default()
        })));
    }
    let at = Moment::from_ms(6_990_000);
    let what = What::Added { kg: 0.5, sd_kg: 0.01, name: Some(name.to_owned()) };
    story.take(&Action::Happened(Happening { at, seen: at, what }));
    let why = "soft and thick".to_owned();
    story.take(&Action::Tell(Notice { at, alarm: Alarm::StirDue, state: AlarmState::Raised, why }));
    PotNow {
        name: pot.into(),
        plan: Arc::new(plan(name)),
        story: Arc::new(story),
        clock: Some(Clock { utc_ms_at_zero: 1_795_622_400_000, offset_s: 0 }),
        now: at,
        silent_s: 0.1,
        idle: None,
        over: false,
    }
}

pub fn settings(open: bool) -> Settings {
    let listen = SocketAddr::from(([127, 0, 0, 1], 0));
    Settings { listen, names: vec!["dekchi.local".into()], open, tls: None }
}

/// A board with these pots, named and called so.
pub fn stand(settings: Settings, pots: &[(&str, &str)]) -> Stand {
    let pots = pots.iter().map(|(name, batch)| pot(name, batch)).collect();
    let board = Board { kitchen: "Harbour Lane Kitchen".into(), pots, ..Board::default() };
    let shelf = Arc::new(OneBatch(board.clone()));
    let (board, shown) = watch::channel(Arc::new(board));
    let (heard, phones, told) = (Arc::default(), Arc::<Book>::default(), Arc::default());
    let house = House {
        board: shown,
        ear: Arc::new(Listening { heard: Arc::clone(&heard), board: board.clone() }),
        shelf,
        phones: Arc::clone(&phones) as Arc<dyn Phones>,
        pocket: Some(Arc::new(Telephones(Arc::clone(&told)))),
        larder: Arc::new(Larder::bundled()),
    };
    let serving = serve::open(settings, house.clone()).unwrap();
    Stand { serving, board, heard, phones, told, house }
}

/// The usual board: one pot, reading open.
pub fn usual() -> Stand {
    stand(settings(true), &[("big", "Tuesday base")])
}

/// As [`usual`], by TLS.
pub fn secure(files: TlsFiles) -> Stand {
    stand(Settings { tls: Some(files), ..settings(true) }, &[("big", "Tuesday base")])
}

/// What came back.
#[derive(Debug, Clone)]
pub struct Answer {
    pub status: u16,
    pub head: String,
    pub body: String,
}

impl Answer {
    pub fn of(bytes: &[u8]) -> Self {
        let text = String::from_utf8_lossy(bytes);
        let (head, body) = text.split_once("\r\n\r\n").unwrap_or((&text, ""));
        let status = head.split(' ').nth(1).and_then(|code| code.parse().ok()).unwrap_or(0);
        Self { status, head: head.to_lowercase(), body: body.to_owned() }
    }

    /// The value of a header, in small letters.
    pub fn header(&self, name: &str) -> Option<&str> {
        let mut lines = self.head.lines();
        lines.find_map(|line| line.strip_prefix(name)?.strip_prefix(": "))
    }
}

impl Stand {
    /// What it is served from.
    pub fn house(&self) -> House {
        self.house.clone()
    }

    pub fn port(&self) -> u16 {
        self.serving.address.port()
    }

    pub fn host(&self) -> String {
        format!("127.0.0.1:{}", self.port())
    }

    /// A connection from this address of the loopback network.
    pub async fn connect(&self, last: u8) -> TcpStream {
        let socket = TcpSocket::new_v4().unwrap();
        socket.bind(SocketAddr::from(([127, 0, 0, last], 0))).unwrap();
        socket.connect(self.serving.address).await.unwrap()
    }

    /// Sends these bytes and reads until the board closes.
    pub async fn say(&self, bytes: &[u8]) -> Answer {
        let mut stream = self.connect(1).await;
        // A board that has refused may have closed already.
        let _ = stream.write_all(bytes).await;
        let mut answer = Vec::new();
        let _ = stream.read_to_end(&mut answer).await;
        Answer::of(&answer)
    }

    /// A request with these headers beside host and length.
    pub async fn ask(
        &self,
        method: &str,
        path: &str,
        headers: &[(&str, &str)],
        body: &str,
    ) -> Answer {
        let mut request = format!("{method} {path} HTTP/1.1\r\nconnection: close\r\n");
        if !headers.iter().any(|(name, _)| *name == "host") {
            request += &format!("host: {}\r\n", self.host());
        }
        for (name, value) in headers {
            request += &format!("{name}: {value}\r\n");
        }
        if method == "POST" {
            request += "content-type: application/x-www-form-urlencoded\r\n";
            request += &format!("content-length: {}\r\n", body.len());
        }
        self.say(format!("{request}\r\n{body}").as_bytes()).await
    }

    pub async fn get(&self, path: &str) -> Answer {
        self.ask("GET", path, &[], "").await
    }

    /// A POST as the board's own page sends it from this phone.
    pub async fn post(&self, path: &str, token: &str, body: &str) -> Answer {
        let (origin, cookie) = (format!("http://{}", self.host()), format!("dekchi={token}"));
        self.ask("POST", path, &[("origin", &origin), ("cookie", &cookie)], body).await
    }

    pub fn heard(&self) -> Vec<CookSays> {
        self.heard.lock().unwrap().iter().map(|(_, says, _)| says.clone()).collect()
    }

    /// Shows a pot anew.
    pub fn change(&self, act: impl FnOnce(&mut Story)) {
        self.board.send_modify(|board| {
            let board = Arc::make_mut(board);
            act(Arc::make_mut(&mut board.pots[0].story));
        });
    }
}

/// A stream of events.
pub struct Events {
    pub stream: TcpStream,
    text: String,
}

impl Events {
    /// Begins to listen from this address of the loopback network; the head of the answer.
    pub async fn open(stand: &Stand, last: u8, path: &str, headers: &str) -> (Self, Answer) {
        let mut stream = stand.connect(last).await;
        let request = format!("GET {path} HTTP/1.1\r\nhost: {}\r\n{headers}\r\n", stand.host());
        stream.write_all(request.as_bytes()).await.unwrap();
        let mut events = Self { stream, text: String::new() };
        while !events.text.contains("\r\n\r\n") && events.more().await {}
        let (head, rest) = events.text.split_once("\r\n\r\n").unwrap_or_default();
        let answer = Answer::of(format!("{head}\r\n\r\n").as_bytes());
        events.text = rest.to_owned();
        (events, answer)
    }

    async fn more(&mut self) -> bool {
        let mut bytes = vec![0; 1 << 16];
        match self.stream.read(&mut bytes).await {
            Ok(n) if n > 0 => {
                self.text += &String::from_utf8_lossy(&bytes[..n]);
                true
            }
            _ => false,
        }
    }

    /// The next event's id, name and data; `None` where the board ended the stream.
    pub async fn next(&mut self) -> Option<(String, String, serde_json::Value)> {
        loop {
            // Chunks of RFC 9112, section 7.1, end within an event only where it is long.
            if let Some(event) = self.whole() {
                return Some(event);
            }
            if !self.more().await {
                return None;
            }
        }
    }

    fn whole(&mut self) -> Option<(String, String, serde_json::Value)> {
        let end = self.text.find("\n\n")?;
        let event: String = self.text.drain(..end + 2).collect();
        let field = |name: &str| {
            let line = event.lines().find_map(|line| line.strip_prefix(name));
            line.map(|value| value.trim().to_owned()).unwrap_or_default()
        };
        let data = serde_json::from_str(&field("data:")).unwrap_or_default();
        Some((field("id:"), field("event:"), data))
    }

    /// Reads until the board ends it.
    pub async fn end(mut self) {
        while self.more().await {}
    }
}

/// Long enough for anything here; a test that waits longer hangs.
pub const HANGS: Duration = Duration::from_secs(60);
