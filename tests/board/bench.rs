//! Calibration and sensors by the program as it is installed, with a converter that the test stands in
//! for below Linux's own calls (converter.c).

use std::fs;
use std::io::{BufRead, BufReader, Read, Write};
use std::path::PathBuf;
use std::process::{Child, Command, Stdio};
use std::sync::mpsc::{Receiver, sync_channel};
use std::thread;
use std::time::Duration;

const KITCHEN: &str = "[site]\naltitude_m = 40.0\n[board]\ncalibrations = \"FOLDER/book.toml\"\n\
    onewire_root = \"FOLDER/w1\"\n[[pot]]\nname = \"big\"\nbase_diameter_m = 0.40\ntare_kg = 6.2\n\
    lid_kg = 1.35\n[pot.sensors]\nprobe = \"28-0316a2795f01\"\nplatform = \"converter\"\n\
    scale = \"nau7802\"\n";
const BATCH: &str = "name = \"Tuesday base\"\npot = \"big\"\n[start]\ncontents_kg = 23.6\n\
    lid = \"off\"\ncomposition = { water = 0.9, solids = 0.1 }\n";

/// A stove with a converter, and a probe whose kernel files say what the test wrote there.
struct Stove {
    folder: tempfile::TempDir,
    converter: PathBuf,
}

impl Stove {
    /// `None`, loudly, where this machine has no C compiler.
    fn built() -> Option<Self> {
        let folder = tempfile::tempdir().unwrap();
        let converter = folder.path().join("converter.so");
        let source = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/board/converter.c");
        let compiler = Command::new("cc")
            .args(["-O1", "-Wall", "-Werror", "-shared", "-fPIC", "-o"])
            .args([converter.as_os_str(), source.as_ref(), "-lm".as_ref()])
            .status();
        let Ok(status) = compiler else {
            eprintln!("LEFT OUT: no C compiler on this machine");
            return None;
        };
        assert!(status.success());
        let stove = Self { folder, converter };
        stove.write("kitchen.toml", &KITCHEN.replace("FOLDER", stove.path("").to_str().unwrap()));
        stove.write("batch.toml", BATCH);
        fs::create_dir_all(stove.path("w1/28-0316a2795f01")).unwrap();
        stove.probe_c(20.0);
        stove.platform("0 25 25 1 0");
        Some(stove)
    }

    fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    fn write(&self, name: &str, text: &str) {
        // In one step: the program reads while we write.
        fs::write(self.path("new"), text).unwrap();
        fs::rename(self.path("new"), self.path(name)).unwrap();
    }

    /// Load in kg, temperature from and to in °C, its time constant in s, transactions that are lost.
    fn platform(&self, line: &str) {
        self.write("platform", &format!("{line}\n"));
    }

    /// The kernel's text for a sound conversion, with Maxim's check sum over the first eight bytes.
    fn probe_c(&self, celsius: f64) {
        let [low, high] = ((celsius * 16.0).round() as i16).to_le_bytes();
        let pad = [low, high, 0x4B, 0x46, 0x7F, 0xFF, 0x0C, 0x10];
        let sum = pad.iter().fold(0_u8, |sum, byte| {
            (0..8).fold(sum ^ byte, |s, _| if s & 1 == 1 { s >> 1 ^ 0x8C } else { s >> 1 })
        });
        let bytes: String = pad.iter().map(|byte| format!("{byte:02x} ")).collect();
        let (millis, bytes) = ((celsius * 1000.0).round() as i32, format!("{bytes}{sum:02x}"));
        let text = format!("{bytes} : crc={sum:02x} YES\n{bytes} t={millis}\n");
        self.write("w1/28-0316a2795f01/w1_slave", &text);
    }

    fn dekchi(&self, args: &[&str]) -> Command {
        let mut command = Command::new(env!("CARGO_BIN_EXE_dekchi"));
        command.args(args).arg("--kitchen").arg(self.path("kitchen.toml"));
        command.env("LD_PRELOAD", &self.converter).env("DEKCHI_PLATFORM", self.path("platform"));
        command.stdin(Stdio::piped()).stdout(Stdio::piped()).stderr(Stdio::piped());
        command
    }

    /// Answers each question after doing what goes with it; gives the report, or the last words.
    fn walk(&self, args: &[&str], answers: &[(&str, &dyn Fn(), &str)]) -> Result<String, String> {
        let mut command = self.dekchi(args);
        if args[1] != "probe" {
            command.env("DEKCHI_TIME", "own");
        }
        let mut child = command.spawn().unwrap();
        let (mut lines, mut words) = (child.stdin.take().unwrap(), child.stderr.take().unwrap());
        let (mut said, mut answers) = (Vec::new(), answers.iter());
        let mut next = answers.next();
        let mut byte = [0];
        while words.read(&mut byte).unwrap() == 1 {
            said.push(byte[0]);
            let Some((question, act, answer)) = next else { continue };
            if said.ends_with(question.as_bytes()) {
                act();
                writeln!(lines, "{answer}").unwrap();
                next = answers.next();
            }
        }
        let out = child.wait_with_output().unwrap();
        match out.status.success() {
            true => Ok(String::from_utf8(out.stdout).unwrap()),
            false => Err(String::from_utf8(said).unwrap()),
        }
    }

    fn calibrate_scale(&self) -> Result<String, String> {
        let load = |line: &'static str| move || self.platform(line);
        let (empty, ten, thirty) =
            (load("0 25 25 1 0"), load("10 25 25 1 0"), load("30 25 25 1 0"));
        let answers: [(&str, &dyn Fn(), &str); 7] = [
            ("then Enter. ", &empty, ""),
            ("or done: ", &ten, "10.000 0.001"),
            ("or done: ", &thirty, "30.000 0.001"),
            ("or done: ", &thirty, "done"),
            ("on again, then Enter. ", &thirty, ""),
            ("as before, then Enter. ", &empty, ""),
            ("[yes/no] ", &empty, "yes"),
        ];
        self.walk(&["calibrate", "scale"], &answers)
    }

    /// The daemon, with the batch of the folder.
    fn run(&self) -> Daemon {
        let (batch, store) = (self.path("batch.toml"), self.path("s.sqlite"));
        let args = ["run", "--batch", batch.to_str().unwrap(), "--store", store.to_str().unwrap()];
        let mut child = self.dekchi(&args).spawn().unwrap();
        let lines = BufReader::new(child.stderr.take().unwrap()).lines();
        let (line, heard) = sync_channel(1_000);
        thread::spawn(move || lines.map_while(Result::ok).all(|text| line.send(text).is_ok()));
        Daemon { child, heard }
    }

    /// The first batch's recording, once it has such a row.
    #[expect(clippy::disallowed_methods, reason = "waits for the daemon's next commit")]
    fn recorded_until(&self, is_wanted: impl Fn(&str) -> bool) -> String {
        let (into, store) = (self.path("export"), self.path("s.sqlite"));
        let export = || {
            Command::new(env!("CARGO_BIN_EXE_dekchi"))
                .args(["batches", "export", "1", "--into", into.to_str().unwrap()])
                .args(["--store", store.to_str().unwrap()])
                .output()
                .unwrap()
        };
        for _ in 0..120 {
            let _ = fs::remove_dir_all(&into);
            export();
            let rows = fs::read_to_string(into.join("recording.csv")).unwrap_or_default();
            if rows.lines().any(&is_wanted) {
                return rows;
            }
            thread::sleep(Duration::from_secs(1));
        }
        panic!("no such row: {:?}", export());
    }

    fn shown(&self) -> String {
        let out = self.dekchi(&["calibrate", "show"]).output().unwrap();
        String::from_utf8(out.stdout).unwrap()
    }
}

#[test]
fn a_platform_and_a_probe_are_calibrated_kept_and_shown() {
    let Some(stove) = Stove::built() else { return };
    let report = stove.calibrate_scale().unwrap();
    assert!(report.contains("Behaves like e = ") && report.contains("10740."), "{report}");

    let heat = || stove.platform("20 25 50 1500 0");
    let answers: [(&str, &dyn Fn(), &str); 2] =
        [("load on, then Enter. ", &heat, ""), ("[yes/no] ", &|| (), "yes")];
    let report = stove.walk(&["calibrate", "drift"], &answers).unwrap();
    let learnt = ["moves by +3.9", "moves by +4.0"];
    assert!(learnt.iter().any(|words| report.contains(words)), "{report}");

    let (ice, boil) = (|| stove.probe_c(0.25), || stove.probe_c(100.125));
    let answers: [(&str, &dyn Fn(), &str); 3] =
        [("or skip): ", &ice, ""), ("or skip): ", &boil, ""), ("[yes/no] ", &|| (), "yes")];
    let report = stove.walk(&["calibrate", "probe"], &answers).unwrap();
    assert!(report.contains("correction at 0 °C   -0.25 °C"), "{report}");

    let shown = stove.shown();
    assert!(shown.contains("big  scale  behaves like e = "), "{shown}");
    assert!(shown.contains("drift +3.9 g/K") || shown.contains("drift +4.0 g/K"), "{shown}");
    assert!(shown.contains("28-0316a2795f01  -0.25 °C at 0 °C, of "), "{shown}");
    let book = fs::read_to_string(stove.path("book.toml")).unwrap();
    assert_eq!(book.matches("[[scale]]").count(), 2, "nothing is thrown away: {book}");
}

#[test]
fn a_person_who_says_no_or_hangs_up_keeps_nothing() {
    let Some(stove) = Stove::built() else { return };
    let answers: [(&str, &dyn Fn(), &str); 3] = [
        ("or skip): ", &|| (), "skip"),
        ("or skip): ", &|| stove.probe_c(99.75), ""),
        ("[yes/no] ", &|| (), "no"),
    ];
    stove.walk(&["calibrate", "probe"], &answers).unwrap();
    let why = stove.walk(&["calibrate", "drift"], &[]).unwrap_err();
    assert!(why.contains("run `dekchi calibrate scale --pot big` first"), "{why}");
    let mut child = stove.dekchi(&["calibrate", "scale"]).spawn().unwrap();
    drop(child.stdin.take());
    let out = child.wait_with_output().unwrap();
    assert_eq!(out.status.code(), Some(1));
    assert!(String::from_utf8_lossy(&out.stderr).contains("nothing was kept"));
    assert!(!stove.path("book.toml").exists());
}

#[test]
fn sensors_are_shown_raw_and_calibrated_and_a_hot_platform_is_corrected() {
    let Some(stove) = Stove::built() else { return };
    let book = "[[scale]]\nname = \"big\"\nmade = \"unset\"\nzero_counts = -55000.0\n\
        counts_per_kg = 10740.0\ntop_kg = 30.0\nat_c = 25.0\ndrift_kg_per_k = 0.004\n";
    stove.write("book.toml", book);
    stove.platform("20 40 40 1 0");
    let out = stove.dekchi(&["sensors", "--json", "--seconds", "8"]).output().unwrap();
    let notes = String::from_utf8_lossy(&out.stderr);
    assert!(notes.contains("big scale: its calibration has no date"), "{notes}");
    let lines = String::from_utf8(out.stdout).unwrap();
    let last = |sensor: &str| -> serde_json::Value {
        let lines = lines.lines().map(|line| serde_json::from_str(line).unwrap());
        let of_it = lines.filter(|line: &serde_json::Value| line["sensor"] == sensor);
        of_it.reduce(|_, last| last).unwrap()
    };
    let scale = last("big scale");
    assert!((scale["value"].as_f64().unwrap() - 20.0).abs() < 0.03, "{scale}");
    assert!((scale["raw"].as_f64().unwrap() - 160_444.0).abs() < 300.0, "{scale}");
    assert!(scale["noise"].as_f64().is_some_and(|kg| (0.001..0.02).contains(&kg)), "{scale}");
    assert_eq!(last("big platform")["unit"], "°C");
    assert_eq!(last("big probe")["value"], 20.0);
}

/// A daemon and what it says; it ends whatever becomes of the test.
struct Daemon {
    child: Child,
    heard: Receiver<String>,
}

impl Daemon {
    fn says(&self, words: &str) {
        let mut said = Vec::new();
        while let Ok(line) = self.heard.recv_timeout(Duration::from_secs(120)) {
            if line.contains(words) {
                return;
            }
            said.push(line);
        }
        panic!("not a word of it: {said:?}");
    }
}

impl Drop for Daemon {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

#[test]
fn the_daemon_warns_of_a_platform_outside_its_calibrations_range() {
    let Some(stove) = Stove::built() else { return };
    let book = "[[scale]]\nname = \"big\"\nmade = \"2026-11-01\"\nzero_counts = -55000.0\n\
        counts_per_kg = 10740.0\ntop_kg = 30.0\nat_c = 20.0\n";
    stove.write("book.toml", book);
    stove.platform("29.8 55 55 1 0");
    let daemon = stove.run();
    daemon.says("big's scale: the platform is at 55 °C and was calibrated at 20 °C");
}

#[test]
fn a_pot_is_watched_without_a_scale_that_was_never_calibrated_and_with_it_once_it_is() {
    let Some(stove) = Stove::built() else { return };
    stove.probe_c(62.5);
    let daemon = stove.run();
    let missing = "big's scale: it was never calibrated, so the pot is watched without it: run \
                   `dekchi calibrate scale --pot big`";
    daemon.says(missing);
    let rows = stove.recorded_until(|row| row.contains(",62.5"));
    assert!(rows.contains("fault load uncalibrated"), "{rows}");
    stove.calibrate_scale().unwrap();
    stove.platform("29.8 25 25 1 0");
    daemon.says("the scale is calibrated and is read from now on");
    stove.recorded_until(|row| row.contains(",29.8") || row.contains(",29.7"));
}
