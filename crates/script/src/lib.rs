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
pub use script::{AtEnd, ByteOrder, Condition, CopySource, CounterForm, Moment, RoutineFile, Step};
pub use source_picture::{SourcePicture, SourcePictureError};
pub use time::{DotTime, Timebase};
pub use trace::{PortValue, Trace, TraceAccess, TraceUnit};
pub use value::{Expression, FRAME, ValueForm};
pub use watch::{
    At, CodeAddress, Event, FrameRecord, Looked, Maker, MemoryTransfer, Passed, Poll, PortAccess, Signals, Waited,
    Watched,
};
