//! The lines of a step held against those of a capture whose frame is known.

use crate::expected::{Expected, Rgb8};
use crate::plane::Plane;
use crate::register::Pyramid;
use crate::warp::Warp;

/// Pixels and lines of the window in which light is taken to be even.
const WINDOW: (usize, usize) = (20, 12);
/// Lines that count as one: what is wrong with one is often so with its neighbours.
const TOGETHER: f64 = 4.0;

/// Places a picture pixel at which sharp lines are tried, either way, and how many of them.
const FINER: usize = 2;
const SHIFTS: i32 = 3;

/// By how many pixels to the right and lines down the capture must be read further for most lines to fit sharply: what
/// smooth fits take for a small movement of all may be a large one of a few lines.
pub(super) fn settled(pyramid: &Pyramid, warp: &Warp, expected: &Expected) -> (f64, f64) {
    let (width, height) = expected.size();
    let brightness = |x: usize, y: usize| {
        let [red, green, blue] = expected.line(y)[x];
        (f32::from(red) + f32::from(green) + f32::from(blue)) / 3.0
    };
    let meant = Plane::from_fn(width, height, brightness).relief(WINDOW.0, WINDOW.1);
    let best = |down: bool| {
        let shift = |at: i32| f64::from(at) / FINER as f64;
        let score = |at: i32| {
            let moved = if down { (0.0, shift(at)) } else { (shift(at), 0.0) };
            let seen = pyramid.cells(&warp.moved(moved), (width, height), (1.0, 1.0)).relief(WINDOW.0, WINDOW.1);
            agreements(&seen, &meant).into_iter().map(|one| -(1.02 - one * one).ln()).sum::<f64>()
        };
        let scores = (-SHIFTS..=SHIFTS).map(|at| (score(at), shift(at)));
        scores.max_by(|one, other| one.0.total_cmp(&other.0)).map_or(0.0, |(_, shift)| shift)
    };
    (best(false), best(true))
}

/// How far each line of two pictures agrees, 0 to 1; nothing is held against a line that agrees with none.
fn agreements(seen: &Plane, meant: &Plane) -> Vec<f64> {
    let pairs = seen.data.chunks(seen.width).zip(meant.data.chunks(meant.width));
    pairs
        .map(|(seen, meant)| {
            let mut sums = [0.0_f64; 3];
            for (a, b) in seen.iter().zip(meant) {
                let (a, b) = (f64::from(*a), f64::from(*b));
                sums = [sums[0] + a * b, sums[1] + a * a, sums[2] + b * b];
            }
            (sums[0] / (sums[1] * sums[2]).sqrt().max(1e-6)).max(0.0)
        })
        .collect()
}

/// A capture on the picture's own pixels.
pub(super) struct Fine {
    seen: Plane,
    size: (usize, usize),
}

impl Fine {
    pub fn new(pyramid: &Pyramid, warp: &Warp, size: (usize, usize)) -> Self {
        let seen = pyramid.cells(warp, size, (1.0, 1.0));
        Self { seen: relief(&seen), size }
    }

    /// How far each line agrees with that of a picture, 0 to 1.
    pub fn lines(&self, picture: &[Rgb8]) -> Vec<f64> {
        let (width, height) = self.size;
        let brightness = |x: usize, y: usize| {
            let [red, green, blue] = picture.get(y * width + x).copied().unwrap_or_default();
            (f32::from(red) + f32::from(green) + f32::from(blue)) / 3.0
        };
        let meant = relief(&Plane::from_fn(width, height, brightness));
        agreements(&self.seen, &meant)
    }
}

/// Smoothed a little, so that the blur of a camera makes less of a difference.
fn relief(plane: &Plane) -> Plane {
    plane.mean_around(1, 1).relief(WINDOW.0, WINDOW.1)
}

/// What the lines say of a step.
#[derive(Clone, Debug)]
pub(super) struct Speaks {
    pub board: usize,
    pub fit: f64,
    lines: Vec<f64>,
}

impl Speaks {
    fn new(board: usize, lines: Vec<f64>) -> Self {
        Self { board, fit: lines.iter().sum::<f64>() / lines.len().max(1) as f64, lines }
    }

    /// The board that fits best by its lines, those of each in order; of equal ones the last.
    pub fn best(boards: impl IntoIterator<Item = Vec<f64>>) -> Option<Self> {
        let fits = boards.into_iter().enumerate().map(|(board, lines)| Self::new(board, lines));
        fits.max_by(|one, other| one.fit.total_cmp(&other.fit))
    }

    /// By how many standard errors the lines speak for this one against another.
    pub fn against(&self, other: &Self) -> f64 {
        let apart: Vec<f64> = self.lines.iter().zip(&other.lines).map(|(one, other)| one - other).collect();
        let count = apart.len().max(1) as f64;
        let mean = apart.iter().sum::<f64>() / count;
        let spread = (apart.iter().map(|value| (value - mean).powi(2)).sum::<f64>() / count).sqrt();
        mean / ((spread + LEAST_SPREAD) / (count / TOGETHER).sqrt())
    }
}

/// Differences of agreement below this say nothing.
const LEAST_SPREAD: f64 = 0.02;
