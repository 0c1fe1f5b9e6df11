//! Prediction by driving a board through its ports, as a person or a routine does.

use std::sync::Arc;

use backporch_raster::{Board, Frame, Healthy, Tap};

use crate::outcome::Outcome;
use crate::scene::{Laid, Look, Moment, Scene};

/// Scan lines after the start of vertical retrace at which a late write falls.
const LINES_INTO_RETRACE: u32 = 2;
/// Dots from one byte to the next while a routine redraws what enters the
/// window: some 1.3 µs at 25 MHz, a store in a tight loop.
const DOTS_A_BYTE: u64 = 32;
/// Bytes written one by one; a picture that changes more is put there at once.
const MOST_BYTES_REDRAWN: usize = 4096;

/// What a healthy board shows.
#[derive(Debug)]
pub(super) struct Meant {
    /// In the frame of the writes, written at the scene's moment.
    during: Frame,
    /// In the frame looked at, written in the active area: what a routine means to show.
    after: Frame,
}

/// What a board shows that was at the bench's registers and is given the scene's.
///
/// While the picture moves, the frame of the writes is watched as well.
pub(super) fn outcome<T: Tap + Clone>(scene: &Scene, tap: &T) -> Outcome {
    let meant = scene.driven.get_or_init(|| Meant {
        during: shown(scene, &Healthy, scene.staging.moment).0,
        after: shown(scene, &Healthy, Moment::ActiveArea).1,
    });
    let (during, after) = shown(scene, tap, scene.staging.moment);
    let after = Outcome::between(scene.size(), &meant.after, &after);
    match scene.staging.look {
        Look::Settled => after,
        Look::Moving => {
            let during = Outcome::between(scene.size(), &meant.during, &during);
            if during.is_clean() { after } else { after.beside(&during) }
        }
    }
}

/// The frame of the writes and the frame looked at.
fn shown<T: Tap + Clone>(scene: &Scene, tap: &T, moment: Moment) -> (Frame, Frame) {
    let adapter = scene.adapter();
    let mut board = Board::new(Arc::clone(adapter), scene.before.clone(), tap.clone());
    board.load(scene.memory_before());
    let first = board.run_frame();
    board.recycle(first);
    reach(&mut board, moment);
    for (field, value) in &scene.changes {
        for (port, byte) in adapter.programming(board.registers(), *field, *value) {
            board.write_port(port, byte);
        }
    }
    if scene.staging.laid == Laid::Again {
        redraw(&mut board, scene.memory());
    }
    let during = board.run_frame();
    if scene.staging.look == Look::Settled {
        let frame = board.run_frame();
        board.recycle(frame);
    }
    (during, board.run_frame())
}

/// Brings memory to what it should hold: byte by byte where a routine would,
/// at once where the processor sees memory otherwise than the board does, as
/// through planes.
pub(crate) fn redraw<T: Tap>(board: &mut Board<T>, wanted: &[u8]) {
    let pairs = wanted.iter().zip(board.memory()).enumerate();
    let changed: Vec<usize> = pairs.filter(|(_, (new, old))| new != old).map(|(at, _)| at).collect();
    if changed.len() > MOST_BYTES_REDRAWN {
        board.load(wanted);
        return;
    }
    for at in changed {
        board.write_memory(at as u32, wanted[at]);
        if board.memory()[at] != wanted[at] {
            break;
        }
        let next = board.beam().dot + DOTS_A_BYTE;
        board.run_to(next);
    }
    if board.memory() != wanted {
        board.load(wanted);
    }
}

/// Runs to the moment of the writes.
fn reach<T: Tap>(board: &mut Board<T>, moment: Moment) {
    let frame_dots = board.beam().dot;
    match moment {
        // A quarter down the frame: far from any latch, in the active area of every mode.
        Moment::ActiveArea | Moment::Routine => board.run_to(frame_dots + frame_dots / 4),
        Moment::Retrace => {
            let timing = board.adapter().timing(board.registers());
            let lines = timing.sync_line() + LINES_INTO_RETRACE;
            let line_dots = frame_dots / u64::from(timing.lines()).max(1);
            board.run_to(frame_dots + u64::from(lines.min(timing.lines().saturating_sub(1))) * line_dots);
        }
    }
}
