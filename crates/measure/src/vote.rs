//! Where the picture lies by the vote of its lines.
//!
//! A smooth fit takes the mean of lines that stand in their places and of those that do not: where every third line comes
//! from elsewhere, it settles between them, here and there. Line by line it is known better: in each part of the picture,
//! most lines fit sharply at one shift, and the others at none near it.

use crate::expected::Expected;
use crate::least_squares::LeastSquares;
use crate::plane::Plane;
use crate::register::Pyramid;
use crate::warp::{Warp, terms};

/// Parts of the picture, across and down.
const PARTS: (usize, usize) = (5, 6);
/// Shifts that are tried to either side, and how many of them a picture pixel is.
const SHIFTS: usize = 6;
const A_PIXEL: f64 = 2.0;
/// Pixels and lines of the window in which light is taken to be even.
const WINDOW: (usize, usize) = (20, 12);
/// Terms of the bend that is fitted to the votes: up to the third degree.
const TERMS: usize = 10;
/// Picture pixels by which a vote may be off and count in full.
const USUAL: f64 = 0.25;
/// Picture pixels of a bend that is worth the while.
const LEAST: f64 = 0.3;

/// The warp as most lines would have it; `None` where it lies well already.
pub(crate) fn voted(expected: &Expected, pyramid: &Pyramid, warp: &Warp) -> Option<Warp> {
    let (width, height) = expected.size();
    let brightness = |x: usize, y: usize| {
        let [red, green, blue] = expected.line(y)[x];
        (f32::from(red) + f32::from(green) + f32::from(blue)) / 3.0
    };
    let meant = Plane::from_fn(width, height, brightness).relief(WINDOW.0, WINDOW.1);
    let mut voted = warp.clone();
    let mut moves = false;
    for axis in [1, 0] {
        let scores: Vec<Vec<f64>> = (0..=2 * SHIFTS)
            .map(|at| {
                let by = shift(at);
                let moved = if axis == 0 { (by, 0.0) } else { (0.0, by) };
                let seen = pyramid.cells(&voted.moved(moved), (width, height), (1.0, 1.0));
                parts(&seen.relief(WINDOW.0, WINDOW.1), &meant)
            })
            .collect();
        let votes: Vec<Vote> = (0..PARTS.0 * PARTS.1).filter_map(|part| Vote::new(part, &scores)).collect();
        let Some(bend) = fitted(&votes) else { continue };
        if votes.iter().any(|vote| vote.of(&bend).abs() > LEAST) {
            voted.bend[axis].iter_mut().zip(bend).for_each(|(term, more)| *term += more);
            moves = true;
        }
    }
    (moves && voted.is_sound()).then_some(voted)
}

fn shift(at: usize) -> f64 {
    (at as f64 - SHIFTS as f64) / A_PIXEL
}

/// The middle of one of some equal parts, from -1 to 1.
fn middle(at: usize, count: usize) -> f64 {
    2.0 * (at as f64 + 0.5) / count as f64 - 1.0
}

/// How sharply the lines of each part agree, those that agree with nothing counting for nothing.
fn parts(seen: &Plane, meant: &Plane) -> Vec<f64> {
    let mut scores = vec![0.0; PARTS.0 * PARTS.1];
    let across = seen.width / PARTS.0;
    for y in 0..seen.height {
        let row = (y * PARTS.1 / seen.height).min(PARTS.1 - 1);
        for part in 0..PARTS.0 {
            let from = y * seen.width + part * across;
            let mut sums = [0.0_f64; 3];
            for (a, b) in seen.data[from..from + across].iter().zip(&meant.data[from..from + across]) {
                let (a, b) = (f64::from(*a), f64::from(*b));
                sums = [sums[0] + a * b, sums[1] + a * a, sums[2] + b * b];
            }
            let agreement = (sums[0] / (sums[1] * sums[2]).sqrt().max(1e-6)).max(0.0);
            scores[row * PARTS.0 + part] += -(1.02 - agreement * agreement).ln();
        }
    }
    scores
}

/// By how much a part would be moved.
struct Vote {
    /// Terms at its middle.
    terms: [f64; TERMS],
    by: f64,
    /// How sharply it is known.
    weight: f64,
}

impl Vote {
    /// `None` where the best shift is the farthest that was tried.
    fn new(part: usize, scores: &[Vec<f64>]) -> Option<Self> {
        let score = |at: usize| scores[at][part];
        let best = (0..scores.len()).max_by(|one, other| score(*one).total_cmp(&score(*other)))?;
        if best == 0 || best + 1 == scores.len() {
            return None;
        }
        let (before, here, after) = (score(best - 1), score(best), score(best + 1));
        let sharp = 2.0 * here - before - after;
        if sharp <= 0.0 {
            return None;
        }
        let all = terms(middle(part % PARTS.0, PARTS.0), middle(part / PARTS.0, PARTS.1));
        let by = shift(best) + (after - before) / (2.0 * sharp) / A_PIXEL;
        Some(Self { terms: std::array::from_fn(|at| all[at]), by, weight: sharp.min(20.0) })
    }

    /// By how much a bend moves it.
    fn of(&self, bend: &[f64; TERMS]) -> f64 {
        self.terms.iter().zip(bend).map(|(term, by)| term * by).sum()
    }
}

/// The bend that most votes agree on.
fn fitted(votes: &[Vote]) -> Option<[f64; TERMS]> {
    if votes.len() < 2 * TERMS {
        return None;
    }
    let mut bend = [0.0; TERMS];
    for round in 0..6 {
        let mut system = LeastSquares::new();
        for vote in votes {
            let off = if round == 0 { 0.0 } else { (vote.by - vote.of(&bend)) / USUAL };
            system.add(vote.weight / (1.0 + off * off).powi(2), &vote.terms, vote.by);
        }
        bend = system.solve(|at| if at < 3 { 1e-6 } else { 1e-2 })?;
    }
    Some(bend)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn votes_that_disagree_do_not_pull() {
        let vote = |part: usize| {
            let (x, y) = (middle(part % PARTS.0, PARTS.0), middle(part / PARTS.0, PARTS.1));
            let all = terms(x, y);
            // Every fifth part says something else.
            let by = if part % 5 == 2 { -2.0 } else { 0.4 + 0.3 * x - 0.2 * y };
            Vote { terms: std::array::from_fn(|at| all[at]), by, weight: 1.0 }
        };
        let votes: Vec<Vote> = (0..PARTS.0 * PARTS.1).map(vote).collect();
        let bend = fitted(&votes).expect("enough votes");
        let worst = votes.iter().filter(|vote| vote.by > -1.0).map(|vote| (vote.of(&bend) - vote.by).abs());
        assert!(worst.fold(0.0, f64::max) < 0.15, "{bend:?}");
        assert!(fitted(&votes[..5]).is_none());
    }
}
