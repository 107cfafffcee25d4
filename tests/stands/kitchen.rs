//! A pot, a stove, a platform and a cook for one trouble at a time.
//!
//! Written apart from the virtual pot and from the judgement: water boils off by the heat that the pot
//! does not lose, and the platform adds what a trial asks for. The same seed gives the same numbers.
//!
//! ```text
//! at the boil     ṁ = (Q − U (T − T_room))/h_fg             U = 4 W/K, h_fg = 2257 kJ/kg
//! below it        ṁ = 1.8 kg/h · e^((T − 95)/20)            fitted by eye to 0.9 kg/h at 80 °C
//! reading = m + creep + drift + walk + white + boil + hand
//! ```

use dekchi::batch::composition::Composition;
use dekchi::batch::plan::{Plan, PlannedAddition, Start, Target};
use dekchi::batch::pot::{Pot, Site};
use dekchi::moment::Moment;
use dekchi::quantity::{Celsius, Kilograms};
use dekchi::reading::{Fault, Reading};
use dekchi::watch::Watch;
use dekchi::watch::action::{Action, Alarm, AlarmState, Happening, Snapshot, What};
use dekchi::watch::event::{CookSays, Event};
use dekchi::watch::setting::{Learnt, Setting};

pub const TARE_KG: f64 = 6.2;
pub const LID_KG: f64 = 1.35;
pub const START_KG: f64 = 20.0;
const BOIL_C: f64 = 100.2;
const ROOM_C: f64 = 25.0;
const LATENT_J_KG: f64 = 2.257e6;
const LOSS_W_K: f64 = 4.0;
const HEAT_CAPACITY_J_KG_K: f64 = 3900.0;
const PROBE_LAG_S: f64 = 12.0;

/// What the platform is like.
#[derive(Debug, Clone, Copy)]
pub struct Platform {
    pub hz: u32,
    pub white_kg: f64,
    /// Trembling of a boiling pot.
    pub boil_kg: f64,
    /// Random walk, kg after an hour.
    pub walk_kg: f64,
    /// What it drifts in an hour as it warms, kg, and how long it takes to warm, s.
    pub drift_kg_h: f64,
    /// What it creeps to, kg, and how slowly, s.
    pub creep: (f64, f64),
}

pub const GOOD: Platform = Platform {
    hz: 10,
    white_kg: 0.008,
    boil_kg: 0.004,
    walk_kg: 0.005,
    drift_kg_h: 0.0,
    creep: (0.0, 1800.0),
};

/// How the samples come: as they are, missing, or said to have failed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Line {
    Well,
    Silent,
    Fails(Fault),
}

/// What is true of one second.
#[derive(Debug, Clone, Copy)]
pub struct Truth {
    pub t_s: i64,
    pub kg: f64,
    pub kg_h: f64,
    /// Nothing was done to the pot for two minutes.
    pub quiet: bool,
}

pub struct Kitchen {
    pub platform: Platform,
    pub scale: Line,
    pub probe: Line,
    /// Every sample comes twice.
    pub doubled: bool,
    /// Samples come this much after their time, out of turn with the other sensor's, ms.
    pub late_ms: i64,
    pub flame_w: f64,
    pub kg: f64,
    pub c: f64,
    pub lid_on: bool,
    /// What stands on the platform besides: a spoon, a lid put down beside the pot.
    pub beside_kg: f64,
    /// How much hotter than the food the probe under the base is, K, where there is one.
    pub base_k: Option<f64>,
    pub truth: Vec<Truth>,
    pub shown: Vec<Snapshot>,
    pub happened: Vec<Happening>,
    pub alerts: Vec<(i64, Alarm, AlarmState)>,
    watch: Watch,
    t_s: i64,
    touched_s: i64,
    felt_c: f64,
    walked_kg: f64,
    shake_kg: f64,
    lean_kg: f64,
    chance: u64,
}

/// Gravy of a tenth dry matter, and a target that is far away.
pub fn plan(additions: &[(&str, f64)]) -> Plan {
    let planned = |(name, kg): &(&str, f64)| PlannedAddition {
        name: (*name).to_owned(),
        kg: *kg,
        composition: Composition::WATER,
    };
    Plan {
        name: "trial".to_owned(),
        pot: "pot".to_owned(),
        start: Start {
            contents_kg: START_KG,
            lid_on: false,
            composition: Composition::new(0.90, 0.07, 0.026, 0.004).unwrap(),
        },
        additions: additions.iter().map(planned).collect(),
        target: Some(Target::TotalSolids(0.15)),
        stages: Vec::new(),
    }
}

impl Kitchen {
    /// A pot at the boil over 2.6 kW, watched from now on.
    pub fn boiling(platform: Platform, plan: Plan, seed: u64) -> Self {
        let pot = Pot {
            name: "pot".to_owned(),
            base_diameter_m: 0.4,
            tare_kg: TARE_KG,
            lid_kg: LID_KG,
            height_m: None,
        };
        let setting = Setting {
            show_every_ms: 1000,
            ..Setting::of(Site { altitude_m: 0.0, pressure: None }, pot, plan)
        };
        Self {
            platform,
            scale: Line::Well,
            probe: Line::Well,
            doubled: false,
            late_ms: 0,
            flame_w: 2600.0,
            kg: START_KG,
            c: BOIL_C,
            lid_on: false,
            beside_kg: 0.0,
            base_k: None,
            truth: Vec::new(),
            shown: Vec::new(),
            happened: Vec::new(),
            alerts: Vec::new(),
            watch: Watch::new(setting),
            t_s: 0,
            touched_s: -1000,
            felt_c: BOIL_C,
            walked_kg: 0.0,
            shake_kg: 0.0,
            lean_kg: 0.0,
            chance: seed.wrapping_mul(0x9E37_79B9_7F4A_7C15) | 1,
        }
    }

    /// A pot that is not at the boil yet, or no more.
    pub const fn at(mut self, c: f64) -> Self {
        (self.c, self.felt_c) = (c, c);
        self
    }

    /// Nobody touches it.
    pub fn stand(&mut self, seconds: i64) {
        for _ in 0..seconds {
            self.second(0.0, 0.0);
        }
    }

    /// A spoon goes round; at its end the hand leans on the rim by so much.
    pub fn stir(&mut self, seconds: i64, lean_kg: f64) {
        self.shake_kg = 0.2;
        for second in 0..seconds {
            self.lean_kg = if second >= seconds / 2 { lean_kg } else { 0.0 };
            self.touch();
            self.second(0.0, 0.0);
        }
        self.let_go();
    }

    /// The blender goes for so long.
    pub fn blend(&mut self, seconds: i64) {
        self.shake_kg = 0.35;
        for _ in 0..seconds {
            self.touch();
            self.second(0.0, 0.0);
        }
        self.let_go();
    }

    /// Something of this temperature is poured in, or ladled out (below 0 kg), within so many seconds.
    pub fn pour(&mut self, kg: f64, c: f64, seconds: i64) {
        self.shake_kg = 0.03;
        for _ in 0..seconds {
            let part_kg = kg / seconds as f64;
            let warm = part_kg.max(0.0) * (c - self.c) / (self.kg + part_kg.max(0.0));
            self.c += warm;
            self.touch();
            self.second(part_kg, 0.0);
        }
        self.let_go();
    }

    /// Something is put on the platform, or taken off it, in a second or two.
    pub fn put_beside(&mut self, kg: f64) {
        self.shake_kg = 0.06;
        self.touch();
        self.second(0.0, kg);
        self.let_go();
    }

    /// The lid is put on or taken off; where it is laid down beside the pot its weight stays.
    pub fn move_lid(&mut self, on: bool, beside: bool) {
        self.lid_on = on;
        if beside || !on {
            self.put_beside(-LID_KG);
        }
        if beside || on {
            self.put_beside(LID_KG);
        }
    }

    /// The cook says something.
    pub fn say(&mut self, says: CookSays) {
        self.tell(Event::Cook(says), self.t_s * 1000);
    }

    /// What was learnt of the pot so far.
    pub const fn learnt(&self) -> Learnt {
        self.watch.learnt()
    }

    fn touch(&mut self) {
        self.touched_s = self.t_s;
    }

    const fn let_go(&mut self) {
        self.shake_kg = 0.0;
        self.lean_kg = 0.0;
    }

    /// What truly boils off now, kg/h.
    pub fn rate_kg_h(&self) -> f64 {
        let steam_w = self.flame_w - LOSS_W_K * (self.c - ROOM_C);
        if self.c >= BOIL_C && steam_w > 0.0 {
            let back = if self.lid_on { 0.75 } else { 0.0 };
            return (1.0 - back) * steam_w / LATENT_J_KG * 3600.0;
        }
        let open = 1.8 * ((self.c - 95.0) / 20.0).exp();
        if self.lid_on { 0.15 * open } else { open }
    }

    /// One second: so much goes into the pot, and so much beside it.
    fn second(&mut self, food_kg: f64, beside_kg: f64) {
        let rate = self.rate_kg_h();
        let quiet = self.t_s - self.touched_s > 120;
        self.truth.push(Truth { t_s: self.t_s, kg: self.kg, kg_h: rate, quiet });
        let steam_w = rate / 3600.0 * LATENT_J_KG;
        let spare_w = self.flame_w - LOSS_W_K * (self.c - ROOM_C) - steam_w;
        let store = self.kg * HEAT_CAPACITY_J_KG_K;
        self.c = (self.c + spare_w / store).min(BOIL_C);
        self.kg += food_kg - rate / 3600.0;
        self.beside_kg += beside_kg;
        self.felt_c += (self.c - self.felt_c) / PROBE_LAG_S;
        self.walked_kg += self.platform.walk_kg / 60.0 * self.normal();
        self.read();
        self.t_s += 1;
    }

    fn read(&mut self) {
        let probe = ((self.felt_c + 0.04 * self.normal()) * 16.0).round() / 16.0;
        let base_ms = self.t_s * 1000;
        if let Some(c) = line(self.probe, Celsius::new(probe)) {
            self.tell(Event::Probe(c), base_ms);
        }
        if let Some(base_k) = self.base_k {
            let base_c = Celsius::new(self.c + base_k).ok_or(Fault::OutOfRange);
            self.tell(Event::Base(base_c), base_ms);
        }
        let hz = i64::from(self.platform.hz);
        for n in 0..hz {
            let kg = self.load_kg();
            if let Some(load) = line(self.scale, Kilograms::new(kg)) {
                self.tell(Event::Load(load), base_ms + n * 1000 / hz - self.late_ms);
            }
        }
    }

    fn load_kg(&mut self) -> f64 {
        let Platform { white_kg, boil_kg, drift_kg_h, creep, .. } = self.platform;
        let t = self.t_s as f64;
        let boils = if self.c >= BOIL_C && self.flame_w > 500.0 { 1.0 } else { 0.0 };
        let noise_kg = white_kg.hypot(boils * boil_kg).hypot(self.shake_kg) * self.normal();
        let slow_kg = drift_kg_h * t / 3600.0 + creep.0 * (1.0 - (-t / creep.1).exp());
        let on_it_kg = TARE_KG + self.kg + self.beside_kg + self.lean_kg;
        ((on_it_kg + slow_kg + self.walked_kg + noise_kg) * 1000.0).round() / 1000.0
    }

    fn tell(&mut self, event: Event, at_ms: i64) {
        for _ in 0..1 + usize::from(self.doubled) {
            for action in self.watch.step(event.clone(), Moment::from_ms(at_ms)) {
                match action {
                    Action::Show(snapshot) => self.shown.push(*snapshot),
                    Action::Happened(happening) => self.happened.push(happening),
                    Action::Tell(notice) => {
                        self.alerts.push((notice.at.ms() / 1000, notice.alarm, notice.state));
                    }
                }
            }
        }
    }

    /// Uniform in 0 to 1: xorshift64*.
    fn uniform(&mut self) -> f64 {
        self.chance ^= self.chance >> 12;
        self.chance ^= self.chance << 25;
        self.chance ^= self.chance >> 27;
        (self.chance.wrapping_mul(0x2545_F491_4F6C_DD1D) >> 11) as f64 / (1_u64 << 53) as f64
    }

    /// Nearly normal: the sum of twelve uniform numbers less six.
    fn normal(&mut self) -> f64 {
        (0..12).map(|_| self.uniform()).sum::<f64>() - 6.0
    }
}

fn line<T>(line: Line, value: Option<T>) -> Option<Reading<T>> {
    match line {
        Line::Well => Some(value.ok_or(Fault::OutOfRange)),
        Line::Silent => None,
        Line::Fails(fault) => Some(Err(fault)),
    }
}

/// Additions and ladlings that were said, kg (ladlings below 0).
pub fn moves(kitchen: &Kitchen) -> Vec<f64> {
    let kg = |happening: &Happening| match happening.what {
        What::Added { kg, .. } | What::PouredBack { kg, .. } => Some(kg),
        What::Taken { kg, .. } => Some(-kg),
        _ => None,
    };
    kitchen.happened.iter().filter_map(kg).collect()
}
