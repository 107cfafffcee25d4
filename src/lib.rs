//! dekchi watches a pot of base gravy.
//!
//! A reading's way through the house is its design:
//!
//! ```text
//! sense ──▶ watch ──▶ keep      a probe and a scale are sampled; the pot is understood;
//!               ├──▶ tell      what was learnt is kept, told to brokers, phones and the lamp,
//!               └──▶ show      and drawn.
//! ```
//!
//! Everything that judges is pure and takes time as an argument; everything that touches the
//! world is thin and never judges. Rooms import only rooms above them in this list.

pub mod quantity;

pub mod moment;

pub mod reading;

pub mod physics;

pub mod batch;

pub mod watch;

pub mod score;

pub mod virtual_pot;

pub mod show;

pub mod sense;

pub mod keep;

pub mod tell;

pub mod serve;

pub mod config;

pub mod daemon;

pub mod cli;
