//! Finds where on a capture the picture is, first roughly.
//!
//! Guesses come from what is brighter than its surroundings, from the capture as a whole, and, where none of these
//! leads anywhere, from trying the picture at many sizes and places. Each is bettered a little and judged by how far the
//! capture then agrees with the picture.

use crate::expected::Expected;
use crate::plane::Plane;
use crate::register::{ExpectedGrid, Pyramid};
use crate::warp::{Point, Warp};

/// A guess, and how far the capture agrees with it, -1 to 1.
pub(crate) struct ScoredGuess {
    pub warp: Warp,
    pub agreement: f64,
}

/// Agreement on the coarse grids from which a guess is taken to have found the picture.
const FOUND: f64 = 0.6;
/// Pixels across on which guesses are made.
const ROUGH: usize = 320;

/// The best place for the picture; `None` where nothing could be laid anywhere.
pub(crate) fn locate(expected: &Expected, pyramid: &Pyramid) -> Option<ScoredGuess> {
    let targets = [ExpectedGrid::new(expected, 0), ExpectedGrid::new(expected, 1)];
    let (rough, factor) = pyramid.of_width(ROUGH);
    let better = |corners: [Point; 4]| {
        let corners = corners.map(|(x, y)| (x * factor, y * factor));
        let mut warp = Warp::of_corners(expected.size(), corners)?;
        targets[0].fit_perspective(pyramid, &mut warp, 14);
        targets[1].fit_perspective(pyramid, &mut warp, 8);
        let agreement = targets[1].agreement(pyramid, &warp);
        Some(ScoredGuess { warp, agreement })
    };
    let best = |guesses: Vec<[Point; 4]>| {
        guesses.into_iter().filter_map(better).max_by(|a, b| a.agreement.total_cmp(&b.agreement))
    };
    let first = best(unseen(rough));
    if first.as_ref().is_some_and(|place| place.agreement > FOUND) {
        return first;
    }
    let mut found: Vec<ScoredGuess> = first.into_iter().collect();
    for guesses in [cut_off(expected, pyramid, &targets[0], rough, factor), searched(expected, rough)] {
        found.extend(best(guesses));
        if found.iter().any(|place| place.agreement > FOUND) {
            break;
        }
    }
    found.into_iter().max_by(|one, other| one.agreement.total_cmp(&other.agreement))
}

/// How much larger than the capture the picture is taken to be where it is cut off.
const LARGER: [f64; 3] = [1.1, 1.25, 1.5];
/// Of those places the best.
const KEPT: usize = 4;

/// The best places for a picture that the capture does not hold all of: larger than it, to either side or in the middle.
fn cut_off(
    expected: &Expected,
    pyramid: &Pyramid,
    target: &ExpectedGrid,
    plane: &Plane,
    factor: f64,
) -> Vec<[Point; 4]> {
    let (width, height) = (plane.width as f64, plane.height as f64);
    let sides = [0.0, 0.5, 1.0];
    let places = LARGER.into_iter().flat_map(|larger| {
        sides.into_iter().flat_map(move |right| sides.into_iter().map(move |down| (larger, right, down)))
    });
    let mut guesses: Vec<(f64, [Point; 4])> = places
        .filter_map(|(larger, right, down)| {
            let (across, high) = (width * larger, height * larger);
            let (x, y) = ((width - across) * right, (height - high) * down);
            let corners = [(x, y), (x + across, y), (x + across, y + high), (x, y + high)];
            let mut warp = Warp::of_corners(expected.size(), corners.map(|(x, y)| (x * factor, y * factor)))?;
            target.fit_perspective(pyramid, &mut warp, 6);
            Some((target.agreement(pyramid, &warp), warp.corners().map(|(x, y)| (x / factor, y / factor))))
        })
        .collect();
    guesses.sort_by(|(one, _), (other, _)| other.total_cmp(one));
    guesses.into_iter().take(KEPT).map(|(_, corners)| corners).collect()
}

/// Guesses that need no picture.
fn unseen(plane: &Plane) -> Vec<[Point; 4]> {
    let mut guesses = bright(plane);
    guesses.extend(whole(plane));
    guesses
}

/// Guesses of the corners in capture pixels where it is not known what the picture shows; none twice.
pub(crate) fn guesses(pyramid: &Pyramid) -> Vec<[Point; 4]> {
    let (rough, factor) = pyramid.of_width(ROUGH);
    let mut apart: Vec<[Point; 4]> = Vec::new();
    for corners in unseen(rough) {
        let near = |other: &[Point; 4]| {
            other.iter().zip(&corners).all(|(a, b)| (a.0 - b.0).abs().max((a.1 - b.1).abs()) < SAME_GUESS)
        };
        if !apart.iter().any(near) {
            apart.push(corners);
        }
    }
    apart.into_iter().map(|corners| corners.map(|(x, y)| (x * factor, y * factor))).collect()
}

/// Rough pixels within which the corners of two guesses are the same.
const SAME_GUESS: f64 = 3.0;

/// The corners of the largest bright parts, at several levels of brightness.
fn bright(plane: &Plane) -> Vec<[Point; 4]> {
    let smooth = plane.mean_around(1, 1);
    let mut values = smooth.data.clone();
    let at = |share: f64, values: &mut Vec<f32>| {
        let place = ((values.len() - 1) as f64 * share) as usize;
        *values.select_nth_unstable_by(place, f32::total_cmp).1
    };
    let (low, high) = (at(0.05, &mut values), at(0.97, &mut values));
    [0.08, 0.15, 0.25, 0.4, 0.55]
        .into_iter()
        .filter_map(|share| largest_part(&smooth, low + share * (high - low)))
        .collect()
}

/// The outermost corners of the largest connected part above a level.
fn largest_part(plane: &Plane, level: f32) -> Option<[Point; 4]> {
    let (width, height) = (plane.width, plane.height);
    let mut open: Vec<bool> = plane.data.iter().map(|value| *value > level).collect();
    let mut best: Option<(usize, [Point; 4])> = None;
    let mut stack = Vec::new();
    for seed in 0..open.len() {
        if !open[seed] {
            continue;
        }
        open[seed] = false;
        stack.push(seed);
        let mut size = 0;
        // Farthest to upper left, upper right, lower right, lower left.
        let mut corners = [(0.0, 0.0); 4];
        let mut far = [f64::NEG_INFINITY; 4];
        while let Some(at) = stack.pop() {
            size += 1;
            let (x, y) = (at % width, at / width);
            for (corner, (right, down)) in [(0.0, 0.0), (1.0, 0.0), (1.0, 1.0), (0.0, 1.0)].into_iter().enumerate() {
                let place = (x as f64 + right, y as f64 + down);
                let reach = (2.0 * right - 1.0) * place.0 + (2.0 * down - 1.0) * place.1;
                if reach > far[corner] {
                    far[corner] = reach;
                    corners[corner] = place;
                }
            }
            let mut visit = |x: usize, y: usize| {
                let next = y * width + x;
                if std::mem::take(&mut open[next]) {
                    stack.push(next);
                }
            };
            // Two pixels are bridged: dark lines and pixels do not part a picture.
            for step in 1..=2 {
                if x >= step {
                    visit(x - step, y);
                }
                if x + step < width {
                    visit(x + step, y);
                }
                if y >= step {
                    visit(x, y - step);
                }
                if y + step < height {
                    visit(x, y + step);
                }
            }
        }
        if best.as_ref().is_none_or(|(most, _)| size > *most) {
            best = Some((size, corners));
        }
    }
    best.filter(|(size, _)| *size * 50 > width * height).map(|(_, corners)| corners)
}

/// The whole capture, and the same with margins, as capture devices give them.
fn whole(plane: &Plane) -> Vec<[Point; 4]> {
    let (width, height) = (plane.width as f64, plane.height as f64);
    let inside = |across: f64, down: f64| {
        let (x, y) = (width * across, height * down);
        [(x, y), (width - x, y), (width - x, height - y), (x, height - y)]
    };
    [(0.0, 0.0), (0.05, 0.05), (0.1, 0.1), (0.1, 0.02), (0.17, 0.17)].map(|(x, y)| inside(x, y)).to_vec()
}

/// Cells of the small picture that is tried at many places.
const TRIED: (usize, usize) = (16, 12);

/// The best places for the picture among many sizes, shapes and positions.
fn searched(expected: &Expected, plane: &Plane) -> Vec<[Point; 4]> {
    let (mut plane, mut factor) = (plane.clone(), 1.0);
    while plane.width > ROUGH / 2 {
        plane = plane.halved();
        factor *= 2.0;
    }
    let (width, height) = expected.size();
    let brightness = |x: usize, y: usize| -> f32 { expected.line(y)[x].iter().map(|value| f32::from(*value)).sum() };
    let mut small = vec![0.0_f32; TRIED.0 * TRIED.1];
    for y in 0..height {
        for x in 0..width {
            small[y * TRIED.1 / height * TRIED.0 + x * TRIED.0 / width] += brightness(x, y);
        }
    }
    let centred = |values: &mut [f32]| {
        let mean = values.iter().sum::<f32>() / values.len() as f32;
        values.iter_mut().for_each(|value| *value -= mean);
        values.iter().map(|value| value * value).sum::<f32>().sqrt()
    };
    let size = centred(&mut small).max(1e-6);
    let mut found: Vec<(f32, [Point; 4])> = Vec::new();
    for share in [0.95_f64, 0.85, 0.76, 0.68, 0.61, 0.55, 0.49, 0.44, 0.39, 0.35, 0.31] {
        for aspect in [1.15, 1.25, 1.33, 1.45, 1.6] {
            let across = share * plane.width as f64;
            let down = across / aspect;
            if down > plane.height as f64 {
                continue;
            }
            let radius = ((across / TRIED.0 as f64 / 2.0) as usize).max(1);
            let smooth = plane.mean_around(radius.saturating_sub(1), radius.saturating_sub(1));
            let step = across / TRIED.0 as f64 / 1.5;
            let mut top = 0.0;
            while top + down <= plane.height as f64 {
                let mut left = 0.0;
                while left + across <= plane.width as f64 {
                    let mut seen: Vec<f32> = (0..TRIED.0 * TRIED.1)
                        .map(|at| {
                            let x = left + ((at % TRIED.0) as f64 + 0.5) * across / TRIED.0 as f64;
                            let y = top + ((at / TRIED.0) as f64 + 0.5) * down / TRIED.1 as f64;
                            smooth.sample(x as f32, y as f32)
                        })
                        .collect();
                    let other = centred(&mut seen).max(1e-6);
                    let alike = seen.iter().zip(&small).map(|(a, b)| a * b).sum::<f32>() / size / other;
                    let corners = [(left, top), (left + across, top), (left + across, top + down), (left, top + down)];
                    found.push((alike, corners.map(|(x, y)| (x * factor, y * factor))));
                    left += step;
                }
                top += step;
            }
        }
    }
    found.sort_by(|(one, _), (other, _)| other.total_cmp(one));
    let mut apart: Vec<[Point; 4]> = Vec::new();
    for (_, corners) in found.into_iter().take(400) {
        let near = |other: &[Point; 4]| {
            other.iter().zip(&corners).all(|(a, b)| (a.0 - b.0).abs().max((a.1 - b.1).abs()) < 12.0 * factor)
        };
        if apart.len() < 6 && !apart.iter().any(near) {
            apart.push(corners);
        }
    }
    apart
}
