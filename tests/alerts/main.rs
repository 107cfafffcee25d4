//! Alerts on their way to people: real sockets on this machine, and a virtual kitchen's day.

#![cfg(test)]

mod courier;
mod day;
mod http;
mod mail;
mod peers;
mod restart;
mod smtp;
mod trial;
mod webhook;
