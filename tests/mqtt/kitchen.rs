//! The whole daemon: a probe by the kernel's 1-Wire files, a recorded load, and a real broker.

use std::fs;
use std::io::Read;
use std::os::unix::net::UnixDatagram;
use std::path::Path;
use std::process::{Child, Command, ExitStatus, Stdio};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::{Duration, Instant};

use dekchi::keep::library::Library;
use dekchi::moment::Moment;
use dekchi::quantity::Kilograms;
use dekchi::watch::event::Event;

use crate::broker::{Broker, PATIENCE, Subscriber, free_port, password_file};
use crate::doorman;

const ROM: &str = "28-0316a2795f01";

/// `w1_slave` of a pot at the boil, read from kernel 6.12 over an emulated DS18B20: 96.25 °C.
const W1_SLAVE: &str =
    "04 06 4b 46 7f ff 0c 10 53 : crc=53 YES\n04 06 4b 46 7f ff 0c 10 53 t=96250\n";

const BATCH: &str = "name = \"Tuesday base\"\npot = \"big\"\n[start]\ncontents_kg = 20.0\n\
    lid = \"off\"\ncomposition = { water = 0.90, solids = 0.07, fat = 0.03 }\n\
    [[addition]]\nname = \"stock\"\nkg = 2.0\ncomposition = { water = 0.98, solids = 0.02 }\n\
    [target]\ntotal_solids = 0.118\n";

/// A kitchen in a directory of its own, with this much of a broker.
pub struct Kitchen {
    directory: tempfile::TempDir,
}

impl Kitchen {
    pub fn new(broker_port: u16, mqtt_lines: &str) -> Self {
        let directory = tempfile::tempdir().unwrap();
        let at = |name: &str| directory.path().join(name);
        fs::create_dir_all(at("w1").join(ROM)).unwrap();
        fs::write(at("w1").join(ROM).join("w1_slave"), W1_SLAVE).unwrap();
        fs::write(at("load.csv"), recording()).unwrap();
        fs::write(at("batch.toml"), BATCH).unwrap();
        let root = at("w1").display().to_string();
        let kitchen = format!(
            "[site]\naltitude_m = 40.0\n[board]\nonewire_root = \"{root}\"\n\
             calibrations = \"{root}/none.toml\"\n\
             [mqtt]\nhost = \"127.0.0.1\"\nport = {broker_port}\nboard = \"quay\"\n\
             reading_every_s = 2\ncurve_every_s = 20\n{mqtt_lines}\n\
             [[pot]]\nname = \"big\"\nbase_diameter_m = 0.40\ntare_kg = 6.2\nlid_kg = 1.35\n\
             [pot.sensors]\nprobe = \"{ROM}\"\nrecording = \"load.csv\"\n"
        );
        fs::write(at("kitchen.toml"), kitchen).unwrap();
        Self { directory }
    }

    pub fn path(&self, name: &str) -> std::path::PathBuf {
        self.directory.path().join(name)
    }

    pub fn run(&self, arguments: &[&str]) -> Running {
        self.start(self.command(arguments))
    }

    pub fn start(&self, mut command: Command) -> Running {
        Running(command.spawn().unwrap())
    }

    pub fn command(&self, arguments: &[&str]) -> Command {
        let mut command = Command::new(env!("CARGO_BIN_EXE_dekchi"));
        command
            .args(["run", "--kitchen", "kitchen.toml", "--batch", "batch.toml"])
            .args(["--store", "store/dekchi.sqlite"])
            .args(if arguments.contains(&"--speed") { &[][..] } else { &["--speed", "20"] })
            .args(arguments)
            .current_dir(self.directory.path())
            .stdout(Stdio::null())
            .stderr(fs::File::create(self.path("log")).unwrap());
        command
    }

    pub fn log(&self) -> String {
        fs::read_to_string(self.path("log")).unwrap_or_default()
    }

    /// Waits until the log says this.
    pub fn says(&self, words: &str) {
        self.says_within(words, PATIENCE);
    }

    pub fn says_within(&self, words: &str, patience: Duration) {
        let until = Instant::now() + patience;
        while !self.log().contains(words) {
            assert!(Instant::now() < until, "\"{words}\" is not in the log:\n{}", self.log());
            std::thread::sleep(Duration::from_millis(20));
        }
    }
}

/// Twenty minutes of 20 kg at the boil, 10 Hz, and two kilograms of stock put in after two.
fn recording() -> String {
    let mut text = String::from("t_s,probe_c,load_kg\n");
    for tenth in 0..12_000 {
        let t_s = f64::from(tenth) / 10.0;
        let put_in = if t_s < 120.0 { 0.0 } else { 2.0 };
        let hand = if (120.0..126.0).contains(&t_s) { 0.4 * (7.0 * t_s).sin() } else { 0.0 };
        let noise = 0.004 * (f64::from(tenth) * 1.7).sin();
        let load = 6.2 + 20.0 + put_in + hand + noise - 3.6 * t_s / 3600.0;
        text += &format!("{t_s:.1},,{load:.3}\n");
    }
    text
}

pub struct Running(Child);

impl Running {
    pub fn of(child: Child) -> Self {
        Self(child)
    }

    pub fn signal(&self, name: &str) {
        let status = Command::new("kill").args(["-s", name, &self.0.id().to_string()]).status();
        assert!(status.unwrap().success());
    }

    pub fn ended(mut self) -> ExitStatus {
        let until = Instant::now() + PATIENCE;
        loop {
            if let Some(status) = self.0.try_wait().unwrap() {
                return status;
            }
            assert!(Instant::now() < until, "dekchi does not end");
            std::thread::sleep(Duration::from_millis(20));
        }
    }
}

impl Drop for Running {
    fn drop(&mut self) {
        let _ = self.0.kill();
        let _ = self.0.wait();
    }
}

#[test]
fn a_subscriber_gets_status_reading_event_curve_and_batch_and_a_goodbye() {
    let broker = Broker::open();
    let mut subscriber = Subscriber::to(&broker, "dekchi/#");
    let kitchen = Kitchen::new(broker.port, "");
    let running = kitchen.run(&[]);
    let online = subscriber.status("online").json();
    assert_eq!(online["pots"][0], "big");

    let reading = subscriber.wait_for("a reading of probe and scale", |seen| {
        let json = seen.json();
        seen.topic == "dekchi/quay/big/reading"
            && json["pot_c"] == 96.25
            && json["contents_kg"].is_number()
    });
    assert_eq!(reading.content_type, "application/json");
    assert!(reading.properties.contains("schema:dekchi-1"), "{reading:?}");
    let contents = reading.json()["contents_kg"].as_f64().unwrap();
    assert!((19.5..20.5).contains(&contents), "{contents}");

    let event = subscriber.wait_for("the addition", |seen| {
        seen.topic == "dekchi/quay/big/event" && seen.json()["what"] == "added"
    });
    let event = event.json();
    assert_eq!(event["name"], "stock");
    assert!((1.9..2.1).contains(&event["kg"].as_f64().unwrap()), "{event}");
    assert!(event["key"].is_string() && event["utc_ms"].is_i64(), "{event}");

    let svg = subscriber.wait_for("curve.svg", |seen| seen.topic.ends_with("/big/curve.svg"));
    assert_eq!(svg.content_type, "image/svg+xml");
    assert!(svg.text().starts_with("<svg") && svg.text().contains("Tuesday base"));
    let png = subscriber.wait_for("curve.png", |seen| seen.topic.ends_with("/big/curve.png"));
    assert!(png.payload.starts_with(b"\x89PNG\r\n"));
    subscriber.wait_for("the batch with what went in", |seen| {
        seen.topic.ends_with("/big/batch") && seen.json()["additions"][0]["seen_kg"].is_number()
    });

    running.signal("TERM");
    assert!(running.ended().success(), "{}", kitchen.log());
    subscriber.status("disconnected");
    nothing_is_lost(&kitchen.path("store/dekchi.sqlite"), &subscriber);
    let mut late = Subscriber::to(&broker, "dekchi/#");
    assert!(late.status("disconnected").retained);
    late.wait_for("the retained curve", |seen| seen.topic.ends_with("curve.png") && seen.retained);
}

/// Every load up to the stop is in the store, none missing, as far as the last reading that was told.
pub fn nothing_is_lost(store: &Path, subscriber: &Subscriber) {
    let kept_s = begins_as_recorded(store);
    let readings = subscriber.all.iter().filter(|seen| seen.topic.ends_with("/reading"));
    let last_told_s = readings.filter_map(|seen| seen.json()["t_s"].as_f64()).fold(0.0, f64::max);
    assert!(kept_s >= last_told_s - 2.0, "{kept_s} {last_told_s}");
}

/// How much of the load's recording the store has, s, without a gap.
pub fn begins_as_recorded(store: &Path) -> f64 {
    let store = Library::open(store).unwrap();
    let kept: Vec<f64> = store.samples(1).unwrap().events.into_iter().filter_map(load).collect();
    let recorded: Vec<f64> = recording()
        .lines()
        .skip(1)
        .map(|row| row.rsplit(',').next().unwrap().parse().unwrap())
        .collect();
    assert_eq!(kept, recorded[..kept.len()]);
    kept.len() as f64 / 10.0
}

fn load((_, event): (Moment, Event)) -> Option<f64> {
    match event {
        Event::Load(load) => load.ok().map(Kilograms::get),
        _ => None,
    }
}

#[test]
fn the_broker_says_that_a_board_is_lost_and_after_the_restart_its_batch_goes_on() {
    let broker = Broker::open();
    let mut subscriber = Subscriber::to(&broker, "dekchi/#");
    let kitchen = Kitchen::new(broker.port, "");
    let running = kitchen.run(&[]);
    subscriber.wait_for("the addition", |seen| seen.text().contains("\"what\":\"added\""));
    kitchen.says("in, ");
    running.signal("KILL");
    drop(running);
    subscriber.status("lost");

    let again = kitchen.run(&[]);
    kitchen.says("goes on");
    let mut after = Subscriber::to(&broker, "dekchi/quay/big/batch");
    let batch = after.wait_for("the ledger of before", |seen| {
        seen.json()["additions"][0]["seen_kg"].is_number()
    });
    assert_eq!(batch.json()["name"], "Tuesday base");
    again.signal("INT");
    assert!(again.ended().success(), "{}", kitchen.log());
    subscriber.status("disconnected");
}

#[test]
fn a_wrong_password_is_named_and_the_pot_is_watched_all_the_same() {
    let broker = Broker::prepared("password_file DIRECTORY/passwords\n");
    password_file(broker.directory.path(), "board", "right");
    let broker = broker.started();
    let kitchen = Kitchen::new(broker.port, "login_file = \"login\"\n");
    fs::write(kitchen.path("login"), "board\nwrong secret\n").unwrap();
    let running = kitchen.run(&[]);
    kitchen.says("refuses the user \"board\" or the password");
    kitchen.says("Stock in, 2.0");
    assert!(!kitchen.log().contains("wrong secret"));
    running.signal("TERM");
    assert!(running.ended().success(), "{}", kitchen.log());
}

#[test]
fn what_happened_while_the_broker_was_away_arrives_afterwards_with_its_own_times() {
    let broker = Broker::open();
    let open = Arc::new(AtomicBool::new(false));
    let judge = open.clone();
    let door = doorman::before(broker.port, move |_, _| {
        (!judge.load(Ordering::Relaxed)).then_some(doorman::NOTHING)
    });
    let kitchen = Kitchen::new(door, "");
    let running = kitchen.run(&[]);
    kitchen.says("Stock in, 2.0");
    let mut subscriber = Subscriber::to(&broker, "dekchi/#");
    subscriber.is_listening(&broker, "dekchi/test");
    open.store(true, Ordering::Relaxed);
    let event =
        subscriber.wait_for("the addition", |seen| seen.text().contains("\"what\":\"added\""));
    let t_s = event.json()["t_s"].as_f64().unwrap();
    assert!((100.0..140.0).contains(&t_s), "{t_s}");
    let backlog = subscriber.wait_for("the backlog", |seen| seen.topic.ends_with("/big/backlog"));
    assert_eq!(backlog.content_type, "application/senml+json");
    let first = &backlog.json()[0];
    assert_eq!(first["bn"], "dekchi:quay:big:");
    let began_ms = event.json()["utc_ms"].as_f64().unwrap() - 1000.0 * t_s;
    let since_s = first["bt"].as_f64().unwrap() - began_ms / 1000.0;
    assert!((-1.0..15.0).contains(&since_s), "the first reading is {since_s} s into the batch");
    running.signal("TERM");
    assert!(running.ended().success(), "{}", kitchen.log());
    let store = Library::open(&kitchen.path("store/dekchi.sqlite")).unwrap();
    let waiting: Vec<String> = store.outbox(100).unwrap().into_iter().map(|l| l.topic).collect();
    assert_eq!(waiting, [""; 0]);
}

#[test]
fn systemd_is_told_when_the_board_is_ready_alive_and_stopping() {
    let kitchen = Kitchen::new(free_port(), "");
    let socket = UnixDatagram::bind(kitchen.path("notify")).unwrap();
    socket.set_read_timeout(Some(PATIENCE)).unwrap();
    let wait_for = |word: &str| {
        let mut told = [0; 1024];
        loop {
            let length = socket.recv(&mut told).unwrap_or_else(|_| panic!("{word} is not told"));
            if String::from_utf8_lossy(&told[..length]).contains(word) {
                return;
            }
        }
    };
    let mut command = kitchen.command(&[]);
    command.env("NOTIFY_SOCKET", kitchen.path("notify")).env("WATCHDOG_USEC", "2000000");
    let running = Running(command.spawn().unwrap());
    wait_for("READY=1");
    wait_for("WATCHDOG=1");
    wait_for("WATCHDOG=1");
    running.signal("TERM");
    wait_for("STOPPING=1");
    assert!(running.ended().success(), "{}", kitchen.log());
}

fn complaint(arguments: &[&str], directory: &Path) -> (i32, String) {
    let mut process = Command::new(env!("CARGO_BIN_EXE_dekchi"))
        .arg("run")
        .args(arguments)
        .current_dir(directory)
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    let mut said = String::new();
    process.stderr.take().unwrap().read_to_string(&mut said).unwrap();
    (process.wait().unwrap().code().unwrap(), said)
}

#[test]
fn what_cannot_be_run_gets_its_one_sentence() {
    let kitchen = Kitchen::new(1, "login_file = \"nowhere\"\n");
    let directory = kitchen.directory.path();
    let store = ["--store", "s.sqlite", "--kitchen", "kitchen.toml"];
    fs::write(kitchen.path("nowhere"), "board\nsecret\n").unwrap();
    let (code, said) = complaint(&store, directory);
    assert_eq!(code, 78);
    assert!(said.contains("no pot has a batch: give one with --batch"), "{said}");
    fs::remove_file(kitchen.path("nowhere")).unwrap();
    let with = |more: &[&'static str]| [&store[..], more].concat();
    let (code, said) = complaint(&with(&["--batch", "batch.toml"]), directory);
    assert_eq!(code, 74);
    assert!(said.contains("nowhere: cannot be read"), "{said}");
    let twice = with(&["--batch", "batch.toml", "--batch", "batch.toml"]);
    assert_eq!(complaint(&twice, directory).0, 2);
    fs::write(kitchen.path("nowhere"), "board\nsecret\n").unwrap();
    fs::write(kitchen.path("load.csv"), "t_s,probe_c,load_kg\n0,1,x\n").unwrap();
    let (code, said) = complaint(&with(&["--batch", "batch.toml"]), directory);
    assert_eq!(code, 2);
    assert!(said.contains("load.csv, line 2, column load_kg"), "{said}");
    assert_eq!(complaint(&["--kitchen", "nothing.toml"], directory).0, 2);
}
