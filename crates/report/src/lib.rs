//! What a person looks at and passes on: the report page.
//!
//! ```text
//! Bench, Sweep, findings ─► Page ─► one self-contained HTML file
//! ```
//!
//! Nothing here reads or writes a file.
#![forbid(unsafe_code)]

pub mod page;
