//! The Homie convention, read by a library that is not ours (crate homie5).

use std::collections::BTreeMap;

use homie5::device_description::HomieDeviceDescription;
use homie5::{Homie5Message, HomieDeviceStatus, HomieID, HomieValue, parse_mqtt_message};

use crate::broker::{Broker, Seen, Subscriber};
use crate::kitchen::{Kitchen, Running};

fn parsed(seen: &Seen) -> Homie5Message {
    parse_mqtt_message(&seen.topic, &seen.payload)
        .unwrap_or_else(|error| panic!("{} is not of the convention: {error}", seen.topic))
}

fn state(subscriber: &mut Subscriber, wanted: HomieDeviceStatus) -> Seen {
    subscriber.wait_for(
        &format!("state {wanted:?}"),
        |seen| matches!(parsed(seen), Homie5Message::DeviceState { state, .. } if state == wanted),
    )
}

/// A kitchen that speaks by both of its names.
struct Ready {
    broker: Broker,
    kitchen: Kitchen,
    running: Running,
    own: Subscriber,
    subscriber: Subscriber,
}

fn ready() -> Ready {
    let broker = Broker::open();
    let mut own = Subscriber::to(&broker, "dekchi/#");
    let mut subscriber = Subscriber::to(&broker, "homie/#");
    let kitchen = Kitchen::new(broker.port, "homie = true\n");
    let running = kitchen.run(&[]);
    own.status("online");
    state(&mut subscriber, HomieDeviceStatus::Ready);
    Ready { broker, kitchen, running, own, subscriber }
}

#[test]
fn another_programs_library_finds_the_pot_and_understands_every_value() {
    let Ready { broker, kitchen, running, mut own, mut subscriber } = ready();
    assert!(
        subscriber
            .all
            .iter()
            .any(|seen| matches!(parsed(seen), Homie5Message::DeviceDescription { .. })),
        "ready was said before the description"
    );
    subscriber.wait_for("contents", |seen| {
        seen.topic == "homie/5/quay/big/contents" && !seen.payload.is_empty()
    });
    subscriber
        .wait_for("a lid", |seen| seen.topic == "homie/5/quay/big/lid" && !seen.payload.is_empty());
    running.signal("TERM");
    assert!(running.ended().success(), "{}", kitchen.log());
    state(&mut subscriber, HomieDeviceStatus::Disconnected);
    own.status("disconnected");

    let mut late = Subscriber::to(&broker, "homie/#");
    assert!(state(&mut late, HomieDeviceStatus::Disconnected).retained);
    let values = values(&subscriber.all);
    let contents = values["contents"].parse::<f64>().unwrap();
    assert!((19.0..24.0).contains(&contents), "{values:?}");
    assert_eq!(values["temperature"], "96.25");
}

/// The newest of each value, each as the description says that it must be.
fn values(all: &[Seen]) -> BTreeMap<String, String> {
    let description: HomieDeviceDescription = all
        .iter()
        .find_map(|seen| match parsed(seen) {
            Homie5Message::DeviceDescription { description, .. } => Some(description),
            _ => None,
        })
        .unwrap();
    assert_eq!((description.homie.as_str(), description.name.as_deref()), ("5.0", Some("quay")));
    let node = &description.nodes[&HomieID::new_const("big")];
    assert_eq!(node.properties.len(), 10);
    let mut values = BTreeMap::new();
    for seen in all.iter().filter(|seen| !seen.payload.is_empty()) {
        let Homie5Message::PropertyValue { property, value } = parsed(seen) else { continue };
        let described = &node.properties[property.prop_id()];
        let understood = HomieValue::parse(&value, described);
        assert!(understood.is_ok(), "{} {value}: {understood:?}", seen.topic);
        assert!(!described.settable && described.retained);
        values.insert(property.prop_id().to_string(), value);
    }
    values
}

#[test]
fn a_board_that_falls_silent_is_lost_by_both_of_its_names() {
    let Ready { broker: _broker, kitchen: _kitchen, running, mut own, mut subscriber } = ready();
    running.signal("KILL");
    own.status("lost");
    state(&mut subscriber, HomieDeviceStatus::Lost);
}

#[test]
fn nothing_is_said_by_the_convention_unless_it_is_asked_for() {
    let broker = Broker::open();
    let mut subscriber = Subscriber::to(&broker, "#");
    let kitchen = Kitchen::new(broker.port, "");
    let running = kitchen.run(&[]);
    subscriber.wait_for("a reading", |seen| seen.topic.ends_with("/reading"));
    running.signal("TERM");
    assert!(running.ended().success());
    subscriber.status("disconnected");
    assert!(subscriber.all.iter().all(|seen| seen.topic.starts_with("dekchi/")));
}
