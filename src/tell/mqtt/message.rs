//! What is published, as topic, bytes and properties. Pure.
//!
//! | topic | payload | QoS | retained | expiry |
//! |---|---|---|---|---|
//! | `status` | JSON | 1 | yes | none |
//! | `reading` | JSON | 1 | yes | a few periods |
//! | `event` | JSON | 1 | no | none |
//! | `alert/<alert>` | JSON, empty once cleared | 1 | while it stands | none |
//! | `curve.svg`, `curve.png` | picture | 1 | yes | none |
//! | `batch` | JSON | 1 | yes | none |
//! | `backlog` | SenML pack (RFC 8428) | 1 | no | none |
//! | `trial` | JSON | 1 | no | none |
//!
//! Times in payloads are the truth; a message may arrive late and, by QoS 1, twice. JSON numbers
//! carry their unit in their name and are absent or null when not known.

use super::topic::Topics;

/// The version of topics and payloads, sent with every message as the MQTT 5 user property
/// `schema`. It changes when a reader of the old form would misread the new.
pub const SCHEMA: &str = "dekchi-1";

/// A reading outlives this many of its periods at the broker.
pub const READING_LIVES_PERIODS: u32 = 5;

/// The media type of a payload, sent as the MQTT 5 content type.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Content {
    Json,
    Senml,
    Svg,
    Png,
    Text,
    Empty,
}

impl Content {
    pub const ALL: [Self; 6] =
        [Self::Json, Self::Senml, Self::Svg, Self::Png, Self::Text, Self::Empty];

    /// `None` for an empty payload.
    #[must_use]
    pub const fn media_type(self) -> Option<&'static str> {
        match self {
            Self::Json => Some("application/json"),
            Self::Senml => Some("application/senml+json"),
            Self::Svg => Some("image/svg+xml"),
            Self::Png => Some("image/png"),
            Self::Text => Some("text/plain"),
            Self::Empty => None,
        }
    }

    /// Whether it is UTF-8, the MQTT 5 payload format indicator.
    #[must_use]
    pub const fn is_text(self) -> bool {
        !matches!(self, Self::Png | Self::Empty)
    }

    /// The content of this media type; anything unknown is empty.
    #[must_use]
    pub fn of_media_type(name: &str) -> Self {
        Self::ALL.into_iter().find(|c| c.media_type() == Some(name)).unwrap_or(Self::Empty)
    }
}

/// One message, always at QoS 1.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Message {
    pub topic: String,
    pub payload: Vec<u8>,
    pub content: Content,
    pub retain: bool,
    /// After this many seconds at the broker it is of no more use.
    pub expiry_s: Option<u32>,
}

impl Message {
    fn json(topic: String, json: String, retain: bool) -> Self {
        Self { topic, payload: json.into_bytes(), content: Content::Json, retain, expiry_s: None }
    }

    /// The pot now. `period_s` is how often it is published.
    #[must_use]
    pub fn reading(topics: &Topics, pot: &str, json: String, period_s: f64) -> Self {
        let expiry_s = (period_s * f64::from(READING_LIVES_PERIODS)).ceil().max(10.0) as u32;
        let message = Self::json(topics.pot(pot, "reading"), json, true);
        Self { expiry_s: Some(expiry_s), ..message }
    }

    /// Something was recognised.
    #[must_use]
    pub fn event(topics: &Topics, pot: &str, json: String) -> Self {
        Self::json(topics.pot(pot, "event"), json, false)
    }

    /// An alert that stands.
    #[must_use]
    pub fn alert(topics: &Topics, pot: &str, alert: &str, json: String) -> Self {
        Self::json(topics.alert(pot, alert), json, true)
    }

    /// An alert that was cleared, said to those who listen now; [`Message::no_alert`] follows it.
    #[must_use]
    pub fn alert_cleared(topics: &Topics, pot: &str, alert: &str, json: String) -> Self {
        Self::json(topics.alert(pot, alert), json, false)
    }

    /// Takes a retained alert away from the broker.
    #[must_use]
    pub fn no_alert(topics: &Topics, pot: &str, alert: &str) -> Self {
        Self {
            topic: topics.alert(pot, alert),
            payload: Vec::new(),
            content: Content::Empty,
            retain: true,
            expiry_s: None,
        }
    }

    #[must_use]
    pub fn curve_svg(topics: &Topics, pot: &str, svg: String) -> Self {
        Self::picture(topics.pot(pot, "curve.svg"), svg.into_bytes(), Content::Svg)
    }

    #[must_use]
    pub fn curve_png(topics: &Topics, pot: &str, png: Vec<u8>) -> Self {
        Self::picture(topics.pot(pot, "curve.png"), png, Content::Png)
    }

    fn picture(topic: String, payload: Vec<u8>, content: Content) -> Self {
        Self { topic, payload, content, retain: true, expiry_s: None }
    }

    /// The plan and the ledger.
    #[must_use]
    pub fn batch(topics: &Topics, pot: &str, json: String) -> Self {
        Self::json(topics.pot(pot, "batch"), json, true)
    }

    /// A trial alert, for somebody who asks whether alerts arrive.
    #[must_use]
    pub fn trial(topics: &Topics, json: String) -> Self {
        Self::json(topics.trial(), json, false)
    }

    /// Readings that were kept while the broker was away.
    #[must_use]
    pub fn backlog(topics: &Topics, pot: &str, senml: String) -> Self {
        let message = Self::json(topics.pot(pot, "backlog"), senml, false);
        Self { content: Content::Senml, ..message }
    }

    #[must_use]
    pub fn status(topics: &Topics, status: &Status) -> Self {
        Self::json(topics.status(), status.json(), true)
    }
}

impl Message {
    /// A word as it was kept, by topic and payload alone: the rest follows from them.
    #[must_use]
    pub fn kept(topic: String, payload: Vec<u8>) -> Self {
        let content = match () {
            () if payload.is_empty() => Content::Empty,
            () if topic.ends_with("/backlog") => Content::Senml,
            () => Content::Json,
        };
        let message = Self { topic, payload, content, retain: false, expiry_s: None };
        Self { retain: message.is_alert() && !says_cleared(&message.payload), ..message }
    }

    #[must_use]
    pub fn is_alert(&self) -> bool {
        self.topic.split('/').nth(3) == Some("alert")
    }
}

fn says_cleared(json: &[u8]) -> bool {
    let value: Option<serde_json::Value> = serde_json::from_slice(json).ok();
    value.is_some_and(|value| value["state"] == "cleared")
}

/// When a line of JSON was true and by which key its receiver knows it again.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Stamp {
    pub utc_ms: i64,
    /// Whether the board knew the time.
    pub clock_set: bool,
    /// `None` for state, which is not told twice but replaced.
    pub key: Option<String>,
}

/// A line of JSON with its stamp: `{"utc_ms":…,"clock_set":…,"key":…,` and then the line's own.
#[must_use]
pub fn stamped(line: &str, stamp: &Stamp) -> String {
    let Stamp { utc_ms, clock_set, key } = stamp;
    let key = key.as_ref().map(|key| format!("\"key\":{},", serde_json::json!(key)));
    let inside = line.strip_prefix('{').unwrap_or("}");
    format!("{{\"utc_ms\":{utc_ms},\"clock_set\":{clock_set},{}{inside}", key.unwrap_or_default())
}

/// How the board is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum State {
    Online,
    /// It said goodbye.
    Disconnected,
    /// It fell silent: what the broker says for it, the last will.
    Lost,
}

impl State {
    pub const ALL: [Self; 3] = [Self::Online, Self::Disconnected, Self::Lost];

    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Online => "online",
            Self::Disconnected => "disconnected",
            Self::Lost => "lost",
        }
    }
}

/// The payload of the board's `status`.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Status {
    pub state: State,
    /// dekchi's version.
    pub version: &'static str,
    /// The pots of this board that are watched, as topic levels.
    pub pots: Vec<String>,
    /// What is amiss, in words; empty when nothing is.
    pub trouble: Vec<String>,
}

impl Status {
    #[must_use]
    pub fn json(&self) -> String {
        serde_json::json!({
            "kind": "status",
            "state": self.state.name(),
            "version": self.version,
            "pots": self.pots,
            "trouble": self.trouble,
        })
        .to_string()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn topics() -> Topics {
        Topics::of("b")
    }

    #[test]
    fn a_reading_is_retained_and_grows_stale_at_the_broker() {
        let message = Message::reading(&topics(), "big", "{}".into(), 10.0);
        assert_eq!(message.topic, "dekchi/b/big/reading");
        assert!(message.retain);
        assert_eq!(message.expiry_s, Some(50));
        let quick = Message::reading(&topics(), "big", "{}".into(), 0.1);
        assert_eq!(quick.expiry_s, Some(10));
    }

    #[test]
    fn an_event_is_told_once_and_not_retained() {
        assert!(!Message::event(&topics(), "big", "{}".into()).retain);
        assert!(!Message::backlog(&topics(), "big", "[]".into()).retain);
    }

    #[test]
    fn a_cleared_alert_is_said_and_then_taken_away() {
        let said = Message::alert_cleared(&topics(), "big", "catching", "{}".into());
        let gone = Message::no_alert(&topics(), "big", "catching");
        assert_eq!(said.topic, gone.topic);
        assert!(!said.retain && gone.retain && gone.payload.is_empty());
    }

    #[test]
    fn a_word_is_the_same_when_it_was_kept_by_topic_and_payload() {
        let json = |state: &str| format!("{{\"state\":\"{state}\"}}");
        for word in [
            Message::event(&topics(), "big", "{\"what\":\"stirred\"}".into()),
            Message::alert(&topics(), "big", "catching", json("raised")),
            Message::alert_cleared(&topics(), "big", "catching", json("cleared")),
            Message::no_alert(&topics(), "big", "catching"),
            Message::backlog(&topics(), "big", "[]".into()),
        ] {
            assert_eq!(Message::kept(word.topic.clone(), word.payload.clone()), word);
        }
    }

    #[test]
    fn a_stamped_line_is_still_one_object() {
        let stamp = Stamp { utc_ms: 5, clock_set: false, key: Some("a\"b".into()) };
        let value: serde_json::Value =
            serde_json::from_str(&stamped("{\"kind\":\"event\"}", &stamp)).unwrap();
        assert_eq!((&value["key"], &value["kind"]), (&"a\"b".into(), &"event".into()));
        assert_eq!(value["utc_ms"], 5);
    }

    #[test]
    fn a_status_names_state_and_trouble() {
        let status = Status {
            state: State::Lost,
            version: "1.2.3",
            pots: vec!["big".into()],
            trouble: vec!["the store \"x\" is full".into()],
        };
        let value: serde_json::Value = serde_json::from_str(&status.json()).unwrap();
        assert_eq!(value["state"], "lost");
        assert_eq!(value["trouble"][0], "the store \"x\" is full");
    }

    #[test]
    fn media_types_lead_back_to_their_content() {
        for content in Content::ALL {
            let name = content.media_type().unwrap_or("");
            assert_eq!(Content::of_media_type(name), content);
        }
    }
}
