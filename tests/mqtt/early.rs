//! A board without a clock battery, in the past of its broker's certificate.

use std::fs;
use std::process::Command;

use crate::broker::{Broker, PATIENCE, Subscriber, certificates, free_port};
use crate::kitchen::{Kitchen, nothing_is_lost};

/// `None`, loudly, where this machine has no C compiler.
fn clock(kitchen: &Kitchen) -> Option<std::path::PathBuf> {
    let clock = kitchen.path("clock.so");
    let compiler = Command::new("cc")
        .args(["-O1", "-Wall", "-Werror", "-shared", "-fPIC", "-o"])
        .arg(&clock)
        .arg(concat!(env!("CARGO_MANIFEST_DIR"), "/tests/mqtt/clock.c"))
        .status();
    let Ok(status) = compiler else {
        eprintln!("SKIPPED: no C compiler on this machine, so no board was put into the past");
        return None;
    };
    assert!(status.success());
    Some(clock)
}

#[test]
fn a_certificate_that_is_not_yet_valid_is_named_and_believed_once_the_clock_is_right() {
    let port = free_port();
    let broker = Broker::prepared(&format!(
        "allow_anonymous true\nlistener {port} 127.0.0.1\ncafile DIRECTORY/ca.crt\n\
         certfile DIRECTORY/server.crt\nkeyfile DIRECTORY/server.key\n"
    ));
    certificates(broker.directory.path());
    let broker = broker.started();
    let mut subscriber = Subscriber::to(&broker, "dekchi/#");
    let authority = broker.directory.path().join("ca.crt");
    let kitchen =
        Kitchen::new(port, &format!("tls = true\nauthorities = \"{}\"", authority.display()));
    let Some(clock) = clock(&kitchen) else { return };
    let right = kitchen.path("right");
    let mut command = kitchen.command(&[]);
    command.env("LD_PRELOAD", clock).env("DEKCHI_TIME_IS_RIGHT", &right);
    let running = kitchen.start(command);
    kitchen.says("not valid yet");
    kitchen.says("is this board's clock set?");
    // The pot is watched meanwhile: what happens in it is recognised.
    kitchen.says("in, ");
    assert!(subscriber.all.is_empty(), "{:?}", subscriber.all);
    fs::write(&right, "").unwrap();
    // It is tried again within a minute.
    kitchen.says_within("the broker is told", 3 * PATIENCE);
    subscriber.status("online");
    let event = subscriber.wait_for("what happened before", |seen| {
        seen.topic.ends_with("/event") && seen.json()["what"] == "added"
    });
    running.signal("TERM");
    assert!(running.ended().success(), "{}", kitchen.log());
    subscriber.status("disconnected");
    let again = |seen: &&crate::broker::Seen| seen.json()["key"] == event.json()["key"];
    assert_eq!(subscriber.all.iter().filter(again).count(), 1, "told twice");
    nothing_is_lost(&kitchen.path("store/dekchi.sqlite"), &subscriber);
}
