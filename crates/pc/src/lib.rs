//! Real-mode programs against a board: the user's own routine, unchanged, with
//! the beam where it would really be.
//!
//! ```text
//! .COM, .EXE ─► Image ─► Machine ─┬─ Processor   decodes (iced-x86), executes, counts clocks
//!                                 │     │ Bus
//!                                 ├─ Hardware    memory, devices, and the Board: the beam
//!                                 │     │        catches up before every access
//!                                 └─ services    what firmware and system do for a program
//!                                       ▼
//!                      Frame, Stop, Report, Access (the record of what the program did)
//! ```
//!
//! * [`Processor`] has the 8086, 8088 and 80286 in real mode, clocked from the
//!   published tables ([`clocks`]); prefetch is approximated, and says so.
//! * [`Hardware`](hardware::Hardware) is just enough of a machine: 640 KiB, the board's window and
//!   ports, timer, interrupt controller, keyboard by scripted or live presses.
//! * [`Machine`] runs until something [stops](Stop) it; a clone is a snapshot,
//!   and [`History`] goes back by frames.
//! * What is not here is said at once: a [`Report`] with address, registers and
//!   the last instructions.
//!
//! Time is kept in processor clocks and turned into dots in exact integers. All
//! accesses of an instruction happen at its last clock. Everything is
//! deterministic: the same program, board and keys give the same frames.
#![forbid(unsafe_code)]

mod alu;
mod arena;
mod bus;
mod cache;
pub mod clocks;
pub mod cost;
pub mod decode;
mod devices;
mod execute;
mod folder;
pub mod hardware;
mod history;
mod image;
pub mod instruction;
pub mod listing;
mod machine;
mod model;
mod processor;
mod rate;
pub mod record;
pub mod registers;
mod rom;
mod services;
mod step;
mod stops;
mod system;
mod trouble;
mod writers;

pub use bus::Bus;
pub use devices::keys::{Key, UnknownKey};
pub use folder::Folder;
pub use history::History;
pub use image::{Image, ImageError, ImageKind};
pub use machine::{LONGEST_TAIL, LoadError, Machine, Setup};
pub use model::Model;
pub use processor::{Processor, StackEnd, Step, Table, vector};
pub use rate::{CRYSTAL_HZ, ProcessorClock};
pub use record::Access;
pub use registers::{Far, NoAddress, Registers};
pub use stops::{Breakpoints, Stop};
pub use trouble::{Listed, Report, Trouble};
pub use writers::Writers;
