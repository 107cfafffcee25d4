//! What dekchi itself serves, one file a protocol.

#[cfg(feature = "demo-broker")]
pub mod broker;
