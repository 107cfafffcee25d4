//! Files that people write, read into values that can only be valid.
//!
//! A file is read in one pass over its parsed text ([`file::File`]). Each of its tables is opened as
//! a [`section::Section`] with the list of keys that may stand in it, so that any other key is
//! refused; each key is then asked for with the range that is allowed. What is wrong is collected as
//! [`complaint::Complaint`]s with line, key and range, and the reader goes on, so that all of them
//! are told at once; the value is only handed out where there are none.
//!
//! To add a section to the kitchen file: write `src/config/<section>.rs` with a plain struct and
//! `pub fn read(section: &Section) -> Option<TheStruct>` (see [`kitchen`]: ask for every key first,
//! then build the struct with `?`), give [`kitchen::Kitchen`] a field for it, and name the section
//! in [`kitchen::KEYS`].

pub mod alerts;
pub mod batch;
pub mod board;
pub mod broker;
pub mod complaint;
pub mod file;
pub mod ingredient;
pub mod kitchen;
pub mod page;
pub mod rules;
pub mod section;
pub mod stove;
