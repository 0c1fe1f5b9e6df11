//! The live window: frames as they change, a sweep by hand, and an inspector for
//! every pixel, byte and register.
//!
//! **What comes in:** the name or path of a bench with what is to be different
//! from it ([`Options`]), keys and clicks, the passing of time in seconds, and
//! files that change on disk. **What goes out:** pixels on a display, and on
//! request bench files, sightings, pictures and recordings; at the end how the
//! window kept pace ([`Pacing`]).
//!
//! **How data passes through.** Three layers, each knowing only those above it
//! in this list:
//!
//! * [`session`] is everything the window shows and does, without a window:
//!   boards, their past, the active register, sightings, files;
//! * [`panels`] draw a session with egui and bring keys and buttons back to it
//!   as [`Command`]s; they know of no display;
//! * `app` opens the window with winit and wgpu, lets frames run when they are
//!   due, and paints the panels: [`run`].
//!
//! ```text
//! bench ─► session ─► panels ─► app ─► display
//!             ▲          │
//!             └─ Command ┘
//! ```
//!
//! A step of the sweep, as a press of the arrow key makes it:
//!
//! ```
//! use backporch_bench::Overrides;
//! use backporch_window::Command;
//! use backporch_window::session::{BoardSide, Session};
//!
//! let mut session = Session::open("harbour-256", &Overrides::default())?;
//! session.add_quirk("row-reload");
//! session.perform(Command::StepRegister(1));
//! assert_eq!(session.sweep().active().value(), 1);
//! assert_eq!(session.transport().frame(BoardSide::Faulty).picture_size(), (320, 200));
//! assert!(session.inspection().damage().damaged_lines() > 0);
//! # Ok::<(), backporch_input::InputError>(())
//! ```
#![forbid(unsafe_code)]

mod app;
mod command;
pub mod panels;
pub mod session;

pub use app::{Options, Pacing, WindowError, run};
pub use command::{Command, ViewCommand};
