//! Web Push (RFC 8030): a word for the telephone in a pocket, by way of its browser's service.
//!
//! A browser that was asked gives a [`Subscription`]; the word is sealed for it ([`seal`]), so that the
//! service carries what it cannot read. A later word on the same matter takes the earlier one's place
//! while the telephone is away (`Topic`), and what is too late to help is not delivered (`TTL`).

pub mod seal;

use std::sync::{Arc, Mutex, PoisonError};

use base64::Engine;
use base64::engine::general_purpose::URL_SAFE_NO_PAD;
use ring::digest::{SHA256, digest};
use serde::Deserialize;
use ureq::Agent;

use crate::watch::urgency::Priority;

use super::channel::{Address, Channel, Failed, Word};
use super::webhook;
use seal::{Keys, LONGEST_TEXT, Sender};

/// Tokens are valid for this long; the standard allows a day, s.
const TOKEN_S: i64 = 12 * 3600;

/// Where one browser of one person is found.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Subscription {
    pub person: String,
    pub endpoint: String,
    /// As the browser gave them, base64url.
    pub p256dh: String,
    pub auth: String,
}

/// The JSON of the browser's `PushSubscription` (Push API, W3C).
#[derive(Deserialize)]
struct Given {
    endpoint: String,
    keys: GivenKeys,
}

#[derive(Deserialize)]
struct GivenKeys {
    p256dh: String,
    auth: String,
}

impl Subscription {
    /// From what the browser gave for this person; `None` where it is none that can be sent to.
    #[must_use]
    pub fn parse(person: &str, json: &str) -> Option<Self> {
        let Given { endpoint, keys: GivenKeys { p256dh, auth } } =
            serde_json::from_str(json).ok()?;
        let fair = endpoint.len() <= 1000 && origin(&endpoint).is_some();
        Keys::parse(&p256dh, &auth).filter(|_| fair)?;
        Some(Self { person: person.to_owned(), endpoint, p256dh, auth })
    }
}

/// Scheme and host of an address under `https`.
fn origin(endpoint: &str) -> Option<&str> {
    let rest = endpoint.strip_prefix("https://")?;
    let end = rest.find(['/', '?', '#']).unwrap_or(rest.len());
    let host = &rest[..end];
    let plain = host.chars().all(|c| c.is_ascii_alphanumeric() || ".-:".contains(c));
    (plain && !host.is_empty()).then(|| &endpoint[.."https://".len() + end])
}

/// The browsers that asked to be told. The page adds to it; a browser that is gone is taken out.
#[derive(Debug, Clone, Default)]
pub struct Subscriptions(Arc<Mutex<Vec<Subscription>>>);

impl Subscriptions {
    #[must_use]
    pub fn of(known: Vec<Subscription>) -> Self {
        Self(Arc::new(Mutex::new(known)))
    }

    pub fn add(&self, subscription: Subscription) {
        let mut all = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        all.retain(|known| known.endpoint != subscription.endpoint);
        all.push(subscription);
    }

    pub fn remove(&self, endpoint: &str) {
        let mut all = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        all.retain(|known| known.endpoint != endpoint);
    }

    #[must_use]
    pub fn of_person(&self, person: &str) -> Vec<Subscription> {
        let all = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        all.iter().filter(|known| known.person == person).cloned().collect()
    }
}

/// Pushes to every browser of a person.
pub struct Push {
    agent: Agent,
    sender: Sender,
    subscriptions: Subscriptions,
}

impl Push {
    #[must_use]
    pub fn new(sender: Sender, subscriptions: Subscriptions, authorities: &[u8]) -> Self {
        Self { agent: webhook::agent(authorities), sender, subscriptions }
    }

    fn push(&self, to: &Subscription, word: &Word, utc_s: i64) -> Result<u16, Failed> {
        let never = |why: &str| Failed::Never(why.to_owned());
        let keys = Keys::parse(&to.p256dh, &to.auth).ok_or_else(|| never("its keys are none"))?;
        let body = seal::seal(text(word).as_bytes(), &keys);
        let body = body.ok_or_else(|| never("cannot be sealed"))?;
        let token = origin(&to.endpoint)
            .and_then(|origin| self.sender.authorization(origin, utc_s + TOKEN_S))
            .ok_or_else(|| never("its address is no https address"))?;
        let sent = self
            .agent
            .post(&to.endpoint)
            .header("authorization", token)
            .header("content-encoding", "aes128gcm")
            .header("content-type", "application/octet-stream")
            .header("ttl", format!("{:.0}", word.act_within_s.max(60.0)))
            .header("urgency", urgency(word.priority))
            .header("topic", topic(&word.about))
            .send(&body[..]);
        sent.map(|answer| answer.status().as_u16()).map_err(|error| webhook::failed(&error))
    }

    /// What an answer means; a browser that is gone is forgotten.
    fn heard(&self, to: &Subscription, status: u16) -> Result<(), Failed> {
        let words = format!("the push service answered {status}");
        match status {
            200..=299 => Ok(()),
            404 | 410 => {
                self.subscriptions.remove(&to.endpoint);
                Err(Failed::Never("its browser no longer wants to be told".to_owned()))
            }
            429 | 500..=599 => Err(Failed::Later(words)),
            _ => Err(Failed::Never(words)),
        }
    }
}

impl Channel for Push {
    /// One browser that was reached is enough.
    fn send(&mut self, to: &Address, word: &Word, utc_s: i64) -> Result<String, Failed> {
        let browsers = self.subscriptions.of_person(&to.name);
        let mut failed = Failed::Never("no browser asked to be told".to_owned());
        let mut reached = 0;
        for browser in &browsers {
            let outcome = self.push(browser, word, utc_s);
            match outcome.and_then(|status| self.heard(browser, status)) {
                Ok(()) => reached += 1,
                Err(why) if matches!(failed, Failed::Never(_)) => failed = why,
                Err(_) => {}
            }
        }
        if reached > 0 {
            Ok(format!("{reached} of {} browsers", browsers.len()))
        } else {
            Err(failed)
        }
    }
}

/// What the browser shows; cut where it would be too long to be sealed.
fn text(word: &Word) -> String {
    let mut text: String = word.text.chars().take(500).collect();
    loop {
        let json = serde_json::json!({
            "title": word.title, "text": text, "about": word.about, "priority": word.priority.name(),
        });
        let json = json.to_string();
        if json.len() <= LONGEST_TEXT || text.is_empty() {
            return json;
        }
        text.clear();
    }
}

/// RFC 8030, section 5.3.
const fn urgency(priority: Priority) -> &'static str {
    match priority {
        Priority::Low => "low",
        Priority::Medium => "normal",
        Priority::High => "high",
    }
}

/// At most 32 characters of base64url (RFC 8030, section 5.4).
fn topic(about: &str) -> String {
    URL_SAFE_NO_PAD.encode(&digest(&SHA256, about.as_bytes()).as_ref()[..24])
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Keys of RFC 8291, Appendix A.
    const GIVEN: &str = r#"{"endpoint":"https://push.example/send/abc","expirationTime":null,"keys":{
        "p256dh":"BCVxsr7N_eNgVRqvHtD0zTZsEc6-VV-JvLexhqUzORcxaOzi6-AYWXvTBHm4bjyPjs7Vd8pZGH6SRpkNtoIAiw4",
        "auth":"BTBZMqHH6r4Tts7J_aSIgg"}}"#;

    #[test]
    fn a_browsers_subscription_is_understood() {
        let subscription = Subscription::parse("pass", GIVEN).unwrap();
        assert_eq!(origin(&subscription.endpoint), Some("https://push.example"));
        assert_eq!(Subscription::parse("pass", &GIVEN.replace("https", "http")), None);
        assert_eq!(Subscription::parse("pass", &GIVEN.replace("push.example", "a@b c")), None);
        assert_eq!(Subscription::parse("pass", "{}"), None);
    }

    #[test]
    fn a_browser_that_asks_again_is_one_browser() {
        let all = Subscriptions::default();
        let subscription = Subscription::parse("pass", GIVEN).unwrap();
        all.add(subscription.clone());
        all.add(subscription.clone());
        assert_eq!(all.of_person("pass"), [subscription]);
        all.remove("https://push.example/send/abc");
        assert!(all.of_person("pass").is_empty());
    }

    #[test]
    fn a_matter_has_one_topic_of_fair_length() {
        assert_eq!(topic("1-stir-due"), topic("1-stir-due"));
        assert_ne!(topic("1-stir-due"), topic("2-stir-due"));
        assert_eq!(topic("x").len(), 32);
    }
}
