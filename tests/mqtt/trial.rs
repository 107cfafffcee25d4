//! A trial alert to a broker, as `dekchi test-alerts` sends it.

use dekchi::tell::mqtt::{Login, Settings, trial};

use crate::broker::{Broker, Subscriber, free_port, password_file};
use crate::wire::settings;

const WORD: &str = "{\"kind\":\"trial\"}";

#[test]
fn a_trial_arrives_once_and_leaves_no_trace_at_the_broker() {
    let broker = Broker::open();
    let mut subscriber = Subscriber::to(&broker, "dekchi/#");
    subscriber.is_listening(&broker, "dekchi/quay/warm-up");
    let answer = trial::send(&settings(broker.port), WORD.to_owned()).unwrap();
    assert_eq!(answer, "acknowledged on dekchi/quay/trial, by MQTT 5");
    let seen = subscriber.wait_for("the trial", |seen| seen.topic == "dekchi/quay/trial");
    assert!(!seen.retained && seen.text() == WORD);
    // A last will would follow, and so would a status, before what is published now.
    broker.publish(&["-t", "dekchi/quay/after", "-m", "x"]);
    let next = subscriber.news("what follows", |_| true);
    assert_eq!(next.topic, "dekchi/quay/after");
}

#[test]
fn a_broker_that_does_not_take_it_is_told_why() {
    let nobody = trial::send(&settings(free_port()), WORD.to_owned()).unwrap_err();
    assert!(nobody.contains("cannot be reached"), "{nobody}");
    let broker = Broker::prepared("password_file DIRECTORY/passwords\nacl_file DIRECTORY/acl\n");
    password_file(broker.directory.path(), "board", "right");
    std::fs::write(broker.directory.path().join("acl"), "user board\ntopic read #\n").unwrap();
    let broker = broker.started();
    let login = |password: &str| {
        let login = Some(Login { user: "board".into(), password: password.into() });
        let settings = Settings { login, ..settings(broker.port) };
        trial::send(&settings, WORD.to_owned()).unwrap_err()
    };
    assert!(
        login("wrong").contains("refuses the user \"board\" or the password"),
        "{}",
        login("wrong")
    );
    assert!(login("right").contains("does not let this board publish"), "{}", login("right"));
}
