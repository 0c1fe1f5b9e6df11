//! Where the picture's edges are, against where its content lies.
//!
//! Content tells the shape of the picture on the tube, but not whether all of it has been fetched a line too early. The
//! edge of the active area against the border does.

use crate::expected::Expected;
use crate::register::Pyramid;
use crate::warp::{Point, Warp};

/// An edge found: picture pixels that it lies further right or down than the content says.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Edge {
    pub offset: f64,
    /// How far the parts of the edge disagree about it.
    pub spread: f64,
}

/// The edges, where they stand out from the border: left, right, top, bottom.
pub(crate) type Edges = [Option<Edge>; 4];

/// Picture pixels to either side in which an edge is looked for.
const REACH: f64 = 6.0;
/// Steps of a picture pixel.
const STEPS: f64 = 5.0;
/// Parts an edge is looked at in.
const PARTS: usize = 10;

pub(crate) fn edges(expected: &Expected, pyramid: &Pyramid, warp: &Warp) -> Edges {
    edges_within(expected, pyramid, warp, REACH)
}

/// The same, looked for in this many picture pixels to either side.
pub(crate) fn edges_within(expected: &Expected, pyramid: &Pyramid, warp: &Warp, reach: f64) -> Edges {
    [false, true]
        .map(|far| edge(expected, pyramid, warp, Side { side: true, far, reach }))
        .into_iter()
        .chain([false, true].map(|far| edge(expected, pyramid, warp, Side { side: false, far, reach })))
        .collect::<Vec<_>>()
        .try_into()
        .unwrap_or([None; 4])
}

/// One edge: of the sides, or of top and bottom; the near or the far one; and how far it is looked for.
#[derive(Clone, Copy)]
struct Side {
    side: bool,
    far: bool,
    reach: f64,
}

fn edge(expected: &Expected, pyramid: &Pyramid, warp: &Warp, Side { side, far, reach }: Side) -> Option<Edge> {
    let (width, height) = (expected.size().0 as f64, expected.size().1 as f64);
    let (across, along) = if side { (width, height) } else { (height, width) };
    let scale = warp.scale();
    let (level, factor) = pyramid.for_step(if side { scale.0 } else { scale.1 } / 1.5);
    let place = |into: f64, at: f64| -> Point {
        let from_edge = if far { across - into } else { into };
        if side { (from_edge, at) } else { (at, from_edge) }
    };
    let inside = |(x, y): Point| {
        let margin = 1.0;
        x > margin && y > margin && x < level.width as f64 - margin && y < level.height as f64 - margin
    };
    let count = (2.0 * reach * STEPS) as usize + 1;
    let mut offsets = Vec::new();
    for part in 0..PARTS {
        // The mean course of brightness across this part of the edge, weighted by how much there is of a step.
        let mut course = vec![0.0_f64; count];
        let mut weights = 0.0;
        let (from, to) = ((part as f64 + 0.1) * along / PARTS as f64, (part as f64 + 0.9) * along / PARTS as f64);
        let samples = 24;
        for sample in 0..samples {
            let at = from + (to - from) * (f64::from(sample) + 0.5) / f64::from(samples);
            let places = (0..count).map(|step| warp.at(place(step as f64 / STEPS - reach, at)));
            let places: Vec<Point> = places.map(|(x, y)| (x / factor, y / factor)).collect();
            if !places.iter().copied().all(inside) {
                continue;
            }
            let values: Vec<f64> = places.iter().map(|(x, y)| f64::from(level.sample(*x as f32, *y as f32))).collect();
            let mean = |from: f64, to: f64| {
                let range = ((from + reach) * STEPS) as usize..=((to + reach) * STEPS) as usize;
                let length = range.clone().count() as f64;
                values[range].iter().sum::<f64>() / length
            };
            let (out, inner) = (mean(-reach, 3.0 - reach), mean(reach - 4.5, reach - 1.5));
            let step = inner - out;
            if step.abs() < LEAST_STEP {
                continue;
            }
            course.iter_mut().zip(&values).for_each(|(sum, value)| *sum += (value - out) * step.signum());
            weights += step.abs();
        }
        if weights < LEAST_STEP * 6.0 {
            continue;
        }
        if let Some(at) = crossing(&course, weights / 2.0) {
            // What is border and what is content is known better now.
            let near = |from: f64, to: f64| {
                let place = |into: f64| ((at + into * STEPS).round().max(0.0) as usize).min(count - 1);
                let range = place(from)..=place(to);
                course[range.clone()].iter().sum::<f64>() / range.count() as f64
            };
            let (out, inner) = (near(-4.5, -1.5), near(1.5, 4.5));
            let at = crossing(&course, (out + inner) / 2.0).unwrap_or(at);
            let into = at / STEPS - reach;
            offsets.push(if far { -into } else { into });
        }
    }
    if offsets.len() < 4 {
        return None;
    }
    offsets.sort_by(f64::total_cmp);
    let offset = offsets[offsets.len() / 2];
    let mut away: Vec<f64> = offsets.iter().map(|value| (value - offset).abs()).collect();
    away.sort_by(f64::total_cmp);
    Some(Edge { offset, spread: away[away.len() / 2] })
}

/// From the border inwards: the step of a course at which a level is first reached for good.
fn crossing(course: &[f64], level: f64) -> Option<f64> {
    let stays = |at: usize| course[at..(at + 6).min(course.len())].iter().all(|value| *value > 0.8 * level);
    let at = (1..course.len()).find(|at| course[*at] >= level && course[at - 1] < level && stays(*at))?;
    let share = (level - course[at - 1]) / (course[at] - course[at - 1]).max(1e-9);
    Some(at as f64 - 1.0 + share)
}

/// The least step of brightness that makes an edge.
const LEAST_STEP: f64 = 12.0;

/// By how many pixels and lines the content stands beside the frame of the active area: the whole of it was fetched from
/// elsewhere. Zero where the edges do not say so clearly.
pub(crate) fn content_moved(edges: &Edges) -> Point {
    let both = |near: Option<Edge>, far: Option<Edge>, least: f64| match (near, far) {
        (Some(near), Some(far)) => {
            let (middle, apart) = ((near.offset + far.offset) / 2.0, (near.offset - far.offset).abs());
            // Memory moves by whole pixels and lines: what lies between is a picture laid badly.
            let whole = (middle - middle.round()).abs() < 0.2;
            let sure = near.spread.max(far.spread) < 0.5 && apart < 0.6 && whole;
            if sure && middle.abs() > least { middle.round() } else { 0.0 }
        }
        _ => 0.0,
    };
    let [left, right, top, bottom] = *edges;
    // Lines that jitter move the mean of a side, too.
    (both(left, right, 1.4), both(top, bottom, 0.6))
}
