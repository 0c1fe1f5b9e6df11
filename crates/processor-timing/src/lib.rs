//! Processor clocks and the published instruction timings, in one place for
//! whoever counts clocks: scripts, budgets and the PC.
//!
//! In comes a processor's [`Model`] and its [`ProcessorClock`]; out come clocks
//! of an instruction's form ([`table`]) and exact conversions from clocks to
//! nanoseconds, dots or the timer's beats ([`Rate`]). Nothing here executes an
//! instruction or knows a board, so that analysis can count clocks without a
//! processor.
//!
//! ```
//! use backporch_processor_timing::table::{self, Class, Published, Shape};
//! use backporch_processor_timing::{CRYSTAL_HZ, Model, Operation, ProcessorClock};
//!
//! // OUT DX, AL takes 8 clocks of the 8088: 1676 ns at a third of the crystal.
//! let out = table::row_of(Class::Only(Operation::Out), Shape::Port).unwrap();
//! assert_eq!(out.figure(Model::P8088), Published::Flat(8));
//! let clock = ProcessorClock::new(CRYSTAL_HZ, 3).unwrap();
//! assert_eq!(clock.nanoseconds(8), 1676);
//! ```
#![forbid(unsafe_code)]

mod beam_clock;
mod clock;
mod model;
mod operation;
pub mod table;

pub use beam_clock::BeamClock;
pub use clock::{CRYSTAL_HZ, NORMAL_SPEED, ProcessorClock, Rate, TIMER_DIVIDER, USUAL_REFRESH_BEATS};
pub use model::Model;
pub use operation::Operation;
