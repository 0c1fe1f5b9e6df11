//! The panels: the session drawn with egui, and what is pressed brought back to it.
//!
//! ```text
//! ┌ bar: bench, board, where in time ───────────────────────────────────────┐
//! │ quirks      │ headline, frame timeline             │ registers         │
//! │ sightings   │ screen                                │ pixel             │
//! │ signal      │ active register, damage map          │ memory            │
//! └ what was said, what the keys do ─────────────────────────────────────────┘
//! ```
//!
//! The middle is what one watches; left of it stands what changes the picture,
//! right of it what the picture is made of. Nothing here touches a display or a
//! GPU: the same panels run in the window, in tests, and for the README.

mod bar;
mod bench_list;
mod canvas_layout;
mod closer_look;
mod context_menu;
mod corners;
mod damage_map;
mod fields;
mod headline;
mod help;
mod icons;
mod input;
mod keyboard;
mod keys;
mod layout;
mod magnifier;
mod memory;
mod open_dialog;
mod palette;
mod past;
mod pixel;
mod program;
mod quirk_dialog;
mod quirks;
mod register_filter;
mod registers;
mod restore_dialog;
mod routine;
mod scope;
mod screen;
mod settings;
mod sightings;
mod signal;
mod steady;
mod stops;
mod suspects;
mod sweep;
mod theme;
mod timeline;
mod tube;
mod unsaved_dialog;
mod workarounds;
mod workspace;

pub use keys::{KEY_BINDINGS, KeyAction, KeyBinding, KeyGroup, key_label};
pub use settings::{PictureFit, Settings};
pub use theme::{Colours, Theme};
pub use workspace::{HostRequest, ScreenImage, ScreenPixels, Workspace};

use crate::session::Session;

/// Draws one panel and does what was asked for on it.
type ShowPanel = fn(&mut Workspace, &mut egui::Ui, &mut Session);

/// The panels at the left, from the top: first what drives the boards, where something does, its mistakes
/// before its listing, then what one works with. Each
/// keeps its height while one works, so that nothing below it moves. A new one is
/// its file, its `mod` line above and its place here; what it shows of the boards stands in `session/showing.rs`.
const LEFT_PANELS: &[ShowPanel] = &[
    routine::show,
    program::show,
    quirks::show,
    past::show,
    sightings::show,
    suspects::show,
    signal::show,
    workarounds::show,
    palette::show,
];
