//! The telephone in a pocket: a browser that asks by the page to be told of alerts by Web Push.

use std::sync::mpsc::SyncSender;

use crate::keep::Browser;
use crate::serve;
use crate::show::page::Offer;
use crate::tell::push::{Subscription, Subscriptions};
use crate::tell::route::{Person, Way};

use super::ways::Ways;

/// Web Push as it is set up.
#[derive(Debug)]
pub struct Push {
    offer: Offer,
    browsers: Subscriptions,
}

impl Push {
    /// `None` where it is not set up, or nobody is told by it.
    #[must_use]
    pub fn of(ways: &Ways, people: &[Person]) -> Option<Self> {
        let told = people.iter().filter(|person| person.ways.contains(&Way::Push));
        let people: Vec<String> = told.map(|person| person.name.clone()).collect();
        let key = ways.push_key.clone().filter(|_| !people.is_empty())?;
        Some(Self { offer: Offer { key, people }, browsers: ways.browsers.clone() })
    }
}

/// Takes browsers up, and hands them on to be kept.
pub(super) struct Pocket {
    pub push: Push,
    pub kept: SyncSender<Browser>,
}

impl serve::Pocket for Pocket {
    fn offer(&self) -> Offer {
        self.push.offer.clone()
    }

    fn add(&self, person: &str, subscription: &str) -> Result<(), String> {
        if !self.push.offer.people.iter().any(|name| name == person) {
            return Err("Nobody of that name is told by this board.".to_owned());
        }
        let browser = Subscription::parse(person, subscription)
            .ok_or_else(|| "This phone gave no address that can be told.".to_owned())?;
        self.push.browsers.add(browser.clone());
        let Subscription { person, endpoint, p256dh, auth } = browser;
        let kept = self.kept.try_send(Browser { person, endpoint, p256dh, auth });
        kept.map_err(|_| "The board is busy: ask again in a moment.".to_owned())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::serve::Pocket as _;
    use std::sync::mpsc::sync_channel;

    // The receiver's keys of RFC 8291, appendix A.
    const GIVEN: &str = r#"{"endpoint":"https://push.example.net/push/JzLQ3raZJfFBR0aqvOMsLrt54w4rJUsV",
        "keys":{"p256dh":"BCVxsr7N_eNgVRqvHtD0zTZsEc6-VV-JvLexhqUzORcxaOzi6-AYWXvTBHm4bjyPjs7Vd8pZGH6SRpkNtoIAiw4",
        "auth":"BTBZMqHH6r4Tts7J_aSIgg"}}"#;

    #[test]
    fn a_browser_that_asks_is_told_and_kept() {
        let (kept, taken) = sync_channel(1);
        let offer = Offer { key: "key".into(), people: vec!["pass".into()] };
        let browsers = Subscriptions::default();
        let pocket = Pocket { push: Push { offer, browsers: browsers.clone() }, kept };
        assert!(pocket.add("nobody", GIVEN).is_err());
        assert!(pocket.add("pass", "{}").is_err());
        assert!(browsers.of_person("pass").is_empty());
        pocket.add("pass", GIVEN).unwrap();
        assert_eq!(browsers.of_person("pass").len(), 1);
        assert_eq!(taken.try_recv().unwrap().person, "pass");
    }
}
