//! The pots by the Homie convention, version 5.0, for whoever finds devices by it. Pure.
//!
//! ```text
//! homie/5/<board>/$state                init, ready, disconnected or lost (the last will)
//! homie/5/<board>/$description          JSON: each pot a node, each value a property
//! homie/5/<board>/$alert/<pot>-<alert>  why, while the alert stands
//! homie/5/<board>/<pot>/<value>         retained; empty, so taken away, while it is not known
//! ```
//!
//! A connection has one last will, which dekchi's own `status` needs, so these topics are spoken by a
//! connection of their own. Nothing is heard on them: no property can be set.
//!
//! Identifiers are of `a` to `z`, `0` to `9` and `-` (the convention's "Topic IDs"); the version of the
//! description is a digest of it, as it must change when the description does.

use std::collections::BTreeSet;

use serde_json::{Map, Value, json};

use super::message::{Content, Message, State};
use crate::watch::action::{Lid, Snapshot};

/// A value of a pot: its identifier, its name, its type, its unit, and what may stand there.
struct Property {
    id: &'static str,
    name: &'static str,
    datatype: &'static str,
    unit: Option<&'static str>,
    format: Option<&'static str>,
}

const fn number(id: &'static str, name: &'static str, unit: Option<&'static str>) -> Property {
    Property { id, name, datatype: "float", unit, format: None }
}

const fn seconds(id: &'static str, name: &'static str) -> Property {
    Property { id, name, datatype: "integer", unit: Some("s"), format: Some("0:") }
}

const PROPERTIES: [Property; 10] = [
    number("temperature", "Temperature", Some("°C")),
    number("contents", "Contents", Some("kg")),
    number("water", "Water", Some("kg")),
    number("total-solids", "Total solids", Some("%")),
    number("evaporation", "Evaporation", Some("kg/h")),
    number("heat", "Heat into the contents", Some("W")),
    number("catch-index", "Bottom: 0 scraped, 1 as likely as not caught", None),
    seconds("target-in", "Target reached in"),
    seconds("stir-within", "Stir within"),
    Property { id: "lid", name: "Lid", datatype: "enum", unit: None, format: Some("on,off") },
];

/// One board and its pots.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Device {
    id: String,
    name: String,
    /// Name and identifier.
    pots: Vec<(String, String)>,
}

impl Device {
    #[must_use]
    pub fn new(board: &str, pots: &[String]) -> Self {
        let mut taken = BTreeSet::new();
        let pots = pots.iter().map(|pot| (pot.clone(), own_id(pot, &mut taken))).collect();
        Self { id: id(board), name: board.to_owned(), pots }
    }

    fn message(&self, rest: &str, payload: Vec<u8>) -> Message {
        let content = if payload.is_empty() { Content::Empty } else { Content::Text };
        let topic = format!("homie/5/{}/{rest}", self.id);
        Message { topic, payload, content, retain: true, expiry_s: None }
    }

    /// How the board is.
    #[must_use]
    pub fn state(&self, state: State) -> Message {
        let word = match state {
            State::Online => "ready",
            State::Disconnected => "disconnected",
            State::Lost => "lost",
        };
        self.message("$state", word.into())
    }

    /// What there is to be found.
    #[must_use]
    pub fn description(&self) -> Message {
        let nodes: Map<String, Value> =
            self.pots.iter().map(|(name, id)| (id.clone(), node(name))).collect();
        let mut description = json!({ "homie": "5.0", "name": self.name, "nodes": nodes });
        let digest =
            ring::digest::digest(&ring::digest::SHA256, description.to_string().as_bytes());
        let first = digest.as_ref().iter().take(3).fold(0_u32, |n, byte| n << 8 | u32::from(*byte));
        description["version"] = json!(first);
        let message = self.message("$description", description.to_string().into_bytes());
        Message { content: Content::Json, ..message }
    }

    /// Every value of this pot; empty where it is not known.
    #[must_use]
    pub fn values(&self, pot: &str, now: &Snapshot) -> Vec<Message> {
        let Some(pot) = self.pot(pot) else { return Vec::new() };
        let told = PROPERTIES.iter().map(|property| {
            let value = value(property.id, now).unwrap_or_default();
            self.message(&format!("{pot}/{}", property.id), value.into_bytes())
        });
        told.collect()
    }

    /// An alert that stands, and why; or, with `None`, one that does not.
    #[must_use]
    pub fn alert(&self, pot: &str, alert: &str, why: Option<&str>) -> Option<Message> {
        let pot = self.pot(pot)?;
        let why = why.unwrap_or_default().as_bytes().to_vec();
        Some(self.message(&format!("$alert/{pot}-{alert}"), why))
    }

    fn pot(&self, name: &str) -> Option<&str> {
        self.pots.iter().find(|(pot, _)| pot == name).map(|(_, id)| id.as_str())
    }
}

fn node(name: &str) -> Value {
    let properties: Map<String, Value> =
        PROPERTIES.iter().map(|property| (property.id.to_owned(), described(property))).collect();
    json!({ "name": name, "type": "pot", "properties": properties })
}

fn described(property: &Property) -> Value {
    let mut described = json!({ "name": property.name, "datatype": property.datatype });
    if let Some(unit) = property.unit {
        described["unit"] = json!(unit);
    }
    if let Some(format) = property.format {
        described["format"] = json!(format);
    }
    described
}

fn value(property: &str, now: &Snapshot) -> Option<String> {
    let fixed = |value: Option<f64>, decimals: usize| {
        value.filter(|value| value.is_finite()).map(|value| format!("{value:.decimals$}"))
    };
    match property {
        "temperature" => fixed(now.pot_c, 2),
        "contents" => fixed(now.contents_kg, 3),
        "water" => fixed(now.water_kg, 3),
        "total-solids" => fixed(now.total_solids.map(|share| share * 100.0), 2),
        "evaporation" => fixed(now.evaporation_kg_h, 2),
        "heat" => fixed(now.heat_w, 0),
        "catch-index" => fixed(now.catch_index, 2),
        "target-in" => fixed(now.target_in_s.map(|spread| spread.p50.max(0.0)), 0),
        "stir-within" => fixed(now.stir_within_s.map(|s| s.max(0.0)), 0),
        "lid" => now.lid.map(|lid| if lid == Lid::On { "on" } else { "off" }.to_owned()),
        _ => None,
    }
}

/// A name as an identifier: what may not stand there becomes a dash, none at either end.
fn id(name: &str) -> String {
    let fair = |c: char| if c.is_ascii_alphanumeric() { c.to_ascii_lowercase() } else { '-' };
    let all: String = name.chars().map(fair).collect();
    let id = all.trim_matches('-');
    if id.is_empty() { "pot".to_owned() } else { id.to_owned() }
}

/// One that no other pot has.
fn own_id(name: &str, taken: &mut BTreeSet<String>) -> String {
    let first = id(name);
    let more = (2..).map(|n| format!("{first}-{n}"));
    let free = [first.clone()].into_iter().chain(more).find(|id| taken.insert(id.clone()));
    free.unwrap_or(first)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn device(pots: &[&str]) -> Device {
        let pots: Vec<String> = pots.iter().map(|&pot| pot.to_owned()).collect();
        Device::new("Harbour Lane", &pots)
    }

    #[test]
    fn names_become_identifiers_and_no_two_pots_share_one() {
        let device = device(&["Big pot", "big/pot", "-", "Töpfchen 2"]);
        let ids: Vec<&str> = device.pots.iter().map(|(_, id)| id.as_str()).collect();
        assert_eq!(ids, ["big-pot", "big-pot-2", "pot", "t-pfchen-2"]);
        assert_eq!(device.id, "harbour-lane");
    }

    #[test]
    fn what_is_not_known_is_taken_away() {
        let now = Snapshot { pot_c: Some(98.123), lid: Some(Lid::Off), ..Snapshot::default() };
        let values = device(&["big"]).values("big", &now);
        let value = |id: &str| {
            let topic = format!("homie/5/harbour-lane/big/{id}");
            let found = values.iter().find(|message| message.topic == topic).unwrap();
            String::from_utf8(found.payload.clone()).unwrap()
        };
        assert_eq!([value("temperature"), value("lid"), value("water")], ["98.12", "off", ""]);
        assert!(values.iter().all(|message| message.retain));
        assert!(device(&["big"]).values("small", &now).is_empty());
    }

    #[test]
    fn the_descriptions_version_follows_its_text() {
        let version = |device: Device| -> Value {
            let json: Value = serde_json::from_slice(&device.description().payload).unwrap();
            json["version"].clone()
        };
        assert_eq!(version(device(&["big"])), version(device(&["big"])));
        assert_ne!(version(device(&["big"])), version(device(&["big", "small"])));
    }
}
