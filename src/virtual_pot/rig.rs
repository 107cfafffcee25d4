//! The virtual rig: what the platform and the probes make of the truth.
//!
//! **Platform.** reading = round(m + creep + drift + walk + noise + boil + knock), where
//! creep follows the load by a fraction of it with a lag of 10 to 30 minutes (OIML R 60 allows well
//! made cells 0.03 to 0.05 % in 30 minutes), drift is grams per kelvin of a platform that the stove
//! warms over an hour, walk is a random walk, noise white and correlated (fan, floor), boil the
//! tremble of a boiling pot. Sizes: white 3 to 20 g at 10 Hz and drift of tens of grams an hour, as
//! cheap cells in a kitchen have.
//!
//! **Probe.** A first-order lag of 8 to 40 s (DS18B20 in a sheath: 8 to 22 s measured in water, 20 to
//! 60 s in paste from memory), an offset, unlike layers of an unstirred pot, 1/16 K steps.

use super::chance::Chance;

/// What this rig is like.
#[derive(Debug, Clone, Copy)]
pub struct Fit {
    pub load_hz: f64,
    pub probe_every_s: i64,
    pub white_kg: f64,
    pub fan_kg: f64,
    pub fan_lag_s: f64,
    pub boil_kg: f64,
    pub walk_kg_sqrt_h: f64,
    pub creep: f64,
    pub creep_lag_s: f64,
    pub drift_kg_k: f64,
    pub platform_rise_k: f64,
    pub platform_lag_s: f64,
    pub knocks_per_s: f64,
    pub step_kg: f64,
    pub probe_lag_s: f64,
    pub probe_offset_k: f64,
    pub probe_noise_k: f64,
    /// Where the probe sits: −1 in the warmest layer (below), +1 in the coolest.
    pub probe_place: f64,
    pub has_base_probe: bool,
    pub has_platform_probe: bool,
}

impl Fit {
    pub fn draw(chance: &mut Chance) -> Self {
        Self {
            load_hz: if chance.whether(0.12) { 1.0 } else { 10.0 },
            probe_every_s: chance.pick(&[1, 1, 1, 1, 2, 5]),
            white_kg: chance.between_log(0.003, 0.020),
            fan_kg: chance.between(0.0, 0.004),
            fan_lag_s: chance.between(0.5, 4.0),
            boil_kg: chance.between_log(0.002, 0.020),
            walk_kg_sqrt_h: chance.between(0.002, 0.022),
            creep: chance.between(0.0, 0.0006),
            creep_lag_s: 60.0 * chance.between(8.0, 30.0),
            drift_kg_k: 0.004 * chance.normal().clamp(-2.0, 2.0),
            platform_rise_k: chance.between(3.0, 22.0),
            platform_lag_s: 60.0 * chance.between(15.0, 90.0),
            knocks_per_s: chance.between(0.0, 5.0) / 3600.0,
            step_kg: chance.pick(&[0.001, 0.001, 0.001, 0.002, 0.005]),
            probe_lag_s: chance.between_log(8.0, 40.0),
            probe_offset_k: 0.4 * chance.normal().clamp(-2.5, 2.5),
            probe_noise_k: chance.between(0.02, 0.08),
            probe_place: chance.between(-0.6, 1.0),
            has_base_probe: chance.whether(0.25),
            has_platform_probe: chance.whether(0.3),
        }
    }
}

/// What bears on the rig in one second.
#[derive(Debug, Clone, Copy)]
pub struct Strain {
    /// How far the pot boils, 0..1.
    pub boil: f64,
    /// Heat of the flame, W.
    pub flame_w: f64,
}

#[derive(Debug, Clone)]
pub struct Platform {
    fit: Fit,
    crept_kg: f64,
    start_kg: f64,
    warm_k: f64,
    warm_at_start_k: f64,
    walk_kg: f64,
    fan_kg: f64,
    knock_kg: f64,
    chance: Chance,
}

impl Platform {
    /// A platform that has carried `load_kg` for a while.
    #[must_use]
    pub fn new(fit: Fit, load_kg: f64, seed: u64) -> Self {
        let mut chance = Chance::new(seed, 3);
        let crept_kg = load_kg * chance.between(0.4, 1.0);
        let warm_at_start_k = fit.platform_rise_k * chance.between(0.0, 0.8);
        Self {
            fit,
            crept_kg,
            start_kg: crept_kg,
            warm_k: warm_at_start_k,
            warm_at_start_k,
            walk_kg: 0.0,
            fan_kg: 0.0,
            knock_kg: 0.0,
            chance,
        }
    }

    /// The reading of `load_kg`, `dt_s` after the last one, kg.
    pub fn read_kg(&mut self, load_kg: f64, strain: Strain, dt_s: f64) -> f64 {
        self.settle(load_kg, strain, dt_s);
        self.tremble(dt_s);
        let creep = self.fit.creep * (self.crept_kg - self.start_kg);
        let drift = self.fit.drift_kg_k * (self.warm_k - self.warm_at_start_k);
        let white = self.fit.white_kg * self.chance.normal();
        let boil = self.fit.boil_kg * strain.boil * self.chance.normal();
        let all = load_kg + creep + drift + self.walk_kg + self.fan_kg + self.knock_kg;
        ((all + white + boil) / self.fit.step_kg).round() * self.fit.step_kg
    }

    fn settle(&mut self, load_kg: f64, strain: Strain, dt_s: f64) {
        self.crept_kg += (load_kg - self.crept_kg) * dt_s / self.fit.creep_lag_s;
        // Full rise at a flame of 2 kW into the pot.
        let goal_k = self.fit.platform_rise_k * (strain.flame_w / 2000.0).min(1.5);
        self.warm_k += (goal_k - self.warm_k) * dt_s / self.fit.platform_lag_s;
    }

    fn tremble(&mut self, dt_s: f64) {
        let walk = self.fit.walk_kg_sqrt_h * (dt_s / 3600.0).sqrt();
        self.walk_kg += walk * self.chance.normal();
        let fade = 1.0 - (dt_s / self.fit.fan_lag_s).min(1.0);
        let kick = self.fit.fan_kg * (1.0 - fade * fade).sqrt();
        self.fan_kg = fade * self.fan_kg + kick * self.chance.normal();
        self.knock_kg *= 1.0 - (dt_s / 0.6).min(1.0);
        if self.chance.whether(self.fit.knocks_per_s * dt_s) {
            self.knock_kg += self.chance.between(-1.0, 3.0);
        }
    }

    /// Temperature of the platform as its own sensor tells it, °C.
    pub fn read_c(&mut self, room_c: f64) -> f64 {
        ((room_c + self.warm_k + 0.05 * self.chance.normal()) * 16.0).round() / 16.0
    }
}

/// A temperature probe with a lag.
#[derive(Debug, Clone)]
pub struct Probe {
    lag_s: f64,
    offset_k: f64,
    noise_k: f64,
    felt_c: f64,
    chance: Chance,
}

impl Probe {
    #[must_use]
    pub const fn food(fit: &Fit, at_c: f64, seed: u64) -> Self {
        Self {
            lag_s: fit.probe_lag_s,
            offset_k: fit.probe_offset_k,
            noise_k: fit.probe_noise_k,
            felt_c: at_c,
            chance: Chance::new(seed, 5),
        }
    }

    #[must_use]
    pub const fn base(fit: &Fit, at_c: f64, seed: u64) -> Self {
        Self {
            lag_s: 12.0,
            offset_k: -2.0 * fit.probe_offset_k,
            noise_k: 0.2,
            felt_c: at_c,
            chance: Chance::new(seed, 6),
        }
    }

    /// One second beside `near_c`.
    pub fn feel(&mut self, near_c: f64) {
        self.felt_c += (near_c - self.felt_c) * (1.0 - (-1.0 / self.lag_s).exp());
    }

    pub fn read_c(&mut self) -> f64 {
        let all = self.felt_c + self.offset_k + self.noise_k * self.chance.normal();
        (all * 16.0).round() / 16.0
    }
}
