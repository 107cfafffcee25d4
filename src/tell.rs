//! Who is told, one file a protocol.
