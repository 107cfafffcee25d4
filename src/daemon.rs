//! Assembly of the running whole.
pub mod begin;
pub mod board;
pub mod clock;
pub mod draw;
pub mod halt;
pub mod main_loop;
pub mod post;
pub mod pot;
pub mod source;
pub mod supervise;
