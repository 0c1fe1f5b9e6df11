//! From captures of one step to what was found of it.

use thiserror::Error;

use crate::bands::{DarkBand, bands};
use crate::capture::{Capture, ReducedCapture};
use crate::edges::{Edges, content_moved, edges};
use crate::expected::Expected;
use crate::light::{Blur, Colour, LightTables, blurred};
use crate::lines::{self, Finding, LineEvidence};
use crate::locate::locate;
use crate::register::{ExpectedGrid, NEAR, NEAREST, Pyramid};
use crate::view::{PreparedCapture, rectified};
use crate::vote::voted;
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
    /// What of the picture would lie in the capture agrees too little: where part of it is cut off, anything fits sooner.
    #[error(
        "agreement {found:.2} with the {:.0} % of the picture that would lie in it, allowed {LEAST_CUT_OFF:.2} and more: it shows something else, or too little of it",
        100.0 * inside
    )]
    CutOff {
        /// Agreement, 1 where the capture and the picture are the same.
        found: f64,
        /// Share of the picture that would lie in the capture.
        inside: f64,
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
    /// Corners that are not those of a screen seen from in front.
    #[error(
        "corners that span no picture, allowed those of a screen: upper left, upper right, lower right, lower left"
    )]
    Corners,
    /// By what it shows, the picture lies elsewhere than its corners were said to be.
    #[error("what it shows lies {found:.0} capture pixels beside these corners, allowed {allowed:.0}")]
    Beside {
        /// Capture pixels of the corner that is farthest off.
        found: f64,
        /// Capture pixels that are allowed.
        allowed: f64,
    },
}

/// Agreement below which a capture is taken to show something else.
pub const LEAST_AGREEMENT: f64 = 0.4;
/// The same where more than a little of the picture is cut off, and how much that is.
const LEAST_CUT_OFF: f64 = 0.6;
const LITTLE: f64 = 0.03;
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

    /// A flat picture of that size with its corners at these places of a capture (upper left, upper right, lower right,
    /// lower left), whatever the capture shows; `None` where they are not those of a screen seen from in front.
    #[must_use]
    pub fn of_corners(size: (usize, usize), corners: [Point; 4]) -> Option<Self> {
        let warp = Warp::of_corners(size, corners)?;
        Some(Self {
            corners: warp.corners(),
            scale: warp.scale(),
            residual: None,
            worst_residual: None,
            agreement: 0.0,
            content_moved: (0.0, 0.0),
            edges: [None; 4],
            warp,
        })
    }

    /// Whether opposite edges of the active area lie beside where the content says, to the same side, and nothing brings them
    /// together: then nobody knows whether the content stands in its place.
    #[must_use]
    pub fn is_contradicted(&self) -> bool {
        let [left, right, top, bottom] = self.edges;
        let are_beside = |one: Option<f64>, other: Option<f64>| {
            one.zip(other).is_some_and(|(one, other)| one * other > 0.0 && one.abs().min(other.abs()) >= CONTRADICTS)
        };
        are_beside(left, right) || are_beside(top, bottom)
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
    /// Picture lines that the capture does not hold, or a tenth of which and more lies outside of it.
    pub cut_off_lines: usize,
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
    let (mut warp, agreement) = find_from(expected, &pyramid, place.warp)?;
    if let Some(voted) = voted(expected, &pyramid, &warp) {
        warp = voted;
    }
    Ok(geometry_of(expected, &pyramid, warp, agreement))
}

/// Finds the picture in a capture near these corners, which somebody pointed out: upper left, upper right, lower right,
/// lower left, in capture pixels.
///
/// # Errors
///
/// [`MeasureError`] where it is not there: something else is shown, or it lies elsewhere.
pub fn find_near(expected: &Expected, capture: &Capture, corners: [Point; 4]) -> Result<Geometry, MeasureError> {
    let pyramid = pyramid(capture);
    let mut warp = Warp::of_corners(expected.size(), corners).ok_or(MeasureError::Corners)?;
    let far = |(a, b): (&Point, &Point)| (a.0 - b.0).hypot(a.1 - b.1);
    let farthest = |found: &[Point; 4]| found.iter().zip(&corners).map(far).fold(0.0, f64::max);
    let allowed = NEAR_CORNERS * far((&corners[0], &corners[2]));
    let beside = |found: f64| if found > allowed { Err(MeasureError::Beside { found, allowed }) } else { Ok(()) };
    let grid = ExpectedGrid::new(expected, 1);
    grid.fit_perspective(&pyramid, &mut warp, 8);
    let agreement = grid.agreement(&pyramid, &warp);
    // A bent picture fits almost anywhere a little: where it fits better by far, it is.
    if let Some(elsewhere) = locate(expected, &pyramid).filter(|place| place.agreement > agreement + BETTER) {
        beside(farthest(&elsewhere.warp.corners()))?;
        warp = elsewhere.warp;
    }
    let (warp, agreement) = find_from(expected, &pyramid, warp)?;
    let geometry = geometry_of(expected, &pyramid, warp, agreement);
    beside(farthest(&geometry.corners))?;
    Ok(geometry)
}

/// Agreement by which a place must be better to be preferred to one that was pointed out.
const BETTER: f64 = 0.1;
/// How far from corners that were pointed out those that are found may lie: a share of the picture's diagonal.
const NEAR_CORNERS: f64 = 0.05;

/// Lays the picture over a capture from a rough place on; how it lies, and the agreement.
pub(crate) fn find_from(expected: &Expected, pyramid: &Pyramid, mut warp: Warp) -> Result<(Warp, f64), MeasureError> {
    let middle = ExpectedGrid::new(expected, 2);
    middle.fit_perspective(pyramid, &mut warp, 8);
    middle.fit_bend(pyramid, &mut warp, 3, (8, NEAR));
    let agreement = middle.agreement(pyramid, &warp);
    if agreement < LEAST_AGREEMENT {
        return Err(MeasureError::SomethingElse { found: agreement });
    }
    let inside = middle.share_inside(pyramid, &warp);
    if inside < 1.0 - LITTLE && agreement < LEAST_CUT_OFF {
        return Err(MeasureError::CutOff { found: agreement, inside });
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

/// What a warp that [`find_from`] gave says; where its edges contradict its content, the content is tried elsewhere.
pub(crate) fn geometry_of(expected: &Expected, pyramid: &Pyramid, warp: Warp, agreement: f64) -> Geometry {
    let fine = ExpectedGrid::new(expected, FINE);
    match elsewhere(expected, pyramid, &fine, &warp) {
        Some(Elsewhere { moved, warp, shown }) => {
            let geometry = geometry(expected, pyramid, &shown, warp, agreement);
            let (right, down) = geometry.content_moved;
            Geometry { content_moved: (right + moved.0 as f64, down + moved.1 as f64), ..geometry }
        }
        None => geometry(expected, pyramid, &fine, warp, agreement),
    }
}

/// Content that was fetched from elsewhere as a whole.
struct Elsewhere {
    /// Pixels and lines by which it stands left of and above its place.
    moved: (i64, i64),
    warp: Warp,
    shown: ExpectedGrid,
}

/// Whether all of the content stands left of or above its place. Smooth fits hide that: at the edges, where what was meant
/// is missing, they are drawn towards it. With the right content all edges lie where they should.
fn elsewhere(expected: &Expected, pyramid: &Pyramid, fine: &ExpectedGrid, warp: &Warp) -> Option<Elsewhere> {
    let offset = |edges: &Edges, side: usize| edges[side].map(|edge| edge.offset);
    let worst = |edges: &Edges, side: usize| Some(offset(edges, side)?.abs().max(offset(edges, side + 1)?.abs()));
    let found = edges(expected, pyramid, warp);
    let suspicious = |side: usize| Some((side, worst(&found, side).filter(|worst| *worst > SUSPICIOUS)?));
    let sides: Vec<(usize, f64)> = [0, 2].into_iter().filter_map(suspicious).collect();
    if sides.is_empty() {
        return None;
    }
    let agreement = fine.agreement(pyramid, warp);
    let mut best: Option<(f64, Elsewhere)> = None;
    for (side, before) in sides {
        let offsets = [offset(&found, side)?, offset(&found, side + 1)?];
        let least = offsets[0].min(offsets[1]).floor() as i64;
        let most = offsets[0].max(offsets[1]).ceil() as i64;
        for by in (least..=most).filter(|by| *by != 0) {
            let moved = if side == 0 { (by, 0) } else { (0, by) };
            let shown = ExpectedGrid::new(&expected.moved_on(moved.0, moved.1), FINE);
            let mut warp = warp.moved((moved.0 as f64, moved.1 as f64));
            shown.fit_bend(pyramid, &mut warp, 3, (6, NEAR));
            let Some(after) = worst(&edges(expected, pyramid, &warp), side) else { continue };
            let fits = after < SUSPICIOUS && after + CLEARER < before;
            if fits
                && shown.agreement(pyramid, &warp) > agreement
                && best.as_ref().is_none_or(|(best, _)| after < *best)
            {
                best = Some((after, Elsewhere { moved, warp, shown }));
            }
        }
    }
    best.map(|(_, elsewhere)| elsewhere)
}

/// Picture pixels by which an edge must lie beside its place for content to be tried elsewhere, and by how much better the
/// edges must lie then.
const SUSPICIOUS: f64 = 0.6;
const CLEARER: f64 = 0.3;

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
            // Blur and light are known by what is shown, wherever that comes from.
            let (right, down) = geometry.content_moved;
            let moved = (right != 0.0 || down != 0.0).then(|| expected.moved_on(right as i64, down as i64));
            let seen = rectified(expected, &kept(capture, geometry), &geometry.warp);
            PreparedCapture::new(seen, moved.as_ref().unwrap_or(expected), blur, &tables)
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
    let seen: Vec<Vec<f64>> =
        captures.iter().zip(&geometries).map(|(one, geometry)| seen_of_lines(expected, one, geometry)).collect();
    for (line, evidence) in lines.iter_mut().enumerate() {
        // What is cut off may show anything.
        let most = seen.iter().map(|seen| seen[line]).fold(0.0, f64::max);
        if most < LEAST_SEEN && evidence.finding == Finding::AsMeant {
            evidence.withdraw();
        }
    }
    if geometries.iter().all(Geometry::is_contradicted) {
        lines.iter_mut().for_each(LineEvidence::withdraw);
    }
    let captures = views.iter().zip(geometries).zip(&seen).map(|((view, geometry), seen)| {
        let gain = view.line_gain();
        CaptureReport {
            geometry,
            cut_off_lines: seen.iter().filter(|seen| **seen < LEAST_SEEN).count(),
            blur: view.blur.sigma,
            noise: view.noise(),
            dark_lines: gain.iter().filter(|gain| **gain < 0.4).count(),
            bands: bands(&view.line_light()),
        }
    });
    Some(Measurement { captures: captures.collect(), lines, missing })
}

/// The share of each line that a capture holds.
fn seen_of_lines(expected: &Expected, capture: &Capture, geometry: &Geometry) -> Vec<f64> {
    let (width, height) = (f64::from(capture.image().width()), f64::from(capture.image().height()));
    let (pixels, lines) = expected.size();
    let is_seen = |x: usize, line: usize| {
        let (x, y) = geometry.place((x as f64 + 0.5, line as f64 + 0.5));
        x >= 0.0 && y >= 0.0 && x < width && y < height
    };
    let share = |line: usize| {
        let seen = (0..pixels).step_by(4).filter(|x| is_seen(*x, line)).count();
        seen as f64 / pixels.div_ceil(4) as f64
    };
    (0..lines).map(share).collect()
}

/// Picture pixels by which opposite edges must lie beside their places.
const CONTRADICTS: f64 = 0.5;

/// Share of a line that must be in the capture for it to be called as meant.
const LEAST_SEEN: f64 = 0.9;

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
pub(crate) fn kept(capture: &Capture, geometry: &Geometry) -> ReducedCapture {
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
