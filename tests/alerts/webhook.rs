//! The webhook against a real HTTP server on loopback.

use dekchi::tell::channel::{Address, Channel, Failed, Word};
use dekchi::tell::webhook::Webhook;
use dekchi::watch::urgency::Priority;
use ring::hmac;

use crate::http::{Answer, Server, closed_port};

const SECRET: &[u8] = b"harbour lane, thirty-two characters";

pub fn word() -> Word {
    let json = serde_json::json!({ "kind": "alert", "alert": "catching" });
    Word {
        key: "quay big catching 60000 raised".into(),
        priority: Priority::High,
        act_within_s: 60.0,
        about: "quay big catching".into(),
        title: "Big: stir at once, down to the bottom".into(),
        text: "12 min since the last stir.\n".into(),
        json: json.as_object().unwrap().clone(),
    }
}

fn send(url: &str) -> Result<String, Failed> {
    let to = Address { name: "pass".into(), mail: None };
    Webhook::new(url, SECRET, &[]).send(&to, &word(), 1_795_636_960)
}

#[test]
fn a_word_arrives_once_with_a_signature_that_its_receiver_can_verify() {
    let server = Server::start(Answer::Status(204));
    assert_eq!(send(&server.url()).unwrap(), "answered 204");
    let request = server.requests.recv().unwrap();
    assert!(request.line.starts_with("POST /pots "), "{}", request.line);
    assert_eq!(request.header("content-type"), "application/json");
    let timestamp = request.header("dekchi-timestamp");
    assert_eq!(timestamp, "1795636960");
    let hex = request.header("dekchi-signature").strip_prefix("hmac-sha256=").unwrap();
    let tag: Vec<u8> =
        (0..32).map(|n| u8::from_str_radix(&hex[2 * n..2 * n + 2], 16).unwrap()).collect();
    let key = hmac::Key::new(hmac::HMAC_SHA256, SECRET);
    let signed = |at: &str| [at.as_bytes(), b".", &request.body].concat();
    hmac::verify(&key, &signed(timestamp), &tag).unwrap();
    assert!(hmac::verify(&key, &signed("1795636961"), &tag).is_err(), "another time");
    let body: serde_json::Value = serde_json::from_slice(&request.body).unwrap();
    assert_eq!((&body["kind"], &body["to"]), (&"alert".into(), &"pass".into()));
    assert!(server.requests.try_recv().is_err(), "it was sent once");
}

#[test]
fn a_server_in_trouble_may_be_asked_again_and_one_that_refuses_may_not() {
    let busy = Server::start(Answer::Status(500));
    assert_eq!(send(&busy.url()), Err(Failed::Later("answered 500".into())));
    let gone = Server::start(Answer::Status(404));
    assert_eq!(send(&gone.url()), Err(Failed::Never("answered 404".into())));
}

#[test]
fn a_port_where_nobody_listens_may_be_tried_again() {
    let url = format!("http://127.0.0.1:{}/", closed_port());
    assert!(matches!(send(&url), Err(Failed::Later(_))));
}

#[test]
fn a_server_that_hangs_is_given_up() {
    let server = Server::start(Answer::Silence);
    assert!(matches!(send(&server.url()), Err(Failed::Later(_))));
    assert!(server.requests.try_recv().is_ok());
}

#[test]
fn a_redirection_is_not_followed() {
    let elsewhere = Server::start(Answer::Status(200));
    let server = Server::start(Answer::Redirect(elsewhere.port));
    assert_eq!(send(&server.url()), Err(Failed::Never("answered 302".into())));
    assert!(elsewhere.requests.try_recv().is_err());
}
