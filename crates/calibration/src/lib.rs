//! Calibration: what a survey of a real machine counted, turned into figures, and these held against profiles.
//!
//! ```text
//! Survey ──► beats of the timer ──┬─► processor: clock, model, waits, refresh ──┐            ┌─► Figure: agrees, differs, unknown
//!                                 ├─► beam: frame, lines, retrace, dot clock ───┼─► figures ─┤
//!            profile: Adapter ───►├─► access: fixed time or slots, bus width ───┤            ├─► processor model (RON)
//!            model: CpuModel ────►└─► inventory: registers, memory, planes ─────┘            └─► adapter profile (RON)
//! ```
//!
//! Clocks follow from multiplications by zero, whose clocks are published. Waits are whole clocks: each number of them is
//! tried on a modelled machine (a *rig*) under the very patterns that the survey timed, with the refresh that the survey saw,
//! and the one that fits every delay is taken; where two fit alike, none is claimed. Slots of a board are found the same way,
//! from candidates that a plain chain of accesses already favours.
//!
//! In come a [`Survey`](backporch_evidence::survey::Survey), a profile and a processor model to be held against; out goes a
//! [`Calibration`]. Nothing here reads or writes a file. Absent: what a survey does not look for, such as damage of a picture.
#![forbid(unsafe_code)]

mod access;
mod beam;
mod calibration;
mod figure;
mod fit;
mod inventory;
mod processor;
mod rig;
mod take_over;
mod written;

pub use access::AccessTiming;
pub use calibration::{Calibration, CalibrationError};
pub use figure::{Agreement, Figure, FigureValue};
pub use processor::SurveyedProcessor;
