//! The plan of a batch and its ledger: what the cook means to do, and what is in the pot.
//!
//! Knows nothing of sensors or of the time of day.

pub mod allergen;
pub mod book;
pub mod chill;
pub mod composition;
pub mod course;
pub mod ingredient;
pub mod label;
pub mod larder;
pub mod ledger;
pub mod measure;
pub mod near;
pub mod outlook;
pub mod plan;
pub mod pot;
pub mod recipe;
pub mod reckoning;
pub mod rules;
pub mod spread;
pub mod stove;
pub mod target;
pub mod wanted;
