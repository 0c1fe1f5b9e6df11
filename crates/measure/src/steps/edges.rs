//! Which of the steps that show the same content beside its place it is: the one whose content stands where the edges of
//! the active area are.

use crate::edges::{Edge, edges_within};
use crate::expected::Expected;
use crate::register::Pyramid;
use crate::warp::Warp;

/// Picture pixels to either side in which edges are looked for.
const REACH: f64 = 12.0;
/// Picture pixels to which an edge is known at best.
const BEST: f64 = 0.15;
/// How much of the spread of an edge's ten parts, and of how far two edges are apart, the middle of them may be off.
const OF_SPREAD: f64 = 0.5;
const OF_APART: f64 = 0.25;
/// And one alone: the bend of the picture is least known there.
const ALONE: f64 = 0.25;
/// Picture pixels by which what is bright spreads outwards, as far as one edge alone can know.
const OUTWARDS: f64 = 0.1;

/// Where the frame lies against the content: pixels to the right and lines down, and how well either is known; `None`
/// where no edge stands out.
pub(super) struct Placed([Option<(f64, f64)>; 2]);

impl Placed {
    pub fn new(expected: &Expected, pyramid: &Pyramid, warp: &Warp) -> Self {
        let [left, right, top, bottom] = edges_within(expected, pyramid, warp, REACH);
        Self([axis(left, right), axis(top, bottom)])
    }

    /// How many standard errors away from the edges content lies that is displaced so.
    fn away(&self, (right, down): (i32, i32)) -> f64 {
        let far = |known: Option<(f64, f64)>, moved: i32| {
            known.map_or(0.0, |(offset, spread)| ((f64::from(moved) - offset) / spread).powi(2))
        };
        (far(self.0[0], right) + far(self.0[1], down)).sqrt()
    }

    /// The step that stands nearest to the edges, with its displacement; of those as near the one displaced least.
    pub fn nearest(&self, family: Vec<(usize, (i32, i32))>) -> Option<(usize, (i32, i32))> {
        let size = |(right, down): (i32, i32)| right.abs() + down.abs();
        family.into_iter().min_by(|(_, one), (_, other)| {
            self.away(*one).total_cmp(&self.away(*other)).then(size(*one).cmp(&size(*other)))
        })
    }

    /// By how many standard errors the edges speak for content as it stands against content that is displaced so.
    pub fn against(&self, moved: (i32, i32)) -> f64 {
        let apart = self.away(moved).powi(2) - self.away((0, 0)).powi(2);
        apart.abs().sqrt().copysign(apart)
    }
}

/// What two edges across from each other say.
fn axis(near: Option<Edge>, far: Option<Edge>) -> Option<(f64, f64)> {
    match (near, far) {
        (Some(near), Some(far)) => {
            // What is bright spreads outwards on either side alike, and does not move the middle.
            let spread = near.spread.max(far.spread) * OF_SPREAD;
            let apart = (near.offset - far.offset).abs() * OF_APART;
            Some(((near.offset + far.offset) / 2.0, (BEST * BEST + spread * spread + apart * apart).sqrt()))
        }
        (Some(near), None) => Some((near.offset + OUTWARDS, near.spread.hypot(ALONE))),
        (None, Some(far)) => Some((far.offset - OUTWARDS, far.spread.hypot(ALONE))),
        (None, None) => None,
    }
}
