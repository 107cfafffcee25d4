//! Mail and push against other people's software, from PyPI: `bash tests/run` provides it.

use std::io::{BufRead, BufReader, Write};
use std::path::Path;
use std::process::{Child, ChildStdout, Command, Stdio};

use base64::Engine;
use base64::engine::general_purpose::{STANDARD, URL_SAFE_NO_PAD};
use dekchi::tell::channel::{Address, Channel, Failed};
use dekchi::tell::mail::{Mail, Secrecy, Settings};
use dekchi::tell::push::Subscription;
use dekchi::tell::push::seal::{Keys, Sender, seal};
use ring::rand::SystemRandom;
use ring::signature::{ECDSA_P256_SHA256_FIXED_SIGNING, EcdsaKeyPair};

use crate::webhook::word;

/// A Python program of `tests/reference`; it ends when it is dropped.
struct Peer {
    child: Child,
    lines: BufReader<ChildStdout>,
}

impl Peer {
    fn start(script: &str, arguments: &[&Path]) -> Self {
        let python = std::env::var_os("DEKCHI_PYTHON").expect("DEKCHI_PYTHON names a Python");
        let script = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/reference").join(script);
        let mut child = Command::new(python)
            .arg(script)
            .args(arguments)
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .spawn()
            .unwrap();
        let lines = BufReader::new(child.stdout.take().unwrap());
        Self { child, lines }
    }

    fn line(&mut self) -> String {
        let mut line = String::new();
        self.lines.read_line(&mut line).unwrap();
        line.trim().to_owned()
    }

    fn say(&mut self, line: &str) {
        writeln!(self.child.stdin.as_mut().unwrap(), "{line}").unwrap();
    }
}

impl Drop for Peer {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

struct MailServer {
    peer: Peer,
    whole: u16,
    starttls: u16,
    authority: Vec<u8>,
}

fn mail_server() -> MailServer {
    let directory = tempfile::tempdir().unwrap();
    let mut peer = Peer::start("mail_server.py", &[directory.path()]);
    let ports: Vec<u16> = peer.line().split(' ').map(|port| port.parse().unwrap()).collect();
    let authority = std::fs::read(directory.path().join("ca.pem")).unwrap();
    MailServer { peer, whole: ports[0], starttls: ports[1], authority }
}

fn send(port: u16, secrecy: Secrecy, password: Option<&str>, pem: &[u8]) -> Result<String, Failed> {
    let mut mail = Mail::new(Settings {
        host: "localhost".into(),
        port,
        secrecy,
        login: password.map(|password| ("pots".into(), password.into())),
        authorities: Some(pem.to_vec()),
        from: "pots@harbour.example".into(),
        board: "quay".into(),
    })
    .unwrap();
    let to = Address { name: "pass".into(), mail: Some("pass@harbour.example".into()) };
    mail.send(&to, &word(), 0)
}

#[test]
#[ignore = "needs DEKCHI_PYTHON with aiosmtpd; bash tests/run makes it"]
fn a_real_mail_server_takes_a_word_over_tls_and_with_a_login() {
    let mut server = mail_server();
    assert!(send(server.whole, Secrecy::Whole, None, &server.authority).is_ok());
    let login = Some("pass word");
    assert!(send(server.starttls, Secrecy::StartTls, login, &server.authority).is_ok());
    for way in ["whole", "starttls"] {
        let said: serde_json::Value = serde_json::from_str(&server.peer.line()).unwrap();
        assert_eq!((&said["way"], &said["tls"]), (&way.into(), &true.into()));
        assert_eq!(said["to"][0], "pass@harbour.example");
        assert!(said["text"].as_str().unwrap().contains("12 min since the last stir."));
    }
}

#[test]
#[ignore = "needs DEKCHI_PYTHON with aiosmtpd; bash tests/run makes it"]
fn a_wrong_login_and_a_server_that_nobody_vouches_for_are_refused() {
    let server = mail_server();
    let login = Some("wrong word");
    let failed = send(server.starttls, Secrecy::StartTls, login, &server.authority).unwrap_err();
    assert!(matches!(failed, Failed::Never(_)), "{failed}");
    let other = mail_server().authority;
    assert!(send(server.whole, Secrecy::Whole, None, &other).is_err());
}

#[test]
#[ignore = "needs DEKCHI_PYTHON with http_ece and py_vapid; bash tests/run makes it"]
fn what_is_sealed_here_is_opened_by_http_ece_and_the_token_is_believed_by_py_vapid() {
    let mut browser = Peer::start("open_push.py", &[]);
    let subscription = Subscription::parse("pass", &browser.line()).unwrap();
    let keys = Keys::parse(&subscription.p256dh, &subscription.auth).unwrap();
    let text = "Big: stir at once, down to the bottom — ä 鍋";
    browser.say(&URL_SAFE_NO_PAD.encode(seal(text.as_bytes(), &keys).unwrap()));
    assert_eq!(browser.line(), text);
    let scheme = &ECDSA_P256_SHA256_FIXED_SIGNING;
    let der = EcdsaKeyPair::generate_pkcs8(scheme, &SystemRandom::new()).unwrap();
    let pem = format!("-----BEGIN-----\n{}\n-----END-----\n", STANDARD.encode(der.as_ref()));
    let sender = Sender::from_pem(&pem, "mailto:kitchen@harbour.example").unwrap();
    let token = sender.authorization("https://push.harbour.example", 4_000_000_000).unwrap();
    // py_vapid reads no space after the comma, which RFC 8292 writes.
    browser.say(&token.replace(", ", ","));
    assert_eq!(browser.line(), "True");
}
