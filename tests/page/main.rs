//! The page by HTTP: what it answers, what it refuses, and what a hostile client can do to it.

#![cfg(test)]

mod access;
mod client;
mod hostile;
mod reading;
mod streams;
mod tls;
