//! One board of a comparison, and how it did.

use std::sync::Arc;

use backporch_bench::Bench;

use super::blame::{Blame, BoardBlame, ClassBehaviour};
use super::lacks::lacks;
use super::layers::{Difference, InMotion};
use super::motion::Motion;
use crate::signature::{FrameSignature, Nature};

/// One board of a comparison.
#[derive(Clone, Debug)]
pub struct Contender {
    /// What it is called.
    pub label: String,
    /// The board, its registers, quirks and picture.
    pub bench: Arc<Bench>,
}

/// How one board did.
#[derive(Clone, Debug)]
pub struct Entry {
    /// The board.
    pub contender: Contender,
    /// Each frame against what was meant.
    pub signatures: Vec<FrameSignature>,
    /// The first one that differs.
    pub first: Option<Difference>,
    /// The moments tried, and whether every frame was as meant.
    pub moments: Vec<(f64, bool)>,
    /// What its class cannot do of what the first contender's can.
    pub lacks: Vec<String>,
    /// What its class does by design that the frames show.
    pub class: Vec<ClassBehaviour>,
    /// What is wrong beyond that: the work of a fault.
    pub beyond_design: Option<Nature>,
    /// What the routine does wrong, where one drives the board.
    pub mistake: Option<String>,
    /// Whose fault a difference is.
    pub blame: Blame,
}

impl Entry {
    /// Runs a contender through a motion; what its class lacks is noted beside `reference`.
    pub(super) fn new(contender: &Contender, reference: &Bench, motion: Motion) -> Self {
        let run = InMotion { bench: &contender.bench, motion };
        let (signatures, first) = run.shown();
        let lacks = lacks(reference, &contender.bench);
        let moments = motion.at_other_moments();
        let moments = moments.map(|motion| (motion.moment, InMotion { motion, ..run }.is_as_meant())).collect();
        let BoardBlame { blame, class, beyond } = BoardBlame::of(run, &signatures, !lacks.is_empty());
        Self {
            contender: contender.clone(),
            signatures,
            first,
            moments,
            lacks,
            class,
            beyond_design: beyond,
            mistake: None,
            blame,
        }
    }
}
