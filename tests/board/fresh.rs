//! The service with the kitchen file that comes with the package, before anybody has edited it.

use std::fs;
use std::io::{BufRead, BufReader, Read, Write};
use std::net::TcpStream;
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::sync::mpsc::{Receiver, sync_channel};
use std::thread;
use std::time::Duration;

/// Runs this kitchen on a store of its own; its lines as they come.
fn started(kitchen: &str, folder: &Path) -> (Running, Receiver<String>) {
    let mut child = Command::new(env!("CARGO_BIN_EXE_dekchi"))
        .args(["run", "--kitchen", kitchen, "--store"])
        .arg(folder.join("dekchi.sqlite"))
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    let lines = BufReader::new(child.stderr.take().unwrap()).lines();
    let (line, heard) = sync_channel(1_000);
    thread::spawn(move || lines.map_while(Result::ok).all(|text| line.send(text).is_ok()));
    (Running(child), heard)
}

/// A daemon that does not outlive its test.
struct Running(Child);

impl Running {
    /// Tells it to stop; it must end well.
    fn stop(&mut self) {
        let told = Command::new("kill").arg(self.0.id().to_string()).status().unwrap();
        assert!(told.success() && self.0.wait().unwrap().success());
    }
}

impl Drop for Running {
    fn drop(&mut self) {
        // It may have ended already.
        let _ = self.0.kill();
    }
}

#[test]
fn a_board_that_was_just_set_up_idles_and_ends_well_when_it_is_told_to() {
    let folder = tempfile::tempdir().unwrap();
    let kitchen = concat!(env!("CARGO_MANIFEST_DIR"), "/deploy/etc/kitchen.toml");
    let (mut child, heard) = started(kitchen, folder.path());
    let first = heard.recv_timeout(Duration::from_secs(60)).unwrap();
    let second = heard.recv_timeout(Duration::from_secs(60)).unwrap();
    assert!(first.contains("stands idle until /var/lib/dekchi/big.toml is there"), "{first}");
    assert!(second.contains("until then it stands idle"), "{second}");
    assert!(heard.recv_timeout(Duration::from_secs(2)).is_err(), "it says more, or ended");
    child.stop();
}

/// The page as a browser without a script gets it.
fn page(at: &str) -> String {
    let mut line = TcpStream::connect(at).unwrap();
    write!(line, "GET / HTTP/1.1\r\nhost: {at}\r\nconnection: close\r\n\r\n").unwrap();
    let mut text = String::new();
    line.read_to_string(&mut text).unwrap();
    text
}

/// Asks for the page until it shows this.
#[expect(clippy::disallowed_methods, reason = "waits for the daemon to look round")]
fn shows(at: &str, wanted: impl Fn(&str) -> bool) -> String {
    let mut last = String::new();
    for _ in 0..600 {
        last = page(at);
        if wanted(&last) {
            return last;
        }
        thread::sleep(Duration::from_millis(100));
    }
    panic!("never shown: {last}");
}

#[test]
fn pots_without_a_batch_are_on_the_page_until_one_begins() {
    let folder = tempfile::tempdir().unwrap();
    let laid = |name: &str, text: &str| fs::write(folder.path().join(name), text).unwrap();
    let pot = |name: &str, more: &str| {
        format!(
            "[[pot]]\nname = \"{name}\"\nbase_diameter_m = 0.4\ntare_kg = 6.2\nlid_kg = 1.35\n{more}\n"
        )
    };
    let kitchen =
        "[site]\naltitude_m = 40.0\n[page]\nlisten = \"127.0.0.1:0\"\nreading = \"open\"\n"
            .to_owned()
            + &pot("big", "batch = \"big.toml\"\n[pot.sensors]\nrecording = \"r.csv\"")
            + &pot("small", "[pot.sensors]\nrecording = \"r.csv\"")
            + &pot("stock", "");
    laid("kitchen.toml", &kitchen);
    let rows = (0..3_000).map(|s| format!("{s},18.2,18.2\n")).collect::<String>();
    laid("r.csv", &format!("t_s,probe_c,load_kg\n{rows}"));
    let file = folder.path().join("kitchen.toml");
    let (mut child, heard) = started(file.to_str().unwrap(), folder.path());
    let at = loop {
        let line = heard.recv_timeout(Duration::from_secs(60)).unwrap();
        if let Some((_, at)) = line.split_once("the page is at http://") {
            break at.trim_end_matches('/').to_owned();
        }
    };
    let twice = |page: &str, words: &str| page.matches(words).count() == 2;
    let heard = |page: &str| twice(page, "It holds 12.0 kg") && twice(page, "at 18 °C.");
    let page = shows(&at, heard);
    assert_eq!(page.matches("No batch").count(), 3, "{page}");
    for said in ["big.toml: it begins by itself", "no sensors", "“small”"] {
        assert!(page.contains(&said.replace(['“', '”'], "&quot;")), "{said}: {page}");
    }
    laid("big.toml", "name = \"Tuesday base\"\npot = \"small\"\n");
    shows(&at, |page| page.contains("A batch file is there but cannot be used"));
    let batch = "name = \"Tuesday base\"\npot = \"big\"\n[start]\ncontents_kg = 12.0\nlid = \"off\"\n\
        composition = { water = 0.9, solids = 0.07, fat = 0.025, salt = 0.005 }\n";
    laid("big.toml", batch);
    let page = shows(&at, |page| page.contains("Big pot, Tuesday base"));
    assert_eq!(page.matches("No batch").count(), 2, "{page}");
    child.stop();
}
