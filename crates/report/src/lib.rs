//! What Backporch hands on, to people and to real machines.
//!
//! ```text
//! Bench, Sweep, findings ─► Page ─► one self-contained HTML file
//! register settings ─► emit ─► tables of port writes, whole test programs
//! ```
//!
//! Nothing here reads or writes a file.
#![forbid(unsafe_code)]

pub mod emit;
pub mod page;
