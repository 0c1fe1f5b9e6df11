//! Mistakes of timing and order, found in what reached a board's bus.
//!
//! Half of what goes wrong in a raster routine is the moment of a write. In
//! come the records of a run, frame by frame, whatever drove the board: a
//! script, a trace, a program. Out go its hazards, how near it came to one, and
//! pictures of when it did what.
//!
//! ```text
//! FrameRecords ─┬─► Inspector ─► Hazards ─► Margins over phases and speeds, Advice
//!               ├─► Budget: what moves take of a frame's time
//!               ├─► beam chart (SVG, picture)
//!               └─► waveform (VCD)
//! ```
//!
//! The records alone are judged, never a script's text, so every driver is
//! held to the same measure. What is fetched is taken as the registers mean it
//! on the plain board: neither what a class does by design nor a fault of the
//! adapter is ever called the routine's mistake.
//! A colour written in the middle of the picture, at another line each frame:
//!
//! ```
//! use std::sync::Arc;
//!
//! use backporch_adapter::Adapter;
//! use backporch_hazards::{HazardKind, inspect};
//! use backporch_input::Source;
//! use backporch_raster::Board;
//! use backporch_script::{Cpu, CpuModel, NORMAL_SPEED, Program, Runner};
//!
//! let adapter = Adapter::built_in("colour-graphics").expect("a built-in profile");
//! let text = r#"(version: 1, cpu: "8bit-4.77", each_frame: [
//!     Wait(Line("10 + frame * 7 % 90")),
//!     Set(register: "select_colour", value: "frame % 16"),
//! ])"#;
//! let program = Arc::new(Program::from_source(&Source::built_in("colour.routine.ron", text), &adapter)?);
//! let registers = adapter.start_up(adapter.mode("320x200x4").expect("a mode of it"));
//! let model = Arc::new(CpuModel::built_in("8bit-4.77").expect("a built-in model"));
//! let cpu = Cpu::new(model, &adapter, &registers, NORMAL_SPEED);
//! let mut runner = Runner::new(Board::plain(adapter, registers), program, cpu, None, 0)?;
//! let hazards = inspect(&mut runner, 20, None, None);
//! assert!(hazards.iter().all(|hazard| hazard.kind == HazardKind::MidPicture) && !hazards.is_empty());
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```
#![forbid(unsafe_code)]

mod advice;
mod budget;
mod chart;
mod hazard;
mod margins;
mod waveform;

pub use advice::Advice;
pub use budget::{Budget, BudgetFit, MoveBudget, MoveKind};
pub use chart::{beam_chart, beam_chart_image};
pub use hazard::{
    Displaced, Hazard, HazardKind, Inspector, MeantLayout, Surroundings, displaced, inspect, loader_hazards,
};
pub use margins::{
    Count, FrameJudge, Judged, KindMargin, MarginSweep, Margins, PhaseSpread, Room, SETTLING_FRAMES, Trial, frame_dots,
};
pub use waveform::write_vcd;
