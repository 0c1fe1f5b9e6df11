//! The panels: the session drawn with egui, and what is pressed brought back to it.
//!
//! ```text
//! ┌ bar: bench, board, where in time, verdict ──────────────────────────────┐
//! │ signal      │ frame timeline                       │ registers         │
//! │ quirks      │ screen                                │ pixel             │
//! │ sightings   │ active register, thumbnails          │ memory            │
//! └ what was said, what the keys do ─────────────────────────────────────────┘
//! ```
//!
//! The middle is what one watches; left of it stands what changes the picture,
//! right of it what the picture is made of. Nothing here touches a display or a
//! GPU: the same panels run in the window, in tests, and for the README.

mod bar;
mod workspace;
mod fields;
mod pixel;
mod input;
mod help;
mod keyboard;
mod keys;
mod layout;
mod theme;
mod memory;
mod open_dialog;
mod bench_list;
mod canvas_layout;
mod program;
mod quirks;
mod registers;
mod routine;
mod screen;
mod settings;
mod icons;
mod signal;
mod suspects;
mod sweep;
mod timeline;

pub use workspace::{Workspace, Screen, HostRequest};
pub use keys::{KeyBinding, KeyAction, KeyGroup, KEY_BINDINGS, key_label};
pub use theme::{Colours, Theme};
pub use settings::{Fit, Settings};
