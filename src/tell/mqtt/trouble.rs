//! Why a connection ended, in words for the person who set it up.

use rumqttc::v5;
use rumqttc::v5::mqttbytes::v5::{ConnectReturnCode as Code5, DisconnectReasonCode};
use rumqttc::{ConnectReturnCode as Code311, TlsError};

use super::Settings;

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// We left.
    Goodbye,
    /// The broker cannot be reached, or went.
    Away,
    /// Trying sooner cannot help.
    Refused,
    /// Another client came with our name (MQTT 5 reason 0x8E).
    TakenOver,
    /// The broker shut the connection without a word. An old broker does that to MQTT 5, and some do it
    /// to a client whose name another one came with.
    Shut,
    /// The broker does not speak this version of MQTT.
    OtherProtocol,
}

/// How a connection ended.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Trouble {
    pub kind: Kind,
    pub words: String,
}

impl Trouble {
    #[must_use]
    pub fn goodbye() -> Self {
        Self { kind: Kind::Goodbye, words: String::new() }
    }

    #[must_use]
    pub fn silent(settings: &Settings) -> Self {
        Self::new(Kind::Away, settings, "takes no more data")
    }

    /// The broker answered, and did not take what was said.
    #[must_use]
    pub fn refusal(settings: &Settings) -> Self {
        Self::new(Kind::Refused, settings, "does not let this board publish there")
    }

    fn new(kind: Kind, settings: &Settings, what: &str) -> Self {
        let words = format!("the broker at {}:{} {what}", settings.host, settings.port);
        Self { kind, words }
    }

    #[must_use]
    pub fn of_v5(error: &v5::ConnectionError, settings: &Settings) -> Self {
        use v5::{ConnectionError as E, StateError as S};
        match error {
            E::ConnectionRefused(
                Code5::UnsupportedProtocolVersion | Code5::RefusedProtocolVersion,
            )
            | E::MqttState(S::Deserialization(_)) => {
                Self::new(Kind::OtherProtocol, settings, "does not speak MQTT 5")
            }
            E::ConnectionRefused(Code5::BadUserNamePassword | Code5::NotAuthorized) => {
                Self::wrong_login(settings)
            }
            E::ConnectionRefused(code) => {
                Self::new(Kind::Refused, settings, &format!("refuses the connection: {code:?}"))
            }
            E::MqttState(S::ServerDisconnect {
                reason_code: DisconnectReasonCode::SessionTakenOver,
                ..
            }) => Self::taken_over(settings),
            E::MqttState(S::ServerDisconnect { reason_code, .. }) => {
                Self::new(Kind::Away, settings, &format!("closed the connection: {reason_code:?}"))
            }
            E::MqttState(S::AwaitPingResp) | E::Timeout(_) => {
                Self::new(Kind::Away, settings, "does not answer")
            }
            E::MqttState(S::ConnectionAborted) => {
                Self::new(Kind::Shut, settings, "closed the connection")
            }
            E::Tls(error) => Self::of_tls(error, settings),
            E::Io(error) => Self::new(Kind::Away, settings, &format!("cannot be reached: {error}")),
            other => Self::new(Kind::Away, settings, &format!("was lost: {other}")),
        }
    }

    #[must_use]
    pub fn of_v311(error: &rumqttc::ConnectionError, settings: &Settings) -> Self {
        use rumqttc::{ConnectionError as E, StateError as S};
        match error {
            E::ConnectionRefused(Code311::RefusedProtocolVersion)
            | E::MqttState(S::Deserialization(_)) => {
                Self::new(Kind::OtherProtocol, settings, "does not speak MQTT 3.1.1")
            }
            E::ConnectionRefused(Code311::BadUserNamePassword | Code311::NotAuthorized) => {
                Self::wrong_login(settings)
            }
            E::ConnectionRefused(code) => {
                Self::new(Kind::Refused, settings, &format!("refuses the connection: {code:?}"))
            }
            E::MqttState(S::AwaitPingResp) | E::NetworkTimeout | E::FlushTimeout => {
                Self::new(Kind::Away, settings, "does not answer")
            }
            E::MqttState(S::ConnectionAborted) => {
                Self::new(Kind::Shut, settings, "closed the connection")
            }
            E::Tls(error) => Self::of_tls(error, settings),
            E::Io(error) => Self::new(Kind::Away, settings, &format!("cannot be reached: {error}")),
            other => Self::new(Kind::Away, settings, &format!("was lost: {other}")),
        }
    }

    /// What is to be thought of a broker that shuts the connection again and again.
    #[must_use]
    pub fn suspicion(settings: &Settings) -> String {
        let what = format!(
            "shuts the connection again and again: does another client also call itself \"{}\"?",
            settings.client_id
        );
        Self::new(Kind::Shut, settings, &what).words
    }

    fn wrong_login(settings: &Settings) -> Self {
        let what = match &settings.login {
            Some(login) => format!("refuses the user \"{}\" or the password", login.user),
            None => "wants a user name and a password, and none is given".to_owned(),
        };
        Self::new(Kind::Refused, settings, &what)
    }

    fn taken_over(settings: &Settings) -> Self {
        let name = &settings.client_id;
        let what = format!(
            "gave this board's place to another client that also calls itself \"{name}\" \
             (session taken over): is a second board running with the same name?"
        );
        Self::new(Kind::TakenOver, settings, &what)
    }

    fn of_tls(error: &TlsError, settings: &Settings) -> Self {
        let said = error.to_string();
        let clock = said.contains("NotValidYet") || said.contains("not valid yet");
        let hint = if clock { "; is this board's clock set?" } else { "" };
        let lost = matches!(error, TlsError::Io(e) if e.get_ref().is_none());
        // A clock is set sooner or later, and then trying helps.
        let kind = if lost || clock { Kind::Away } else { Kind::Refused };
        Self::new(kind, settings, &format!("cannot be trusted over TLS: {said}{hint}"))
    }
}
