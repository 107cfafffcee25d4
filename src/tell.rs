//! Who is told, one file a protocol.

pub mod channel;
pub mod lamp;
#[cfg(feature = "mail")]
pub mod mail;
pub mod mqtt;
pub mod push;
pub mod route;
pub mod terminal_lamp;
pub mod webhook;
