//! What a plan comes to in a pot: scaled to it, weighed out, timed, and what to take care of.
//!
//! How full a pot may be is common practice, no source: a fifth of its height stays free for foam
//! and for bubbles that spit, at least 5 cm; and [`BLEND_FREE`] of it while gravy is blended hot,
//! for a blender throws it up. Salt in a finished gravy: [`SALTY`] and above tastes of salt,
//! [`TOO_SALTY`] is too much for most (common practice, no source; a base goes into a dish that is
//! salted again).

use super::course::{self, Course, Place};
use super::ledger::Ledger;
use super::plan::Target;
use super::pot::Pot;
use super::recipe::Recipe;
use super::spread::{Range, range};
use super::stove::Stove;
use super::target;
use super::wanted::{Ground, Measures, Wanted, measures};
use crate::physics::food::Proximate;

/// Share of a pot's height that stays free at the boil.
pub const FOAM_FREE: f64 = 0.20;
/// And at least this, m.
pub const FOAM_FREE_M: f64 = 0.05;
/// Share of a pot's height that stays free while it is blended hot.
pub const BLEND_FREE: f64 = 0.30;
/// Salt in the finished gravy that tastes of salt, and that is too much.
pub const SALTY: f64 = 0.010;
pub const TOO_SALTY: f64 = 0.016;

/// Finished gravy cools to this before it is portioned for the store, °C.
const COLD_C: f64 = 5.0;

/// How much of a recipe is made.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Size {
    AsWritten,
    /// As much as the pot takes.
    Full,
    /// At its fullest so many litres hot.
    Litres(f64),
}

/// Why a plan cannot be made, as a sentence.
#[derive(Debug, Clone, PartialEq)]
pub enum NoPlan {
    /// What is asked for does not fit.
    PotTooSmall {
        pot: String,
        asked_l: f64,
        room_l: f64,
        why: &'static str,
    },
    /// The gravy would have to be thinned, not boiled down.
    TooThinAlready {
        wanted: String,
        water_l: f64,
        /// Dry matter as a fraction when it comes there.
        total_solids: f64,
    },
    HeightUnknown {
        pot: String,
    },
    Empty,
}

impl NoPlan {
    /// What could be asked for instead, where it is the target that cannot be.
    #[must_use]
    pub fn instead(&self) -> String {
        match self {
            Self::TooThinAlready { water_l, total_solids, .. } => format!(
                "{:.3} or more of total solids, or {water_l:.1} l more water in the plan",
                (1000.0 * total_solids).ceil() / 1000.0
            ),
            _ => String::new(),
        }
    }
}

impl std::fmt::Display for NoPlan {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::PotTooSmall { pot, asked_l, room_l, why } => write!(
                f,
                "{asked_l:.1} l at its fullest do not fit into the pot \"{pot}\": it takes \
                 {room_l:.1} l with room left {why}"
            ),
            Self::TooThinAlready { wanted, water_l, .. } => write!(
                f,
                "boiling cannot bring it to {wanted}: it is thicker than that when it comes \
                 there, {water_l:.1} l more water in it would do"
            ),
            Self::HeightUnknown { pot } => write!(
                f,
                "the kitchen file does not say how high the pot \"{pot}\" is (height_m), so what \
                 it takes is not known; plan it with --as-written"
            ),
            Self::Empty => f.write_str("nothing goes into the pot"),
        }
    }
}

/// How full a pot may be, litres.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Room {
    pub boiling_l: f64,
    pub blending_l: f64,
}

/// `None` where the pot's height is not known.
#[must_use]
pub fn room(pot: &Pot) -> Option<Room> {
    let height_m = pot.height_m?;
    let litres = |free_m: f64| pot.area_m2() * (height_m - free_m).max(0.0) * 1000.0;
    Some(Room {
        boiling_l: litres((FOAM_FREE * height_m).max(FOAM_FREE_M)),
        blending_l: litres((BLEND_FREE * height_m).max(FOAM_FREE_M)),
    })
}

/// A plan with everything that follows from it.
#[derive(Debug, Clone, PartialEq)]
pub struct Outlook {
    /// Scaled.
    pub recipe: Recipe,
    pub factor: f64,
    pub target: Option<Target>,
    pub course: Course,
    pub room: Option<Room>,
    /// The gravy when it is right, in the trade's measures.
    pub right: Option<Measures>,
    /// Water that boils off until it is right, kg.
    pub boil_off_kg: Range,
    /// Minutes of each stage, and of all; `None` where the flame is not known.
    pub stage_minutes: Vec<Option<Range>>,
    pub minutes: Option<Range>,
    /// When each addition goes in, min.
    pub poured_min: Vec<Option<Range>>,
    /// In the unit that the gas is sold by.
    pub gas: Option<Range>,
    /// Finished gravy, litres at 5 °C.
    pub yield_l: Range,
    pub portions: Option<u32>,
}

impl Outlook {
    /// Salt in the finished gravy, as a fraction.
    #[must_use]
    pub fn salt(&self) -> f64 {
        self.course.finish.salt().unwrap_or(0.0)
    }

    /// Water in at the start, and later, litres from the tap.
    #[must_use]
    pub fn water_l(&self) -> (f64, f64) {
        let later = self.recipe.later.iter().map(|later| later.load.tap_water_l());
        (self.recipe.start.tap_water_l(), later.sum())
    }
}

/// Where it is cooked, and what it stands on.
#[derive(Debug, Clone, Copy)]
pub struct Kitchen<'k> {
    pub pot: &'k Pot,
    pub stove: Option<&'k Stove>,
    pub boil_c: f64,
    pub latent_j_kg: f64,
}

/// The outlook of `recipe` in this size; `target` reads the target of a recipe once it is scaled.
pub fn outlook(
    recipe: &Recipe,
    size: Size,
    kitchen: &Kitchen<'_>,
    target: &dyn Fn(&Recipe) -> Option<Target>,
) -> Result<Outlook, NoPlan> {
    let place =
        Place { boil_c: kitchen.boil_c, latent_j_kg: kitchen.latent_j_kg, stove: kitchen.stove };
    let cook = |factor: f64| {
        let scaled = recipe.clone().scaled(factor);
        let target = target(&scaled);
        (course::expected(&scaled, target.as_ref(), &place), scaled, target)
    };
    let room = room(kitchen.pot);
    let factor = factor(size, room, &kitchen.pot.name, &|factor| cook(factor).0)?;
    let (course, scaled, target) = cook(factor);
    refuse_too_full(&course, room, kitchen.pot)?;
    refuse_too_thick(&course, (&recipe.wanted, factor), target.as_ref())?;
    Ok(summed(scaled, factor, target, course, room, kitchen, &place))
}

fn factor(
    size: Size,
    room: Option<Room>,
    pot: &str,
    cook: &dyn Fn(f64) -> Course,
) -> Result<f64, NoPlan> {
    let over = |course: &Course, boiling_l: f64, blending_l: f64| {
        let blending = course.fullest_blending_l().map_or(0.0, |l| l / blending_l);
        (course.fullest_l() / boiling_l).max(blending)
    };
    if cook(1.0).fullest_l() <= 0.0 {
        return Err(NoPlan::Empty);
    }
    let (boiling_l, blending_l) = match size {
        Size::AsWritten => return Ok(1.0),
        Size::Litres(litres) => (litres, f64::INFINITY),
        Size::Full => {
            let room = room.ok_or_else(|| NoPlan::HeightUnknown { pot: pot.to_owned() })?;
            (room.boiling_l, room.blending_l)
        }
    };
    // The more there is, the less of it boils off in the given minutes: fullness rises with size.
    let (mut low, mut high) = (1e-4_f64, 1e4_f64);
    for _ in 0..60 {
        let middle = (low * high).sqrt();
        if over(&cook(middle), boiling_l, blending_l) < 1.0 { low = middle } else { high = middle }
    }
    Ok(low)
}

fn refuse_too_full(course: &Course, room: Option<Room>, pot: &Pot) -> Result<(), NoPlan> {
    let Some(room) = room else { return Ok(()) };
    let too_small = |asked_l, room_l, why| {
        Err(NoPlan::PotTooSmall { pot: pot.name.clone(), asked_l, room_l, why })
    };
    // A hundredth: what rounding a measure may add.
    if course.fullest_l() > 1.01 * room.boiling_l {
        return too_small(course.fullest_l(), room.boiling_l, "for foam");
    }
    match course.fullest_blending_l() {
        Some(litres) if litres > 1.01 * room.blending_l => {
            too_small(litres, room.blending_l, "for hot blending")
        }
        _ => Ok(()),
    }
}

/// A target that is thinner than the gravy is when its turn comes: said of the batch as it is written,
/// of which the one that is planned is `factor`.
fn refuse_too_thick(
    course: &Course,
    (wanted, factor): (&Option<Wanted>, f64),
    target: Option<&Target>,
) -> Result<(), NoPlan> {
    let target_kg = target.and_then(|target| target.contents_kg(&course.right));
    match (target_kg, wanted) {
        (Some(kg), Some(wanted)) if kg > 1.005 * course.right.contents_kg() => {
            let water_l = (kg - course.right.contents_kg()) / factor;
            let total_solids = course.right.total_solids().unwrap_or(1.0);
            Err(NoPlan::TooThinAlready { wanted: wanted.to_string(), water_l, total_solids })
        }
        _ => Ok(()),
    }
}

fn summed(
    recipe: Recipe,
    factor: f64,
    target: Option<Target>,
    course: Course,
    room: Option<Room>,
    kitchen: &Kitchen<'_>,
    place: &Place<'_>,
) -> Outlook {
    let drawn = course::drawn(&recipe, target.as_ref(), place);
    let same = |value: f64| Range { p10: value, p50: value, p90: value };
    let of = |of: &dyn Fn(&Course) -> f64| {
        range(&drawn, |course| Some(of(course))).unwrap_or_else(|| same(of(&course)))
    };
    let stage_minutes =
        (0..course.steps.len()).map(|n| range(&drawn, |course| course.steps[n].minutes)).collect();
    let poured_min =
        (0..course.poured.len()).map(|n| range(&drawn, |course| course.poured[n].at_min)).collect();
    let yield_l = of(&|course| cold_l(&course.finish));
    let gas_j = kitchen.stove.map(|stove| stove.gas.net_j());
    let mix = recipe.mix();
    let soluble = recipe.soluble();
    let ground = Ground { area_m2: kitchen.pot.area_m2(), mix: &mix, soluble, like: &|_| None };
    let seen = recipe.wanted.as_ref().and_then(Wanted::bostwick_seen);
    Outlook {
        right: target.and_then(|target| measures(&target, seen, &ground)),
        boil_off_kg: of(&Course::evaporated_kg),
        stage_minutes,
        poured_min,
        minutes: range(&drawn, |course| course.minutes),
        gas: gas_j.and_then(|j| range(&drawn, |course| Some(course.burnt_j? / j))),
        yield_l,
        portions: recipe.portion_l.map(|portion_l| (yield_l.p50 / portion_l) as u32),
        recipe,
        factor,
        target,
        course,
        room,
    }
}

/// Litres of finished gravy cold.
fn cold_l(ledger: &Ledger) -> f64 {
    let density = ledger.composition().and_then(|of| {
        let food = Proximate::from_balance(of.water(), of.solids(), of.fat(), of.salt());
        food.and_then(|food| food.density_kg_m3(COLD_C))
    });
    let hot_l = || target::litres(ledger).unwrap_or(0.0);
    density.map_or_else(hot_l, |kg_m3| ledger.contents_kg() / kg_m3 * 1000.0)
}
