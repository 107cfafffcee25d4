//! A pot on a stove for tests of the judgement: seen ten times a second, it does what it is told.

use crate::batch::book::Deed;
use crate::batch::composition::Composition;
use crate::batch::larder::Larder;
use crate::batch::plan::{Plan, PlannedAddition, Start, Target};
use crate::batch::pot::{Pot, Site};
use crate::moment::Moment;
use crate::quantity::{Celsius, Kilograms};
use crate::reading::Fault;

use super::Watch;
use super::action::{Action, Alarm, AlarmState, Snapshot, What};
use super::event::Event;
use super::setting::Setting;
use super::words::understand;

const TARE_KG: f64 = 6.0;

/// A pot of sauce and what the judgement says of it.
pub struct Stove {
    pub watch: Watch,
    pub kg: f64,
    pub c: f64,
    /// Warming, K a minute; the boil is the end of it.
    pub k_min: f64,
    /// Boiling off, kg an hour.
    pub kg_h: f64,
    pub silent: bool,
    pub told: Vec<What>,
    pub alerts: Vec<(i64, Alarm, AlarmState)>,
    pub shown: Option<Snapshot>,
    at_ms: i64,
}

/// Dry matter 12 %.
pub fn sauce() -> Composition {
    Composition::new(0.88, 0.075, 0.04, 0.005).unwrap()
}

/// 20 kg of sauce at 80 °C, an infusion and thinning water to come, right at a share of dry matter.
pub fn stove(right: f64) -> Stove {
    let infusion = Composition::new(0.96, 0.03, 0.01, 0.0).unwrap();
    let planned =
        |name: &str, kg, composition| PlannedAddition { name: name.into(), kg, composition };
    let additions = vec![
        planned("spice infusion", 1.1, infusion),
        planned("thinning water", 5.0, Composition::WATER),
    ];
    cooking(additions, Some(Target::TotalSolids(right)))
}

/// 20 kg of sauce at 80 °C.
pub fn cooking(additions: Vec<PlannedAddition>, target: Option<Target>) -> Stove {
    let start = Start { contents_kg: 20.0, lid_on: false, composition: sauce() };
    let (name, stages) = ("base".to_owned(), vec![]);
    let plan = Plan { name, pot: "big".into(), start, additions, target, stages };
    let pot = Pot {
        name: "big".into(),
        base_diameter_m: 0.4,
        tare_kg: TARE_KG,
        lid_kg: 1.3,
        height_m: None,
    };
    let site = Site { altitude_m: 0.0, pressure: None };
    let setting = Setting { larder: Larder::bundled(), ..Setting::of(site, pot, plan) };
    Stove {
        watch: Watch::new(setting),
        kg: 20.0,
        c: 80.0,
        k_min: 0.0,
        kg_h: 0.0,
        silent: false,
        told: vec![],
        alerts: vec![],
        shown: None,
        at_ms: 0,
    }
}

impl Stove {
    pub fn minute(&self) -> i64 {
        self.at_ms / 60_000
    }

    pub fn step(&mut self, event: Event) {
        for action in self.watch.step(event, Moment::from_ms(self.at_ms)) {
            match action {
                Action::Happened(happening) => self.told.push(happening.what),
                Action::Show(snapshot) => self.shown = Some(*snapshot),
                Action::Tell(notice) => {
                    self.alerts.push((self.minute(), notice.alarm, notice.state));
                }
            }
        }
    }

    /// Lets it be for a while, the load flickering by so much.
    fn go(&mut self, seconds: i64, flicker_kg: f64) {
        for n in 0..seconds * 10 {
            self.at_ms += 100;
            self.kg -= self.kg_h / 36_000.0;
            self.c = (self.c + self.k_min / 600.0).min(99.97);
            let off_kg = flicker_kg * ((n * 7) % 5 - 2) as f64;
            let load = Kilograms::new(TARE_KG + self.kg + off_kg).ok_or(Fault::Absent);
            self.step(Event::Load(if self.silent { Err(Fault::Absent) } else { load }));
            if n % 10 == 0 {
                let c = (self.c * 16.0).round() / 16.0;
                self.step(Event::Probe(Celsius::new(c).ok_or(Fault::Absent)));
            }
        }
    }

    pub fn stand(&mut self, seconds: i64) {
        self.go(seconds, 0.001);
    }

    pub fn stir(&mut self, seconds: i64) {
        self.go(seconds, 0.15);
        self.stand(10);
    }

    pub fn pour(&mut self, kg: f64) {
        for _ in 0..8 {
            self.kg += kg / 8.0;
            self.stand(1);
        }
    }

    pub fn say(&mut self, words: &str) {
        let says = understand(words, &Larder::bundled()).unwrap();
        assert_eq!(self.watch.refuses(&says), None, "{words}");
        self.step(Event::Cook(says));
    }

    /// kg and name of what went in, and whether it was corrected.
    pub fn went_in(&self) -> Vec<(f64, Option<&str>, bool)> {
        let entries = self.watch.book().entries().iter();
        let added = entries.filter_map(|entry| match &entry.deed {
            Deed::Added { kg, name, .. } => {
                Some(((kg * 100.0).round() / 100.0, name.as_deref(), entry.was.is_some()))
            }
            _ => None,
        });
        added.collect()
    }

    pub fn target_kg(&mut self) -> f64 {
        self.stand(12);
        self.shown.as_ref().unwrap().target_kg.unwrap()
    }

    /// Whether this alert was raised.
    pub fn raised(&self, alarm: Alarm) -> bool {
        self.alerts.iter().any(|(_, a, state)| (*a, *state) == (alarm, AlarmState::Raised))
    }
}
