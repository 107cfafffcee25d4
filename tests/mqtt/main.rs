//! dekchi and a real broker: Debian's mosquitto, and its own client as subscriber.

#![cfg(test)]

mod broker;
mod doorman;
mod wire;
