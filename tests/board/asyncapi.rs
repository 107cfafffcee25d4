//! The interface on paper is what the code sends: topics, retaining, media types, every field.

use dekchi::batch::plan::Plan;
use dekchi::config::{batch, kitchen::Kitchen};
use dekchi::moment::Moment;
use dekchi::show::story::Story;
use dekchi::show::{self, lines, words};
use dekchi::tell::mqtt::message::{Message, SCHEMA, Stamp, State, Status, stamped};
use dekchi::tell::mqtt::senml::Pack;
use dekchi::tell::mqtt::topic::Topics;
use dekchi::watch::action::{
    Action, Alarm, AlarmState, Happening, Lid, Notice, Sensor, Snapshot, Spread, What,
};
use serde_json::{Value, json};

fn paper() -> Value {
    serde_json::from_str(&super::read("deploy/asyncapi.json")).unwrap()
}

/// Follows `$ref`s.
fn resolved<'p>(paper: &'p Value, value: &'p Value) -> &'p Value {
    match value["$ref"].as_str() {
        Some(path) => resolved(paper, paper.pointer(path.trim_start_matches('#')).unwrap()),
        None => value,
    }
}

/// Why `value` is not what `schema` (the few words of JSON Schema that the file uses) allows.
fn quarrel(schema: &Value, value: &Value, at: &str) -> Option<String> {
    if let Some(only) = schema.get("const") {
        return (only != value).then(|| format!("{at} is {value}, not {only}"));
    }
    if let Some(allowed) = schema["enum"].as_array() {
        return (!allowed.contains(value)).then(|| format!("{at} is {value}"));
    }
    let types = match &schema["type"] {
        Value::Array(types) => types.clone(),
        one => vec![one.clone()],
    };
    let is = |name: &Value| match name.as_str() {
        Some("null") => value.is_null(),
        Some("number") => value.is_number(),
        Some("integer") => value.is_i64(),
        Some("boolean") => value.is_boolean(),
        Some("string") => value.is_string(),
        Some("array") => value.is_array(),
        Some("object") => value.is_object(),
        other => panic!("{at} has the type {other:?}"),
    };
    if !types.iter().any(is) {
        return Some(format!("{at} is {value}, which is none of {types:?}"));
    }
    match value {
        Value::Array(items) => items.iter().find_map(|item| quarrel(&schema["items"], item, at)),
        Value::Object(fields) => {
            let missing = schema["required"].as_array().into_iter().flatten().find_map(|name| {
                let name = name.as_str().unwrap();
                (!fields.contains_key(name)).then(|| format!("{at}.{name} is missing"))
            });
            missing.or_else(|| {
                fields.iter().find_map(|(name, field)| {
                    let at = format!("{at}.{name}");
                    match schema["properties"].get(name) {
                        Some(schema) => quarrel(schema, field, &at),
                        None => Some(format!("{at} is not on paper")),
                    }
                })
            })
        }
        _ => None,
    }
}

/// The channel's id and its one message on paper, for a message that the code made.
fn on_paper<'p>(paper: &'p Value, message: &Message) -> (&'p str, &'p Value) {
    let fits = |address: &str| {
        let (made, written): (Vec<_>, Vec<_>) =
            (message.topic.split('/').collect(), address.split('/').collect());
        let same = |(a, b): (&&str, &&str)| b.starts_with('{') || a == b;
        made.len() == written.len() && made.iter().zip(&written).all(same)
    };
    let channels = paper["channels"].as_object().unwrap();
    let found = channels.iter().find(|(_, c)| fits(c["address"].as_str().unwrap()));
    let (id, channel) = found.unwrap_or_else(|| panic!("{} is not on paper", message.topic));
    let one = channel["messages"].as_object().unwrap().values().next().unwrap();
    (id, resolved(paper, one))
}

fn agrees(paper: &Value, message: &Message) {
    let (id, written) = on_paper(paper, message);
    let media_type = message.content.media_type();
    if let Some(media_type) = media_type {
        assert_eq!(written["contentType"], media_type, "{id}");
        assert_eq!(written["headers"]["properties"]["schema"]["const"], SCHEMA, "{id}");
    }
    if media_type.is_some_and(|name| name.ends_with("json")) {
        let payload: Value = serde_json::from_slice(&message.payload).unwrap();
        let schema = resolved(paper, &written["payload"]);
        assert_eq!(quarrel(schema, &payload, id), None);
    }
    let operations = paper["operations"].as_object().unwrap().values();
    let reference = format!("#/channels/{id}");
    let operation = operations.into_iter().find(|o| o["channel"]["$ref"] == reference).unwrap();
    let binding = &operation["bindings"]["mqtt"];
    assert_eq!(binding["qos"], 1);
    let cleared = message.topic.contains("/alert/") && !message.retain;
    assert!(cleared || binding["retain"] == message.retain, "{id}");
    assert_eq!(binding["messageExpiryInterval"].as_u64(), message.expiry_s.map(u64::from), "{id}");
}

fn snapshot(known: bool) -> Snapshot {
    let some = |value: f64| known.then_some(value);
    Snapshot {
        pot_c: some(98.1),
        contents_kg: some(23.4),
        contents_sd_kg: some(0.01),
        water_kg: some(20.9),
        total_solids: some(0.1065),
        evaporation_kg_h: some(3.2),
        evaporation_sd_kg_h: some(0.1),
        heat_w: some(2_300.0),
        lid: known.then_some(Lid::Off),
        boiling: known.then_some(true),
        target_in_s: known.then_some(Spread { p10: 3_000.0, p50: 3_180.0, p90: 3_420.0 }),
        catch_index: some(0.34),
        stir_within_s: some(420.0),
        ..Snapshot::default()
    }
}

fn said(action: &Action) -> String {
    let key = Some("7-1".to_owned());
    stamped(&lines::line("big", action).1, &Stamp { utc_ms: 1, clock_set: true, key })
}

fn happenings() -> Vec<What> {
    let name = Some("cream".to_owned());
    let (sensor, why) = (Sensor::Base, "does not answer");
    vec![
        What::Added { kg: 0.43, sd_kg: 0.01, name },
        What::Added { kg: 0.43, sd_kg: 0.01, name: None },
        What::PouredBack { kg: 8.2, sd_kg: 0.01 },
        What::Corrected { kg: 0.5, name: Some("cream".to_owned()), ago_s: 90.5 },
        What::Corrected { kg: 0.5, name: None, ago_s: 90.0 },
        What::Taken { kg: 0.2, sd_kg: 0.01 },
        What::Stirred { for_s: 20.0 },
        What::Blended { for_s: 90.0 },
        What::LidOn,
        What::LidOff,
        What::Boil,
        What::OffBoil,
        What::ProbeOut,
        What::ProbeIn,
        What::SensorFault { sensor, why },
        What::SensorBack { sensor },
    ]
}

#[test]
fn readings_events_and_alerts_are_on_paper() {
    let (paper, topics) = (paper(), Topics::of("harbour-lane"));
    for known in [true, false] {
        let now = snapshot(known);
        let line = lines::worded("big", &now, &words::say(&now, &words::Beside::default()));
        let stamp = Stamp { utc_ms: 1, clock_set: true, key: None };
        agrees(&paper, &Message::reading(&topics, "big", stamped(&line, &stamp), 5.0));
    }
    for what in happenings() {
        let at = Moment::from_ms(1_000);
        let action = Action::Happened(Happening { at, seen: at, what });
        agrees(&paper, &Message::event(&topics, "big", said(&action)));
    }
    use AlarmState::{Acknowledged, Cleared, Raised, Shelved};
    for alarm in Alarm::ALL {
        for state in [Raised, Acknowledged, Shelved, Cleared] {
            let why = "stir".to_owned();
            let action = Action::Tell(Notice { at: Moment::default(), alarm, state, why });
            let say = if state == Cleared { Message::alert_cleared } else { Message::alert };
            agrees(&paper, &say(&topics, "big", alarm.name(), said(&action)));
        }
        agrees(&paper, &Message::no_alert(&topics, "big", alarm.name()));
    }
}

#[test]
fn status_trial_curves_and_backlog_are_on_paper() {
    let (paper, topics) = (paper(), Topics::of("harbour-lane"));
    for state in State::ALL {
        let pots = vec!["big".to_owned()];
        let status = Status { state, version: "0.1.0", pots, trouble: vec!["full".to_owned()] };
        agrees(&paper, &Message::status(&topics, &status));
    }
    let trial = json!({"kind": "trial", "board": "b", "utc_ms": 1, "clock_set": true});
    agrees(&paper, &Message::trial(&topics, trial.to_string()));
    agrees(&paper, &Message::curve_svg(&topics, "big", String::new()));
    agrees(&paper, &Message::curve_png(&topics, "big", Vec::new()));
    let mut pack = Pack::new("harbour-lane", "big");
    pack.add(1_000, &snapshot(true));
    pack.add(2_000, &snapshot(true));
    agrees(&paper, &Message::backlog(&topics, "big", pack.seal().unwrap()));
}

#[test]
fn the_batch_is_on_paper() {
    let (paper, topics) = (paper(), Topics::of("harbour-lane"));
    let kitchen = Kitchen::parse("kitchen.toml", &super::read("config/kitchen.toml")).unwrap();
    let plan: Plan =
        batch::parse("batch.toml", &super::read("config/tuesday-base.toml"), &kitchen).unwrap();
    let pot = kitchen.pot(&plan.pot).unwrap().clone();
    let story = Story::new(&plan.name, pot, plan.target);
    let stamp = Stamp { utc_ms: 1, clock_set: false, key: None };
    let json = stamped(&show::batch::json(&plan, &story), &stamp);
    agrees(&paper, &Message::batch(&topics, "big", json));
}

#[test]
fn the_topic_that_is_heard_is_on_paper() {
    let address = paper()["channels"]["set"]["address"].as_str().unwrap().to_owned();
    let topic = address.replace("{board}", "b").replace("{pot}", "big");
    assert_eq!(Topics::of("b").pot_of_set(&topic), Some("big"));
}

#[test]
fn a_field_that_is_not_on_paper_is_found() {
    let schema =
        json!({"type": "object", "required": ["a"], "properties": {"a": {"type": "number"}}});
    assert_eq!(quarrel(&schema, &json!({"a": 1.5}), "x"), None);
    assert!(quarrel(&schema, &json!({}), "x").is_some());
    assert!(quarrel(&schema, &json!({"a": 1, "b": 2}), "x").is_some());
    assert!(quarrel(&schema, &json!({"a": "1"}), "x").is_some());
}
