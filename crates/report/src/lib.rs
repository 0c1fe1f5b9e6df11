//! The report: what was found, on a page that a person looks at and passes on.
//!
//! ```text
//! Bench, Sweep, answers ─► page ─► one self-contained HTML file
//! ```
//!
//! A bench, its sweep and the answers of other commands come in; HTML goes out. Nothing here reads or writes a file.
#![forbid(unsafe_code)]

pub mod page;
