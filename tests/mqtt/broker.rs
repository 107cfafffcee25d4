//! Debian's mosquitto and its own subscriber, as the peer that dekchi must get on with.

use std::collections::BTreeSet;
use std::io::{BufRead, BufReader, Write};
use std::net::{TcpListener, TcpStream};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::sync::mpsc::{Receiver, RecvTimeoutError, channel};
use std::time::{Duration, Instant};

/// Long enough for a slow machine; nothing waits for it when all is well.
pub const PATIENCE: Duration = Duration::from_secs(30);

pub struct Broker {
    pub port: u16,
    pub directory: tempfile::TempDir,
    process: Option<Child>,
}

impl Broker {
    /// A broker that anybody may use.
    pub fn open() -> Self {
        Self::with("allow_anonymous true\n")
    }

    /// A broker with these lines in its configuration after the listener's.
    pub fn with(lines: &str) -> Self {
        let broker = Self::prepared(lines);
        broker.started()
    }

    /// Configured, not running.
    pub fn prepared(lines: &str) -> Self {
        let directory = tempfile::tempdir().unwrap();
        let port = free_port();
        let path = directory.path().display().to_string();
        let lines = lines.replace("DIRECTORY", &path);
        let text = format!("user root\nlistener {port} 127.0.0.1\n{lines}");
        std::fs::write(directory.path().join("mosquitto.conf"), text).unwrap();
        Self { port, directory, process: None }
    }

    /// Somebody else's broker, once it listens.
    pub fn elsewhere(port: u16) -> Self {
        let broker = Self { port, directory: tempfile::tempdir().unwrap(), process: None };
        broker.wait();
        broker
    }

    pub fn started(mut self) -> Self {
        self.start();
        self
    }

    pub fn start(&mut self) {
        let process = Command::new(mosquitto())
            .arg("-c")
            .arg(self.directory.path().join("mosquitto.conf"))
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .spawn()
            .expect("mosquitto starts");
        self.process = Some(process);
        self.wait();
    }

    fn wait(&self) {
        let begun = Instant::now();
        while TcpStream::connect(("127.0.0.1", self.port)).is_err() {
            assert!(begun.elapsed() < PATIENCE, "the broker does not listen");
            std::thread::sleep(Duration::from_millis(20));
        }
    }

    pub fn stop(&mut self) {
        if let Some(mut process) = self.process.take() {
            let _ = process.kill();
            let _ = process.wait();
        }
    }

    pub fn publish(&self, arguments: &[&str]) {
        let status = Command::new("mosquitto_pub")
            .args(["-V", "5", "-p", &self.port.to_string()])
            .args(arguments)
            .status()
            .expect("mosquitto_pub runs");
        assert!(status.success());
    }
}

impl Drop for Broker {
    fn drop(&mut self) {
        self.stop();
    }
}

pub fn free_port() -> u16 {
    TcpListener::bind("127.0.0.1:0").unwrap().local_addr().unwrap().port()
}

fn mosquitto() -> PathBuf {
    let found = ["/usr/sbin/mosquitto", "/usr/bin/mosquitto", "/usr/local/sbin/mosquitto"];
    let found = found.iter().map(Path::new).find(|path| path.exists());
    found.expect("mosquitto is missing: bash tests/run installs it").to_owned()
}

/// One message as mosquitto's subscriber saw it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Seen {
    pub topic: String,
    pub retained: bool,
    pub content_type: String,
    pub expiry: String,
    pub properties: String,
    pub payload: Vec<u8>,
}

impl Seen {
    pub fn text(&self) -> String {
        String::from_utf8_lossy(&self.payload).into_owned()
    }

    pub fn json(&self) -> serde_json::Value {
        serde_json::from_slice(&self.payload).unwrap_or_default()
    }
}

pub struct Subscriber {
    process: Child,
    seen: Receiver<Seen>,
    /// Everything seen so far.
    pub all: Vec<Seen>,
}

impl Subscriber {
    pub fn to(broker: &Broker, filter: &str) -> Self {
        Self::with(broker, filter, &[])
    }

    pub fn with(broker: &Broker, filter: &str, arguments: &[&str]) -> Self {
        let mut process = Command::new("mosquitto_sub")
            .args(["-V", "5", "-q", "1", "-p", &broker.port.to_string(), "-t", filter])
            .args(["-F", "%t|%r|%C|%E|%P|%x"])
            .args(arguments)
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .expect("mosquitto_sub runs");
        let lines = BufReader::new(process.stdout.take().unwrap()).lines();
        let (sender, seen) = channel();
        std::thread::spawn(move || {
            for line in lines.map_while(Result::ok) {
                if sender.send(parse(&line)).is_err() {
                    return;
                }
            }
        });
        Self { process, seen, all: Vec::new() }
    }

    /// The first message that fits, of those seen and those still to come.
    pub fn wait_for(&mut self, what: &str, fits: impl Fn(&Seen) -> bool) -> Seen {
        if let Some(seen) = self.all.iter().find(|seen| fits(seen)) {
            return seen.clone();
        }
        let until = Instant::now() + PATIENCE;
        loop {
            match self.seen.recv_timeout(until.saturating_duration_since(Instant::now())) {
                Ok(seen) => {
                    self.all.push(seen.clone());
                    if fits(&seen) {
                        return seen;
                    }
                }
                Err(RecvTimeoutError::Timeout | RecvTimeoutError::Disconnected) => {
                    let topics = self.all.iter().map(|seen| &seen.topic);
                    panic!("no {what} among {:?}", topics.collect::<BTreeSet<_>>());
                }
            }
        }
    }

    /// The first message that fits, of those still to come.
    pub fn news(&mut self, what: &str, fits: impl Fn(&Seen) -> bool) -> Seen {
        let before = std::mem::take(&mut self.all);
        let seen = self.wait_for(what, fits);
        self.all.splice(0..0, before);
        seen
    }

    /// Waits until what is published to `topic` is seen here.
    pub fn is_listening(&mut self, broker: &Broker, topic: &str) {
        let until = Instant::now() + PATIENCE;
        while Instant::now() < until {
            broker.publish(&["-t", topic, "-m", "is anybody there"]);
            if self.seen.recv_timeout(Duration::from_millis(100)).is_ok() {
                return;
            }
        }
        panic!("the subscriber does not listen");
    }

    pub fn status(&mut self, state: &str) -> Seen {
        self.wait_for(&format!("status {state}"), |seen| {
            seen.topic.ends_with("/status") && seen.json()["state"] == state
        })
    }
}

impl Drop for Subscriber {
    fn drop(&mut self) {
        let _ = self.process.kill();
        let _ = self.process.wait();
    }
}

fn parse(line: &str) -> Seen {
    let mut parts = line.splitn(6, '|');
    let mut next = || parts.next().unwrap_or_default().to_owned();
    let (topic, retained, content_type, expiry, properties) =
        (next(), next() == "1", next(), next(), next());
    let hex = next();
    let byte = |i: usize| u8::from_str_radix(&hex[i..i + 2], 16).unwrap();
    let payload = (0..hex.len() / 2).map(|i| byte(2 * i)).collect();
    Seen { topic, retained, content_type, expiry, properties, payload }
}

/// A mosquitto password file.
pub fn password_file(directory: &Path, user: &str, password: &str) {
    let path = directory.join("passwords");
    let status = Command::new("mosquitto_passwd")
        .args(["-b", "-c", path.to_str().unwrap(), user, password])
        .stderr(Stdio::null())
        .status()
        .expect("mosquitto_passwd runs");
    assert!(status.success());
}

/// An authority `ca.crt` and a certificate for `localhost` signed by it.
pub fn certificates(directory: &Path) {
    let script = "
        set -e
        openssl req -x509 -newkey rsa:2048 -nodes -keyout ca.key -out ca.crt -days 2 \
            -subj '/CN=test authority'
        openssl req -newkey rsa:2048 -nodes -keyout server.key -out server.csr -subj '/CN=localhost'
        printf 'subjectAltName=DNS:localhost,IP:127.0.0.1\\nbasicConstraints=CA:FALSE\\n' > server.ext
        openssl x509 -req -in server.csr -CA ca.crt -CAkey ca.key -CAcreateserial \
            -out server.crt -days 2 -extfile server.ext";
    let mut shell = Command::new("bash")
        .arg("-s")
        .current_dir(directory)
        .stdin(Stdio::piped())
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .spawn()
        .unwrap();
    shell.stdin.take().unwrap().write_all(script.as_bytes()).unwrap();
    assert!(shell.wait().unwrap().success(), "openssl made no certificates");
}
