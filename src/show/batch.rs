//! A batch's plan and ledger as one JSON object: what was meant, and what became of it.

use serde_json::{Map, Value, json};

use super::story::Story;
use crate::batch::plan::{Plan, PlannedAddition, Target};

/// The plan, what the scale saw of it, and the balance as it stands. Masses in kg to the gram; what is
/// not known is null.
#[must_use]
pub fn json(plan: &Plan, story: &Story) -> String {
    let start = &plan.start;
    json!({
        "kind": "batch",
        "pot": plan.pot,
        "name": plan.name,
        "start": {
            "contents_kg": grams(Some(start.contents_kg)),
            "total_solids": fraction(Some(start.composition.total_solids())),
            "lid": if start.lid_on { "on" } else { "off" },
        },
        "additions": plan.additions.iter().map(|planned| addition(planned, story)).collect::<Vec<_>>(),
        "target": plan.target.map(target),
        "ledger": ledger(story),
    })
    .to_string()
}

fn addition(planned: &PlannedAddition, story: &Story) -> Value {
    let additions = story.additions().into_iter();
    let seen = additions.filter(|a| a.name == Some(planned.name.as_str())).map(|a| a.kg);
    let seen = seen.reduce(|sum, kg| sum + kg);
    json!({ "name": planned.name, "kg": grams(Some(planned.kg)), "seen_kg": grams(seen) })
}

fn target(target: Target) -> Value {
    match target {
        Target::TotalSolids(share) => json!({ "total_solids": fraction(Some(share)) }),
        Target::Consistency { total_solids, sd } => json!({
            "total_solids": fraction(Some(total_solids)),
            "total_solids_sd": fraction(Some(sd)),
        }),
        Target::Contents(kg) => json!({ "contents_kg": grams(Some(kg)) }),
        Target::Litres(litres) => json!({ "contents_l": grams(Some(litres)) }),
        Target::Brix { brix, .. } => json!({ "brix": grams(Some(brix)) }),
    }
}

fn ledger(story: &Story) -> Map<String, Value> {
    let now = story.now.as_ref();
    let tally = &story.tally;
    let parts = [
        ("contents_kg", grams(now.and_then(|now| now.contents_kg))),
        ("water_kg", grams(now.and_then(|now| now.water_kg))),
        ("fat_kg", grams(now.and_then(|now| now.fat_kg))),
        ("salt_kg", grams(now.and_then(|now| now.salt_kg))),
        ("total_solids", fraction(now.and_then(|now| now.total_solids))),
        ("added_kg", grams(Some(tally.added_kg))),
        ("taken_kg", grams(Some(tally.taken_kg))),
        ("evaporated_kg", grams(Some(tally.evaporated_kg))),
        ("stirs", json!(tally.stirs)),
    ];
    parts.into_iter().map(|(name, value)| (name.to_owned(), value)).collect()
}

fn grams(kg: Option<f64>) -> Value {
    rounded(kg, 1e3)
}

fn fraction(share: Option<f64>) -> Value {
    rounded(share, 1e5)
}

fn rounded(value: Option<f64>, scale: f64) -> Value {
    let value = value.map(|value| (value * scale).round() / scale + 0.0);
    value.filter(|value| value.is_finite()).map_or(Value::Null, |value| json!(value))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::batch::composition::Composition;
    use crate::batch::plan::Start;
    use crate::batch::pot::Pot;
    use crate::moment::Moment;
    use crate::watch::action::{Action, Happening, What};

    fn plan() -> Plan {
        let cream =
            PlannedAddition { name: "cream".into(), kg: 0.43, composition: Composition::WATER };
        let start = Start { contents_kg: 23.6, lid_on: false, composition: Composition::WATER };
        Plan {
            name: "Tuesday \"base\"".into(),
            pot: "big".into(),
            start,
            additions: vec![cream],
            target: Some(Target::TotalSolids(0.118)),
            stages: vec![],
        }
    }

    fn story() -> Story {
        let pot = Pot {
            name: "big".into(),
            base_diameter_m: 0.4,
            tare_kg: 6.2,
            lid_kg: 1.35,
            height_m: None,
        };
        Story::new("a", pot, None)
    }

    #[test]
    fn what_went_in_stands_beside_what_was_planned() {
        let mut story = story();
        let at = Moment::from_ms(0);
        let what = What::Added { kg: 0.4449, sd_kg: 0.01, name: Some("cream".into()) };
        story.take(&Action::Happened(Happening { at, seen: at, what }));
        let value: Value = serde_json::from_str(&json(&plan(), &story)).unwrap();
        assert_eq!(value["additions"][0]["seen_kg"], 0.445);
        assert_eq!(value["ledger"]["added_kg"], 0.445);
        assert_eq!(value["target"]["total_solids"], 0.118);
        assert_eq!(value["ledger"]["contents_kg"], Value::Null);
    }

    #[test]
    fn what_did_not_go_in_yet_is_not_known() {
        let value: Value = serde_json::from_str(&json(&plan(), &story())).unwrap();
        assert_eq!(value["additions"][0]["seen_kg"], Value::Null);
        assert_eq!(value["name"], "Tuesday \"base\"");
    }
}
