//! What was counted; see the definitions in [`super`].

use crate::moment::Moment;
use crate::watch::action::{Alarm, AlarmState, Happening, Notice, Snapshot, Spread, What};

use super::Said;
use super::matching::{SLACK_S, alike, alike_in_kg, kg_of, pairs};
use super::truth::{TrueEvent, Truth};

/// How long before the target the forecast is looked at, s.
pub const LEADS_S: [f64; 4] = [3600.0, 1800.0, 900.0, 300.0];

const EARLY_S: f64 = 2700.0;
const EARLY_REACHED_S: f64 = 600.0;
const SETTLED_S: f64 = 300.0;
const LEAST_EVAPORATION_KG_H: f64 = 0.2;
const LEAST_KG: f64 = 0.2;

/// So many were there, so many of them were found.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Found {
    pub there: u32,
    pub found: u32,
}

impl Found {
    fn count(&mut self, found: bool) {
        self.there += 1;
        self.found += u32::from(found);
    }

    fn add(&mut self, other: Self) {
        self.there += other.there;
        self.found += other.found;
    }
}

/// A forecast and what it should have been.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Forecast {
    /// Time that was truly left, s.
    pub left_s: f64,
    pub said: Option<Spread>,
}

impl Forecast {
    /// Relative to the time left.
    #[must_use]
    pub fn error(&self) -> f64 {
        self.said.map_or(f64::INFINITY, |said| (said.p50 - self.left_s).abs() / self.left_s)
    }

    fn miss(&self) -> Option<String> {
        let right = self.is_near() && self.is_covered();
        let said = self.said.map(|s| format!("{:.0} ({:.0} to {:.0})", s.p50, s.p10, s.p90));
        let said = said.unwrap_or_else(|| "nothing".to_owned());
        (!right).then(|| format!("{:.0} s before the target: said {said}", self.left_s))
    }

    #[must_use]
    pub fn is_near(&self) -> bool {
        self.error() * self.left_s <= f64::max(120.0, 0.1 * self.left_s)
    }

    #[must_use]
    pub fn is_covered(&self) -> bool {
        self.said.is_some_and(|said| (said.p10..=said.p90).contains(&self.left_s))
    }
}

/// Everything that is counted of one recording or of many.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Tally {
    pub hours: f64,
    pub forecasts: [Vec<Forecast>; LEADS_S.len()],
    pub last_hour: Vec<Forecast>,
    /// From when the target was truly reached to when it was told, s; signed.
    pub reached_after_s: Vec<f64>,
    pub false_reached: u32,
    /// Signed and relative.
    pub evaporation: Vec<f64>,
    pub contents: Vec<f64>,
    pub contents_always: Vec<f64>,
    pub moves: Found,
    pub false_moves: u32,
    pub moves_kg: Vec<f64>,
    pub names: Found,
    pub told_after_s: Vec<f64>,
    pub lids: Found,
    pub false_lids: u32,
    pub stirs: Found,
    pub false_stirs: u32,
    pub blends: Found,
    pub catches: Found,
    pub warned_at: Vec<f64>,
    pub tended_hours: f64,
    pub tended_catching: u32,
    pub early_hours: f64,
    pub early_catching: u32,
    pub alerts: u32,
    pub flame_out: Found,
    pub dry: Found,
    pub faults: Found,
    pub samples: u64,
    pub wall_s: f64,
    /// In words: what was missed or made up, for whoever mends it.
    pub misses: Vec<String>,
}

impl Tally {
    /// Counts one recording.
    #[must_use]
    pub fn of(truth: &Truth, said: &Said) -> Self {
        let mut tally = Self { hours: truth.secs / 3600.0, ..Self::default() };
        tally.count_forecasts(truth, said);
        tally.count_reached(truth, said);
        for reading in &said.readings {
            tally.count_reading(truth, reading);
        }
        tally.count_moves(truth, said);
        tally.count_lids(truth, said);
        tally.count_stirs(truth, said);
        tally.count_catching(truth, said);
        tally.count_warnings(truth, said);
        tally
    }

    /// Takes in another recording's.
    pub fn add(&mut self, other: &Self) {
        for (all, more) in self.forecasts.iter_mut().zip(&other.forecasts) {
            all.extend(more);
        }
        self.last_hour.extend(&other.last_hour);
        let lists = [
            (&mut self.reached_after_s, &other.reached_after_s),
            (&mut self.evaporation, &other.evaporation),
            (&mut self.contents, &other.contents),
            (&mut self.contents_always, &other.contents_always),
            (&mut self.moves_kg, &other.moves_kg),
            (&mut self.told_after_s, &other.told_after_s),
            (&mut self.warned_at, &other.warned_at),
        ];
        lists.into_iter().for_each(|(all, more)| all.extend(more));
        let founds = [
            (&mut self.moves, other.moves),
            (&mut self.names, other.names),
            (&mut self.lids, other.lids),
            (&mut self.stirs, other.stirs),
            (&mut self.blends, other.blends),
            (&mut self.catches, other.catches),
            (&mut self.flame_out, other.flame_out),
            (&mut self.dry, other.dry),
            (&mut self.faults, other.faults),
        ];
        founds.into_iter().for_each(|(all, more)| all.add(more));
        self.false_reached += other.false_reached;
        self.false_moves += other.false_moves;
        self.false_lids += other.false_lids;
        self.false_stirs += other.false_stirs;
        self.tended_catching += other.tended_catching;
        self.early_catching += other.early_catching;
        self.alerts += other.alerts;
        self.hours += other.hours;
        self.tended_hours += other.tended_hours;
        self.early_hours += other.early_hours;
        self.samples += other.samples;
        self.wall_s += other.wall_s;
        self.misses.extend(other.misses.iter().cloned());
    }

    fn count_forecasts(&mut self, truth: &Truth, said: &Said) {
        let Some(target_s) = truth.target_s else { return };
        for (list, left_s) in self.forecasts.iter_mut().zip(LEADS_S) {
            if target_s - left_s >= SETTLED_S {
                let reading = said.in_force(target_s - left_s);
                let forecast = Forecast { left_s, said: reading.and_then(|r| r.target_in_s) };
                list.push(forecast);
                self.misses.extend(forecast.miss());
            }
        }
        for reading in &said.readings {
            let left_s = target_s - reading.at.seconds();
            if (60.0..=3600.0).contains(&left_s) && reading.at.seconds() >= SETTLED_S {
                self.last_hour.push(Forecast { left_s, said: reading.target_in_s });
            }
        }
    }

    fn count_reached(&mut self, truth: &Truth, said: &Said) {
        let target_s = truth.target_s.unwrap_or(f64::INFINITY);
        for notice in said.notices.iter().filter(|n| is_raised(n, &[Alarm::TargetReached])) {
            let t_s = notice.at.seconds();
            if t_s < target_s - EARLY_REACHED_S {
                self.false_reached += 1;
                self.misses.push(format!("{t_s:.0} s: target-reached raised too early"));
            } else {
                return self.reached_after_s.push(t_s - target_s);
            }
        }
        if target_s.is_finite() {
            self.reached_after_s.push(f64::INFINITY);
        }
    }

    fn count_reading(&mut self, truth: &Truth, reading: &Snapshot) {
        let t_s = reading.at.seconds();
        let evaporation = truth.at(&truth.evaporation_kg_h, t_s);
        if let Some(kg_h) = evaporation.filter(|kg_h| *kg_h >= LEAST_EVAPORATION_KG_H) {
            if t_s >= SETTLED_S && !truth.is_near(t_s, 10.0, 120.0, |_| true) {
                let said = reading.evaporation_kg_h;
                self.evaporation.push(said.map_or(-1.0, |said| (said - kg_h) / kg_h));
            }
        }
        if let (Some(start), Some(kg)) = (truth.start_kg(), truth.at(&truth.contents_kg, t_s)) {
            let error = reading.contents_kg.map_or(1.0, |said| (said - kg).abs() / start);
            self.contents_always.push(error);
            if !truth.is_near(t_s, 10.0, 60.0, TrueEvent::hides_the_load) {
                self.contents.push(error);
            }
        }
    }

    fn count_moves(&mut self, truth: &Truth, said: &Said) {
        let moved = |e: &&TrueEvent| matches!(e.what.as_str(), "added" | "taken");
        let events: Vec<_> = truth.events.iter().filter(moved).collect();
        let happenings: Vec<_> = said.happenings.iter().filter(|h| kg_of(h).is_some()).collect();
        let pairs = pairs(&events, &happenings, alike_in_kg);
        for (at, event) in events.iter().enumerate() {
            let pair = pairs.iter().find(|(there, _)| *there == at).map(|(_, h)| happenings[*h]);
            if event.kg.unwrap_or(0.0) >= LEAST_KG {
                self.count_move(event, pair);
            }
        }
        for (at, happening) in happenings.iter().enumerate() {
            let kg = kg_of(happening).unwrap_or(0.0);
            if kg >= LEAST_KG && !pairs.iter().any(|(_, there)| *there == at) {
                self.false_moves += 1;
                self.miss(happening, &format!(" of {kg:.3} kg"));
            }
        }
    }

    fn count_move(&mut self, event: &TrueEvent, found: Option<&Happening>) {
        self.moves.count(found.is_some());
        let kg = event.kg.unwrap_or(0.0);
        let Some(found) = found else {
            let name = event.name.as_deref().unwrap_or("of something");
            let what = format!("{} {kg:.3} kg {name}", event.what);
            self.misses.push(format!("{:.0} s: {what} missed", event.t_s));
            return;
        };
        self.moves_kg.extend(kg_of(found).map(|said| (said - kg).abs()));
        self.told_after_s.push(found.seen.seconds() - event.end_s());
        if let (What::Added { name, .. }, Some(true_name)) = (&found.what, &event.name) {
            self.names.count(name.as_ref() == Some(true_name));
        }
    }

    fn count_lids(&mut self, truth: &Truth, said: &Said) {
        let moved = |what: &str| what.starts_with("lid-");
        let (found, alone) = self.count_kind(truth, said, moved);
        self.lids = found;
        self.false_lids = alone.len() as u32;
        alone.into_iter().for_each(|happening| self.miss(happening, ""));
    }

    fn count_stirs(&mut self, truth: &Truth, said: &Said) {
        self.blends = self.count_kind(truth, said, |what| what == "blended").0;
        let (found, alone) = self.count_kind(truth, said, |what| what == "stirred");
        self.stirs = found;
        for happening in alone {
            let t_s = happening.at.seconds();
            if !truth.is_near(t_s, SLACK_S, SLACK_S, TrueEvent::is_handling) {
                self.false_stirs += 1;
                self.miss(happening, "");
            }
        }
    }

    /// How many of a kind were found, and the said ones that found none.
    fn count_kind<'s>(
        &mut self,
        truth: &Truth,
        said: &'s Said,
        kind: impl Fn(&str) -> bool,
    ) -> (Found, Vec<&'s Happening>) {
        let events: Vec<_> = truth.events.iter().filter(|e| kind(&e.what)).collect();
        let happenings: Vec<_> = said.happenings.iter().filter(|h| kind(h.what.name())).collect();
        let pairs = pairs(&events, &happenings, alike);
        for (at, event) in events.iter().enumerate() {
            if !pairs.iter().any(|(there, _)| *there == at) {
                self.misses.push(format!("{:.0} s: {} missed", event.t_s, event.what));
            }
        }
        let found = Found { there: events.len() as u32, found: pairs.len() as u32 };
        let alone = happenings.iter().enumerate();
        let alone = alone.filter(|(at, _)| !pairs.iter().any(|(_, there)| there == at));
        (found, alone.map(|(_, happening)| *happening).collect())
    }

    fn count_catching(&mut self, truth: &Truth, said: &Said) {
        self.alerts = said.notices.iter().filter(|n| n.state == AlarmState::Raised).count() as u32;
        self.early_hours = truth.secs.min(EARLY_S) / 3600.0;
        if truth.caught_s.is_none() {
            self.tended_hours = truth.secs / 3600.0;
        }
        let raised = said.notices.iter().filter(|n| is_raised(n, &[Alarm::Catching]));
        for t_s in raised.map(|notice| notice.at.seconds()) {
            if truth.is_left_to_catch(t_s) {
                continue;
            }
            self.tended_catching += u32::from(truth.caught_s.is_none());
            self.early_catching += u32::from(t_s < EARLY_S);
            self.misses.push(format!("{t_s:.0} s: catching raised for nothing"));
        }
        if let Some((stirred_s, caught_s)) = truth.neglect() {
            let warned_s = first_raised(said, &[Alarm::StirDue, Alarm::Catching], stirred_s)
                .filter(|t_s| *t_s < caught_s);
            self.catches.count(warned_s.is_some());
            match warned_s {
                Some(t_s) => self.warned_at.push((t_s - stirred_s) / (caught_s - stirred_s)),
                None => self.misses.push(format!("{caught_s:.0} s: caught without a warning")),
            }
        }
    }

    fn count_warnings(&mut self, truth: &Truth, said: &Said) {
        for event in &truth.events {
            let within = |from: Moment, s: f64| (0.0..=s).contains(&(from.seconds() - event.t_s));
            let is_out = event.what == "flame" && event.watts.is_some_and(|watts| watts <= 0.0);
            if is_out && truth.is_cooking(event.t_s) {
                let cold = |n: &Notice| is_raised(n, &[Alarm::GoingCold]) && within(n.at, 300.0);
                let off = |h: &Happening| h.what == What::OffBoil && within(h.seen, 300.0);
                let told = said.notices.iter().any(cold) || said.happenings.iter().any(off);
                self.flame_out.count(told);
                self.miss_unless(told, event.t_s, "flame out not told");
            }
            if event.is_fault() {
                let its = |name: &str| event.sensor.as_deref().is_none_or(|its| its == name);
                let fault = |h: &Happening| match h.what {
                    What::SensorFault { sensor, .. } => its(sensor.name()) && within(h.seen, 60.0),
                    _ => false,
                };
                let told = said.happenings.iter().any(fault);
                self.faults.count(told);
                self.miss_unless(told, event.t_s, "sensor fault not told");
            }
        }
        if let Some(dry_s) = dry_s(truth) {
            let told = first_raised(said, &[Alarm::RunningDry], 0.0);
            let told = told.is_some_and(|t_s| t_s <= dry_s - 600.0);
            self.dry.count(told);
            self.miss_unless(told, dry_s, "boiling dry not told 10 min ahead");
        }
    }

    fn miss(&mut self, said: &Happening, more: &str) {
        let t_s = said.at.seconds();
        self.misses.push(format!("{t_s:.0} s: {}{more} made up", said.what.name()));
    }

    fn miss_unless(&mut self, fine: bool, t_s: f64, what: &str) {
        if !fine {
            self.misses.push(format!("{t_s:.0} s: {what}"));
        }
    }
}

fn is_raised(notice: &Notice, alarms: &[Alarm]) -> bool {
    notice.state == AlarmState::Raised && alarms.contains(&notice.alarm)
}

/// The first moment from `from_s` on at which one of these stood raised, s.
fn first_raised(said: &Said, alarms: &[Alarm], from_s: f64) -> Option<f64> {
    let mine = || said.notices.iter().filter(|notice| alarms.contains(&notice.alarm));
    let stands = alarms.iter().any(|alarm| {
        let before = mine().rfind(|n| n.alarm == *alarm && n.at.seconds() <= from_s);
        before.is_some_and(|notice| notice.state != AlarmState::Cleared)
    });
    if stands {
        return Some(from_s);
    }
    let mut later = mine().filter(|n| n.state == AlarmState::Raised && n.at.seconds() > from_s);
    later.next().map(|notice| notice.at.seconds())
}

/// When the water fell under a twentieth of the start's, s.
fn dry_s(truth: &Truth) -> Option<f64> {
    let start = *truth.water_kg.first()?;
    let place = truth.water_kg.iter().position(|kg| *kg < 0.05 * start)?;
    Some(place as f64 * truth.step_s)
}

#[cfg(test)]
mod tests;
