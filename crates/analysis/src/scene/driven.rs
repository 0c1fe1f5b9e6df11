//! Prediction by driving a board through its ports, as a person or a routine does.

use std::sync::Arc;

use backporch_raster::{Board, Frame, Healthy, Tap};

use crate::outcome::Outcome;
use crate::scene::{Laid, Look, Moment, Scene, drawn};

/// Scan lines after the start of vertical retrace at which a late write falls.
const LINES_INTO_RETRACE: u32 = 2;

/// What a board shows that was at the bench's registers and is given the scene's.
///
/// It is held against a healthy board written in the active area: what a
/// routine means to show.
pub(super) fn outcome<T: Tap + Clone>(scene: &Scene, tap: &T) -> Outcome {
    let meant = scene.after_writes.get_or_init(|| shown(scene, &Healthy, Moment::ActiveArea));
    let frame = shown(scene, tap, scene.staging.moment);
    drawn::between(scene, meant, &frame)
}

fn shown<T: Tap + Clone>(scene: &Scene, tap: &T, moment: Moment) -> Frame {
    let adapter = scene.adapter();
    let mut board = Board::new(Arc::clone(adapter), scene.before.clone(), tap.clone());
    board.load(&scene.bench.memory(&scene.before));
    let first = board.run_frame();
    board.recycle(first);
    reach(&mut board, moment);
    if scene.staging.laid == Laid::Again {
        board.load(scene.memory());
    }
    for (field, value) in &scene.changes {
        for (port, byte) in adapter.programming(board.registers(), *field, *value) {
            board.write_port(port, byte);
        }
    }
    let to_settle = match scene.staging.look {
        Look::Moving => 1,
        Look::Settled => 2,
    };
    for _ in 0..to_settle {
        let frame = board.run_frame();
        board.recycle(frame);
    }
    board.run_frame()
}

/// Runs to the moment of the writes.
fn reach<T: Tap>(board: &mut Board<T>, moment: Moment) {
    let frame_dots = board.beam().dot;
    match moment {
        // A quarter down the frame: far from any latch, in the active area of every mode.
        Moment::ActiveArea | Moment::Routine => board.run_to(frame_dots + frame_dots / 4),
        Moment::Retrace => {
            let timing = board.adapter().timing(board.registers());
            let lines = u32::from(timing.sync_row) * timing.lines_per_row() + LINES_INTO_RETRACE;
            let line_dots = frame_dots / u64::from(timing.lines()).max(1);
            board.run_to(frame_dots + u64::from(lines.min(timing.lines().saturating_sub(1))) * line_dots);
        }
    }
}
