//! What truly happened: the record behind a virtual batch.

use serde::Serialize;

use super::world::World;

/// Seconds between entries of the arrays.
pub const STEP_S: i64 = 10;

/// The truth, in the form that recordings carry beside them.
#[derive(Debug, Clone, Default, Serialize)]
pub struct Truth {
    pub step_s: i64,
    pub secs: i64,
    pub contents_kg: Vec<f64>,
    pub water_kg: Vec<f64>,
    pub pot_c: Vec<f64>,
    pub evaporation_kg_h: Vec<f64>,
    pub total_solids: Vec<f64>,
    /// Heat that the base passes to the contents, W.
    pub heat_w: Vec<f64>,
    pub soft: Vec<f64>,
    pub dose: Vec<f64>,
    pub events: Vec<Happened>,
    pub target_s: Option<i64>,
    pub caught_s: Option<i64>,
    pub target_total_solids: Option<f64>,
    /// Boiling point of the contents at the start under the day's air, °C.
    pub boil_c: f64,
}

/// One entry of the list of events; absent keys do not apply.
#[derive(Debug, Clone, Serialize)]
pub struct Happened {
    pub t_s: i64,
    pub what: &'static str,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub kg: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub secs: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub watts: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub name: Option<&'static str>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub sensor: Option<&'static str>,
}

/// What the cook did, as the truth names it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Deed {
    Nothing,
    Stirred { secs: f64 },
    Blended { secs: f64 },
    LidOn,
    LidOff,
    Added { name: &'static str, secs: f64 },
    Taken { name: &'static str, secs: f64 },
    Flame { watts: f64 },
    Chilled,
}

impl Happened {
    #[must_use]
    pub const fn plain(t_s: i64, what: &'static str) -> Self {
        Self { t_s, what, kg: None, secs: None, watts: None, name: None, sensor: None }
    }

    fn of(t_s: i64, deed: Deed) -> Option<Self> {
        let plain = |what| Self::plain(t_s, what);
        Some(match deed {
            Deed::Nothing => return None,
            Deed::Stirred { secs } => Self { secs: Some(secs), ..plain("stirred") },
            Deed::Blended { secs } => Self { secs: Some(secs), ..plain("blended") },
            Deed::LidOn => plain("lid-on"),
            Deed::LidOff => plain("lid-off"),
            Deed::Added { name, secs } => {
                Self { secs: Some(secs), name: Some(name), ..plain("added") }
            }
            Deed::Taken { name, secs } => {
                Self { secs: Some(secs), name: Some(name), ..plain("taken") }
            }
            Deed::Flame { watts } => Self { watts: Some(watts), ..plain("flame") },
            Deed::Chilled => plain("paddle"),
        })
    }
}

impl Truth {
    /// The cook began something; where its entry is, if it has one.
    pub fn begun(&mut self, t_s: f64, deed: Deed) -> Option<usize> {
        let entry = Happened::of(t_s as i64, deed)?;
        self.events.push(entry);
        Some(self.events.len() - 1)
    }

    /// It ended, and moved this much.
    pub fn ended(&mut self, entry: usize, kg: f64) {
        if let Some(entry) = self.events.get_mut(entry) {
            entry.kg = (kg > 0.0).then_some(kg);
        }
    }

    /// A spoon of this mass stays in the pot, or comes out of it.
    pub fn spoon(&mut self, t_s: f64, what: &'static str, kg: f64) {
        self.events.push(Happened { kg: Some(kg), ..Happened::plain(t_s as i64, what) });
    }

    #[must_use]
    pub const fn target_s(&self) -> Option<i64> {
        self.target_s
    }

    /// The world at `t_s`.
    pub fn note(&mut self, t_s: i64, world: &World, to_target: bool) {
        self.secs = t_s;
        if t_s % STEP_S == 0 {
            self.push(world);
        }
        let reached = self.target_total_solids.is_some_and(|ts| world.gravy.total_solids() >= ts);
        if to_target && reached && self.target_s.is_none() {
            self.target_s = Some(t_s);
        }
        if world.bottom.caught() && self.caught_s.is_none() {
            self.caught_s = Some(t_s);
            self.events.push(Happened::plain(t_s, "caught"));
        }
    }

    fn push(&mut self, world: &World) {
        self.contents_kg.push(world.gravy.kg());
        self.water_kg.push(world.gravy.water_kg);
        self.pot_c.push(world.food_c);
        self.evaporation_kg_h.push(3600.0 * world.flow().steam_kg_s);
        self.total_solids.push(world.gravy.total_solids());
        self.heat_w.push(world.flow().heat_w);
        self.soft.push(world.soft);
        self.dose.push(world.bottom.dose());
    }
}
