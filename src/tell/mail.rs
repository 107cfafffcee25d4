//! Mail over SMTP (RFC 5321) with TLS (RFC 8314, RFC 3207), a message a word.
//!
//! The `Message-ID` follows from the word's key, so a message that was sent again after an answer got
//! lost is shown once by most readers. Messages are marked `Auto-Submitted: auto-generated` (RFC 3834),
//! so that no absence note answers them.

use lettre::message::header::{ContentType, HeaderName, HeaderValue};
use lettre::message::{Mailbox, Message};
use lettre::transport::smtp::authentication::Credentials;
use lettre::transport::smtp::client::{Certificate, CertificateStore, Tls, TlsParameters};
use lettre::transport::smtp::extension::ClientId;
use lettre::{SmtpTransport, Transport};

use super::channel::{ATTEMPT, Address, Channel, Failed, Word, one_line};

/// How the connection to the server is kept secret.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Secrecy {
    /// TLS from the first byte on, usually port 465.
    Whole,
    /// TLS after `STARTTLS`, usually port 587; without it nothing is sent.
    StartTls,
    /// None: for a server on this machine.
    None,
}

/// Where mail is handed in.
#[derive(Clone)]
pub struct Settings {
    pub host: String,
    pub port: u16,
    pub secrecy: Secrecy,
    /// User and password.
    pub login: Option<(String, String)>,
    /// PEM text of whom to believe; the system's authorities where it is not given.
    pub authorities: Option<Vec<u8>>,
    pub from: String,
    /// This board's name in `Message-ID`.
    pub board: String,
}

/// Mail through one server.
pub struct Mail {
    transport: SmtpTransport,
    from: Mailbox,
    board: String,
}

impl Mail {
    /// # Errors
    /// In words, where address or certificates cannot be used.
    pub fn new(settings: Settings) -> Result<Self, String> {
        let from = mailbox(&settings.from)?;
        let tls = match settings.secrecy {
            Secrecy::None => Tls::None,
            Secrecy::Whole => Tls::Wrapper(parameters(&settings)?),
            Secrecy::StartTls => Tls::Required(parameters(&settings)?),
        };
        let mut builder = SmtpTransport::builder_dangerous(&settings.host)
            .port(settings.port)
            .tls(tls)
            .hello_name(ClientId::Domain("dekchi.invalid".to_owned()))
            .timeout(Some(ATTEMPT / 2));
        if let Some((user, password)) = settings.login {
            builder = builder.credentials(Credentials::new(user, password));
        }
        Ok(Self { transport: builder.build(), from, board: settings.board })
    }

    fn message(&self, to: &Address, word: &Word) -> Result<Message, Failed> {
        let never = |why: String| Failed::Never(why);
        let address = to.mail.as_deref().ok_or_else(|| never("has no mail address".to_owned()))?;
        Message::builder()
            .from(self.from.clone())
            .to(mailbox(address).map_err(never)?)
            .subject(one_line(&word.title))
            .message_id(Some(format!("<{}@{}.dekchi.invalid>", id(&word.key), id(&self.board))))
            .raw_header(header("Auto-Submitted", "auto-generated"))
            .header(ContentType::TEXT_PLAIN)
            .body(word.text.clone())
            .map_err(|error| never(error.to_string()))
    }
}

impl Channel for Mail {
    fn send(&mut self, to: &Address, word: &Word, _: i64) -> Result<String, Failed> {
        let message = self.message(to, word)?;
        match self.transport.send(&message) {
            Ok(answer) => Ok(format!("answered {}", answer.code())),
            Err(error) => {
                let words = one_line(&with_cause(&error));
                let never = error.is_permanent() || error.is_client();
                Err(if never { Failed::Never(words) } else { Failed::Later(words) })
            }
        }
    }
}

fn with_cause(error: &dyn std::error::Error) -> String {
    match error.source() {
        Some(cause) => format!("{error}: {cause}"),
        None => error.to_string(),
    }
}

fn parameters(settings: &Settings) -> Result<TlsParameters, String> {
    let mut builder = TlsParameters::builder(settings.host.clone());
    if let Some(pem) = &settings.authorities {
        let certificate = Certificate::from_pem(pem).map_err(|error| error.to_string())?;
        builder = builder.certificate_store(CertificateStore::None);
        builder = builder.add_root_certificate(certificate);
    }
    builder.build_rustls().map_err(|error| with_cause(&error))
}

fn mailbox(address: &str) -> Result<Mailbox, String> {
    address.parse().map_err(|_| format!("\"{}\" is no mail address", one_line(address)))
}

fn header(name: &'static str, value: &str) -> HeaderValue {
    HeaderValue::new(HeaderName::new_from_ascii_str(name), value.to_owned())
}

/// What may stand in a `Message-ID`.
fn id(text: &str) -> String {
    let fair = |c: char| if c.is_ascii_alphanumeric() || c == '-' { c } else { '-' };
    text.chars().map(fair).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::watch::urgency::Priority;

    fn mail() -> Mail {
        Mail::new(Settings {
            host: "localhost".into(),
            port: 25,
            secrecy: Secrecy::None,
            login: None,
            authorities: None,
            from: "Pots <pots@harbour.example>".into(),
            board: "quay".into(),
        })
        .unwrap()
    }

    fn word(title: &str) -> Word {
        Word {
            key: "1-stir-due-60000-raised".into(),
            priority: Priority::Medium,
            act_within_s: 300.0,
            about: "1-stir-due".into(),
            title: title.into(),
            text: "12 min since the last stir".into(),
            json: serde_json::Map::new(),
        }
    }

    fn to(mail: Option<&str>) -> Address {
        Address { name: "pass".into(), mail: mail.map(str::to_owned) }
    }

    fn written(title: &str) -> String {
        let message = mail().message(&to(Some("pass@harbour.example")), &word(title)).unwrap();
        String::from_utf8(message.formatted()).unwrap()
    }

    #[test]
    fn the_same_word_has_the_same_message_id() {
        let line = "Message-ID: <1-stir-due-60000-raised@quay.dekchi.invalid>";
        assert!(written("a").contains(line) && written("b").contains(line), "{}", written("a"));
    }

    #[test]
    fn a_pots_name_cannot_add_a_header() {
        let text = written("Stir now: pot\r\nBcc: thief@example.org");
        assert!(!text.lines().any(|line| line.starts_with("Bcc")), "{text}");
    }

    #[test]
    fn without_an_address_nothing_is_tried() {
        for address in [None, Some("nobody")] {
            let failed = mail().message(&to(address), &word("x")).unwrap_err();
            assert!(matches!(failed, Failed::Never(_)));
        }
    }
}
