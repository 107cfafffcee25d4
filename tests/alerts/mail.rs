//! Mail against a real SMTP server on loopback.

use dekchi::tell::channel::{Address, Channel, Failed};
use dekchi::tell::mail::{Mail, Secrecy, Settings};

use crate::http::closed_port;
use crate::smtp::{Mood, Server};
use crate::webhook::word;

pub fn mail(port: u16, secrecy: Secrecy) -> Mail {
    Mail::new(Settings {
        host: "127.0.0.1".into(),
        port,
        secrecy,
        login: None,
        authorities: None,
        from: "pots@harbour.example".into(),
        board: "quay".into(),
    })
    .unwrap()
}

fn send(port: u16, secrecy: Secrecy) -> Result<String, Failed> {
    let to = Address { name: "pass".into(), mail: Some("pass@harbour.example".into()) };
    mail(port, secrecy).send(&to, &word(), 1_795_636_960)
}

#[test]
fn a_word_arrives_as_a_message_to_one_person() {
    let server = Server::start(Mood::Kind);
    assert_eq!(send(server.port, Secrecy::None).unwrap(), "answered 250");
    let message = server.messages.recv().unwrap();
    for line in [
        "MAIL FROM:<pots@harbour.example>",
        "RCPT TO:<pass@harbour.example>",
        "Subject: Big: stir at once, down to the bottom",
        "Message-ID: <quay-big-catching-60000-raised@quay.dekchi.invalid>",
        "Auto-Submitted: auto-generated",
        "12 min since the last stir.",
    ] {
        assert!(message.lines().any(|said| said.starts_with(line)), "{line} in {message}");
    }
}

#[test]
fn a_server_that_asks_for_patience_may_be_asked_again_and_one_that_refuses_may_not() {
    let later = send(Server::start(Mood::Greylisting).port, Secrecy::None);
    assert!(
        matches!(&later, Err(Failed::Later(why)) if why.contains("try again later")),
        "{later:?}"
    );
    let never = send(Server::start(Mood::Refusing).port, Secrecy::None);
    assert!(
        matches!(&never, Err(Failed::Never(why)) if why.contains("no such mailbox")),
        "{never:?}"
    );
}

#[test]
fn a_port_where_nobody_listens_and_a_server_that_hangs_may_be_tried_again() {
    assert!(matches!(send(closed_port(), Secrecy::None), Err(Failed::Later(_))));
    let silent = Server::start(Mood::Silent);
    assert!(matches!(send(silent.port, Secrecy::None), Err(Failed::Later(_))));
}

#[test]
fn nothing_is_said_openly_where_secrecy_is_asked_for() {
    let server = Server::start(Mood::Kind);
    assert!(send(server.port, Secrecy::StartTls).is_err());
    assert!(server.messages.try_recv().is_err());
}
