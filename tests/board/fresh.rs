//! The service with the kitchen file that comes with the package, before anybody has edited it.

use std::io::{BufRead, BufReader};
use std::process::{Command, Stdio};
use std::sync::mpsc::sync_channel;
use std::thread;
use std::time::Duration;

#[test]
fn a_board_that_was_just_set_up_idles_and_ends_well_when_it_is_told_to() {
    let folder = tempfile::tempdir().unwrap();
    let mut child = Command::new(env!("CARGO_BIN_EXE_dekchi"))
        .args(["run", "--kitchen"])
        .arg(concat!(env!("CARGO_MANIFEST_DIR"), "/deploy/etc/kitchen.toml"))
        .arg("--store")
        .arg(folder.path().join("dekchi.sqlite"))
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    let lines = BufReader::new(child.stderr.take().unwrap()).lines();
    let (line, heard) = sync_channel(1_000);
    thread::spawn(move || lines.map_while(Result::ok).all(|text| line.send(text).is_ok()));
    let first = heard.recv_timeout(Duration::from_secs(60)).unwrap();
    let second = heard.recv_timeout(Duration::from_secs(60)).unwrap();
    assert!(first.contains("stands idle until /var/lib/dekchi/big.toml is there"), "{first}");
    assert!(second.contains("until then it stands idle"), "{second}");
    assert!(heard.recv_timeout(Duration::from_secs(2)).is_err(), "it says more, or ended");
    let told = Command::new("kill").arg(child.id().to_string()).status().unwrap();
    assert!(told.success() && child.wait().unwrap().success());
}
