//! A made-up kitchen for the store's tests.

use std::path::Path;

use dekchi::keep::keeper::{BatchKey, Keeper, Room};
use dekchi::keep::{About, Start};
use dekchi::moment::{Moment, Wall};
use dekchi::quantity::{Celsius, Kilograms};
use dekchi::watch::action::{Action, Alarm, Lid, Snapshot, Spread};
use dekchi::watch::event::Event;
use dekchi::watch::setting::Learnt;

/// 2026-03-03 09:00:00 UTC.
pub const NINE_ON_TUESDAY_MS: i64 = 1_772_528_400_000;

pub fn start() -> Start {
    let wall = Wall { utc_ms: NINE_ON_TUESDAY_MS, set: true };
    Start { boot: "3f0c".to_owned(), at: Moment::from_ms(5_000), wall }
}

pub fn open(path: &Path) -> Keeper {
    let (keeper, report) = Keeper::open(path, start(), Room::default()).unwrap();
    assert_eq!(report.health.trouble, None, "{path:?}");
    keeper
}

/// Opens a store although its disk may refuse.
pub fn open_somehow(path: &Path) -> Keeper {
    Keeper::open(path, start(), Room::default()).unwrap().0
}

pub fn about() -> About {
    About {
        pot: "big".to_owned(),
        name: "Tuesday base".to_owned(),
        kitchen_toml: "[site]\naltitude_m = 40.0\n".to_owned(),
        batch_toml: "name = \"Tuesday base\"\n".to_owned(),
        learnt: Learnt { bottom_log_scale: 0.25, bottom_verdicts: 3 },
    }
}

pub fn load(kg: f64) -> Event {
    Event::Load(Ok(Kilograms::new(kg).unwrap()))
}

pub fn probe(c: f64) -> Event {
    Event::Probe(Ok(Celsius::new(c).unwrap()))
}

/// The 64-bit linear congruential generator of Knuth (MMIX).
pub struct Chance {
    state: u64,
}

impl Chance {
    pub fn new(seed: u64) -> Self {
        Self { state: seed }
    }

    /// Uniform in 0..1.
    pub fn uniform(&mut self) -> f64 {
        const BY: u64 = 6_364_136_223_846_793_005;
        self.state = self.state.wrapping_mul(BY).wrapping_add(1_442_695_040_888_963_407);
        (self.state >> 11) as f64 / (1_u64 << 53) as f64
    }

    /// A whole number in 0..`end`.
    pub fn below(&mut self, end: u64) -> u64 {
        (self.uniform() * end as f64) as u64
    }

    /// Normal, by the sum of twelve uniform numbers.
    fn normal(&mut self) -> f64 {
        (0..12).map(|_| self.uniform()).sum::<f64>() - 6.0
    }
}

/// A pot at the boil on a rig with 8 g of white noise: load at 10 Hz with a millisecond of jitter,
/// probe and tick at 1 Hz, a full snapshot every ten seconds.
pub struct Rig {
    chance: Chance,
}

impl Rig {
    pub fn new(seed: u64) -> Self {
        Self { chance: Chance::new(seed) }
    }

    /// Hands ten seconds, of which this is the n-th, to the keeper.
    pub fn ten_seconds(&mut self, keeper: &Keeper, batch: BatchKey, n: i64) {
        for tenth in 0..100 {
            let ms = n * 10_000 + tenth * 100;
            let at = Moment::from_ms(ms + (self.chance.uniform() * 2.0) as i64);
            let kg = 43.0 - 3.0 * ms as f64 / 3.6e6 + 0.008 * self.chance.normal();
            keeper.event(batch, &load(kg), at);
            if tenth % 10 == 3 {
                let c = 98.0 + (0.4 * self.chance.normal()).round() * 0.0625;
                keeper.event(batch, &probe(c), at);
                keeper.event(batch, &Event::Tick, at);
            }
        }
        let at = Moment::from_ms(n * 10_000 + 9_950);
        keeper.action(batch, &Action::Show(Box::new(self.snapshot(at))));
    }

    pub fn snapshot(&mut self, at: Moment) -> Snapshot {
        let mut near = |x: f64| Some(x * (1.0 + 0.01 * self.chance.normal()));
        Snapshot {
            at,
            pot_c: near(98.0),
            contents_kg: near(31.5),
            contents_sd_kg: near(0.012),
            water_kg: near(28.1),
            fat_kg: near(0.9),
            salt_kg: near(0.12),
            total_solids: near(0.108),
            evaporation_kg_h: near(3.1),
            evaporation_sd_kg_h: near(0.2),
            heat_w: near(2300.0),
            lid: Some(Lid::Off),
            boiling: Some(true),
            boil_c: near(99.9),
            target_kg: near(28.4),
            target_in_s: Some(Spread { p10: 2800.1, p50: 3100.2, p90: 3500.3 }),
            catch_index: near(0.41),
            stir_within_s: near(300.0),
            since_stir_s: near(240.0),
            served_kg: near(3.2),
            runs_out_in_s: near(5400.0),
            top_up_l: near(0.4),
            next_addition: Some(("spice infusion".to_owned(), 2.05)),
            raised: vec![Alarm::StirDue],
        }
    }
}
