//! The MQTT edge alone.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc::{Receiver, channel};
use std::thread::JoinHandle;
use std::time::Duration;

use dekchi::tell::mqtt::mailbox::Mailbox;
use dekchi::tell::mqtt::message::Message;
use dekchi::tell::mqtt::outbox::Queue;
use dekchi::tell::mqtt::topic::Topics;
use dekchi::tell::mqtt::{Heard, Login, Settings, run, tls};

use crate::broker::{Broker, PATIENCE, Subscriber, certificates, free_port, password_file};
use crate::doorman;

/// A board's MQTT side on a thread of its own, as the daemon has it.
pub struct Board {
    mailbox: Mailbox,
    heard: Receiver<Heard>,
    outbox: Queue,
    /// Dropped: the connection is cut without a goodbye.
    cut: Option<tokio::sync::oneshot::Sender<()>>,
    thread: Option<JoinHandle<()>>,
}

impl Board {
    pub fn with(settings: Settings) -> Self {
        let mailbox = Mailbox::default();
        let theirs = mailbox.clone();
        let (sender, heard) = channel();
        let (cut, is_cut) = tokio::sync::oneshot::channel();
        let outbox = Queue::with_room(10_000);
        let waiting = outbox.clone();
        let thread = std::thread::spawn(move || {
            let runtime =
                tokio::runtime::Builder::new_current_thread().enable_all().build().unwrap();
            runtime.block_on(async {
                tokio::select! {
                    () = run(settings, theirs, waiting, |heard| drop(sender.send(heard))) => {}
                    _ = is_cut => {}
                }
            });
        });
        Self { mailbox, heard, outbox, cut: Some(cut), thread: Some(thread) }
    }

    fn to(broker: &Broker) -> Self {
        Self::with(settings(broker.port))
    }

    pub fn say(&self, message: Message) {
        assert!(self.outbox.put("", message));
        self.mailbox.look();
    }

    fn hear(&self, fits: impl Fn(&Heard) -> bool) -> Heard {
        self.hear_within(PATIENCE, fits)
    }

    fn hear_within(&self, patience: Duration, fits: impl Fn(&Heard) -> bool) -> Heard {
        loop {
            let heard = self.heard.recv_timeout(patience).expect("something is heard");
            if fits(&heard) {
                return heard;
            }
        }
    }

    pub fn why_away(&self) -> String {
        self.why_away_within(PATIENCE)
    }

    pub fn why_away_within(&self, patience: Duration) -> String {
        match self.hear_within(patience, |heard| matches!(heard, Heard::Away { .. })) {
            Heard::Away { why } => why,
            other => panic!("{other:?}"),
        }
    }

    pub fn connected(&self) -> &'static str {
        match self.hear(|heard| matches!(heard, Heard::Connected { .. })) {
            Heard::Connected { protocol } => protocol,
            other => panic!("{other:?}"),
        }
    }

    pub fn end(mut self) {
        self.mailbox.stop();
        self.thread.take().unwrap().join().unwrap();
    }

    fn fall_silent(mut self) {
        drop(self.cut.take());
        self.thread.take().unwrap().join().unwrap();
    }
}

pub fn settings(port: u16) -> Settings {
    Settings {
        host: "localhost".into(),
        port,
        client_id: "dekchi-test".into(),
        board: "quay".into(),
        pots: vec!["big".into()],
        version: "0",
        login: None,
        tls: None,
        commands: false,
        homie: None,
    }
}

fn topics() -> Topics {
    Topics::of("quay")
}

pub fn event(n: usize) -> Message {
    Message::event(&topics(), "big", n.to_string())
}

#[test]
fn a_board_says_that_it_is_there_and_that_it_goes() {
    let broker = Broker::open();
    let mut subscriber = Subscriber::to(&broker, "dekchi/#");
    let board = Board::to(&broker);
    let online = subscriber.status("online");
    assert_eq!(online.content_type, "application/json");
    assert!(online.properties.contains("schema:dekchi-1"), "{online:?}");
    board.end();
    subscriber.status("disconnected");
    let mut late = Subscriber::to(&broker, "dekchi/quay/status");
    assert!(late.status("disconnected").retained);
}

#[test]
fn the_broker_speaks_for_a_board_that_fell_silent() {
    let broker = Broker::open();
    let mut subscriber = Subscriber::to(&broker, "dekchi/#");
    let board = Board::to(&broker);
    subscriber.status("online");
    board.fall_silent();
    subscriber.status("lost");
}

#[test]
fn state_is_retained_with_its_type_and_its_expiry() {
    let broker = Broker::open();
    let board = Board::to(&broker);
    board.mailbox.hold(Message::reading(&topics(), "big", "{\"pot_c\":98.1}".into(), 10.0));
    board.mailbox.hold(Message::curve_png(&topics(), "big", vec![0x89, 0x50, 0, 0xff]));
    board.mailbox.hold(Message::curve_svg(&topics(), "big", "<svg/>".repeat(20_000)));
    let mut subscriber = Subscriber::to(&broker, "dekchi/quay/big/#");
    let reading = subscriber.wait_for("reading", |seen| seen.topic.ends_with("/reading"));
    assert_eq!(reading.text(), "{\"pot_c\":98.1}");
    assert!((1..=50).contains(&reading.expiry.parse::<u32>().unwrap()));
    let png = subscriber.wait_for("curve.png", |seen| seen.topic.ends_with("/curve.png"));
    assert_eq!((png.content_type.as_str(), png.payload.len()), ("image/png", 4));
    let svg = subscriber.wait_for("curve.svg", |seen| seen.topic.ends_with("/curve.svg"));
    assert_eq!((svg.content_type.as_str(), svg.payload.len()), ("image/svg+xml", 120_000));
    board.end();
}

#[test]
fn what_was_said_while_the_broker_was_away_arrives_in_order() {
    let broker = Broker::open();
    let open = Arc::new(AtomicBool::new(false));
    let judge = open.clone();
    let door = doorman::before(broker.port, move |_, _| {
        (!judge.load(Ordering::Relaxed)).then_some(doorman::NOTHING)
    });
    let board = Board::with(settings(door));
    (0..200).for_each(|n| board.say(event(n)));
    board.why_away();
    let mut subscriber = Subscriber::to(&broker, "dekchi/quay/big/event");
    subscriber.is_listening(&broker, "dekchi/quay/big/event");
    open.store(true, Ordering::Relaxed);
    subscriber.wait_for("last event", |seen| seen.text() == "199");
    let mut numbers: Vec<usize> =
        subscriber.all.iter().filter_map(|seen| seen.text().parse().ok()).collect();
    numbers.dedup();
    assert_eq!(numbers, (0..200).collect::<Vec<_>>());
    let outbox = board.outbox.clone();
    board.end();
    assert!(outbox.is_empty());
}

#[test]
fn a_broker_that_lost_everything_is_told_again() {
    let mut broker = Broker::open();
    let board = Board::to(&broker);
    board.connected();
    board.mailbox.hold(Message::reading(&topics(), "big", "{}".into(), 1000.0));
    board.say(Message::alert(&topics(), "big", "catching", "{\"state\":\"raised\"}".into()));
    broker.stop();
    board.why_away();
    broker.start();
    let mut subscriber = Subscriber::to(&broker, "dekchi/#");
    subscriber.status("online");
    subscriber.wait_for("alert", |seen| seen.topic.ends_with("/alert/catching"));
    assert!(subscriber.all.iter().any(|seen| seen.topic.ends_with("/reading")));
    board.end();
}

#[test]
fn a_wrong_password_is_named() {
    let broker = Broker::prepared("password_file DIRECTORY/passwords\n");
    password_file(broker.directory.path(), "board", "right");
    let broker = broker.started();
    let login = |password: &str| Login { user: "board".into(), password: password.into() };
    let wrong = Board::with(Settings { login: Some(login("wrong")), ..settings(broker.port) });
    let why = wrong.why_away();
    assert!(why.ends_with("refuses the user \"board\" or the password"), "{why}");
    wrong.end();
    let none = Board::to(&broker);
    assert!(none.why_away().contains("wants a user name"));
    none.end();
    let right = Board::with(Settings { login: Some(login("right")), ..settings(broker.port) });
    assert_eq!(right.connected(), "5");
    right.end();
}

#[test]
fn an_old_broker_is_spoken_to_in_mqtt_3_1_1() {
    let broker = Broker::open();
    let door = doorman::before(broker.port, |_, level| (level == 5).then_some(doorman::ONLY_V311));
    let board = Board::with(settings(door));
    assert_eq!(board.connected(), "3.1.1");
    board.say(event(1));
    board.mailbox.hold(Message::curve_svg(&topics(), "big", "x".repeat(100_000)));
    let mut subscriber = Subscriber::with(&broker, "dekchi/#", &["-V", "311"]);
    subscriber.status("online");
    subscriber.wait_for("curve", |seen| seen.payload.len() == 100_000);
    board.end();
    subscriber.status("disconnected");
}

#[test]
fn a_board_whose_place_was_taken_says_so_in_its_status() {
    let broker = Broker::open();
    let mut subscriber = Subscriber::to(&broker, "dekchi/quay/status");
    let door =
        doorman::before(broker.port, |number, _| (number == 0).then_some(doorman::TAKEN_OVER));
    let board = Board::with(settings(door));
    let why = board.why_away();
    assert!(why.contains("session taken over") && why.contains("\"dekchi-test\""), "{why}");
    subscriber.wait_for("status that names it", |seen| seen.text().contains("taken over"));
    board.end();
}

/// Mosquitto 2.0 shuts the older connection without a word.
#[test]
fn two_boards_with_one_name_come_to_suspect_it() {
    let broker = Broker::open();
    let one = Board::to(&broker);
    one.connected();
    let mut subscriber = Subscriber::to(&broker, "dekchi/quay/status");
    for _ in 0..3 {
        let other = Board::to(&broker);
        other.connected();
        one.why_away();
        other.fall_silent();
        one.connected();
    }
    subscriber.wait_for("status that suspects it", |seen| seen.text().contains("also call itself"));
    one.end();
}

#[test]
fn commands_are_heard_only_where_allowed_and_never_when_retained() {
    let broker = Broker::open();
    let set = "dekchi/quay/big/set";
    broker.publish(&["-t", set, "-r", "-m", "old command"]);
    let deaf = Board::to(&broker);
    let board = Board::with(Settings {
        commands: true,
        client_id: "dekchi-listening".into(),
        ..settings(broker.port)
    });
    deaf.connected();
    board.connected();
    // Sent until it is heard: the subscription is made after the connection.
    let said = loop {
        broker.publish(&["-t", set, "-m", "stirred"]);
        match board.heard.recv_timeout(Duration::from_millis(200)) {
            Ok(heard) => break heard,
            Err(_) => continue,
        }
    };
    assert_eq!(said, Heard::Said { pot: "big".into(), words: "stirred".into() });
    assert!(deaf.heard.try_recv().is_err());
    board.end();
    deaf.end();
}

#[test]
fn a_broker_is_believed_over_tls_only_with_the_right_authority() {
    let broker = Broker::prepared(
        "allow_anonymous true\ncafile DIRECTORY/ca.crt\ncertfile DIRECTORY/server.crt\n\
         keyfile DIRECTORY/server.key\n",
    );
    certificates(broker.directory.path());
    let broker = broker.started();
    let authorities = broker.directory.path().join("ca.crt");
    let tls = Some(tls::client(&authorities).unwrap());
    let trusting = Board::with(Settings { tls, ..settings(broker.port) });
    assert_eq!(trusting.connected(), "5");
    trusting.end();

    let other = tempfile::tempdir().unwrap();
    certificates(other.path());
    let tls = Some(tls::client(&other.path().join("ca.crt")).unwrap());
    let doubting = Board::with(Settings { tls, ..settings(broker.port) });
    let why = doubting.why_away();
    assert!(why.contains("cannot be trusted over TLS"), "{why}");
    doubting.end();
}

#[test]
fn a_broker_that_is_not_there_is_named() {
    let board = Board::with(settings(free_port()));
    let why = board.why_away();
    assert!(why.contains("cannot be reached"), "{why}");
    board.end();
}
