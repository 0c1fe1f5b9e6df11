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
    let meant = setup.driven.get_or_init(|| match setup.conditions.look {
        Look::Settled => Meant { during: None, after: settled(setup, &Plain) },
        Look::Moving => {
            let (during, _) = moving(setup, &Plain, setup.conditions.moment);
            Meant { during: Some(during), after: moving(setup, &Plain, WriteMoment::ActiveArea).1 }
        }
    });
    let between =
        |meant: &Frame, shown: &Frame| FrameSignature::between(setup.size(), meant, shown).with_pitch(setup.pitch());
    let Some(meant_during) = &meant.during else {
        return between(&meant.after, &settled(setup, tap));
    };
    let (during, after) = moving(setup, tap, setup.conditions.moment);
    let (during, after) = (between(meant_during, &during), between(&meant.after, &after));
    if during.is_clean() { after } else { after.merged_with(&during) }
}

/// The frame after the one of the writes and another.
fn settled<T: Tap + Clone>(setup: &ExperimentSetup, tap: &T) -> Frame {
    let mut board = before(setup, tap);
    let moment = moment(&board, setup.conditions.moment);
    board.pass_to(moment);
    write(setup, &mut board, Board::pass_to);
    board.pass_frame();
    board.pass_frame();
    board.run_frame()
}

/// The frame of the writes and the one after it.
fn moving<T: Tap + Clone>(setup: &ExperimentSetup, tap: &T, at: WriteMoment) -> (Frame, Frame) {
    let mut board = before(setup, tap);
    let moment = moment(&board, at);
    board.run_to(moment);
    write(setup, &mut board, Board::run_to);
    (board.run_frame(), board.run_frame())
}

/// A board that has shown the bench's picture for a frame.
fn before<T: Tap + Clone>(setup: &ExperimentSetup, tap: &T) -> Board<T> {
    let mut board = Board::new(Arc::clone(setup.adapter()), setup.before.clone(), tap.clone());
    board.load(setup.memory_before());
    board.pass_frame();
    board
}

/// Gives the board the setup's registers and picture; `advance` brings its beam to a dot.
fn write<T: Tap>(setup: &ExperimentSetup, board: &mut Board<T>, advance: fn(&mut Board<T>, u64)) {
    for (field, value) in &setup.changes {
        for (port, byte) in setup.adapter().programming(board.registers(), *field, *value) {
            board.write_port(port, byte);
        }
    }
    if setup.conditions.layout == PictureLayout::Again {
        redraw(board, setup.memory(), advance);
    }
}

/// The dot of the writes, the board being at the end of a frame.
fn moment<T: Tap>(board: &Board<T>, moment: WriteMoment) -> u64 {
    let frame_dots = board.beam().dot;
    match moment {
        // A quarter down the frame: far from any latch, in the active area of every mode.
        WriteMoment::ActiveArea | WriteMoment::Routine => frame_dots + frame_dots / 4,
        WriteMoment::Retrace => {
            let timing = board.adapter().timing(board.registers());
            let lines = timing.sync_line() + LINES_INTO_RETRACE;
            let line_dots = frame_dots / u64::from(timing.lines()).max(1);
            frame_dots + u64::from(lines.min(timing.lines().saturating_sub(1))) * line_dots
        }
    }
}
