//! The panels, run without a window: what they say, and what keys and buttons do.

mod access;
mod bar;
#[path = "../bench_window/mod.rs"]
#[allow(dead_code, reason = "the tests of pictures use more of it")]
mod bench_window;
mod dialogs;
mod keys;
mod layout;
mod palette;
mod past;
mod program;
mod quirks;
mod registers;
mod routine;
mod screen;
mod sightings;
mod signal;
mod steady;
mod support;
mod sweep;
