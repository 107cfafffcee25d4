//! `dekchi demo`, heard by somebody else's client.

use std::fs;
use std::process::{Command, Stdio};

use crate::broker::{Broker, Subscriber, free_port};

#[test]
fn whoever_listens_to_the_demo_hears_the_virtual_pot() {
    let directory = tempfile::tempdir().unwrap();
    let port = free_port();
    let process = Command::new(env!("CARGO_BIN_EXE_dekchi"))
        .args(["demo", "--speed", "300", "--until", "45m", "--seed", "3", "--keep", "kept"])
        .args(["--mqtt-port", &port.to_string()])
        .current_dir(directory.path())
        .stdout(Stdio::piped())
        .stderr(fs::File::create(directory.path().join("progress")).unwrap())
        .spawn()
        .unwrap();
    let broker = Broker::elsewhere(port);
    let mut subscriber = Subscriber::to(&broker, "dekchi/harbour-lane/#");
    subscriber.status("online");
    subscriber.wait_for("a reading that knows the pot", |seen| {
        seen.topic.ends_with("/big/reading") && seen.json()["contents_kg"].is_number()
    });
    subscriber.wait_for("an event", |seen| seen.topic.ends_with("/big/event"));
    subscriber.wait_for("curve.svg", |seen| seen.topic.ends_with("/big/curve.svg"));
    subscriber.wait_for("curve.png", |seen| seen.topic.ends_with("/big/curve.png"));
    subscriber.status("disconnected");

    let output = process.wait_with_output().unwrap();
    assert!(output.status.success());
    let said = String::from_utf8(output.stdout).unwrap();
    for words in ["The curve: kept/curve.svg", "number 1 in kept/dekchi.sqlite", "Try next:"] {
        assert!(said.contains(words), "{said}");
    }
    let progress = fs::read_to_string(directory.path().join("progress")).unwrap();
    assert!(progress.contains(&format!("127.0.0.1:{port}")) && !progress.contains('\x1b'));
    assert!(
        fs::read_to_string(directory.path().join("kept/curve.svg")).unwrap().contains("</svg>")
    );
}
