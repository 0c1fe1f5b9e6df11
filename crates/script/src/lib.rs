//! What drives a board: routines, write traces, and the mistakes they make.
//!
//! Half of what goes wrong in a raster routine is the moment of a write. This
//! room runs a routine as a machine would, instruction by instruction, and
//! names its races with the beam.
//!
//! ```text
//! *.routine.ron ─► Program ─┐
//! cpu model ─────► Cpu ─────┼─► Runner ─┐               ┌─► Inspector ─► Hazards ─► margins, advice
//! picture bytes ────────────┘           ├─► Watched ────┼─► Trace (CSV) ─► Replay
//! *.csv ────────► Trace ───► Replay ────┘   (a Board,   ├─► waveform (VCD)
//!                                            noted)     └─► chart (SVG, picture)
//! ```
//!
//! * [`Cpu`] says how long instructions take, from published tables; time is
//!   exact, on a scale shared by processor and dot clock ([`Timebase`]);
//! * a [`Runner`] does a [`Program`]'s steps, one bus access at a time, on any
//!   board under any fault;
//! * [`Watched`] is that board with every access noted beside the beam's place,
//!   given frame by frame as [`FrameRecord`]s;
//! * an [`Inspector`] finds [`Hazard`]s in the records alone, so a trace or any
//!   other driver is judged like a script.
//!
//! The bus access of an instruction falls at its end, and takes effect at the
//! first character clock from there on.
#![forbid(unsafe_code)]

mod budget;
mod chart;
mod clock_rate;
mod cpu;
mod hazard;
mod margins;
mod program;
mod replay;
mod runner;
mod script;
mod source_picture;
mod time;
mod trace;
mod value;
mod watch;
mod waveform;

pub use budget::{Budget, Fit, MoveBudget, MoveKind};
pub use chart::{beam_chart, beam_chart_image};
pub use clock_rate::{ClockRate, NORMAL_SPEED};
pub use cpu::{BUILT_IN_CPUS, Bus, Cpu, CpuModel, InstructionClocks, Repeated, Width};
pub use hazard::{Displaced, Hazard, HazardKind, Inspector, Layout, Surroundings, displaced, inspect, loader_hazards};
pub use margins::{Advice, Count, Judge, Judged, KindMargin, Margins, SETTLING_FRAMES, Sweep, Trial, frame_dots};
pub use program::{BUILT_IN_ROUTINES, Program};
pub use replay::Replay;
pub use runner::{RunError, Runner};
pub use script::{AtEnd, ByteOrder, Condition, CounterForm, Moment, Origin, RoutineFile, Step};
pub use source_picture::{SourcePicture, SourcePictureError};
pub use time::{DotTime, Timebase};
pub use trace::{PortValue, Trace, TraceAccess, TraceUnit};
pub use value::{Value, ValueForm};
pub use watch::{At, Event, FrameRecord, MemoryAccess, Passed, PortAccess, Signals, Waited, Watched};
pub use waveform::write_vcd;
