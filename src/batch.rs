//! The plan of a batch and its ledger: what the cook means to do, and what is in the pot.
//!
//! Knows nothing of sensors or of the time of day.

pub mod book;
pub mod composition;
pub mod ledger;
pub mod plan;
pub mod pot;
pub mod reckoning;
