//! Prediction by driving a board through its ports, as a person or a routine does.

use std::sync::Arc;

use backporch_raster::{Board, Frame, Plain, Tap};

use crate::redraw::redraw;
use crate::setup::{ExperimentSetup, Look, Meant, PictureLayout, WriteMoment};
use crate::signature::FrameSignature;

/// Scan lines after the start of vertical retrace at which a late write falls.
const LINES_INTO_RETRACE: u32 = 2;

/// What a board shows that was at the bench's registers and is given the setup's.
///
/// While the picture moves, the frame of the writes is watched as well.
pub(super) fn signature<T: Tap + Clone>(setup: &ExperimentSetup, tap: &T) -> FrameSignature {
    let meant = setup.driven.get_or_init(|| Meant {
        during: shown(setup, &Plain, setup.conditions.moment).0,
        after: shown(setup, &Plain, WriteMoment::ActiveArea).1,
    });
    let (during, after) = shown(setup, tap, setup.conditions.moment);
    let between =
        |meant: &Frame, shown: &Frame| FrameSignature::between(setup.size(), meant, shown).with_pitch(setup.pitch());
    let after = between(&meant.after, &after);
    match setup.conditions.look {
        Look::Settled => after,
        Look::Moving => {
            let during = between(&meant.during, &during);
            if during.is_clean() { after } else { after.merged_with(&during) }
        }
    }
}

/// The frame of the writes and the frame looked at.
fn shown<T: Tap + Clone>(setup: &ExperimentSetup, tap: &T, moment: WriteMoment) -> (Frame, Frame) {
    let adapter = setup.adapter();
    let mut board = Board::new(Arc::clone(adapter), setup.before.clone(), tap.clone());
    board.load(setup.memory_before());
    let first = board.run_frame();
    board.recycle(first);
    reach(&mut board, moment);
    for (field, value) in &setup.changes {
        for (port, byte) in adapter.programming(board.registers(), *field, *value) {
            board.write_port(port, byte);
        }
    }
    if setup.conditions.layout == PictureLayout::Again {
        redraw(&mut board, setup.memory());
    }
    let during = board.run_frame();
    if setup.conditions.look == Look::Settled {
        let frame = board.run_frame();
        board.recycle(frame);
    }
    (during, board.run_frame())
}

/// Runs to the moment of the writes.
fn reach<T: Tap>(board: &mut Board<T>, moment: WriteMoment) {
    let frame_dots = board.beam().dot;
    match moment {
        // A quarter down the frame: far from any latch, in the active area of every mode.
        WriteMoment::ActiveArea | WriteMoment::Routine => board.run_to(frame_dots + frame_dots / 4),
        WriteMoment::Retrace => {
            let timing = board.adapter().timing(board.registers());
            let lines = timing.sync_line() + LINES_INTO_RETRACE;
            let line_dots = frame_dots / u64::from(timing.lines()).max(1);
            board.run_to(frame_dots + u64::from(lines.min(timing.lines().saturating_sub(1))) * line_dots);
        }
    }
}
