//! Who is told, one file a protocol.

pub mod lamp;
pub mod mqtt;
