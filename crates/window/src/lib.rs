//! The live window: frames as they change, a sweep by hand, and a finger on
//! every pixel, byte and register.
//!
//! Three floors, each knowing only those above it in this list:
//!
//! * [`session`] is everything the window shows and does, without a window:
//!   boards, their past, the active register, notes, files;
//! * [`panels`] draw a session with egui and bring keys and buttons back to it
//!   as [`Command`]s; they know of no display;
//! * `app` opens the window with winit and pixels, lets frames run when they are
//!   due, and paints the panels: [`run`].
//!
//! ```text
//! bench ─► session ─► panels ─► app ─► display
//!             ▲          │
//!             └─ Command ┘
//! ```
#![forbid(unsafe_code)]

mod app;
mod command;
pub mod panels;
pub mod session;

pub use app::{Options, Pacing, WindowError, run};
pub use command::{Command, ViewCommand};
