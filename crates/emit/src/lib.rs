//! Back to the machine: register settings as tables and as test programs.
//!
//! ```text
//! Registers ──► Transition ──► Table ──► C header, assembly include, CSV, write trace
//!               safe order    │
//!                             ├─────► TestProgram, SessionProgram, SurveyProgram ──► flat real-mode program and its listing
//! StepTable ──────────────────┴─────► Routine ──► a scroller in assembly, assembled, or in C, with a demonstration
//! ```
//!
//! An adapter, a mode and registers come in. The [transition](backporch_workaround::transition::Transition) puts the port writes
//! in a safe order; a [`WriteTable`] writes them down with what each value is, in one of several forms; a [`TestProgram`]
//! makes them on the machine itself, under a picture with numbered columns and lines, and steps a sweep key by key.
//! A [`SessionProgram`] asks what is seen at one setting after another, and writes the answers to a file; a
//! [`SurveyProgram`] measures its machine without a person, and writes what it found to a file. A [`Routine`] scrolls by a table of start
//! addresses, and is assembled here, too. Text and bytes go out; nothing here reads or writes a file. Where the writes change totals or sync, every form
//! carries the caution.
//!
//! ```
//! use backporch_adapter::Adapter;
//! use backporch_emit::WriteTable;
//!
//! let adapter = Adapter::built_in("linear-256").expect("a built-in profile");
//! let mode = adapter.mode("320x200x256").expect("a mode of it");
//! let mut registers = adapter.start_up(mode);
//! adapter.set(&mut registers, adapter.start_address(), 0x123)?;
//! let table = WriteTable::new(&adapter, mode, &registers, None);
//! assert!(table.to_c("scroll").contains("0x3D5, 0x23"));
//! assert!(table.caution().is_none());
//! # Ok::<(), backporch_adapter::SetError>(())
//! ```
#![forbid(unsafe_code)]

mod assembler;
mod assembly;
mod c;
mod csv;
mod draft;
mod packing;
mod program;
mod routine;
mod session;
mod survey;
mod table;
mod text_file;
mod timing;
mod trace;

pub use assembler::AssemblyError;
pub use program::{Code, ProgramError, SteppedStarts, TestProgram};
pub use routine::{Routine, RoutineError};
pub use session::{SessionError, SessionProgram};
pub use survey::{SurveyError, SurveyProgram};
pub use table::WriteTable;
