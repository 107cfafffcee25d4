//! The store: what was handed over is there again, whatever the disk does.

#![cfg(test)]

mod child;
mod command;
mod damage;
mod disk;
mod killed;
mod kitchen;
mod outbox;
mod powercut;
mod restart;
mod round_trip;
mod size;
mod workload;
