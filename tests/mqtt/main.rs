//! dekchi and a real broker: Debian's mosquitto, and its own client as subscriber.

#![cfg(test)]
#![expect(clippy::disallowed_methods, reason = "these tests wait for other programs by the clock")]

mod broker;
mod doorman;
mod kitchen;
mod wire;
