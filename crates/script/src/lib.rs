//! Routine scripts and write traces, and what runs them on a board.
//!
//! A script is run as a processor would run it, instruction by instruction; a
//! trace writes again what reached the bus. Both drive a board whose every
//! access is noted beside the beam's place.
//!
//! ```text
//! *.routine.ron ─► Program ─┐
//! cpu model ─────► Cpu ─────┼─► Runner ─┐
//! picture bytes ────────────┘           ├─► Watched (a Board, recorded) ─► FrameRecord, Trace
//! *.csv ────────► Trace ───► Replay ────┘
//! ```
//!
//! * [`Cpu`] says how long instructions take, from published tables; time is
//!   exact, on a scale shared by processor and dot clock ([`Timebase`]);
//! * a [`Runner`] does a [`Program`]'s steps, one bus access at a time, on any
//!   board under any fault;
//! * [`Watched`] is that board with every access noted beside the beam's place,
//!   given frame by frame as [`FrameRecord`]s.
//!
//! The bus access of an instruction falls at its end, and takes effect at the
//! first character clock from there on.
//! A routine that moves the start address on once a frame, and the port writes of one of its frames:
//!
//! ```
//! use std::sync::Arc;
//!
//! use backporch_adapter::Adapter;
//! use backporch_input::Source;
//! use backporch_raster::Board;
//! use backporch_script::{Cpu, CpuModel, Event, NORMAL_SPEED, Program, Runner};
//!
//! let adapter = Adapter::built_in("colour-graphics").expect("a built-in profile");
//! let text = r#"(version: 1, cpu: "8bit-4.77", each_frame: [
//!     Wait(ActiveStart),
//!     Set(register: "start_address", value: "frame"),
//! ])"#;
//! let program = Arc::new(Program::from_source(&Source::built_in("step.routine.ron", text), &adapter)?);
//! let registers = adapter.start_up(adapter.default_mode());
//! let model = Arc::new(CpuModel::built_in("8bit-4.77").expect("a built-in model"));
//! let cpu = Cpu::new(model, &adapter, &registers, NORMAL_SPEED);
//! let mut runner = Runner::new(Board::plain(Arc::clone(&adapter), registers), program, cpu, None, 0)?;
//! runner.next_record();
//! let writes = runner.next_record().events.into_iter().filter(|event| matches!(event, Event::Port(_))).count();
//! assert_eq!(writes, 4, "index and byte, twice");
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```
#![forbid(unsafe_code)]

mod cpu;
mod program;
mod replay;
mod runner;
mod script;
mod source_picture;
mod time;
mod trace;
mod value;
mod watch;

pub use backporch_processor_timing::NORMAL_SPEED;
pub use cpu::{BusModel, ClockTable, Cpu, CpuModel, InstructionClocks, PROCESSORS, Repeated, Width};
pub use program::{Program, ROUTINES};
pub use replay::Replay;
pub use runner::{RunError, Runner, chance};
pub use script::{AtEnd, ByteOrder, CopySource, CounterForm, Moment, RoutineFile, Step, StepCondition};
pub use source_picture::{SourcePicture, SourcePictureError};
pub use time::{DotTime, Timebase};
pub use trace::{PortValue, Trace, TraceAccess, TraceUnit};
pub use value::{Expression, FRAME, ValueForm};
pub use watch::{
    At, CodeAddress, Event, FrameRecord, Looked, Maker, MemoryTransfer, Passed, Poll, PortAccess, Signals, Waited,
    Watched,
};
