//! From captures of one step to what was found of it.

use thiserror::Error;

use crate::bands::{DarkBand, bands};
use crate::capture::{Capture, ReducedCapture};
use crate::edges::{content_moved, edges};
use crate::expected::Expected;
use crate::light::{Blur, Colour, LightTables, blurred};
use crate::lines::{self, Finding, LineEvidence};
use crate::locate::locate;
use crate::register::{ExpectedGrid, NEAR, NEAREST, Pyramid};
use crate::view::{PreparedCapture, rectified};
use crate::warp::{Point, Warp};

/// Why a capture cannot be measured.
#[derive(Clone, Copy, Debug, PartialEq, Error)]
#[non_exhaustive]
pub enum MeasureError {
    /// It shows something else, or the picture cannot be made out.
    #[error(
        "agreement with the picture {found:.2}, allowed {LEAST_AGREEMENT:.2} and more: it shows something else, or too little of it"
    )]
    SomethingElse {
        /// Agreement, 1 where the capture and the picture are the same.
        found: f64,
    },
    /// The picture is there, but so small that its pixels run together.
    #[error("a picture pixel is {found:.2} capture pixels, allowed {LEAST_SCALE:.1} and more: go nearer")]
    TooSmall {
        /// Capture pixels a picture pixel is wide or high, the lesser.
        found: f64,
    },
    /// There was no capture.
    #[error("no capture, allowed one or more")]
    None,
}

/// Agreement below which a capture is taken to show something else.
pub const LEAST_AGREEMENT: f64 = 0.4;
/// Capture pixels that a picture pixel needs, either way.
const LEAST_SCALE: f64 = 0.9;
/// Capture pixels that are kept for a picture pixel.
const KEPT_SCALE: f64 = 2.5;
/// The grid on which places are fitted last.
const FINE: u32 = 3;
/// The longest side on which the picture is looked for.
pub(crate) const SEARCHED_SIDE: u32 = 1600;

/// Where the picture lies in a capture, and how well that is known.
#[derive(Clone, Debug, PartialEq)]
pub struct Geometry {
    warp: Warp,
    /// Corners of the active area in capture pixels: upper left, upper right, lower right, lower left.
    pub corners: [Point; 4],
    /// Capture pixels a picture pixel is wide and high, in the middle.
    pub scale: Point,
    /// How far the parts of the picture still lie beside their places, in picture pixels: the median.
    pub residual: Option<f64>,
    /// The same, of the worst tenth.
    pub worst_residual: Option<f64>,
    /// Agreement of capture and picture, up to 1.
    pub agreement: f64,
    /// By how many pixels and lines the content stands left of and above its place in the frame, as a whole.
    pub content_moved: Point,
    /// Picture pixels by which edges of the active area lie right of, or below, where the content alone says: left, right,
    /// top, bottom, where they stand out from the border.
    pub edges: [Option<f64>; 4],
}

impl Geometry {
    /// The same once the picture was laid anew, after the content had been found to stand elsewhere as a whole.
    fn after(mut self, before: &Self) -> Self {
        self.content_moved.0 += before.content_moved.0;
        self.content_moved.1 += before.content_moved.1;
        self
    }

    /// Where a place of the picture, in its pixels, lies in the capture.
    #[must_use]
    pub fn place(&self, at: Point) -> Point {
        self.warp.at(at)
    }
}

/// What is known of one capture.
#[derive(Clone, Debug, PartialEq)]
pub struct CaptureReport {
    /// Where the picture lies.
    pub geometry: Geometry,
    /// Standard deviations of the blur, in picture pixels across and lines down.
    pub blur: Point,
    /// Usual error of a number of the capture (0 to 255).
    pub noise: f64,
    /// Picture lines that are much darker than those elsewhere: the exposure shows part of a frame.
    pub dark_lines: usize,
    /// Dark bands across the picture: the exposure shows part of two frames.
    pub bands: Vec<DarkBand>,
}

/// What was found in captures of one step.
#[derive(Clone, Debug, PartialEq)]
pub struct Measurement {
    /// Each capture.
    pub captures: Vec<CaptureReport>,
    /// Each picture line from the top.
    pub lines: Vec<LineEvidence>,
    /// Channels (red, green, blue) that the captures lack altogether though the picture has them.
    pub missing: [bool; 3],
}

/// Finds the picture in a capture.
///
/// # Errors
///
/// [`MeasureError`] where it is not there, or too small.
pub fn find(expected: &Expected, capture: &Capture) -> Result<Geometry, MeasureError> {
    let pyramid = pyramid(capture);
    let nothing = MeasureError::SomethingElse { found: 0.0 };
    let place = locate(expected, &pyramid).ok_or(nothing)?;
    let (warp, agreement) = find_from(expected, &pyramid, place.warp)?;
    Ok(geometry_of(expected, &pyramid, warp, agreement))
}

/// Lays the picture over a capture from a rough place on; how it lies, and the agreement.
pub(crate) fn find_from(expected: &Expected, pyramid: &Pyramid, mut warp: Warp) -> Result<(Warp, f64), MeasureError> {
    let middle = ExpectedGrid::new(expected, 2);
    middle.fit_perspective(pyramid, &mut warp, 8);
    middle.fit_bend(pyramid, &mut warp, 3, (8, NEAR));
    let agreement = middle.agreement(pyramid, &warp);
    if agreement < LEAST_AGREEMENT {
        return Err(MeasureError::SomethingElse { found: agreement });
    }
    let fine = ExpectedGrid::new(expected, FINE);
    fine.fit_bend(pyramid, &mut warp, 3, (8, NEAR));
    let scale = warp.scale();
    let least = scale.0.min(scale.1);
    if least < LEAST_SCALE {
        return Err(MeasureError::TooSmall { found: least });
    }
    Ok((warp, agreement))
}

/// Betters a warp that lies well already.
pub(crate) fn refit(expected: &Expected, pyramid: &Pyramid, warp: &mut Warp) {
    ExpectedGrid::new(expected, FINE).fit_bend(pyramid, warp, 3, (4, NEAR));
}

/// What a warp that [`find_from`] gave says.
pub(crate) fn geometry_of(expected: &Expected, pyramid: &Pyramid, warp: Warp, agreement: f64) -> Geometry {
    geometry(expected, pyramid, &ExpectedGrid::new(expected, FINE), warp, agreement)
}

pub(crate) fn pyramid(capture: &Capture) -> Pyramid {
    let longest = capture.image().width().max(capture.image().height());
    Pyramid::new(&capture.reduced(longest.div_ceil(SEARCHED_SIDE)))
}

/// What a warp says, held against the edges of the active area.
fn geometry(expected: &Expected, pyramid: &Pyramid, fine: &ExpectedGrid, warp: Warp, agreement: f64) -> Geometry {
    let mut residuals = fine.residuals(pyramid, &warp);
    residuals.sort_by(f64::total_cmp);
    let of_share = |share: f64| {
        let last = residuals.len().checked_sub(1)?;
        residuals.get((last as f64 * share).round() as usize).copied()
    };
    let found = edges(expected, pyramid, &warp);
    let moved = content_moved(&found);
    let warp = warp.moved(moved);
    Geometry {
        corners: warp.corners(),
        scale: warp.scale(),
        residual: of_share(0.5),
        worst_residual: of_share(0.9),
        agreement,
        content_moved: moved,
        edges: found.map(|edge| edge.map(|edge| edge.offset)),
        warp,
    }
}

/// Measures captures of one step, all held against the same picture; captures in which it is not found are refused.
///
/// # Errors
///
/// [`MeasureError`] where there is none, with the number of the capture that was refused otherwise.
pub fn measure(expected: &Expected, captures: &[Capture]) -> Result<Measurement, (usize, MeasureError)> {
    let geometries = captures.iter().enumerate().map(|(at, one)| find(expected, one).map_err(|error| (at, error)));
    let geometries = geometries.collect::<Result<Vec<_>, _>>()?;
    measure_at(expected, captures, geometries).ok_or((0, MeasureError::None))
}

/// Measures captures whose picture has been found; `None` without any.
#[must_use]
pub fn measure_at(expected: &Expected, captures: &[Capture], geometries: Vec<Geometry>) -> Option<Measurement> {
    let tables = LightTables::new();
    let mut geometries = geometries;
    let views = |geometries: &[Geometry], blurs: Vec<Option<Blur>>| -> Vec<PreparedCapture> {
        let seen = captures.iter().zip(geometries).zip(blurs);
        seen.map(|((capture, geometry), blur)| {
            PreparedCapture::new(rectified(expected, &kept(capture, geometry), &geometry.warp), expected, blur, &tables)
        })
        .collect()
    };
    let mut read = views(&geometries, vec![None; captures.len()]);
    if read.is_empty() {
        return None;
    }
    for round in 0..ROUNDS {
        // What was shown, as far as it is known, and blurred as the capture is, tells better where the picture lies than
        // what was meant.
        let shown = lines::shown(expected, &read, &tables);
        let better = captures.iter().zip(geometries).zip(&read);
        geometries =
            better.map(|((one, geometry), view)| laid_anew(expected, one, geometry, view, &shown, &tables)).collect();
        read = views(&geometries, read.into_iter().map(|view| Some(view.blur)).collect());
        let rough = |geometry: &Geometry| geometry.worst_residual.is_none_or(|pixels| pixels > ROUGH_RESIDUAL);
        if round + 1 < ROUNDS && !geometries.iter().any(rough) {
            break;
        }
    }
    let mut views = read;
    let mut lines = lines::read(expected, &mut views, &tables);
    let missing = missing(expected, &views);
    if missing.contains(&true) {
        for line in lines.iter_mut().filter(|line| line.finding == Finding::AsMeant) {
            line.finding = Finding::WrongColours;
        }
    }
    let captures = views.iter().zip(geometries).map(|(view, geometry)| {
        let gain = view.line_gain();
        CaptureReport {
            geometry,
            blur: view.blur.sigma,
            noise: view.noise(),
            dark_lines: gain.iter().filter(|gain| **gain < 0.4).count(),
            bands: bands(&view.line_light()),
        }
    });
    Some(Measurement { captures: captures.collect(), lines, missing })
}

/// Lays the picture over a capture anew, by what was shown.
fn laid_anew(
    expected: &Expected,
    capture: &Capture,
    geometry: Geometry,
    view: &PreparedCapture,
    shown: &[Colour],
    tables: &LightTables,
) -> Geometry {
    let coded = blurred(shown, expected.size(), tables.light(expected.border()), &view.blur, tables);
    let target = ExpectedGrid::of_shown(expected.size(), &coded, FINE);
    let pyramid = pyramid(capture);
    let mut warp = geometry.warp.clone();
    target.fit_bend(&pyramid, &mut warp, 3, (3, NEAREST));
    target.fit_bend(&pyramid, &mut warp, 5, (6, NEAREST));
    if target.agreement(&pyramid, &warp) < target.agreement(&pyramid, &geometry.warp) {
        return geometry;
    }
    self::geometry(expected, &pyramid, &target, warp, geometry.agreement).after(&geometry)
}

/// Times that the picture is laid anew at most.
const ROUNDS: usize = 2;
/// Picture pixels of the worst tenth of the residuals from which once is not enough.
const ROUGH_RESIDUAL: f64 = 0.12;

/// A capture with as many pixels as the picture's need.
fn kept(capture: &Capture, geometry: &Geometry) -> ReducedCapture {
    let least = geometry.scale.0.min(geometry.scale.1);
    capture.reduced((least / KEPT_SCALE).floor().max(1.0) as u32)
}

/// Channels that answer to nothing though the picture would have them do so.
fn missing(expected: &Expected, views: &[PreparedCapture]) -> [bool; 3] {
    let (width, height) = expected.size();
    std::array::from_fn(|channel| {
        // How far the channel goes its own way in the picture.
        let pixels = (0..height).flat_map(|line| expected.line(line));
        let own = |pixel: &crate::Rgb8| {
            let others = f64::from(pixel[(channel + 1) % 3]) + f64::from(pixel[(channel + 2) % 3]);
            f64::from(pixel[channel]) - others / 2.0
        };
        let count = (width * height) as f64;
        let mean = pixels.clone().map(own).sum::<f64>() / count;
        let apart = (pixels.map(|pixel| (own(pixel) - mean).powi(2)).sum::<f64>() / count).sqrt();
        let silent = |view: &PreparedCapture| {
            let least = |response: [f64; 3], share: f64| {
                response[channel] < share * response.into_iter().fold(f64::NEG_INFINITY, f64::max)
            };
            // In a picture of greys it is not known to which channel one answers, but that it answers.
            least(view.own_response(), 0.12) && least(view.white_response(), 0.5)
        };
        apart > LEAST_OWN && views.iter().all(silent)
    })
}

/// How far a channel must go its own way in the picture (standard deviation, 0 to 255) for its lack to be noticed.
const LEAST_OWN: f64 = 10.0;
