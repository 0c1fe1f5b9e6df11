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
//! * [`Processor`] has the 8086, 8088, 80186, 80286 and 80386 in real mode. On the first two
//!   an instruction is a sequence of steps that takes bytes from the queue and
//!   asks for the bus, to the clock; the others go by the published tables
//!   ([`clocks`]), with bus and decoder working ahead of execution.
//! * [`Hardware`](hardware::Hardware) is just enough of a machine: 640 KiB with refresh, the board's
//!   window and ports, timer, interrupt controller, keyboard by scripted or live presses.
//! * [`Machine`] runs until something [stops](Stop) it; a clone is a snapshot,
//!   and [`History`] goes back by frames.
//! * What is not present answers as a machine without it would, and is [noted](Asked); a
//!   [strict](MachineSetup::strict) machine stops there. What cannot go on ends in a [`Report`] with
//!   address, registers and the last instructions.
//!
//! What comes in: a program's bytes ([`ProgramImage`]), a board with its registers, a
//! [`MachineSetup`] (model, clock, waits). What goes out: frames, and why the program
//! stopped. Time is kept in processor clocks and turned into dots in exact
//! integers. Everything is deterministic: the same program, board and keys give
//! the same frames.
//!
//! ```
//! use backporch_adapter::Adapter;
//! use backporch_pc::{CRYSTAL_HZ, Machine, MachineSetup, Model, ProcessorClock, ProgramImage, Stop};
//! use backporch_raster::Board;
//!
//! // mov al, 5; mov ah, 4Ch; int 21h: ends with exit code 5.
//! let image = ProgramImage::parse(&[0xB0, 0x05, 0xB4, 0x4C, 0xCD, 0x21])?;
//! let adapter = Adapter::built_in("colour-graphics").ok_or("no such board")?;
//! let registers = adapter.start_up(adapter.default_mode());
//! let clock = ProcessorClock::new(CRYSTAL_HZ, 3).ok_or("no such clock")?;
//! let setup = MachineSetup::new(Model::P8088, clock);
//! let mut machine = Machine::new(Board::plain(adapter, registers), &image, "40x25", setup)?;
//! assert!(matches!(machine.run(), Stop::Exit(5)));
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```
#![forbid(unsafe_code)]

mod alu;
mod arena;
mod asked;
mod bus;
mod bus_unit;
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
mod pipeline;
mod processor;
pub mod record;
mod refresh;
pub mod registers;
mod rom;
mod services;
mod size;
mod stack_watch;
mod step;
mod stops;
mod system;
mod trouble;
mod writers;

pub use asked::Asked;
pub use backporch_processor_timing::{CRYSTAL_HZ, Model, ProcessorClock};
pub use bus::{Bus, BusCycle, CycleKind};
pub use devices::keyboard::KeyPress;
pub use devices::keys::{Key, UnknownKey};
pub use devices::mouse::MouseMovement;
pub use folder::{Contents, Folder};
pub use history::History;
pub use image::{ImageError, ImageKind, ProgramImage};
pub use machine::stuck::{StuckCause, StuckWait};
pub use machine::{LONGEST_TAIL, Machine, MachineSetup, StartError};
pub use processor::{DescriptorTable, Processor, StepResult, vector};
pub use record::RecordedAccess;
pub use registers::{CpuRegisters, Far, NoAddress};
pub use size::Size;
pub use stack_watch::Overrun;
pub use stops::{Breakpoints, Stop};
pub use trouble::{RegisterListing, Report, Trouble};
pub use writers::Writers;
