//! A photograph of the real screen, laid straight over the picture that the bench shows, to stand beside the board.
//!
//! Finding the picture on it may take a while, so it runs as a background task.

use std::path::Path;

use backporch_adapter::Rgba;
use backporch_input::{InputError, read_bytes};
use backporch_measure::{Capture, Expected, Geometry, MOST_FILE_BYTES, find, names_capture};
use backporch_raster::{Picture, View};

use super::background::BackgroundTask;
use super::{BoardSide, BoardView, Session};

/// Whether a name is that of a picture file.
#[must_use]
pub fn names_photograph(name: &str) -> bool {
    names_capture(Path::new(name))
}

/// A photograph whose picture was found.
#[derive(Clone, Debug)]
pub struct Photograph {
    /// What it shows in the place of every pixel of the picture.
    picture: Picture,
    /// How well that is known, in words.
    words: String,
}

impl Photograph {
    /// Finds the picture on a photograph.
    fn of(name: &str, expected: &Expected) -> Result<Self, InputError> {
        let bytes = read_bytes(Path::new(name), MOST_FILE_BYTES)?;
        let refused = |error: &dyn std::fmt::Display| {
            InputError::new(name, error, "a capture or photograph of the picture that the bench shows")
        };
        let captures = Capture::read(&bytes).map_err(|error| refused(&error))?;
        let Some(capture) = captures.first() else {
            return Err(refused(&"no picture"));
        };
        let geometry = find(expected, capture).map_err(|error| refused(&error))?;
        let beside = geometry.residual.map(|pixels| format!("places to {pixels:.2} pixels")).unwrap_or_default();
        let words = format!("{name}: found on it, {beside}");
        Ok(Self { picture: straightened(expected.size(), capture, &geometry), words })
    }
}

/// What a capture shows in the place of each pixel.
fn straightened((width, height): (usize, usize), capture: &Capture, geometry: &Geometry) -> Picture {
    let image = capture.image();
    let shown = |x: usize, y: usize| -> Rgba {
        let (u, v) = geometry.place((x as f64 + 0.5, y as f64 + 0.5));
        let inside = u >= 0.0 && v >= 0.0 && u < f64::from(image.width()) && v < f64::from(image.height());
        if !inside {
            return [0, 0, 0, 255];
        }
        let [red, green, blue] = image.get_pixel(u as u32, v as u32).0;
        [red, green, blue, 255]
    };
    let pixels = (0..height).flat_map(|y| (0..width).map(move |x| (x, y))).map(|(x, y)| shown(x, y));
    Picture { width: width as u32, height: height as u32, rgba: pixels.collect() }
}

/// The photograph of a session.
#[derive(Debug, Default)]
pub(crate) struct PhotographBeside(BackgroundTask<Result<Photograph, InputError>>);

impl PhotographBeside {
    pub fn picture(&self) -> Option<&Picture> {
        self.0.result()?.as_ref().ok().map(|photograph| &photograph.picture)
    }

    /// Whether the picture is still being looked for.
    pub fn is_looked_for(&self) -> bool {
        self.0.progress().is_some()
    }
}

impl Session {
    /// Lays a photograph of the real screen beside the board, once the picture is found on it: that of the plain
    /// board as it stands.
    pub fn open_photograph(&mut self, name: &str) {
        let picture = self.transport.frame(BoardSide::Plain).picture(View::Picture);
        let pixels = picture.rgba.iter().map(|[red, green, blue, _]| [*red, *green, *blue]).collect();
        let palette = self.transport.frame(BoardSide::Plain).palettes.last();
        let border = palette.map_or([0; 3], |palette| [palette.border[0], palette.border[1], palette.border[2]]);
        match Expected::new((picture.width as usize, picture.height as usize), pixels, border, None) {
            Ok(expected) => {
                let path = name.to_string();
                let work = move |_: &super::background::TaskProgress| Photograph::of(&path, &expected);
                self.photograph = PhotographBeside(BackgroundTask::start(work));
                self.report(format!("looking for the picture on {name}"));
            }
            Err(error) => self.report(format!("no photograph can be held against this picture: {error}")),
        }
    }

    /// Takes in where the picture was found.
    pub(crate) fn poll_photograph(&mut self) {
        if !self.photograph.0.poll() {
            return;
        }
        match self.photograph.0.result() {
            Some(Ok(photograph)) => {
                self.message = Some(photograph.words.clone());
                self.inspection.set_board_view(BoardView::Photograph);
            }
            Some(Err(error)) => {
                self.files.problem = Some(error.clone());
                self.photograph = PhotographBeside::default();
            }
            None => {}
        }
    }

    /// Whether the picture is still being looked for on a photograph.
    pub(crate) fn looks_for_photograph(&self) -> bool {
        self.photograph.is_looked_for()
    }

    /// Whether a photograph stands beside the board, or could.
    #[must_use]
    pub fn has_photograph(&self) -> bool {
        self.photograph.picture().is_some()
    }
}
