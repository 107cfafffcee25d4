//! What the pots do, by the Homie convention: only what changed is told.

use std::collections::BTreeMap;
use std::sync::{Arc, Mutex, PoisonError};

use crate::tell::mqtt::homie::Device;
use crate::tell::mqtt::mailbox::Mailbox;
use crate::tell::mqtt::message::Message;
use crate::watch::action::{Alarm, Notice, Snapshot};

/// The board as a device, and where its words are left.
#[derive(Debug, Clone)]
pub struct Homie {
    device: Device,
    pub mailbox: Mailbox,
    /// What was told last on each topic.
    told: Arc<Mutex<BTreeMap<String, Vec<u8>>>>,
}

impl Homie {
    #[must_use]
    pub fn open(device: Device) -> Self {
        let homie = Self { device, mailbox: Mailbox::default(), told: Arc::default() };
        homie.tell(homie.device.description());
        homie
    }

    /// The pot as it is now.
    pub fn show(&self, pot: &str, now: &Snapshot) {
        self.device.values(pot, now).into_iter().for_each(|message| self.tell(message));
    }

    /// An alert that stands, and why, or one that does not.
    pub fn alert(&self, pot: &str, alarm: Alarm, why: Option<&str>) {
        self.device
            .alert(pot, alarm.name(), why)
            .into_iter()
            .for_each(|message| self.tell(message));
    }

    /// An alert that stands, by the pot as it is now.
    pub fn stands(&self, pot: &str, notice: &Notice, now: &Snapshot) {
        self.alert(pot, notice.alarm, Some(&notice.why_now(now)));
    }

    fn tell(&self, message: Message) {
        let mut told = self.told.lock().unwrap_or_else(PoisonError::into_inner);
        if told.get(&message.topic) == Some(&message.payload) {
            return;
        }
        told.insert(message.topic.clone(), message.payload.clone());
        self.mailbox.hold(message);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::moment::Moment;
    use crate::watch::action::AlarmState;
    use crate::watch::standing::stir_due;

    #[test]
    fn a_value_is_told_when_it_changes() {
        let homie = Homie::open(Device::new("quay", &["big".to_owned()]));
        let count = |homie: &Homie| homie.told.lock().unwrap().len();
        assert_eq!(count(&homie), 1);
        let now = Snapshot { pot_c: Some(98.0), ..Snapshot::default() };
        homie.show("big", &now);
        assert_eq!(count(&homie), 11);
        homie.alert("big", Alarm::Catching, Some("stir at once"));
        homie.show("big", &now);
        assert_eq!(count(&homie), 12);
    }

    #[test]
    fn an_alert_that_stands_is_told_with_the_minutes_of_now() {
        let homie = Homie::open(Device::new("quay", &["big".to_owned()]));
        let notice = Notice {
            at: Moment::from_ms(0),
            alarm: Alarm::StirDue,
            state: AlarmState::Raised,
            why: stir_due(360.0),
        };
        let said = |since_stir_s: f64| {
            let now = Snapshot { since_stir_s: Some(since_stir_s), ..Snapshot::default() };
            homie.stands("big", &notice, &now);
            let told = homie.told.lock().unwrap();
            told.values().map(|payload| String::from_utf8_lossy(payload).into_owned()).collect()
        };
        let first: Vec<String> = said(365.0);
        assert!(first.iter().any(|told| told.contains("over 6 min since")), "{first:?}");
        assert_eq!(said(419.0), first, "within the minute nothing is told anew");
        let later = said(1500.0);
        assert!(later.iter().any(|told| told.contains("over 25 min since")), "{later:?}");
        assert!(!later.iter().any(|told| told.contains("over 6 min")), "{later:?}");
    }
}
