//! Reading the screen: what captures and photographs of a real screen show, line by line.
//!
//! **In** come an [`Expected`] picture (what the bench says the plain board shows, with the memory behind it) and
//! [`Capture`]s of one step: frames of a capture device, or photographs of a tube. **Out** comes a [`Measurement`]: where the
//! picture lies in each capture and how well that is known, and for each picture line what it shows, with likelihoods.
//!
//! ```text
//! file ──► Capture ─┐
//!                   ├─► find: Geometry ─► rectified, light, blur, noise ─► lines: LineEvidence ─► annotated
//! board ─► Expected ┘       │
//!                           └─► refused: it shows something else
//! ```
//!
//! * [`find()`] lays the picture over the capture: a perspective and a smooth bend, fitted coarse to fine, to a fraction of a
//!   picture pixel where the capture allows it. What is damaged does not pull.
//! * [`find_near()`] does so from corners that somebody pointed out.
//! * [`which()`] tells which step of a register a capture shows, where that is not known; [`which_corner()`] which number stands
//!   in its corner.
//! * [`measure()`] fits how colours come out (blur, colour, uneven light, noise) and then weighs for each line whether it is as
//!   meant, displaced, from elsewhere in memory, in wrong colours, or something else. *Could not tell* is an answer.
//!
//! Likelihoods are natural logarithms against *anything at all*: positive where the capture speaks for it.
//!
//! ```
//! use backporch_measure::{Capture, Expected, Finding, measure};
//! use image::{Rgb, RgbImage};
//!
//! // A picture with shapes in it, and a capture of it, three times as large, in a dark frame.
//! let pixel = |x: usize, y: usize| [(x * 7 % 256) as u8, (x / 16 * y * 11 % 256) as u8, (y * 5 % 256) as u8];
//! let pixels = (0..60).flat_map(|y| (0..80).map(move |x| pixel(x, y))).collect();
//! let expected = Expected::new((80, 60), pixels, [0; 3], None)?;
//! let capture = RgbImage::from_fn(300, 240, |x, y| match (x.checked_sub(30), y.checked_sub(30)) {
//!     (Some(x), Some(y)) if x < 240 && y < 180 => Rgb(pixel(x as usize / 3, y as usize / 3)),
//!     _ => Rgb([0; 3]),
//! });
//! let found = measure(&expected, &[Capture::from_image(capture)?]).map_err(|(_, error)| error)?;
//! assert!(found.captures[0].geometry.residual.is_some_and(|pixels| pixels < 0.2));
//! let as_meant = found.lines.iter().filter(|line| line.finding == Finding::AsMeant).count();
//! assert!(as_meant >= 54, "{as_meant} of 60 lines");
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```
//!
//! Nothing here knows of boards, registers, faults or files.
#![forbid(unsafe_code)]

mod annotate;
mod bands;
mod capture;
mod codes;
mod corner;
mod edges;
mod expected;
mod least_squares;
mod light;
mod lines;
mod locate;
mod measurement;
mod plane;
mod register;
mod steps;
mod view;
mod vote;
mod warp;

pub use annotate::{LONGEST_DRAWN, annotated, colour};
pub use bands::DarkBand;
pub use capture::{
    Capture, CaptureError, ENDINGS, LONGEST_SIDE, MOST_FILE_BYTES, MOST_FRAMES, MOST_PIXELS, names_capture,
};
pub use corner::{Corner, FoundCorner, which_corner};
pub use expected::{Expected, ExpectedError, MemoryImage, Rgb8};
pub use lines::{Finding, Likelihoods, LineEvidence, Stretch, StretchContent};
pub use measurement::{
    CaptureReport, Geometry, LEAST_AGREEMENT, MeasureError, Measurement, find, find_near, measure, measure_at,
};
pub use steps::{FoundStep, Rival, StepPictures, UndecidedStep, which};
pub use warp::Point;
