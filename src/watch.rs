//! The judgement: what is going on in the pot.
//!
//! Pure. Time comes with every event; what is to be done about it goes out as actions. The daemon,
//! the demo, `replay`, the tests and the fault simulations all drive [`Watch::step`], so a recording
//! replayed gives the same actions, byte for byte.

pub mod action;
pub mod cooling;
pub mod event;
pub mod hold;
pub mod setting;
pub mod words;

use crate::moment::Moment;

use action::{Action, Actions, Lid, Snapshot};
use event::Event;
use setting::Setting;

/// One pot, watched.
#[derive(Debug)]
pub struct Watch {
    setting: Setting,
    began: Option<Moment>,
    next_show_ms: i64,
    load_kg: Option<f64>,
    probe_c: Option<f64>,
}

impl Watch {
    #[must_use]
    pub fn new(setting: Setting) -> Self {
        Self { setting, began: None, next_show_ms: 0, load_kg: None, probe_c: None }
    }

    /// Takes in one event and says what it leads to.
    ///
    /// Moments must not decrease; one that does is taken as the latest moment seen.
    pub fn step(&mut self, event: Event, at: Moment) -> Actions {
        let began = *self.began.get_or_insert(at);
        match event {
            Event::Load(load) => self.load_kg = load.ok().map(|kg| kg.get()),
            Event::Probe(probe) => self.probe_c = probe.ok().map(|c| c.get()),
            _ => {}
        }
        let mut actions = Actions::new();
        if at.ms() - began.ms() >= self.next_show_ms {
            self.next_show_ms += self.setting.show_every_ms;
            actions.push(Action::Show(Box::new(self.snapshot(at))));
        }
        actions
    }

    fn snapshot(&self, at: Moment) -> Snapshot {
        let start = &self.setting.plan.start;
        let lid_kg = if start.lid_on { self.setting.pot.lid_kg } else { 0.0 };
        Snapshot {
            at,
            pot_c: self.probe_c,
            contents_kg: self.load_kg.map(|kg| kg - self.setting.pot.tare_kg - lid_kg),
            lid: Some(if start.lid_on { Lid::On } else { Lid::Off }),
            ..Snapshot::default()
        }
    }
}
