//! Prediction from drawn frames: a board at rest, held against a healthy one.

use std::sync::Arc;

use backporch_raster::{Board, Healthy, Tap};

use crate::outcome::Outcome;
use crate::scene::Scene;

/// What the first `frames` frames of a board at rest show.
pub(super) fn outcome<T: Tap + Clone>(scene: &Scene, tap: &T, frames: u64) -> Outcome {
    let healthy = scene.at_rest.get_or_init(|| {
        let mut board = Board::new(Arc::clone(scene.adapter()), scene.registers.clone(), Healthy);
        board.load(scene.memory());
        board.run_frame()
    });
    let mut board = Board::new(Arc::clone(scene.adapter()), scene.registers.clone(), tap.clone());
    board.load(scene.memory());
    let mut all: Option<Outcome> = None;
    for _ in 0..frames {
        let frame = board.run_frame();
        let one = Outcome::between(scene.size(), healthy, &frame);
        all = Some(match all {
            Some(all) => all.beside(&one),
            None => one,
        });
        board.recycle(frame);
    }
    all.unwrap_or_else(|| scene.clean())
}
