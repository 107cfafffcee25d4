//! Sums over a batch.

use crate::moment::Moment;
use crate::watch::action::{Happening, Sensor, Snapshot, What};

/// A boil that is seen this soon after the probe came back may be an old one, s.
const JUST_BACK_S: f64 = 180.0;

/// Sums over the whole batch, which thinning does not touch.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Tally {
    pub added_kg: f64,
    /// Taken out for good, kg.
    pub taken_kg: f64,
    pub stirs: u32,
    /// The longest time without a stir, s, from the first snapshot on.
    pub longest_gap_s: f64,
    pub last_stir: Option<Moment>,
    pub worst_catch: Option<f64>,
    pub first_boil: Option<Moment>,
    /// It boiled before anybody could see it come to the boil: [`Self::first_boil`] is a later one.
    pub boil_missed: bool,
    /// The probe is out or silent; and since when it is back, where it was.
    probe_gone: bool,
    probe_back: Option<Moment>,
    pub last_addition: Option<Moment>,
    /// Evaporation, kg, summed over the time that it was known.
    pub evaporated_kg: f64,
    /// Heat taken up, J, summed over the time that it was known.
    pub heat_j: f64,
    /// For how long heat was known, s.
    pub heat_s: f64,
    /// Evaporation while it boiled, kg, and for how long that was known, s.
    pub boiled_off_kg: f64,
    pub boiled_s: f64,
}

impl Tally {
    /// When it first came to the boil, where that was seen.
    #[must_use]
    pub fn came_to_boil(&self) -> Option<Moment> {
        self.first_boil.filter(|_| !self.boil_missed)
    }

    /// An addition was put right: what it was taken for until now, and what it is.
    pub(super) fn corrected(&mut self, was_kg: f64, poured_back: bool, kg: f64) {
        if poured_back {
            self.taken_kg += was_kg;
            self.added_kg += kg;
        } else {
            self.added_kg += kg - was_kg;
        }
    }

    pub(super) fn count(&mut self, happening: &Happening, began: Option<Moment>) {
        match &happening.what {
            What::Added { kg, .. } => {
                self.added_kg += kg;
                self.last_addition = Some(happening.at);
            }
            What::Taken { kg, .. } => self.taken_kg += kg,
            // What stayed in sieve and blender remains taken.
            What::PouredBack { kg, .. } => self.taken_kg = (self.taken_kg - kg).max(0.0),
            What::Stirred { .. } | What::Blended { .. } => {
                self.gap(began, happening.at);
                self.stirs += 1;
                self.last_stir = Some(happening.at);
            }
            What::Boil => {
                let unseen = self.probe_back.is_some_and(|back| happening.at - back < JUST_BACK_S);
                self.boil_missed |= self.first_boil.is_none() && (unseen || self.probe_gone);
                self.first_boil.get_or_insert(happening.at);
            }
            What::OffBoil => self.boil_missed |= self.first_boil.is_none(),
            What::ProbeOut | What::SensorFault { sensor: Sensor::Probe, .. } => {
                self.probe_gone = true
            }
            What::ProbeIn | What::SensorBack { sensor: Sensor::Probe } => {
                self.probe_gone = false;
                self.probe_back = Some(happening.at);
            }
            _ => {}
        }
    }

    pub(super) fn gap(&mut self, began: Option<Moment>, at: Moment) {
        if let Some(since) = self.last_stir.or(began) {
            self.longest_gap_s = self.longest_gap_s.max(at - since);
        }
    }

    /// Adds what went on between two snapshots, as the earlier one saw it.
    pub(super) fn between(&mut self, before: &Snapshot, now: &Snapshot) {
        let dt = (now.at - before.at).max(0.0);
        self.boil_missed |= before.boiling == Some(true) && self.first_boil.is_none();
        if let Some(kg_h) = before.evaporation_kg_h {
            self.evaporated_kg += kg_h * dt / 3600.0;
            if before.boiling == Some(true) {
                self.boiled_off_kg += kg_h * dt / 3600.0;
                self.boiled_s += dt;
            }
        }
        if let Some(w) = before.heat_w {
            self.heat_j += w * dt;
            self.heat_s += dt;
        }
        if let Some(index) = now.catch_index {
            self.worst_catch = Some(self.worst_catch.map_or(index, |worst| worst.max(index)));
        }
    }
}
