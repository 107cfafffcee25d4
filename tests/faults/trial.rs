//! A pot under judgement, and what must hold of everything that is said of it.

use std::collections::BTreeMap;

use dekchi::moment::Moment;
use dekchi::watch::Watch;
use dekchi::watch::action::{Action, Alarm, AlarmState, Sensor, Snapshot, What};
use dekchi::watch::event::Event;
use dekchi::watch::setting::Setting;

/// One pot under judgement, and what must hold of everything that comes out.
pub struct Trial {
    pub seed: String,
    pub watch: Watch,
    pub alerts: BTreeMap<Alarm, AlarmState>,
    pub failed: BTreeMap<&'static str, bool>,
    pub shown: Snapshot,
    pub happened: Vec<(i64, What)>,
    pub told: u64,
}

impl Trial {
    pub fn new(seed: String, setting: Setting) -> Self {
        Self {
            seed,
            watch: Watch::new(setting),
            alerts: BTreeMap::new(),
            failed: BTreeMap::new(),
            shown: Snapshot::default(),
            happened: Vec::new(),
            told: 0,
        }
    }

    pub fn step(&mut self, event: Event, at: Moment) {
        for action in self.watch.step(event, at) {
            match action {
                Action::Show(snapshot) => self.look(*snapshot),
                Action::Happened(happening) => {
                    match &happening.what {
                        What::SensorFault { sensor, .. } => {
                            let before = self.failed.insert(sensor.name(), true);
                            assert_ne!(before, Some(true), "{}: failed twice", self.seed);
                        }
                        What::SensorBack { sensor } => {
                            let before = self.failed.insert(sensor.name(), false);
                            assert_eq!(before, Some(true), "{}: back, not gone", self.seed);
                        }
                        _ => {}
                    }
                    assert!(happening.at <= happening.seen, "{}: {happening:?}", self.seed);
                    self.happened.push((happening.at.ms() / 1000, happening.what));
                }
                Action::Tell(notice) => {
                    let before = self.alerts.insert(notice.alarm, notice.state);
                    let fair = follows(before, notice.state);
                    assert!(fair, "{}: {before:?} and then {notice:?}", self.seed);
                    self.told += 1;
                }
            }
        }
    }

    pub fn has_failed(&self, sensor: Sensor) -> bool {
        self.failed.get(sensor.name()).is_some_and(|failed| *failed)
    }

    /// Unknown is shown as unknown, and what is shown can be.
    fn look(&mut self, now: Snapshot) {
        let seed = &self.seed;
        if self.has_failed(Sensor::Probe) {
            assert_eq!(now.pot_c, None, "{seed}");
        }
        if self.has_failed(Sensor::Scale) {
            let known = [now.contents_kg, now.water_kg, now.fat_kg, now.salt_kg, now.total_solids];
            assert_eq!(known, [None; 5], "{seed}");
            assert_eq!((now.evaporation_kg_h, now.top_up_l), (None, None), "{seed}");
            assert_eq!((now.target_in_s, now.runs_out_in_s), (None, None), "{seed}");
        }
        for (value, low, high) in ranges(&now) {
            let fair = value.is_none_or(|value| (low..=high).contains(&value));
            assert!(fair, "{seed}: {value:?} is not in {low} to {high}: {now:?}");
        }
        if let Some(spread) = now.target_in_s {
            let fair = 0.0 <= spread.p10 && spread.p10 <= spread.p50 && spread.p50 <= spread.p90;
            assert!(fair, "{seed}: {spread:?}");
        }
        let stands = |alarm: &Alarm| {
            matches!(self.alerts.get(alarm), Some(AlarmState::Raised | AlarmState::Acknowledged))
        };
        let standing: Vec<Alarm> = Alarm::ALL.into_iter().filter(stands).collect();
        assert_eq!(now.raised, standing, "{seed}");
        self.shown = now;
    }
}

/// What may be shown, and between what.
fn ranges(now: &Snapshot) -> [(Option<f64>, f64, f64); 13] {
    const ANY: f64 = 1e7;
    [
        (now.pot_c, -56.0, 126.0),
        (now.contents_kg, 0.0, 700.0),
        (now.contents_sd_kg, 0.0, 700.0),
        (now.water_kg, 0.0, 700.0),
        (now.total_solids, 0.0, 1.0),
        (now.evaporation_kg_h, -1.0, 200.0),
        (now.evaporation_sd_kg_h, 0.0, 1000.0),
        (now.heat_w, -1e5, 1e5),
        (now.boil_c, 60.0, 130.0),
        (now.target_kg, 0.0, 1e4),
        (now.catch_index, 0.0, ANY),
        (now.since_stir_s, 0.0, ANY),
        (now.served_kg, 0.0, 1e4),
    ]
}

/// Raised once, seen once, cleared once; a shelf may end in either.
fn follows(before: Option<AlarmState>, now: AlarmState) -> bool {
    use AlarmState::{Acknowledged, Cleared, Raised, Shelved};
    match now {
        Raised => matches!(before, None | Some(Cleared | Shelved)),
        Acknowledged => before == Some(Raised),
        Shelved => matches!(before, Some(Raised | Acknowledged | Shelved)),
        Cleared => matches!(before, Some(Raised | Acknowledged | Shelved)),
    }
}
