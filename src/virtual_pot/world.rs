//! The truth of the virtual pot, second by second: heat in, heat out, steam, and what is left.
//!
//! **Heat.** The flame's useful heat follows the knob with the stove's lag and wanders a little
//! (draught, gas pressure). It warms the pot's metal, which passes it to the food:
//!
//! > C_m dT_m/dt = Q_flame · η(T_m) − Q,  Q = H (T_m − T),  H = 1 / (1/(h A) + R_bottom)
//! > C dT/dt = Q − Q_wall − Q_top − h_fg ṁ
//!
//! with η falling as (1000 °C − T_m)/900 K: a hotter base takes less from the same flame. Q_wall is
//! lost through the wetted wall, Q_top from the open surface or, with the lid on, through lid and head
//! space, where it condenses steam that drips back.
//!
//! **Steam.** Below the boil vapour transport in the form of ASHRAE's open tank in still air,
//! ṁ = k A · 0.089 (p_w − p_a)/h_fg[kJ/kg], with k about 1.2 in measured beakers; under a lid only its
//! leak. Within the last kelvin or so below the boiling point the heat that is left over goes ever more
//! into steam, at the boil all of it. Boiling point: saturation at the day's air pressure plus the
//! rise by salt and sugar.
//!
//! **Softness** by first-order kinetics, k(T) = k₁₀₀ exp(−E_a/R (1/T − 1/373.15 K)), k₁₀₀ and E_a drawn
//! from the range measured on carrot (Lee 2017, Food Eng Prog 21(4):303, table 1).
//!
//! Steps of 1 s; mass and energy are kept to rounding (shown in the tests).

use super::bottom::{Base, Bottom, Load};
use super::chance::Chance;
use super::gravy::Gravy;
use super::steam;

/// What the pot, its stove and the day are like.
#[derive(Debug, Clone, Copy)]
pub struct Make {
    pub base_diameter_m: f64,
    pub metal_kg: f64,
    pub air_kpa: f64,
    pub room_c: f64,
    /// Vapour pressure of the room's air, kPa.
    pub damp_kpa: f64,
    /// Lag of the heat behind the knob, s.
    pub stove_lag_s: f64,
    /// Wandering of the heat, as a fraction of it.
    pub wander: f64,
    /// Loss through wetted wall, open surface, and lid with head space, W/m²K.
    pub wall_w_m2k: f64,
    pub surface_w_m2k: f64,
    pub lid_w_m2k: f64,
    /// Evaporation below the boil against the open-tank formula.
    pub transport: f64,
    /// Share of it that leaks past the lid.
    pub leak: f64,
    /// Width of the band below the boiling point in which boiling sets in, K.
    pub onset_k: f64,
    pub soft_rate_100_s: f64,
    pub soft_ea_j_mol: f64,
    /// Unlike temperatures of an unstirred pot, K at the rule's heat flux.
    pub layers_k: f64,
    pub base: Base,
}

impl Make {
    pub fn draw(chance: &mut Chance, base_diameter_m: f64, metal_kg: f64, altitude_m: f64) -> Self {
        // Weather moves station pressure by about 8 hPa (standard deviation, from memory).
        let weather_kpa = 0.8 * chance.normal().clamp(-2.5, 2.5);
        Self {
            base_diameter_m,
            metal_kg,
            air_kpa: steam::air_kpa(altitude_m) + weather_kpa,
            room_c: chance.between(18.0, 34.0),
            damp_kpa: chance.between(0.8, 2.4),
            stove_lag_s: chance.between_log(4.0, 90.0),
            wander: chance.between(0.0, 0.03),
            wall_w_m2k: chance.between(7.0, 14.0),
            surface_w_m2k: chance.between(6.0, 12.0),
            lid_w_m2k: chance.between(10.0, 30.0),
            transport: chance.between(0.8, 1.5),
            leak: chance.between(0.05, 0.3),
            onset_k: chance.between(0.3, 2.0),
            soft_rate_100_s: chance.between_log(0.06, 0.38) / 60.0,
            soft_ea_j_mol: chance.between(92_000.0, 159_000.0),
            layers_k: chance.between(1.5, 7.0),
            base: Base::draw(chance),
        }
    }

    #[must_use]
    pub fn area_m2(&self) -> f64 {
        std::f64::consts::FRAC_PI_4 * self.base_diameter_m * self.base_diameter_m
    }
}

/// What is in and around the pot now.
#[derive(Debug, Clone)]
pub struct World {
    pub make: Make,
    pub gravy: Gravy,
    pub food_c: f64,
    metal_c: f64,
    /// Useful heat that the knob asks for, W.
    pub flame_w: f64,
    pub lid_on: bool,
    pub blended: bool,
    /// The food is being moved.
    pub moving: bool,
    pub soft: f64,
    pub bottom: Bottom,
    /// Extra cooling while cooking is over (ice paddle, cold bath), W/K.
    pub chill_w_k: f64,
    /// How much warmer the food is below than above, K.
    pub layers_k: f64,
    flow: Flow,
    /// Boiling point of water under the day's air, and of these contents, °C.
    plain_boil_c: f64,
    boil_c: f64,
    heat_in_w: f64,
    wander: f64,
    chance: Chance,
    books: Books,
}

/// Flows of the last second.
#[derive(Debug, Clone, Copy, Default)]
pub struct Flow {
    /// Heat that the base passes to the contents, W.
    pub heat_w: f64,
    /// Lost through wall, surface, lid and chilling, W.
    pub lost_w: f64,
    pub steam_kg_s: f64,
    /// How far the pot boils, 0..1.
    pub boil: f64,
}

/// What went in and out since the beginning.
#[derive(Debug, Clone, Copy, Default)]
pub struct Books {
    pub added: Gravy,
    pub taken: Gravy,
    pub steam_kg: f64,
    /// Heat passed to the contents, lost, and carried off as steam, J.
    pub heat_j: f64,
    pub lost_j: f64,
    pub steam_j: f64,
}

/// What a dried film adds to the way of the heat, m² K/W (assumption).
const LAYER_M2_K_W: f64 = 0.5e-3;
/// Heat capacity of steel; the base's share of the pot's metal. The walls are as warm as the food.
const STEEL_J_KGK: f64 = 500.0;
const BASE_SHARE: f64 = 0.35;

/// Fraction of water at which no more of it leaves as steam.
const DRIEST_WATER: f64 = 0.08;

impl World {
    #[must_use]
    pub fn new(make: Make, gravy: Gravy, food_c: f64, seed: u64) -> Self {
        let mut world = Self {
            make,
            gravy,
            food_c,
            metal_c: food_c,
            flame_w: 0.0,
            lid_on: false,
            blended: false,
            moving: false,
            soft: 0.0,
            bottom: Bottom::new(make.base),
            chill_w_k: 0.0,
            layers_k: 0.0,
            flow: Flow::default(),
            plain_boil_c: steam::boiling_c(make.air_kpa),
            boil_c: 0.0,
            heat_in_w: 0.0,
            wander: 0.0,
            chance: Chance::new(seed, 2),
            books: Books::default(),
        };
        world.boil_c = world.boiling_c();
        world
    }

    /// Sets the flame as if it had burnt like that for long.
    pub fn settle_flame(&mut self, flame_w: f64) {
        self.flame_w = flame_w;
        self.heat_in_w = flame_w;
        self.metal_c = self.food_c + flame_w / self.conductance_w_k();
        let mut soon = self.clone();
        soon.second();
        self.flow = soon.flow;
    }

    /// Something at `at_c` goes in and mixes.
    pub fn pour_in(&mut self, what: Gravy, at_c: f64) {
        let (here, there) = (self.gravy.heat_capacity_j_k(), what.heat_capacity_j_k());
        self.food_c = (here * self.food_c + there * at_c) / (here + there).max(1e-9);
        self.gravy.add(what);
        self.books.added.add(what);
    }

    /// Up to `kg` of the mixture goes out; gives what went.
    pub fn take_out(&mut self, kg: f64) -> Gravy {
        let out = self.gravy.take(kg);
        self.books.taken.add(out);
        out
    }

    /// Water that leaves on the lid or elsewhere, up to `kg`; gives the kg that left.
    pub fn drip_off(&mut self, kg: f64) -> f64 {
        let kg = kg.min(0.5 * self.gravy.water_kg);
        self.gravy.water_kg -= kg;
        self.books.taken.water_kg += kg;
        kg
    }

    #[must_use]
    pub const fn flow(&self) -> Flow {
        self.flow
    }

    #[must_use]
    pub const fn books(&self) -> &Books {
        &self.books
    }

    /// Boiling point of these contents under the day's air, °C.
    #[must_use]
    pub const fn boil_c(&self) -> f64 {
        self.boil_c
    }

    /// Temperature of the pot's metal at the base, °C.
    #[must_use]
    pub const fn metal_c(&self) -> f64 {
        self.metal_c
    }

    /// One second goes by.
    pub fn second(&mut self) {
        self.burn();
        let heat_w = self.heat_through_base();
        self.steam_off(heat_w);
        self.soften();
        self.settle_layers();
        self.bottom.second(self.load_on_bottom());
    }

    fn burn(&mut self) {
        self.heat_in_w += (self.flame_w - self.heat_in_w) / self.make.stove_lag_s.max(1.0);
        const WANDER_S: f64 = 500.0;
        let kick = self.make.wander * (2.0 / WANDER_S).sqrt();
        self.wander += kick * self.chance.normal() - self.wander / WANDER_S;
    }

    fn heat_through_base(&mut self) -> f64 {
        let reach = ((1000.0 - self.metal_c) / 900.0).clamp(0.0, 1.2);
        let flame_w = (self.heat_in_w * (1.0 + self.wander)).max(0.0) * reach;
        let conductance = self.conductance_w_k();
        let capacity = BASE_SHARE * STEEL_J_KGK * self.make.metal_kg + 500.0;
        let steady_c = self.food_c + flame_w / conductance;
        let warmer_k = (steady_c - self.metal_c) * (1.0 - (-conductance / capacity).exp());
        self.metal_c += warmer_k;
        flame_w - capacity * warmer_k
    }

    /// From the metal to the food, W/K: boiling stirs the film, a still thick pot insulates itself.
    fn conductance_w_k(&self) -> f64 {
        let thick = 1.0 + 6.0 * self.gravy.thick_fraction() * self.soft;
        let still = if self.moving { 1.0 } else { 1.2 };
        let h = (900.0 + 3500.0 * self.flow.boil) / (thick * still);
        let film = LAYER_M2_K_W * self.bottom.film().powi(2);
        self.make.area_m2() / (1.0 / h + film)
    }

    fn steam_off(&mut self, heat_w: f64) {
        self.boil_c = self.boiling_c();
        let latent = steam::latent_j_kg(self.food_c);
        let lost_w = self.lost_w();
        let transport_kg_s = self.transport_kg_s();
        let left_w = heat_w - lost_w - latent * transport_kg_s;
        let below_k = (self.boil_c - self.food_c) / self.make.onset_k;
        let boil = if below_k >= 1.0 { 0.0 } else { smooth(1.0 - below_k) };
        let wet = ((self.gravy.water_kg / self.gravy.kg().max(1e-9) - DRIEST_WATER) / 0.1)
            .clamp(0.0, 1.0);
        let steam_kg_s = wet * (transport_kg_s + boil * left_w.max(0.0) / latent);
        let steam_kg_s = steam_kg_s.min(0.5 * self.gravy.water_kg);
        let walls = (1.0 - BASE_SHARE) * STEEL_J_KGK * self.make.metal_kg;
        let capacity = self.gravy.heat_capacity_j_k() + walls;
        self.food_c += (heat_w - lost_w - latent * steam_kg_s) / capacity;
        self.gravy.water_kg -= steam_kg_s;
        self.keep_books(heat_w, lost_w, steam_kg_s, latent);
        let boil = if left_w > 0.0 { boil } else { 0.0 };
        self.flow = Flow { heat_w, lost_w, steam_kg_s, boil };
    }

    fn keep_books(&mut self, heat_w: f64, lost_w: f64, steam_kg_s: f64, latent: f64) {
        self.books.steam_kg += steam_kg_s;
        self.books.heat_j += heat_w;
        self.books.lost_j += lost_w;
        self.books.steam_j += latent * steam_kg_s;
    }

    fn boiling_c(&self) -> f64 {
        self.plain_boil_c + self.gravy.boiling_rise_k().min(12.0)
    }

    fn lost_w(&self) -> f64 {
        let over_k = self.food_c - self.make.room_c;
        let depth_m = self.gravy.kg() / 1000.0 / self.make.area_m2();
        let rim_m = std::f64::consts::PI * self.make.base_diameter_m;
        let wall = self.make.wall_w_m2k * rim_m * depth_m;
        let head_m2 = self.make.area_m2() + 0.10 * rim_m;
        let top = if self.lid_on {
            self.make.lid_w_m2k * head_m2
        } else {
            self.make.surface_w_m2k * self.make.area_m2()
        };
        (wall + top + self.chill_w_k) * over_k
    }

    fn transport_kg_s(&self) -> f64 {
        let surface_c = self.food_c.min(self.boil_c);
        let drive_kpa = steam::saturation_kpa(surface_c) - self.make.damp_kpa;
        let latent_kj = steam::latent_j_kg(surface_c) / 1000.0;
        let open = self.make.transport * self.make.area_m2() * 0.089 * drive_kpa / latent_kj;
        let free = if self.lid_on { self.make.leak } else { 1.0 };
        (open * free).max(0.0)
    }

    fn soften(&mut self) {
        let t_k = self.food_c.min(110.0) + 273.15;
        let slower = self.make.soft_ea_j_mol / 8.314_46 * (1.0 / t_k - 1.0 / 373.15);
        let rate = self.make.soft_rate_100_s * (-slower).exp();
        self.soft += (1.0 - self.soft) * (1.0 - (-rate).exp());
    }

    fn settle_layers(&mut self) {
        let flux = self.flow.heat_w / self.make.area_m2() / super::bottom::RULE_FLUX_W_M2;
        let wanted = self.make.layers_k * flux.min(1.5) * (1.0 - 0.85 * self.flow.boil);
        let (goal, lag_s) = if self.moving { (0.0, 6.0) } else { (wanted, 200.0) };
        self.layers_k += (goal - self.layers_k) / lag_s;
    }

    #[must_use]
    pub fn load_on_bottom(&self) -> Load {
        Load {
            flux_w_m2: self.flow.heat_w / self.make.area_m2(),
            soft: self.soft,
            thick: self.gravy.thick_fraction(),
            below_boil_k: self.boil_c - self.food_c,
        }
    }
}

fn smooth(x: f64) -> f64 {
    let x = x.clamp(0.0, 1.0);
    x * x * (3.0 - 2.0 * x)
}
