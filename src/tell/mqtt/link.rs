//! One connection to a broker, by MQTT 5 or 3.1.1.
//!
//! A [`Link`] is used once: when it ends, whatever the library still held is dropped with it and the
//! [`desk`](super::desk) says again what was not acknowledged. The library is only ever driven from
//! [`Line::drive`], which is never cancelled half-way through a write and never waits on us: handing
//! over a message fails rather than blocks.

use std::time::Duration;

use rumqttc::{Outgoing, QoS, TlsConfiguration, Transport, v5};
use tokio::sync::mpsc;
use tokio::time::timeout;

use super::Settings;
use super::desk::{Limit, WINDOW};
use super::message::{Message, SCHEMA};
use super::trouble::Trouble;

/// The broker is asked whether it is alive this often; silence is noticed in twice that.
const KEEP_ALIVE: Duration = Duration::from_secs(15);
/// For TCP, TLS and the broker's answer together.
const CONNECT_S: u64 = 5;
/// Packet numbers in use: well over [`WINDOW`], so that a late answer never meets its number again.
const PACKET_NUMBERS: u16 = 64;
/// Requests handed over and not yet written: the window, a subscription and the goodbye.
const REQUESTS: usize = WINDOW + 2;
/// The longest packet that is taken from a broker: a command is a line of text.
const LONGEST_IN_BYTES: usize = 16 * 1024;
/// The longest that is sent: a curve has some tens of kilobytes.
const LONGEST_OUT_BYTES: usize = 1024 * 1024;

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Protocol {
    V5,
    V311,
}

impl Protocol {
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::V5 => "5",
            Self::V311 => "3.1.1",
        }
    }
}

/// What happens on a line.
#[derive(Debug)]
pub enum Event {
    Up(Limit),
    /// The oldest message handed over was written under this number.
    Written(u16),
    Answered {
        packet: u16,
        accepted: bool,
    },
    /// Somebody published to a topic that we listen to.
    Said {
        topic: Vec<u8>,
        payload: Vec<u8>,
        retained: bool,
    },
}

/// The near end: messages are handed over here.
pub enum Link {
    V5(v5::AsyncClient),
    V311(rumqttc::AsyncClient),
}

/// The far end: it must be driven for anything to happen.
pub enum Line {
    V5(Box<v5::EventLoop>),
    V311(Box<rumqttc::EventLoop>),
}

/// A connection that is made when its line is driven.
#[must_use]
pub fn open(protocol: Protocol, settings: &Settings, will: &Message) -> (Link, Line) {
    match protocol {
        Protocol::V5 => {
            let (client, line) = v5::AsyncClient::new(options_v5(settings, will), REQUESTS);
            (Link::V5(client), Line::V5(Box::new(line)))
        }
        Protocol::V311 => {
            let (client, mut line) =
                rumqttc::AsyncClient::new(options_v311(settings, will), REQUESTS);
            line.set_network_options(network());
            (Link::V311(client), Line::V311(Box::new(line)))
        }
    }
}

fn network() -> rumqttc::NetworkOptions {
    let mut options = rumqttc::NetworkOptions::new();
    options.set_tcp_nodelay(true);
    options.set_connection_timeout(CONNECT_S);
    options
}

fn transport(settings: &Settings) -> Transport {
    match &settings.tls {
        None => Transport::Tcp,
        Some(config) => Transport::tls_with_config(TlsConfiguration::Rustls(config.clone())),
    }
}

fn options_v5(settings: &Settings, will: &Message) -> v5::MqttOptions {
    let mut options = v5::MqttOptions::new(&settings.client_id, &settings.host, settings.port);
    options
        .set_keep_alive(KEEP_ALIVE)
        .set_clean_start(true)
        .set_connection_timeout(CONNECT_S)
        .set_outgoing_inflight_upper_limit(PACKET_NUMBERS)
        .set_max_packet_size(Some(LONGEST_IN_BYTES as u32))
        .set_transport(transport(settings))
        .set_last_will(v5::mqttbytes::v5::LastWill::new(
            &will.topic,
            will.payload.clone(),
            v5::mqttbytes::QoS::AtLeastOnce,
            will.retain,
            Some(will_properties(will)),
        ));
    options.set_network_options(network());
    if let Some(login) = &settings.login {
        options.set_credentials(&login.user, &login.password);
    }
    options
}

fn options_v311(settings: &Settings, will: &Message) -> rumqttc::MqttOptions {
    let mut options = rumqttc::MqttOptions::new(&settings.client_id, &settings.host, settings.port);
    options
        .set_keep_alive(KEEP_ALIVE)
        .set_clean_session(true)
        .set_inflight(PACKET_NUMBERS)
        .set_max_packet_size(LONGEST_IN_BYTES, LONGEST_OUT_BYTES)
        .set_transport(transport(settings))
        .set_last_will(rumqttc::LastWill::new(
            &will.topic,
            will.payload.clone(),
            QoS::AtLeastOnce,
            will.retain,
        ));
    if let Some(login) = &settings.login {
        options.set_credentials(&login.user, &login.password);
    }
    options
}

fn schema() -> Vec<(String, String)> {
    vec![("schema".to_owned(), SCHEMA.to_owned())]
}

fn will_properties(will: &Message) -> v5::mqttbytes::v5::LastWillProperties {
    v5::mqttbytes::v5::LastWillProperties {
        delay_interval: None,
        payload_format_indicator: Some(u8::from(will.content.is_text())),
        message_expiry_interval: None,
        content_type: will.content.media_type().map(str::to_owned),
        response_topic: None,
        correlation_data: None,
        user_properties: schema(),
    }
}

fn properties(message: &Message) -> v5::mqttbytes::v5::PublishProperties {
    v5::mqttbytes::v5::PublishProperties {
        payload_format_indicator: message.content.is_text().then_some(1),
        message_expiry_interval: message.expiry_s,
        content_type: message.content.media_type().map(str::to_owned),
        user_properties: schema(),
        ..Default::default()
    }
}

impl Link {
    /// Hands a message over; `false` where the library has no room.
    #[must_use]
    pub fn publish(&self, message: Message) -> bool {
        match self {
            Self::V5(client) => {
                let properties = properties(&message);
                let Message { topic, payload, retain, .. } = message;
                let qos = v5::mqttbytes::QoS::AtLeastOnce;
                client.try_publish_with_properties(topic, qos, retain, payload, properties).is_ok()
            }
            Self::V311(client) => {
                let Message { topic, payload, retain, .. } = message;
                client.try_publish(topic, QoS::AtLeastOnce, retain, payload).is_ok()
            }
        }
    }

    #[must_use]
    pub fn subscribe(&self, filter: &str) -> bool {
        match self {
            Self::V5(client) => {
                client.try_subscribe(filter, v5::mqttbytes::QoS::AtLeastOnce).is_ok()
            }
            Self::V311(client) => client.try_subscribe(filter, QoS::AtLeastOnce).is_ok(),
        }
    }

    /// Asks for a clean end, after which the broker sends no will.
    #[must_use]
    pub fn goodbye(&self) -> bool {
        match self {
            Self::V5(client) => client.try_disconnect().is_ok(),
            Self::V311(client) => client.try_disconnect().is_ok(),
        }
    }
}

impl Line {
    /// Connects and goes on until the connection ends; says how.
    pub async fn drive(self, events: mpsc::Sender<Event>, settings: &Settings) -> Trouble {
        match self {
            Self::V5(line) => drive_v5(*line, &events, settings).await,
            Self::V311(line) => drive_v311(*line, &events, settings).await,
        }
    }
}

/// A healthy line speaks at least once in a keep-alive; one that does not is stuck in a write.
const STUCK: Duration = Duration::from_secs(2 * KEEP_ALIVE.as_secs() + CONNECT_S);

async fn drive_v5(
    mut line: v5::EventLoop,
    events: &mpsc::Sender<Event>,
    settings: &Settings,
) -> Trouble {
    loop {
        let event = match timeout(STUCK, line.poll()).await {
            Err(_) => return Trouble::silent(settings),
            Ok(Err(error)) => return Trouble::of_v5(&error, settings),
            Ok(Ok(v5::Event::Outgoing(Outgoing::Disconnect))) => return Trouble::goodbye(),
            Ok(Ok(event)) => event,
        };
        if let Some(event) = event_of_v5(event) {
            if events.send(event).await.is_err() {
                return Trouble::goodbye();
            }
        }
    }
}

fn event_of_v5(event: v5::Event) -> Option<Event> {
    use v5::mqttbytes::v5::{Packet, PubAckReason};
    match event {
        v5::Event::Outgoing(Outgoing::Publish(packet)) => Some(Event::Written(packet)),
        v5::Event::Incoming(Packet::ConnAck(answer)) => {
            let said = answer.properties;
            Some(Event::Up(Limit {
                packet_bytes: said
                    .as_ref()
                    .and_then(|p| p.max_packet_size)
                    .map_or(LONGEST_OUT_BYTES, |bytes| bytes as usize),
                retains: said.and_then(|p| p.retain_available) != Some(0),
            }))
        }
        v5::Event::Incoming(Packet::PubAck(answer)) => {
            let fine = [PubAckReason::Success, PubAckReason::NoMatchingSubscribers];
            let accepted = fine.contains(&answer.reason);
            if !accepted {
                tracing::warn!(reason = ?answer.reason, "the broker refuses a message");
            }
            Some(Event::Answered { packet: answer.pkid, accepted })
        }
        v5::Event::Incoming(Packet::Publish(said)) => Some(Event::Said {
            topic: said.topic.to_vec(),
            payload: said.payload.to_vec(),
            retained: said.retain,
        }),
        _ => None,
    }
}

async fn drive_v311(
    mut line: rumqttc::EventLoop,
    events: &mpsc::Sender<Event>,
    settings: &Settings,
) -> Trouble {
    loop {
        let event = match timeout(STUCK, line.poll()).await {
            Err(_) => return Trouble::silent(settings),
            Ok(Err(error)) => return Trouble::of_v311(&error, settings),
            Ok(Ok(rumqttc::Event::Outgoing(Outgoing::Disconnect))) => return Trouble::goodbye(),
            Ok(Ok(event)) => event,
        };
        if let Some(event) = event_of_v311(event) {
            if events.send(event).await.is_err() {
                return Trouble::goodbye();
            }
        }
    }
}

fn event_of_v311(event: rumqttc::Event) -> Option<Event> {
    use rumqttc::Packet;
    match event {
        rumqttc::Event::Outgoing(Outgoing::Publish(packet)) => Some(Event::Written(packet)),
        rumqttc::Event::Incoming(Packet::ConnAck(_)) => {
            Some(Event::Up(Limit { packet_bytes: LONGEST_OUT_BYTES, retains: true }))
        }
        rumqttc::Event::Incoming(Packet::PubAck(answer)) => {
            Some(Event::Answered { packet: answer.pkid, accepted: true })
        }
        rumqttc::Event::Incoming(Packet::Publish(said)) => Some(Event::Said {
            topic: said.topic.into_bytes(),
            payload: said.payload.to_vec(),
            retained: said.retain,
        }),
        _ => None,
    }
}
