//! What is kept, and how it outlives a power cut.
//!
//! One SQLite file holds everything durable: batches, the raw samples they were judged from, what
//! was seen and recognised, alerts, the cook's words, what was learnt of each pot, and what a broker
//! has not acknowledged. [`keeper::Keeper`] is handed everything and never makes its caller wait;
//! one thread writes. [`library::Library`] reads.
//!
//! ```text
//! events ──▶ packer ─┐
//! snapshots ─────────┤
//! alerts, words ─────┼─▶ ring ──▶ writer ──▶ SQLite ──▶ library
//! messages ──────────┘  (bounded)  (one)
//! ```
//!
//! What is promised:
//!
//! 1. Alerts, happenings and the cook's words are committed as they come; samples and snapshots
//!    every ten seconds. After a power cut all that was committed is there and at most the last ten
//!    seconds of samples are not.
//! 2. A disk that is full, read-only or failing stops nothing: rows wait in bounded memory, readings
//!    and then samples are given up oldest first, alerts and words never, and [`health::Health`]
//!    says so. When the disk is back the rows are written in their order.
//! 3. After an error the file is opened anew; nothing is called written that was not synced.
//! 4. A damaged file is renamed to `….corrupt-<time>` and a new one begun.
//! 5. A batch's samples come back exactly as the judgement was given them.

mod desk;
mod file;
pub mod health;
mod insert;
pub mod keeper;
pub mod library;
pub mod packing;
pub mod phones;
pub mod resolution;
mod rice;
mod ring;
mod row;
pub mod samples;
mod select;
mod writer;

pub use file::Refusal;
pub use row::{About, Browser, Delivery, Letter, LetterKind, Outcome};
pub use writer::Start;
