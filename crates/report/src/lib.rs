//! What Backporch hands on to people and to real machines.
//!
//! ```text
//! Bench, Sweep, findings ─► page ─► one self-contained HTML file
//! register settings ──────► emit ─► tables, test programs
//! ```
//!
//! * [`page`] puts what was found on a page that a person looks at and passes on.
//! * [`emit`] turns register settings into what a real machine runs: tables of
//!   port writes for C and assembly, and whole test programs.
//!
//! Nothing here reads or writes a file.
#![forbid(unsafe_code)]

pub mod emit;
pub mod page;
