//! The plan of a batch as one JSON object, units in the names, null where something is not known.

use serde_json::{Value, json};

use crate::batch::allergen::Allergen;
use crate::batch::ingredient::Source;
use crate::batch::recipe::{Item, Load};
use crate::batch::spread::Range;
use crate::batch::wanted::BOSTWICK_END_CM;

use super::Planned;

/// One line of JSON.
#[must_use]
pub fn json(planned: &Planned<'_>) -> String {
    let outlook = planned.outlook;
    let recipe = &outlook.recipe;
    // Nothing known is not nothing.
    let (contains, all_told) = (recipe.contains(), recipe.tells_allergens());
    let (water_start_l, water_later_l) = outlook.water_l();
    json!({
        "kind": "plan",
        "name": recipe.name,
        "pot": planned.pot.name,
        "size_factor": round(outlook.factor, 4),
        "start": load(&recipe.start),
        "additions": recipe.later.iter().enumerate().zip(&outlook.course.poured).map(|((n, later), poured)| json!({
            "name": later.name,
            "at_min": range(outlook.poured_min.get(n).copied().flatten(), 1),
            "before_l": round(poured.before_l, 2),
            "food": load(&later.load),
        })).collect::<Vec<_>>(),
        "water_at_start_l": round(water_start_l, 2),
        "water_later_l": round(water_later_l, 2),
        "start_total_solids": outlook.course.start.total_solids().map(|share| round(share, 5)),
        "finished_total_solids": outlook.course.finish.total_solids().map(|share| round(share, 5)),
        "asked_for": recipe.wanted.map(|wanted| wanted.to_string()),
        "right": outlook.right.map(|right| json!({
            "total_solids": round(right.total_solids, 5),
            "contents_kg": round(right.contents_kg, 3),
            "contents_sd_kg": round(right.contents_sd_kg, 3),
            "contents_l": round(right.litres, 2),
            "dip_cm": round(right.dip_cm, 1),
            "reduced_by": round(right.reduced_by, 4),
            "brix": round(right.brix, 2),
            "brix_doubt": round(right.brix_doubt, 2),
            "bostwick_cm": (right.bostwick_cm <= BOSTWICK_END_CM).then(|| round(right.bostwick_cm, 1)),
            "bostwick_doubt_cm": round(right.bostwick_doubt_cm, 1),
        })),
        "fullest_l": round(outlook.course.fullest_l(), 2),
        "room_l": outlook.room.map(|room| round(room.boiling_l, 2)),
        "room_blending_l": outlook.room.map(|room| round(room.blending_l, 2)),
        "boil_off_kg": range(Some(outlook.boil_off_kg), 3),
        "stages": outlook.course.steps.iter().zip(&outlook.stage_minutes).map(|(step, minutes)| json!({
            "name": step.name,
            "minutes": range(*minutes, 1),
            "evaporated_kg": round(step.evaporated_kg, 3),
            "contents_kg": round(step.contents_kg, 3),
        })).collect::<Vec<_>>(),
        "minutes": range(outlook.minutes, 1),
        "boil_c": round(planned.boil_c, 2),
        "gas": planned.stove.map(|stove| json!({
            "kind": stove.gas.name(),
            "unit": stove.gas.unit(),
            "amount": range(outlook.gas, 3),
            "net_mj_per_unit": round(stove.gas.net_j() / 1e6, 2),
            "efficiency": stove.efficiency,
            "flame_w": stove.flame_w,
        })),
        "salt": round(outlook.salt(), 5),
        "salt_kg": round(outlook.course.finish.salt_kg(), 3),
        "yield_l": range(Some(outlook.yield_l), 2),
        "portions": outlook.portions,
        // Nothing known is not nothing.
        "contains": (all_told || !contains.is_empty()).then(|| names(&contains)),
        "allergens_known": all_told,
        "may_contain": names(&recipe.may_contain()),
        "rules": planned.rules.name,
    })
    .to_string()
}

fn load(load: &Load) -> Value {
    match load {
        Load::Measured(items) => json!({
            "kg": round(load.kg(), 3),
            "ingredients": items.iter().map(item).collect::<Vec<_>>(),
        }),
        Load::Stated { kg, composition } => json!({
            "kg": round(*kg, 3),
            "water": composition.water(),
            "solids": composition.solids(),
            "fat": composition.fat(),
            "salt": composition.salt(),
        }),
    }
}

fn item(item: &Item) -> Value {
    let ndb = match &item.ingredient.source {
        Source::Sr28 { ndb } => Some(ndb),
        Source::Kitchen => None,
    };
    json!({
        "name": item.name,
        "amount": item.amount.to_string(),
        "kg": round(item.kg, 4),
        "ndb": ndb,
    })
}

fn range(range: Option<Range>, decimals: i32) -> Value {
    range.map_or(Value::Null, |Range { p10, p50, p90 }| {
        json!({
            "p10": round(p10, decimals), "p50": round(p50, decimals), "p90": round(p90, decimals)
        })
    })
}

fn names(allergens: &[Allergen]) -> Vec<&'static str> {
    allergens.iter().map(|allergen| allergen.words()).collect()
}

fn round(value: f64, decimals: i32) -> f64 {
    let scale = 10.0_f64.powi(decimals);
    (value * scale).round() / scale
}
