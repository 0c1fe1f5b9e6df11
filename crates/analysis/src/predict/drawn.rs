//! Prediction from drawn frames: a board at rest, held against a healthy one.

use std::sync::Arc;

use backporch_raster::{Board, Plain, Tap};

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
    for _ in 0..frames {
        let frame = board.run_frame();
        let one = FrameSignature::between(setup.size(), healthy, &frame).with_pitch(setup.pitch());
        all = Some(match all {
            Some(all) => all.merged_with(&one),
            None => one,
        });
        board.recycle(frame);
    }
    all.unwrap_or_else(|| setup.clean())
}
