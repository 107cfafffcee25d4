//! Whether a sensor can be believed.
//!
//! A sensor fails loudly (a typed fault, silence) or quietly: it freezes, reports the value it wakes
//! up with, or sits at its rail. Each quiet failure is told from a pot that really is so:
//!
//! * **Frozen.** A live sensor flickers. The share of readings that differ from the one before is
//!   learnt, c; a run of n equal readings has the chance (1 − c)ⁿ, so n = 16/c is about e⁻¹⁶.
//! * **85 °C.** A DS18B20 that lost power reports exactly 85 °C (from memory of its data sheet). A
//!   pot does pass 85 °C, but never jumps to it.
//! * **Rail.** A load cell's converter at its end jumps there and does not flicker.
//! * **Spike.** A sample or two that leap further than a hand can push, and back again, are the cable's;
//!   a load that is put down stays.
//!
//! Silence becomes a fault after [`SILENT_S`] or three of the sensor's own periods.

use crate::reading::Fault;

/// Silence that is a fault, s.
const SILENT_S: f64 = 12.0;
/// Exactly what a DS18B20 says before its first conversion, °C.
const POWER_ON_C: f64 = 85.0;
/// What a probe in a kitchen can read, °C: no freezer is colder, and a loose pin shows a DS18B20's
/// lowest, −55 °C; 125 °C is its highest.
const PROBE_RANGE_C: (f64, f64) = (-40.0, 125.0);
/// A change between readings a few seconds apart that no pot makes, K.
const JUMP_K: f64 = 5.0;
/// Readings in a row that make a jump believable.
const INSIST: u32 = 6;

/// A change in what can be believed of a sensor.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Turn {
    Failed { since_s: f64, why: Fault },
    Back,
}

/// How often a sensor's reading differs from its last.
#[derive(Debug, Clone, Copy)]
pub struct Flicker {
    last: f64,
    run: u32,
    share: f64,
    seen: u32,
}

impl Default for Flicker {
    fn default() -> Self {
        Self { last: f64::NAN, run: 0, share: 0.0, seen: 0 }
    }
}

impl Flicker {
    /// Takes a reading; returns the length of the run of equal readings that it ends.
    pub fn take(&mut self, value: f64, learn: bool) -> u32 {
        let same = value == self.last;
        self.last = value;
        self.run = if same { self.run + 1 } else { 1 };
        if learn {
            self.seen = (self.seen + 1).min(300);
            let gain = 1.0 / f64::from(self.seen);
            self.share += gain * (f64::from(u8::from(!same)) - self.share);
        }
        self.run
    }

    /// Whether the run is longer than a live sensor makes, between `least` and `most` readings.
    #[must_use]
    pub fn is_frozen(&self, least: u32, most: u32) -> bool {
        let limit = if self.seen < 30 { f64::from(most) } else { 16.0 / self.share.max(1e-3) };
        f64::from(self.run) >= limit.clamp(f64::from(least), f64::from(most))
    }
}

/// The probe, as far as it can be believed.
#[derive(Debug, Clone, Default)]
pub struct ProbeSense {
    flicker: Flicker,
    good: Option<(f64, f64)>,
    heard_s: Option<f64>,
    odd: u32,
    odd_c: f64,
    bad: u32,
    bad_since_s: f64,
    fault: Option<Fault>,
}

impl ProbeSense {
    /// Takes a reading at `at_s`; returns it where it can be believed.
    pub fn take(&mut self, reading: Result<f64, Fault>, at_s: f64) -> (Option<f64>, Option<Turn>) {
        self.heard_s = Some(at_s);
        match reading.and_then(|c| self.believe(c, at_s)) {
            Ok(Some(c)) => {
                self.good = Some((at_s, c));
                self.bad = 0;
                (Some(c), self.fault.take().map(|_| Turn::Back))
            }
            Ok(None) => (None, None),
            Err(why) => (None, self.failed(why, at_s, if why == Fault::PowerOn { 2 } else { 3 })),
        }
    }

    /// Time goes by; silence grows.
    pub fn second(&mut self, at_s: f64) -> Option<Turn> {
        let heard_s = *self.heard_s.get_or_insert(at_s);
        if at_s - heard_s > SILENT_S { self.failed(Fault::Absent, heard_s, 1) } else { None }
    }

    /// Nothing could be heard until `at_s`: that silence says nothing.
    pub fn excuse(&mut self, at_s: f64) {
        self.heard_s = Some(at_s);
    }

    #[must_use]
    pub const fn fault(&self) -> Option<Fault> {
        self.fault
    }

    fn failed(&mut self, why: Fault, at_s: f64, patience: u32) -> Option<Turn> {
        if self.bad == 0 {
            self.bad_since_s = at_s;
        }
        self.bad += 1;
        if self.fault.is_some() || self.bad < patience {
            return None;
        }
        self.fault = Some(why);
        Some(Turn::Failed { since_s: self.bad_since_s, why })
    }

    fn believe(&mut self, c: f64, at_s: f64) -> Result<Option<f64>, Fault> {
        self.flicker.take(c, self.fault.is_none());
        if !(PROBE_RANGE_C.0..=PROBE_RANGE_C.1).contains(&c) {
            return Err(Fault::OutOfRange);
        }
        if c == POWER_ON_C && self.good.is_none_or(|(_, last)| (last - c).abs() > 2.0) {
            return Err(Fault::PowerOn);
        }
        if self.flicker.is_frozen(40, 900) {
            return Err(Fault::Stuck);
        }
        Ok(self.not_a_spike(c, at_s))
    }

    /// Holds back a value far from the last until it insists.
    fn not_a_spike(&mut self, c: f64, at_s: f64) -> Option<f64> {
        let Some((then_s, last)) = self.good else { return Some(c) };
        let room = JUMP_K + 0.5 * (at_s - then_s - 1.0).max(0.0);
        if (c - last).abs() <= room && self.fault.is_none() {
            self.odd = 0;
            return Some(c);
        }
        self.odd = if (c - self.odd_c).abs() <= JUMP_K { self.odd + 1 } else { 1 };
        self.odd_c = c;
        if self.odd >= INSIST || (self.fault.is_some() && self.odd >= 2) {
            self.odd = 0;
            return Some(c);
        }
        None
    }
}

/// The scale, as far as it can be believed.
#[derive(Debug, Clone, Default)]
pub struct ScaleSense {
    flicker: Flicker,
    heard_s: Option<f64>,
    bad: u32,
    bad_since_s: f64,
    well: u32,
    fault: Option<Fault>,
    last_kg: Option<f64>,
    /// The last sample that leapt, and how many there stayed in a row.
    odd: (f64, u32),
}

/// Loads that no kitchen platform bears, kg.
const LOAD_RANGE_KG: (f64, f64) = (-5.0, 600.0);
/// Further than a hand at the pot pushes from one sample to the next, kg: judgement, no source.
const LEAP_KG: f64 = 6.0;
/// Samples in a row that make a leap believable.
const LEAP_INSIST: u32 = 3;

impl ScaleSense {
    /// Takes a sample at `at_s`; returns it where it can be believed.
    pub fn take(&mut self, reading: Result<f64, Fault>, at_s: f64) -> (Option<f64>, Option<Turn>) {
        self.heard_s = Some(at_s);
        match reading.and_then(|kg| self.believe(kg)) {
            Ok(kg) => {
                self.bad = 0;
                let back = self.recovered();
                let kg = self.not_a_spike(kg);
                (kg.filter(|_| self.fault.is_none()), back)
            }
            Err(why) => (None, self.failed(why, at_s)),
        }
    }

    pub fn second(&mut self, at_s: f64) -> Option<Turn> {
        let heard_s = *self.heard_s.get_or_insert(at_s);
        if at_s - heard_s <= SILENT_S {
            return None;
        }
        if self.bad == 0 {
            self.bad_since_s = heard_s;
        }
        self.bad = self.bad.max(29);
        self.failed(Fault::Absent, heard_s)
    }

    /// Nothing could be heard until `at_s`: that silence says nothing.
    pub fn excuse(&mut self, at_s: f64) {
        self.heard_s = Some(at_s);
    }

    #[must_use]
    pub const fn fault(&self) -> Option<Fault> {
        self.fault
    }

    fn believe(&mut self, kg: f64) -> Result<f64, Fault> {
        self.flicker.take(kg, self.fault.is_none());
        if !(LOAD_RANGE_KG.0..=LOAD_RANGE_KG.1).contains(&kg) {
            return Err(Fault::OutOfRange);
        }
        if self.flicker.is_frozen(15, 600) { Err(Fault::Stuck) } else { Ok(kg) }
    }

    /// Holds samples back that leap away from the last, until enough of them stay there.
    fn not_a_spike(&mut self, kg: f64) -> Option<f64> {
        let near = |other: f64| (kg - other).abs() <= LEAP_KG;
        if self.last_kg.is_some_and(|last| !near(last)) {
            let (odd_kg, odd) = self.odd;
            self.odd = (kg, if odd > 0 && near(odd_kg) { odd + 1 } else { 1 });
            if self.odd.1 < LEAP_INSIST {
                return None;
            }
        }
        self.odd = (kg, 0);
        self.last_kg = Some(kg);
        Some(kg)
    }

    fn failed(&mut self, why: Fault, at_s: f64) -> Option<Turn> {
        if self.bad == 0 {
            self.bad_since_s = at_s;
        }
        self.bad += 1;
        self.well = 0;
        if self.fault.is_some() || self.bad < 10 {
            return None;
        }
        self.fault = Some(why);
        Some(Turn::Failed { since_s: self.bad_since_s, why })
    }

    fn recovered(&mut self) -> Option<Turn> {
        self.fault?;
        self.well += 1;
        if self.well < 5 {
            return None;
        }
        self.fault = None;
        self.well = 0;
        Some(Turn::Back)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn warm(probe: &mut ProbeSense, from_c: f64, to_c: f64) -> f64 {
        let mut t = 0.0;
        let mut c = from_c;
        while c < to_c {
            assert_eq!(probe.take(Ok(c), t), (Some(c), None));
            c += 0.0625;
            t += 1.0;
        }
        t
    }

    #[test]
    fn a_pot_that_warms_through_85_is_believed() {
        let mut probe = ProbeSense::default();
        warm(&mut probe, 83.0, 87.0);
    }

    #[test]
    fn a_probe_that_lost_its_power_says_85_and_is_not_believed() {
        let mut probe = ProbeSense::default();
        let t = warm(&mut probe, 94.0, 97.0);
        assert_eq!(probe.take(Ok(85.0), t).0, None);
        let (value, turn) = probe.take(Ok(85.0), t + 1.0);
        assert_eq!(value, None);
        assert_eq!(turn, Some(Turn::Failed { since_s: t, why: Fault::PowerOn }));
    }

    #[test]
    fn a_frozen_probe_is_told_within_a_minute_once_its_flicker_is_known() {
        let mut probe = ProbeSense::default();
        for i in 0..200 {
            probe.take(Ok(97.0 + 0.0625 * f64::from(i % 3)), f64::from(i));
        }
        let told = (200..260).find(|i| probe.take(Ok(97.0), f64::from(*i)).1.is_some());
        assert!(told.is_some());
    }

    #[test]
    fn one_steam_spike_is_not_the_pot() {
        let mut probe = ProbeSense::default();
        let t = warm(&mut probe, 94.0, 97.0);
        assert_eq!(probe.take(Ok(71.0), t), (None, None));
        assert_eq!(probe.take(Ok(97.0), t + 1.0), (Some(97.0), None));
    }

    #[test]
    fn a_silent_scale_is_a_fault_within_a_minute_and_comes_back() {
        let mut scale = ScaleSense::default();
        assert_eq!(scale.take(Ok(20.0), 0.0).0, Some(20.0));
        let told = (1..60).find(|t| scale.second(f64::from(*t)).is_some());
        assert_eq!(told, Some(13));
        let back = (0..10).find(|i| scale.take(Ok(20.0 + f64::from(*i)), 61.0).1.is_some());
        assert_eq!(back, Some(4));
    }

    #[test]
    fn a_spike_is_no_load_and_a_load_that_stays_is() {
        let mut scale = ScaleSense::default();
        let spikes = [20.0, 80.0, 20.0, -3.0, -3.1, 20.1];
        let told = spikes.map(|kg| scale.take(Ok(kg), 0.0).0);
        assert_eq!(told, [Some(20.0), None, Some(20.0), None, None, Some(20.1)]);
        let put_down = [30.0, 30.1, 30.2, 30.0];
        let told = put_down.map(|kg| scale.take(Ok(kg), 1.0).0);
        assert_eq!(told, [None, None, Some(30.2), Some(30.0)]);
    }

    #[test]
    fn a_loose_pin_is_no_temperature_of_a_kitchen() {
        let mut probe = ProbeSense::default();
        let t = warm(&mut probe, 94.0, 97.0);
        let told: Vec<_> = (0..3).map(|i| probe.take(Ok(-55.0), t + f64::from(i))).collect();
        assert!(told.iter().all(|(value, _)| value.is_none()));
        assert_eq!(told[2].1, Some(Turn::Failed { since_s: t, why: Fault::OutOfRange }));
    }

    #[test]
    fn a_load_at_its_rail_is_no_load() {
        let mut scale = ScaleSense::default();
        for i in 0..100 {
            scale.take(Ok(20.0 + f64::from(i % 2) * 0.001), 0.1 * f64::from(i));
        }
        let told = (0..40).find(|i| scale.take(Ok(83.886), 10.0 + 0.1 * f64::from(*i)).1.is_some());
        assert!(told.is_some());
    }
}
