//! A signed HTTP request for each word: to a telephone gateway, a chat, a machine of the house.
//!
//! `POST` with a JSON body and two headers:
//!
//! ```text
//! Dekchi-Timestamp: 1795636960
//! Dekchi-Signature: hmac-sha256=<hex of HMAC-SHA256(secret, timestamp "." body)>
//! ```
//!
//! The receiver computes the same over the bytes as they came and refuses what is old or different. A
//! status of 2xx means that the word has arrived. Redirections are not followed: they would carry the
//! word to where nobody configured it.

use std::sync::Arc;

use ring::hmac;
use rustls::crypto::ring::default_provider;
use ureq::Agent;
use ureq::tls::{Certificate, PemItem, RootCerts, TlsConfig, parse_pem};

use super::channel::{ATTEMPT, Address, Channel, Failed, Word, one_line};

/// Requests to one address.
pub struct Webhook {
    agent: Agent,
    url: String,
    key: hmac::Key,
}

impl Webhook {
    /// `authorities` is a PEM text of whom to believe for `https`.
    #[must_use]
    pub fn new(url: &str, secret: &[u8], authorities: &[u8]) -> Self {
        let key = hmac::Key::new(hmac::HMAC_SHA256, secret);
        Self { agent: agent(authorities), url: url.to_owned(), key }
    }

    /// Posts a body that is JSON.
    ///
    /// # Errors
    /// Why it did not arrive.
    pub fn post(&self, body: &str, utc_s: i64) -> Result<String, Failed> {
        let signature = format!("hmac-sha256={}", signature(&self.key, utc_s, body));
        let sent = self
            .agent
            .post(&self.url)
            .header("content-type", "application/json")
            .header("dekchi-timestamp", utc_s.to_string())
            .header("dekchi-signature", signature)
            .send(body);
        match sent {
            Ok(answer) => answered(answer.status().as_u16()),
            Err(error) => Err(failed(&error)),
        }
    }
}

impl Channel for Webhook {
    fn send(&mut self, to: &Address, word: &Word, utc_s: i64) -> Result<String, Failed> {
        let mut json = word.json.clone();
        json.insert("to".to_owned(), to.name.clone().into());
        json.insert("title".to_owned(), word.title.clone().into());
        json.insert("text".to_owned(), word.text.clone().into());
        self.post(&serde_json::Value::Object(json).to_string(), utc_s)
    }
}

/// A client that gives up after [`ATTEMPT`] and believes these authorities.
pub(super) fn agent(authorities: &[u8]) -> Agent {
    let certificates: Vec<Certificate<'static>> = parse_pem(authorities)
        .filter_map(|item| match item {
            Ok(PemItem::Certificate(certificate)) => Some(certificate),
            _ => None,
        })
        .collect();
    let tls = TlsConfig::builder()
        .root_certs(RootCerts::new_with_certs(&certificates))
        .unversioned_rustls_crypto_provider(Arc::new(default_provider()))
        .build();
    Agent::config_builder()
        .tls_config(tls)
        .timeout_global(Some(ATTEMPT))
        .max_redirects(0)
        .max_redirects_will_error(false)
        .http_status_as_error(false)
        .proxy(None)
        .user_agent(concat!("dekchi/", env!("CARGO_PKG_VERSION")))
        .build()
        .into()
}

/// What a status means for the word.
fn answered(status: u16) -> Result<String, Failed> {
    let words = format!("answered {status}");
    match status {
        200..=299 => Ok(words),
        // Busy, too many, or broken for now.
        408 | 425 | 429 | 500..=599 => Err(Failed::Later(words)),
        _ => Err(Failed::Never(words)),
    }
}

pub(super) fn failed(error: &ureq::Error) -> Failed {
    let words = one_line(&error.to_string());
    match error {
        ureq::Error::BadUri(_) | ureq::Error::Http(_) => Failed::Never(words),
        _ => Failed::Later(words),
    }
}

/// Hex of the signature over timestamp and body.
fn signature(key: &hmac::Key, utc_s: i64, body: &str) -> String {
    let tag = hmac::sign(key, format!("{utc_s}.{body}").as_bytes());
    tag.as_ref().iter().map(|byte| format!("{byte:02x}")).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Computed with Python's `hmac.new(b"salt and pepper", b"1795636960.{\"kind\":\"alert\"}",
    /// "sha256").hexdigest()`.
    #[test]
    fn timestamp_and_body_are_signed_together() {
        let key = hmac::Key::new(hmac::HMAC_SHA256, b"salt and pepper");
        assert_eq!(
            signature(&key, 1_795_636_960, "{\"kind\":\"alert\"}"),
            "82227021e71c87e26aeecade9d9d89ebb19a3b8809598daa028bc9d01f6b9967"
        );
    }

    #[test]
    fn only_what_may_pass_is_tried_again() {
        assert!(answered(204).is_ok());
        assert!(matches!(answered(503), Err(Failed::Later(_))));
        assert!(matches!(answered(429), Err(Failed::Later(_))));
        for status in [301, 400, 401, 404, 410] {
            assert!(matches!(answered(status), Err(Failed::Never(_))), "{status}");
        }
    }
}
