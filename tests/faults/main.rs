//! What goes wrong in a kitchen, and that nothing is lost by it. `README.md` beside this file says
//! which test proves what.

#![cfg(test)]

mod backlog;
mod chance;
mod fuzz;
mod index;
mod judgement;
mod secrets;
mod trial;
