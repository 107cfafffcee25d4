//! The local page.
