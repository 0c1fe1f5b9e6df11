//! Prediction from drawn frames: a board at rest, held against a healthy one.

use std::sync::Arc;

use backporch_raster::{Board, Frame, LineDependencies, Plain, Stages, Tap};

use crate::setup::ExperimentSetup;
use crate::signature::FrameSignature;

/// What the first `frames` frames of a board at rest show.
pub(super) fn signature<T: Tap + Clone>(setup: &ExperimentSetup, tap: &T, frames: u64) -> FrameSignature {
    let healthy = setup.at_rest.get_or_init(|| {
        let mut board = Board::new(Arc::clone(setup.adapter()), setup.registers.clone(), Plain);
        board.load(setup.memory());
        board.run_frame()
    });
    let mut board = Board::new(Arc::clone(setup.adapter()), setup.registers.clone(), tap.clone());
    board.load(setup.memory());
    let mut all: Option<FrameSignature> = None;
    let frames = if are_alike(healthy, tap, frames) { 1 } else { frames };
    for _ in 0..frames {
        let frame = board.run_frame();
        let one = FrameSignature::held(setup.held(), setup.size(), healthy, &frame).with_pitch(setup.pitch());
        all = Some(match all {
            Some(all) => all.merged_with(&one),
            None => one,
        });
        board.recycle(frame);
    }
    all.unwrap_or_else(|| setup.clean())
}

/// Whether a tap makes the same of each of the first `frames` frames: it does not look at their number, and gives the palette
/// of the healthy one the same colours in each.
fn are_alike<T: Tap>(healthy: &Frame, tap: &T, frames: u64) -> bool {
    if tap.depends_on().contains(LineDependencies::FRAME) || tap.stages().intersects(Stages::LATCH | Stages::SYNC) {
        return false;
    }
    let [palette] = healthy.palettes.as_slice() else { return false };
    let coloured = |frame| {
        let mut palette = (**palette).clone();
        tap.colour(frame, &mut palette);
        palette
    };
    let first = coloured(0);
    (1..frames).all(|frame| coloured(frame) == first)
}
