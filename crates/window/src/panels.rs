//! The panels: the session drawn with egui, and what is pressed brought back to it.
//!
//! ```text
//! ┌ bar: bench, board, where in time, verdict ──────────────────────────────┐
//! │ signal      │ trail of frames                       │ registers         │
//! │ quirks      │ screen                                │ pixel             │
//! │ sightings   │ register in hand, strip of the sweep  │ memory            │
//! └ what was said, what the keys do ─────────────────────────────────────────┘
//! ```
//!
//! The middle is what one watches; left of it stands what acts on the picture,
//! right of it what the picture is made of. Nothing here touches a display or a
//! GPU: the same panels run in the window, in tests, and for the README.

mod bar;
mod desk;
mod fields;
mod finger;
mod heed;
mod help;
mod keyboard;
mod keys;
mod layout;
mod look;
mod memory;
mod open;
mod opening;
mod place;
mod program;
mod quirks;
mod registers;
mod routine;
mod screen;
mod settings;
mod sign;
mod signal;
mod suspects;
mod sweep;
mod trail;

pub use desk::{Desk, Screen, Want};
pub use keys::{Binding, Does, Group, KEYS, cap_of};
pub use look::{Colours, Theme};
pub use settings::{Fit, Settings};
