//! Routing and delivery together: a way that is down, the next that says so, the sign of life.

use std::thread;
use std::time::Duration;

use dekchi::daemon::clock::Clock;
use dekchi::daemon::courier::{Courier, Parcel, Report};
use dekchi::daemon::halt::Halt;
use dekchi::daemon::herald::heartbeat;
use dekchi::moment::{Moment, Wall};
use dekchi::tell::channel::{Address, Channel};
use dekchi::tell::mail::Secrecy;
use dekchi::tell::route::{Errand, Now, Person, Router, Way};
use dekchi::tell::webhook::Webhook;
use dekchi::watch::action::{Alarm, AlarmState, Notice};
use dekchi::watch::urgency::Priority;

use crate::http::{Answer, Server};
use crate::mail::mail;
use crate::smtp;
use crate::webhook::word;

/// A deadline of twenty seconds is over in a fifth of one.
const SPEED: f64 = 100.0;

fn courier(channels: Vec<(Way, Box<dyn Channel>)>) -> (Courier, Halt) {
    let halt = Halt::default();
    (Courier::open(channels, &Clock::fast(SPEED, None), &halt).unwrap(), halt)
}

fn webhook(server: &Server) -> (Way, Box<dyn Channel>) {
    (Way::Webhook, Box::new(Webhook::new(&server.url(), b"0123456789abcdef", &[])))
}

fn carry(courier: &Courier, errand: &Errand) {
    let to = Address { name: "pass".into(), mail: Some("pass@harbour.example".into()) };
    courier.carry(errand.way, Parcel { errand: Some(errand.clone()), to, word: word() });
}

fn next_report(courier: &Courier) -> Report {
    loop {
        if let Some(report) = courier.reports().next() {
            return report;
        }
        thread::yield_now();
    }
}

const NOW: Now = Now { at: Moment::from_ms(0), minute: None, stove: true };

fn router() -> Router {
    Router::new(vec![Person {
        name: "pass".into(),
        ways: vec![Way::Webhook, Way::Mail],
        from: Priority::Medium,
        at_once: Priority::High,
        quiet: None,
        mail: Some("pass@harbour.example".into()),
    }])
}

fn catching() -> Notice {
    let (at, why) = (Moment::default(), String::new());
    Notice { at, alarm: Alarm::Catching, state: AlarmState::Raised, why }
}

#[test]
fn a_webhook_in_trouble_is_tried_again_until_its_deadline_and_then_mail_is_sent() {
    let broken = Server::start(Answer::Status(503));
    let post = smtp::Server::start(smtp::Mood::Kind);
    let (courier, halt) =
        courier(vec![webhook(&broken), (Way::Mail, Box::new(mail(post.port, Secrecy::None)))]);
    let mut router = router();
    let first = router.notice(0, &catching(), &NOW).remove(0);
    carry(&courier, &first);
    let report = next_report(&courier);
    assert!(report.attempts > 1, "{report:?}");
    assert_eq!(report.outcome, Err("answered 503".into()));
    let second = router.outcome(report.errand, Some("answered 503"), &NOW).unwrap();
    assert_eq!((second.way, second.failed.as_slice()), (Way::Mail, &[Way::Webhook][..]));
    carry(&courier, &second);
    let report = next_report(&courier);
    assert_eq!((report.attempts, report.outcome), (1, Ok("answered 250".into())));
    assert!(post.messages.recv().is_ok());
    halt.tell();
}

#[test]
fn a_webhook_that_refuses_is_not_asked_again() {
    let gone = Server::start(Answer::Status(410));
    let (courier, halt) = courier(vec![webhook(&gone)]);
    carry(&courier, &router().notice(0, &catching(), &NOW)[0]);
    assert_eq!(next_report(&courier).attempts, 1);
    halt.tell();
}

#[test]
fn a_way_that_hangs_holds_up_no_other() {
    let hung = Server::start(Answer::Silence);
    let post = smtp::Server::start(smtp::Mood::Kind);
    let (courier, halt) =
        courier(vec![webhook(&hung), (Way::Mail, Box::new(mail(post.port, Secrecy::None)))]);
    let errand = router().notice(0, &catching(), &NOW).remove(0);
    carry(&courier, &errand);
    hung.requests.recv().unwrap();
    carry(&courier, &Errand { way: Way::Mail, ..errand });
    assert!(post.messages.recv_timeout(Duration::from_secs(60)).is_ok());
    halt.tell();
}

#[test]
fn the_sign_of_life_says_when_the_next_one_comes() {
    let server = Server::start(Answer::Status(200));
    let (courier, halt) = courier(vec![webhook(&server)]);
    let word = heartbeat("quay", 300.0, 7, Wall { utc_ms: 5000, set: true });
    courier.carry(Way::Webhook, Parcel { errand: None, to: Address::default(), word });
    let body: serde_json::Value =
        serde_json::from_slice(&server.requests.recv().unwrap().body).unwrap();
    assert_eq!(
        (&body["kind"], &body["beat"], &body["next_within_s"]),
        (&"heartbeat".into(), &7.into(), &300.0.into())
    );
    halt.tell();
}
