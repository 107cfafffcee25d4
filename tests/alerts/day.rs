//! A virtual kitchen's day: how often is a cook called, and for what?
//!
//! EEMUA 191 (from memory): one alarm in ten minutes on average is what an operator can take over a
//! long time. Counted are alerts raised over normal tended work: whole batches from the onions to the
//! target, pots tended through a boil, and finished pots through service, hold and cooling. `cargo test
//! --test alerts -- --nocapture day` lists every one with its cause.

use std::collections::BTreeMap;

use dekchi::cli::demo::event;
use dekchi::virtual_pot::{Kind, VirtualPot};
use dekchi::watch::Watch;
use dekchi::watch::action::{Action, Alarm, AlarmState, Notice};
use dekchi::watch::setting::Setting;

const EEMUA_191_PER_HOUR: f64 = 6.0;

/// The alerts of a batch and how long it took, h.
fn watched(kind: Kind, seed: u64) -> (Vec<Notice>, f64) {
    let pot = VirtualPot::new(kind, seed).with_load_hz(2).without_faults();
    let setting = Setting::of(pot.site, pot.pot.clone(), pot.plan.clone());
    let mut watch = Watch::new(setting);
    let (mut notices, mut last_s) = (Vec::new(), 0.0);
    for (at, sample) in pot {
        last_s = at.seconds();
        let told = watch.step(event(sample), at).into_iter();
        notices.extend(told.filter_map(|action| match action {
            Action::Tell(notice) => Some(notice),
            _ => None,
        }));
    }
    (notices, last_s / 3600.0)
}

struct Count {
    hours: f64,
    of: BTreeMap<Alarm, u32>,
    /// Raised again within a minute of being cleared.
    flaps: u32,
}

fn count(kind: Kind, seeds: std::ops::Range<u64>) -> Count {
    let mut count = Count { hours: 0.0, of: BTreeMap::new(), flaps: 0 };
    for seed in seeds {
        let (notices, hours) = watched(kind, seed);
        println!("{} {seed}: {hours:.1} h", kind.name());
        count.hours += hours;
        for (place, notice) in notices.iter().enumerate() {
            if notice.state != AlarmState::Raised {
                continue;
            }
            let name = notice.alarm.name();
            println!("  {:>6.0} s  {name:<16} {}", notice.at.seconds(), notice.why);
            *count.of.entry(notice.alarm).or_default() += 1;
            let before = notices[..place].iter().rfind(|n| n.alarm == notice.alarm);
            count.flaps += u32::from(before.is_some_and(|n| notice.at - n.at < 60.0));
        }
    }
    let all: u32 = count.of.values().sum();
    println!("{}: {all} alerts in {:.1} h, {:?}\n", kind.name(), count.hours, count.of);
    count
}

#[test]
fn a_tended_day_calls_the_cook_at_most_once_in_ten_minutes_on_average() {
    let counts = [count(Kind::Whole, 0..4), count(Kind::Tended, 0..4), count(Kind::Day, 0..4)];
    let hours: f64 = counts.iter().map(|count| count.hours).sum();
    let all: u32 = counts.iter().flat_map(|count| count.of.values()).sum();
    println!("in all: {all} alerts in {hours:.1} h, {:.2} an hour", f64::from(all) / hours);
    assert!(f64::from(all) / hours <= EEMUA_191_PER_HOUR, "{all} alerts in {hours:.1} h");
    for count in &counts {
        let all: u32 = count.of.values().sum();
        assert!(f64::from(all) / count.hours <= EEMUA_191_PER_HOUR, "{:?}", count.of);
        assert_eq!(count.flaps, 0, "raised again within a minute");
    }
}
