//! The window itself: a display, frames when they are due, keys and drops in.
//!
//! ```text
//! winit events ─► egui input ─► panels ─► shapes ─► painter ─► display
//! clock ─► Pace ─► Session ─► Canvas ─► CanvasTexture ──┘
//! ```
//!
//! `winit` owns the window, `wgpu` its surface and the texture the canvas goes into,
//! and `egui` draws the panels with that texture in their middle.

mod blit;
mod canvas_texture;
mod capture;
mod dirty;
mod event_loop;
mod painter;
mod scaler;
mod schedule;
mod surface;

use std::path::PathBuf;
use std::time::Duration;

use backporch_bench::Overrides;
use backporch_input::InputError;
use thiserror::Error;
use winit::event_loop::EventLoop;

use crate::panels::Settings;
use crate::session::{Lateness, Session};
use event_loop::{AccessEvent, WindowApp};

/// What the window is to begin with.
#[derive(Clone, Debug)]
pub struct Options {
    /// A bench file, or the name of a built-in bench.
    pub bench: String,
    /// What is to be different from it.
    pub overrides: Overrides,
    /// Folder for pictures, benches and sightings.
    pub out: PathBuf,
    /// Let frames run at once.
    pub run: bool,
    /// Width and height in pixels, in place of the remembered ones.
    pub size: Option<(u32, u32)>,
    /// Close by itself after so long.
    pub leave_after: Option<Duration>,
    /// Where look and layout are remembered; nowhere if left out.
    pub settings: Option<PathBuf>,
}

/// How it went.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Pacing {
    /// Frames that were due, and of these late.
    pub frames: Lateness,
    /// The board's rate, in hertz.
    pub rate_hz: f64,
    /// Median time from a key to the picture it brought, in milliseconds, where keys were pressed.
    pub input_ms: Option<f64>,
}

/// Why there is no window.
#[derive(Debug, Error)]
pub enum WindowError {
    /// The bench cannot be opened.
    #[error(transparent)]
    Bench(#[from] InputError),
    /// There is no display to put a window on.
    #[error("found no display to open a window on, allowed X11 or Wayland: {0}")]
    Display(String),
    /// There is no driver that can draw on it.
    #[error("found no driver to draw with, allowed Vulkan or OpenGL ES (a software driver will do): {0}")]
    Driver(String),
    /// The display went away, or the driver failed.
    #[error("the display failed: {0}")]
    Lost(String),
}

impl WindowError {
    /// A likely cure, in one line, where the machine lacks something.
    #[must_use]
    pub fn help(&self) -> Option<&'static str> {
        match self {
            Self::Bench(_) => None,
            Self::Display(_) => {
                Some("set DISPLAY or WAYLAND_DISPLAY, or use `backporch frame` and `backporch sweep` without a display")
            }
            Self::Driver(_) => Some("install a Vulkan driver, such as the software one of Mesa"),
            Self::Lost(_) => None,
        }
    }
}

/// Opens the window and stays until it is closed.
///
/// # Errors
/// Where the bench cannot be opened, or there is no display or driver.
pub fn run(options: &Options) -> Result<Pacing, WindowError> {
    let mut session = Session::open(&options.bench, &options.overrides)?;
    session.write_to(&options.out);
    session.run(options.run);
    let settings = options.settings.as_deref().map(Settings::read).unwrap_or_default();
    let no_display = |error: winit::error::EventLoopError| WindowError::Display(plain(&error.to_string()));
    let events = EventLoop::<AccessEvent>::with_user_event().build().map_err(no_display)?;
    let mut app = WindowApp::new(session, settings, options.clone(), events.create_proxy());
    let ran = events.run_app(&mut app);
    app.finish()?.map_or_else(|| ran.map(|()| Pacing::default()).map_err(no_display), Ok)
}

/// An error's words without the place in the library's source they may begin with.
fn plain(words: &str) -> String {
    let after = words.split_once(".rs:").and_then(|(_, rest)| rest.split_once(": "));
    after.map_or(words, |(_, plain)| plain).trim_end_matches('.').to_string()
}

#[cfg(test)]
mod tests {
    use super::plain;

    #[test]
    fn errors_are_told_without_the_librarys_source() {
        assert_eq!(plain("os error at /x/mod.rs:765: no DISPLAY is set."), "no DISPLAY is set");
        assert_eq!(plain("not supported"), "not supported");
    }
}
