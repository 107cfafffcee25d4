//! A line to the broker that resets, falls silent, dribbles or talks nonsense.

use std::io::{Read, Write};
use std::net::{TcpListener, TcpStream};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};
use std::time::Duration;

use crate::broker::{Broker, Subscriber};
use crate::wire::{Board, event, settings};

/// A port that leads to `broker_port`; `carry` says what becomes of the bytes that come back from the
/// broker on the visit of this number, and `None` cuts the line.
fn line_to(
    broker_port: u16,
    carry: impl Fn(usize, Vec<u8>) -> Option<Vec<u8>> + Send + Sync + 'static,
) -> u16 {
    let door = TcpListener::bind("127.0.0.1:0").unwrap();
    let port = door.local_addr().unwrap().port();
    let carry = Arc::new(carry);
    std::thread::spawn(move || {
        for (number, visitor) in door.incoming().map_while(Result::ok).enumerate() {
            let Ok(broker) = TcpStream::connect(("127.0.0.1", broker_port)) else { continue };
            let (mut there, mut into) = (visitor.try_clone().unwrap(), broker.try_clone().unwrap());
            std::thread::spawn(move || std::io::copy(&mut there, &mut into));
            let carry = carry.clone();
            std::thread::spawn(move || back(broker, visitor, |bytes| carry(number, bytes)));
        }
    });
    port
}

fn back(mut broker: TcpStream, mut visitor: TcpStream, carry: impl Fn(Vec<u8>) -> Option<Vec<u8>>) {
    let mut bytes = vec![0; 4096];
    while let Ok(length) = broker.read(&mut bytes).map_err(drop) {
        let carried = (length > 0).then(|| carry(bytes[..length].to_vec())).flatten();
        if carried.is_none_or(|bytes| visitor.write_all(&bytes).is_err()) {
            break;
        }
    }
    let both = std::net::Shutdown::Both;
    let _ = (visitor.shutdown(both), broker.shutdown(both));
}

#[test]
fn a_line_that_is_cut_again_and_again_loses_no_word() {
    let broker = Broker::open();
    let answers = Arc::new(AtomicUsize::new(0));
    let counted = answers.clone();
    // Each of the first three lines is cut after some answers, of which the last is lost.
    let door = line_to(broker.port, move |number, bytes| {
        let answers = counted.fetch_add(1, Ordering::Relaxed);
        (number >= 3 || answers % 5 < 4).then_some(bytes)
    });
    let mut subscriber = Subscriber::to(&broker, "dekchi/quay/big/event");
    subscriber.is_listening(&broker, "dekchi/quay/big/event");
    let board = Board::with(settings(door));
    (0..300).for_each(|n| board.say(event(n)));
    subscriber.wait_for("the last word", |seen| seen.text() == "299");
    let mut heard = Vec::new();
    for number in subscriber.all.iter().filter_map(|seen| seen.text().parse::<usize>().ok()) {
        if !heard.contains(&number) {
            heard.push(number);
        }
    }
    assert_eq!(heard, (0..300).collect::<Vec<_>>());
    board.end();
}

#[test]
fn a_broker_that_falls_silent_is_noticed_within_two_keep_alives() {
    let broker = Broker::open();
    let silent = Arc::new(AtomicBool::new(false));
    let judge = silent.clone();
    let door = line_to(broker.port, move |_, bytes| {
        Some(if judge.load(Ordering::Relaxed) { Vec::new() } else { bytes })
    });
    let board = Board::with(settings(door));
    board.connected();
    silent.store(true, Ordering::Relaxed);
    let why = board.why_away_within(Duration::from_secs(90));
    assert!(why.contains("does not answer"), "{why}");
    silent.store(false, Ordering::Relaxed);
    board.connected();
    board.end();
}

#[test]
fn a_broker_that_dribbles_is_given_up_and_tried_again() {
    let broker = Broker::open();
    let door = line_to(broker.port, |number, bytes| {
        // The first line never brings a whole answer.
        if number == 0 {
            Some(bytes[..1].to_vec()).filter(|_| bytes[0] == 0x20)
        } else {
            Some(bytes)
        }
    });
    let board = Board::with(settings(door));
    board.why_away();
    board.connected();
    board.end();
}

#[test]
fn a_broker_that_talks_nonsense_does_no_harm() {
    let broker = Broker::open();
    let door = line_to(broker.port, |number, bytes| {
        let nonsense: [&[u8]; 6] = [
            &[0xff; 64],
            &[0x20, 0xff, 0xff, 0xff, 0x7f],
            &[0x30, 0x05, 0xff, 0xff, 0x41, 0x42, 0x43],
            // Acknowledgements of what was never sent, and a packet of 256 MiB.
            &[0x40, 0x02, 0x7f, 0xff, 0x62, 0x02, 0x7f, 0xff],
            &[0x30, 0xff, 0xff, 0xff, 0x7f, 0x00],
            &[],
        ];
        Some(match nonsense.get(number) {
            Some(nonsense) if number % 2 == 0 => nonsense.to_vec(),
            // … after a good answer.
            Some(nonsense) => [&bytes, *nonsense].concat(),
            None => bytes,
        })
    });
    let mut subscriber = Subscriber::to(&broker, "dekchi/quay/big/event");
    subscriber.is_listening(&broker, "dekchi/quay/big/event");
    let board = Board::with(settings(door));
    board.say(event(7));
    subscriber.wait_for("the word after all", |seen| seen.text() == "7");
    board.why_away();
    board.end();
}
