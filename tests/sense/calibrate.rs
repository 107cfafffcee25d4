//! The walk around the platform, with the real driver, an emulated converter and a scripted person.

use super::clock::{Chance, Clock};
use super::nau7802_chip::Chip;
use dekchi::cli::calibrate::scale::{Walked, walk};
use dekchi::cli::calibrate::{Bench, Dialog, drift};
use dekchi::reading::Reading;
use dekchi::sense::calibration::ScaleCalibration;
use dekchi::sense::calibration::book::ScaleEntry;
use dekchi::sense::counts::Counts;
use dekchi::sense::nau7802::{Nau7802, Setup};
use std::cell::RefCell;
use std::io::{self, BufRead, Cursor, Read};
use std::rc::Rc;

/// A platform of four half bridges, 10,740 counts a kilogram, with the load that the person put on.
struct Platform {
    chip: Chip,
    scale: Nau7802<Chip, Clock>,
    load_kg: Rc<RefCell<f64>>,
    since: (f64, f64),
    noise: Chance,
    creep_share: f64,
    bend_kg: f64,
    /// How much warmer than 25 °C the burner makes it in the end, K, and what each kelvin does, kg.
    warms_k: f64,
    drift_kg_per_k: f64,
}

impl Platform {
    fn new(load_kg: Rc<RefCell<f64>>) -> Self {
        let clock = Clock::default();
        let chip = Chip::new(clock.clone());
        let scale = Nau7802::new(chip.clone(), clock, Setup::default());
        let noise = Chance(12);
        Self {
            chip,
            scale,
            load_kg,
            since: (0.0, 0.0),
            noise,
            creep_share: 0.0,
            bend_kg: 0.0,
            warms_k: 0.0,
            drift_kg_per_k: 0.0,
        }
    }

    /// How much warmer than at the start it is now, K: it heats through in 25 minutes.
    fn warmer_k(&self) -> f64 {
        let now_s = self.chip.clock.us() as f64 / 1e6;
        self.warms_k * (1.0 - (-now_s / 1_500.0).exp())
    }

    /// What the bridge gives now: bent, creeping, noisy by 4 g.
    fn signal(&mut self) -> i32 {
        let (now_s, kg) = (self.chip.clock.us() as f64 / 1e6, *self.load_kg.borrow());
        if kg != self.since.0 {
            self.since = (kg, now_s);
        }
        let crept = self.creep_share * kg * (1.0 - (-(now_s - self.since.1) / 120.0).exp());
        let bend = 4.0 * self.bend_kg * kg * (30.0 - kg) / 900.0;
        let unit = |bits: u64| (bits >> 11) as f64 / (1_u64 << 53) as f64 - 0.5;
        let noise: f64 = (0..12).map(|_| unit(self.noise.bits())).sum::<f64>() * 0.004;
        let drift = self.drift_kg_per_k * self.warmer_k();
        (-55_000.0 + 10_740.0 * (kg + bend + crept + drift + noise)).round() as i32
    }
}

impl Bench for Platform {
    fn sample(&mut self) -> (f64, Reading<Counts>) {
        let signal = self.signal();
        self.chip.load(signal);
        self.chip.warm(25.0 + self.warmer_k());
        let counts = self.scale.read();
        (self.chip.clock.us() as f64 / 1e6, counts)
    }

    fn platform_c(&mut self) -> Option<f64> {
        self.scale.chip_temperature().ok().map(|celsius| celsius.get())
    }
}

/// Each line is said after the person has put that load on.
struct Person {
    script: Vec<(f64, &'static str)>,
    line: Cursor<Vec<u8>>,
    load_kg: Rc<RefCell<f64>>,
}

impl Read for Person {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        self.line.read(buffer)
    }
}

impl BufRead for Person {
    fn fill_buf(&mut self) -> io::Result<&[u8]> {
        if self.line.get_ref().len() as u64 == self.line.position() && !self.script.is_empty() {
            let (kg, words) = self.script.remove(0);
            *self.load_kg.borrow_mut() = kg;
            self.line = Cursor::new(format!("{words}\n").into_bytes());
        }
        self.line.fill_buf()
    }

    fn consume(&mut self, amount: usize) {
        self.line.consume(amount);
    }
}

fn calibrate(
    script: &[(f64, &'static str)],
    bend: impl Fn(&mut Platform),
) -> Result<Walked, String> {
    let load_kg = Rc::new(RefCell::new(0.0));
    let mut platform = Platform::new(Rc::clone(&load_kg));
    bend(&mut platform);
    let line = Cursor::new(Vec::new());
    let person = Person { script: script.to_vec(), line, load_kg };
    let mut dialog = Dialog::new(Box::new(person), Box::new(io::sink()));
    walk(&mut platform, &mut dialog, "big", 5).map_err(|failure| failure.sentence)
}

const WEIGHTS: [(f64, &str); 8] = [
    (0.0, ""),
    (5.0, "5.000 0.001"),
    (10.0, "10.000 0.001"),
    (20.0, "20.000 0.001"),
    (30.0, "30.000 0.001"),
    (30.0, "done"),
    (30.0, ""),
    (0.0, ""),
];

#[test]
fn a_good_platform_is_walked_round_and_states_its_class() {
    let walked = calibrate(&WEIGHTS, |_| ()).unwrap();
    let calibration = walked.fit.calibration;
    assert!((calibration.counts_per_kg / 10_740.0 - 1.0).abs() < 2e-4, "{calibration:?}");
    assert!((calibration.at_c.unwrap() - 25.0).abs() < 0.1);
    let e_kg = walked.behaves.unwrap().e_kg;
    assert!((0.005..=0.010).contains(&e_kg), "{e_kg}");
    let report = walked.report("big", "2026-11-25");
    println!("{report}");
    assert!(report.contains("nothing may be sold by this scale"));
    assert!(!report.to_lowercase().contains("legal for trade"));
}

#[test]
fn a_platform_that_creeps_is_not_called_better_than_it_is() {
    let walked = calibrate(&WEIGHTS, |platform| platform.creep_share = 0.001).unwrap();
    println!("{}", walked.report("big", "2026-11-25"));
    // 30 g of creep, of which the walk must have seen the most in 5 min.
    assert!((0.010..0.032).contains(&walked.creep_kg), "{}", walked.creep_kg);
    assert!(walked.behaves.unwrap().e_kg >= 0.020);
}

#[test]
fn a_bent_platform_is_straightened() {
    let walked = calibrate(&WEIGHTS, |platform| platform.bend_kg = 0.030).unwrap();
    assert!(walked.fit.non_linearity_kg > 0.025);
    assert!(walked.fit.errors.iter().all(|(_, error)| error.abs() < 0.003), "{:?}", walked.fit);
}

#[test]
fn a_kettle_of_litres_will_do_but_says_what_it_is_worth() {
    let script =
        [(0.0, ""), (9.97, "10 L"), (19.94, "20 l"), (19.94, "done"), (19.94, ""), (0.0, "")];
    let walked = calibrate(&script, |_| ()).unwrap();
    assert!((walked.fit.calibration.counts_per_kg / 10_740.0 - 1.0).abs() < 1e-3);
    // 1 % of 20 kg is 0.2 kg: no class down to 1 kg allows that.
    assert_eq!(walked.behaves, None);
}

#[test]
fn a_person_who_leaves_or_a_cell_that_hangs_stops_the_walk_with_a_sentence() {
    let left = calibrate(&WEIGHTS[..3], |_| ()).unwrap_err();
    assert!(left.contains("nothing was kept"), "{left}");
    let hanging: Vec<(f64, &str)> =
        WEIGHTS.iter().map(|&(kg, words)| (kg.min(6.0), words)).collect();
    let why = calibrate(&hanging, |_| ()).unwrap_err();
    assert!(why.contains("cell"), "{why}");
    let unplugged = calibrate(&WEIGHTS, |platform| platform.chip.faults.unplugged.set(true));
    assert!(unplugged.unwrap_err().contains("plugged in"));
}

/// Calibrated cold, with bricks of 20 kg on it.
fn cold() -> ScaleEntry {
    let calibration = ScaleCalibration {
        zero_counts: -55_000.0,
        counts_per_kg: 10_740.0,
        curvature_per_kg: 0.0,
        top_kg: 30.0,
        at_c: Some(25.0),
        drift_kg_per_k: 0.0,
    };
    ScaleEntry::new("big", "2026-11-24", &calibration, "behaves like e = 10 g".to_owned())
}

/// An hour and a half with the burner on; what was learnt, and the platform as it is then.
fn heat(warms_k: f64, drift_kg_per_k: f64) -> (Result<ScaleEntry, String>, Platform) {
    let mut platform = Platform::new(Rc::new(RefCell::new(20.0)));
    (platform.warms_k, platform.drift_kg_per_k) = (warms_k, drift_kg_per_k);
    platform.creep_share = 0.0005;
    let mut dialog = Dialog::new(Box::new(&b"\n"[..]), Box::new(io::sink()));
    let entry = cold();
    let learnt = drift::walk(&mut platform, &mut dialog, &entry.calibration(), 90);
    let kept = learnt.map(|learnt| {
        println!("{}", drift::report("big", &learnt));
        drift::with(&entry, &learnt, "2026-11-25")
    });
    (kept.map_err(|failure| failure.sentence), platform)
}

#[test]
fn the_burners_heat_teaches_the_platforms_drift_and_the_hot_scale_is_right_again() {
    let (kept, mut platform) = heat(25.0, 0.004);
    let kept = kept.unwrap();
    assert!((kept.drift_kg_per_k - 0.004).abs() < 0.0002, "{}", kept.drift_kg_per_k);
    assert_eq!((kept.made.as_str(), kept.counts_per_kg), ("2026-11-25", 10_740.0));
    let hot_c = platform.platform_c();
    assert!(hot_c.is_some_and(|c| (c - 49.3).abs() < 0.5), "{hot_c:?}");
    let mut mean = |entry: &ScaleEntry| {
        let reads = (0..100).map(|_| f64::from(platform.sample().1.unwrap().get()));
        let kg: f64 = reads.map(|counts| entry.calibration().kg(counts, hot_c)).sum();
        kg / 100.0
    };
    // 20 kg and 10 g of creep, hot by 24 K: 97 g of drift.
    assert!((mean(&cold()) - 20.107).abs() < 0.003);
    assert!((mean(&kept) - 20.010).abs() < 0.006);
}

#[test]
fn a_platform_that_does_not_warm_or_does_not_drift_teaches_nothing() {
    let (kept, _) = heat(3.0, 0.004);
    assert!(kept.unwrap_err().contains("warmed by less than 5 K"));
    let (kept, _) = heat(25.0, 0.0);
    assert!(kept.unwrap_err().contains("no effect of temperature"), "creep is not drift");
}

#[test]
fn an_unplugged_converter_stops_the_run_with_a_sentence() {
    let mut platform = Platform::new(Rc::new(RefCell::new(20.0)));
    platform.chip.faults.unplugged.set(true);
    let mut dialog = Dialog::new(Box::new(&b"\n"[..]), Box::new(io::sink()));
    let why = drift::walk(&mut platform, &mut dialog, &cold().calibration(), 15).unwrap_err();
    assert!(why.sentence.contains("platform's temperature"), "{}", why.sentence);
}
