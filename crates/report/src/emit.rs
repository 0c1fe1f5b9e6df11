//! Back to the machine: register settings as tables and as a program.
//!
//! ```text
//! Registers ──► Passage ──► Table ──► C header, assembly include, CSV, write trace
//!               safe order    │
//!                             └─────► TestProgram ──► flat real-mode program and its listing
//! ```
//!
//! The [passage](backporch_workaround::passage::Passage) puts the port writes in
//! a safe order; a [`Table`] writes them down with what each value is, in one
//! of several forms; a [`TestProgram`] makes them on the machine itself, under
//! a picture with numbered columns and lines, and steps a sweep key by key.

mod assembly;
mod c;
mod csv;
mod program;
mod table;
mod timing;
mod trace;

pub use program::{Code, ProgramError, Sweep, TestProgram};
pub use table::Table;
