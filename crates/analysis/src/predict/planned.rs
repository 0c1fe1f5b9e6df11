//! Prediction from the fetch plan alone: no pixel is drawn.
//!
//! The plan is not even kept: each line's runs are held against the healthy
//! addresses as they come.

use backporch_adapter::Timing;
use backporch_raster::{Line, QuietFrame, Run, Stages, Tap};

use crate::setup::ExperimentSetup;
use crate::signature::{FrameSignature, Nature};

/// Frames for which a person watches whether the picture stands still: about a second.
const FRAMES_IN_PLACE: u64 = 64;

/// What frame `frame` of a board at rest fetches otherwise than a healthy one.
pub(super) fn signature<T: Tap + Clone>(setup: &ExperimentSetup, tap: &T, frame: u64) -> FrameSignature {
    let (width, height) = setup.size();
    if let Some(flickers) = displaced(setup, tap) {
        return FrameSignature { flickers, ..FrameSignature::all(width, height, Nature::Displaced) };
    }
    let start = setup.quiet.latched(tap, frame);
    let moved_start = start != setup.quiet.start();
    let moves = tap.stages().contains(Stages::ADDRESS);
    let mut signature = setup.clean();
    for (index, healthy) in (0..).zip(&setup.lines) {
        let line = if moved_start { setup.quiet.line(frame, start, index) } else { Line { frame, ..*healthy } };
        let moves = moves && tap.line_effects(&line).stages.contains(Stages::ADDRESS);
        if moves || moved_start {
            hold(tap, &line, healthy, moves, width, &mut signature);
        }
    }
    signature.moved = signature.moved.map(|bytes| pixels_of(bytes, setup.line_bytes(), width));
    signature
}

/// Whether comparands or sync put the whole picture out of place, and if so, only in some frames.
fn displaced<T: Tap + Clone>(setup: &ExperimentSetup, tap: &T) -> Option<bool> {
    if !tap.stages().contains(Stages::SYNC) {
        return None;
    }
    let healthy = *setup.quiet.timing();
    // When the start address is taken over plays no part in a picture at rest.
    let changed =
        Timing { start_load: healthy.start_load, ..*QuietFrame::new(setup.adapter(), &setup.registers, tap).timing() };
    if changed != healthy {
        return Some(false);
    }
    let mut tap = tap.clone();
    let out_of_place = (0..FRAMES_IN_PLACE).filter(|frame| !tap.shift(*frame).is_none()).count() as u64;
    (out_of_place > 0).then_some(out_of_place < FRAMES_IN_PLACE)
}

/// Holds one line's addresses against the healthy ones.
fn hold<T: Tap>(tap: &T, line: &Line, healthy: &Line, moves: bool, width: u32, signature: &mut FrameSignature) {
    let mut at = 0;
    let right_bank = !moves || line.bank_bits(tap.bank(line) ^ healthy.bank) == 0;
    while at < line.bytes {
        let straight = line.plain_address(at);
        let run = if moves { tap.address(line, at, straight) } else { Run { linear: straight, len: u32::MAX } };
        let len = run.len.max(1).min(line.bytes - at);
        // Both go on byte by byte and wrap at the same mask, so one difference holds for the whole run.
        let moved = run.linear.wrapping_sub(healthy.plain_address(at)) & line.mask;
        if moved != 0 || !right_bank {
            let pixel = |byte: u32| byte * width / line.bytes;
            let last = pixel(at + len).saturating_sub(1).max(pixel(at));
            let moved = right_bank.then(|| signed(moved, line.mask));
            signature.mark(line.picture_line, (pixel(at), last), Nature::Addresses, moved);
        }
        at += len;
    }
}

/// The difference as the shorter way round the memory.
fn signed(moved: u32, mask: u32) -> i32 {
    if moved > mask / 2 { -((mask - moved + 1) as i32) } else { moved as i32 }
}

fn pixels_of(bytes: i32, line_bytes: u32, width: u32) -> i32 {
    (i64::from(bytes) * i64::from(width) / i64::from(line_bytes.max(1))) as i32
}
