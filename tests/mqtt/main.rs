//! dekchi and a real broker: Debian's mosquitto, and its own client as subscriber.

#![cfg(test)]
#![expect(clippy::disallowed_methods, reason = "these tests wait for other programs by the clock")]

mod broker;
mod card;
#[cfg(feature = "demo-broker")]
mod demo;
mod doorman;
mod early;
mod homie;
mod kitchen;
mod latency;
mod line;
mod trial;
mod wire;
