//! A photograph of the real screen, laid straight over the picture that the bench shows, to stand beside the board.
//!
//! Finding the picture on it may take a while, so it runs as a background task. Where that fails, or lays it badly, its
//! corners can be put in their places by hand, and it is found again from there.

use std::path::Path;
use std::sync::Arc;

use backporch_adapter::Rgba;
use backporch_input::{InputError, read_bytes};
use backporch_measure::{
    Capture, Expected, Geometry, MOST_FILE_BYTES, MeasureError, Point, find, find_near, names_capture,
};
use backporch_raster::{Picture, View};
use image::imageops;

use super::background::BackgroundTask;
use super::canvas::PhotographPictures;
use super::{BoardSide, BoardView, Session};

/// The longest side of a photograph as it is shown with its corners, in pixels.
const LONGEST: u32 = 1024;
/// Share of a photograph that is left free at least on each side of corners that nothing is known of.
const MARGIN: f64 = 0.1;
/// How far beyond a photograph a corner may lie: a share of its size.
const BEYOND: f64 = 0.5;

/// Whether a name is that of a picture file.
#[must_use]
pub fn names_photograph(name: &str) -> bool {
    names_capture(Path::new(name))
}

/// A corner of the picture on a photograph.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Corner {
    /// Upper left.
    UpperLeft,
    /// Upper right.
    UpperRight,
    /// Lower right.
    LowerRight,
    /// Lower left.
    LowerLeft,
}

impl Corner {
    /// All of them, clockwise.
    pub const ALL: [Self; 4] = [Self::UpperLeft, Self::UpperRight, Self::LowerRight, Self::LowerLeft];

    /// In words.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::UpperLeft => "upper left corner",
            Self::UpperRight => "upper right corner",
            Self::LowerRight => "lower right corner",
            Self::LowerLeft => "lower left corner",
        }
    }
}

/// A photograph, and where the picture lies on it.
#[derive(Clone, Debug)]
pub(crate) struct Photograph {
    name: String,
    capture: Arc<Capture>,
    geometry: Geometry,
    /// Where its corners were put since, in pixels of the photograph.
    moved: Option<[Point; 4]>,
    /// The picture's size.
    size: (usize, usize),
    /// What it shows in the place of every pixel of the picture.
    straight: Picture,
    /// The photograph as it was taken, and how many of its pixels one of these is.
    taken: Picture,
    times: f64,
}

/// A photograph that was looked at.
#[derive(Debug)]
struct LookedAt {
    photograph: Photograph,
    /// How well it is known where the picture lies, in words.
    words: String,
    /// Why the picture was not found on it.
    problem: Option<InputError>,
}

fn refused(name: &str, error: &dyn std::fmt::Display) -> InputError {
    InputError::new(name, error, "a capture or photograph of the picture that the bench shows")
}

impl Photograph {
    /// Opens a photograph and finds the picture on it.
    fn open(name: &str, expected: &Expected) -> Result<LookedAt, InputError> {
        let bytes = read_bytes(Path::new(name), MOST_FILE_BYTES)?;
        let captures = Capture::read(&bytes).map_err(|error| refused(name, &error))?;
        let Some(capture) = captures.into_iter().next() else {
            return Err(refused(name, &"no picture"));
        };
        let found = find(expected, &capture);
        let problem = found.as_ref().err().map(|error| refused(name, error));
        let Some(geometry) = found.ok().or_else(|| Geometry::of_corners(expected.size(), inside(&capture))) else {
            return Err(problem.unwrap_or_else(|| refused(name, &MeasureError::Corners)));
        };
        let image = capture.image();
        let factor = image.width().max(image.height()).div_ceil(LONGEST);
        let small = imageops::thumbnail(image, image.width() / factor, image.height() / factor);
        let taken = Picture {
            width: small.width(),
            height: small.height(),
            rgba: small.pixels().map(|pixel| opaque(pixel.0)).collect(),
        };
        let straight = straightened(expected.size(), &capture, &geometry);
        let words = match &problem {
            None => known(name, &geometry),
            Some(_) => format!("{name}: put the corners where they belong, then Enter"),
        };
        let times = f64::from(image.width()) / f64::from(taken.width.max(1));
        let (name, size, capture) = (name.to_string(), expected.size(), Arc::new(capture));
        let photograph = Self { name, capture, geometry, moved: None, size, straight, taken, times };
        Ok(LookedAt { photograph, words, problem })
    }

    /// Finds the picture again from where its corners are. Where it is not found there, it lies as the corners say.
    fn found_again(self, expected: &Expected) -> Result<LookedAt, InputError> {
        let (name, corners) = (self.name.clone(), self.corners());
        let (geometry, words) = match find_near(expected, &self.capture, corners) {
            Ok(geometry) => {
                let words = known(&name, &geometry);
                (geometry, words)
            }
            Err(error) => {
                let flat = Geometry::of_corners(expected.size(), corners);
                let flat = flat.ok_or_else(|| refused(&name, &MeasureError::Corners))?;
                (flat, format!("{name}: laid flat by its corners alone; {error}"))
            }
        };
        let straight = straightened(expected.size(), &self.capture, &geometry);
        let photograph = Self { geometry, moved: None, size: expected.size(), straight, ..self };
        Ok(LookedAt { photograph, words, problem: None })
    }

    fn corners(&self) -> [Point; 4] {
        self.moved.unwrap_or(self.geometry.corners)
    }

    /// Puts a corner at a place of the shown photograph, in its pixels.
    fn put(&mut self, corner: Corner, (x, y): Point) {
        let (width, height) = (f64::from(self.taken.width), f64::from(self.taken.height));
        let within = |at: f64, length: f64| at.clamp(-BEYOND * length, (1.0 + BEYOND) * length);
        let mut corners = self.corners();
        corners[corner as usize] = (within(x, width) * self.times, within(y, height) * self.times);
        self.moved = Some(corners);
    }

    /// The corners on the shown photograph.
    fn shown_corners(&self) -> [Point; 4] {
        self.corners().map(|(x, y)| (x / self.times, y / self.times))
    }

    /// The picture's edge on the shown photograph, from the upper left corner round to it again.
    fn shown_edge(&self) -> Vec<Point> {
        if self.moved.is_some() {
            let corners = self.shown_corners();
            return corners.into_iter().chain(corners.first().copied()).collect();
        }
        let (width, height) = (self.size.0 as f64, self.size.1 as f64);
        let ends = [(0.0, 0.0), (width, 0.0), (width, height), (0.0, height)];
        let places = (0..=4 * EDGE_STEPS).map(|step| {
            let (from, to) = (ends[step / EDGE_STEPS % 4], ends[(step / EDGE_STEPS + 1) % 4]);
            let share = (step % EDGE_STEPS) as f64 / EDGE_STEPS as f64;
            let (x, y) = self.geometry.place((from.0 + (to.0 - from.0) * share, from.1 + (to.1 - from.1) * share));
            (x / self.times, y / self.times)
        });
        places.collect()
    }
}

/// Corners in the middle of a capture, in the shape of a tube: somewhere to begin.
fn inside(capture: &Capture) -> [Point; 4] {
    let (width, height) = (f64::from(capture.image().width()), f64::from(capture.image().height()));
    let across = ((1.0 - 2.0 * MARGIN) * width).min((1.0 - 2.0 * MARGIN) * height * 4.0 / 3.0);
    let (left, top) = ((width - across) / 2.0, (height - across * 0.75) / 2.0);
    let (right, bottom) = (width - left, height - top);
    [(left, top), (right, top), (right, bottom), (left, bottom)]
}

/// Straight pieces of which a side of the picture is drawn.
const EDGE_STEPS: usize = 24;

/// How well it is known where the picture lies.
fn known(name: &str, geometry: &Geometry) -> String {
    let beside = geometry.residual.map(|pixels| format!(", places to {pixels:.2} pixels")).unwrap_or_default();
    format!("{name}: found on it{beside}")
}

fn opaque([red, green, blue]: [u8; 3]) -> Rgba {
    [red, green, blue, 255]
}

/// What a capture shows in the place of each pixel.
fn straightened((width, height): (usize, usize), capture: &Capture, geometry: &Geometry) -> Picture {
    let image = capture.image();
    let shown = |x: usize, y: usize| -> Rgba {
        let (u, v) = geometry.place((x as f64 + 0.5, y as f64 + 0.5));
        let inside = u >= 0.0 && v >= 0.0 && u < f64::from(image.width()) && v < f64::from(image.height());
        if inside { opaque(image.get_pixel(u as u32, v as u32).0) } else { [0, 0, 0, 255] }
    };
    let pixels = (0..height).flat_map(|y| (0..width).map(move |x| (x, y))).map(|(x, y)| shown(x, y));
    Picture { width: width as u32, height: height as u32, rgba: pixels.collect() }
}

/// The photograph of a session, and the search for the picture on it.
#[derive(Debug, Default)]
pub(crate) struct PhotographBeside {
    shown: Option<Photograph>,
    search: BackgroundTask<Result<LookedAt, InputError>>,
}

impl PhotographBeside {
    pub fn pictures(&self) -> Option<PhotographPictures<'_>> {
        self.shown.as_ref().map(|one| PhotographPictures { straight: &one.straight, taken: &one.taken })
    }

    /// Whether the picture is still being looked for.
    pub fn is_looked_for(&self) -> bool {
        self.search.progress().is_some()
    }
}

impl Session {
    /// Lays a photograph of the real screen beside the board, once the picture is found on it: that of the plain
    /// board as it stands.
    pub fn open_photograph(&mut self, name: &str) {
        if let Some(expected) = self.expected_on_photograph() {
            let path = name.to_string();
            self.photograph.search = BackgroundTask::start(move |_| Photograph::open(&path, &expected));
            self.report(format!("looking for the picture on {name}"));
        }
    }

    /// Finds the picture on the photograph again, from where its corners are.
    pub fn find_from_corners(&mut self) {
        let Some(photograph) = self.photograph.shown.clone() else { return };
        if let Some(expected) = self.expected_on_photograph() {
            self.report(format!("looking for the picture on {} near its corners", photograph.name));
            self.photograph.search = BackgroundTask::start(move |_| photograph.found_again(&expected));
        }
    }

    /// What the plain board shows now; where nothing can be held against it, that is said.
    fn expected_on_photograph(&mut self) -> Option<Expected> {
        let picture = self.transport.frame(BoardSide::Plain).picture(View::Picture);
        let pixels = picture.rgba.iter().map(|[red, green, blue, _]| [*red, *green, *blue]).collect();
        let palette = self.transport.frame(BoardSide::Plain).palettes.last();
        let border = palette.map_or([0; 3], |palette| [palette.border[0], palette.border[1], palette.border[2]]);
        match Expected::new((picture.width as usize, picture.height as usize), pixels, border, None) {
            Ok(expected) => Some(expected),
            Err(error) => {
                self.report(format!("no photograph can be held against this picture: {error}"));
                None
            }
        }
    }

    /// Takes in where the picture was found.
    pub(crate) fn poll_photograph(&mut self) {
        if !self.photograph.search.poll() {
            return;
        }
        let BackgroundTask::Finished(result) = std::mem::take(&mut self.photograph.search) else { return };
        match result {
            Ok(LookedAt { photograph, words, problem }) => {
                // Whoever corrects corners goes on looking at them.
                let corrects = self.inspection.board_view() == BoardView::PhotographCorners;
                let view = if corrects || problem.is_some() {
                    BoardView::PhotographCorners
                } else if self.inspection.board_view() == BoardView::PhotographBlink {
                    BoardView::PhotographBlink
                } else {
                    BoardView::Photograph
                };
                self.photograph.shown = Some(photograph);
                self.message = Some(words);
                self.files.problem = problem;
                self.inspection.set_board_view(view);
            }
            Err(error) => self.files.problem = Some(error),
        }
    }

    /// Whether the picture is still being looked for on a photograph.
    #[must_use]
    pub fn looks_for_photograph(&self) -> bool {
        self.photograph.is_looked_for()
    }

    /// Whether a photograph stands beside the board, or could.
    #[must_use]
    pub fn has_photograph(&self) -> bool {
        self.photograph.shown.is_some()
    }

    /// The name of the photograph.
    #[must_use]
    pub fn photograph_name(&self) -> Option<&str> {
        self.photograph.shown.as_ref().map(|photograph| photograph.name.as_str())
    }

    /// The corners of the picture on the photograph as it is shown with them, in its pixels, clockwise from the upper left.
    #[must_use]
    pub fn photograph_corners(&self) -> Option<[Point; 4]> {
        self.photograph.shown.as_ref().map(Photograph::shown_corners)
    }

    /// The edge of the picture on it, from the upper left corner clockwise round to it again.
    #[must_use]
    pub fn photograph_edge(&self) -> Vec<Point> {
        self.photograph.shown.as_ref().map_or_else(Vec::new, Photograph::shown_edge)
    }

    /// Puts a corner of the picture at a place of the photograph; it is found from there by
    /// [`find_from_corners`](Self::find_from_corners).
    pub fn put_corner(&mut self, corner: Corner, to: Point) {
        if let Some(photograph) = &mut self.photograph.shown {
            photograph.put(corner, to);
            self.inspection.changed();
        }
    }

    /// Moves a corner by pixels of the photograph as it is shown.
    pub fn move_corner(&mut self, corner: Corner, right: i32, down: i32) {
        if let Some((x, y)) = self.photograph_corners().map(|corners| corners[corner as usize]) {
            self.put_corner(corner, (x + f64::from(right), y + f64::from(down)));
        }
    }
}
