//! Prediction by driving a board through its ports, as a person or a routine does.

use std::sync::Arc;

use backporch_adapter::{FieldId, FirmwareMode, Mode, Registers};
use backporch_raster::{Board, Frame, Plain, Shift, Stages, Tap};

use crate::redraw::MemoryRedraw;
use crate::setup::{ExperimentSetup, Meant, PictureLayout, WhichFrame, WriteMoment};
use crate::signature::FrameSignature;

/// Scan lines after the start of vertical retrace at which a late write falls.
const LINES_INTO_RETRACE: u32 = 2;

/// Frames from the one of the writes to the one looked at.
const FRAMES_AFTER: u64 = 2;

/// What a board shows that was at the bench's registers and is given the setup's.
///
/// While the picture moves, the frame of the writes is watched as well.
pub(super) fn signature<T: Tap + Clone>(setup: &ExperimentSetup, tap: &T) -> FrameSignature {
    let meant = setup.driven.get_or_init(|| match setup.conditions.look {
        WhichFrame::Settled => Meant { during: None, after: settled(setup, &Plain) },
        WhichFrame::Moving => {
            let (during, _) = moving(setup, &Plain, setup.conditions.moment);
            Meant { during: Some(during), after: moving(setup, &Plain, WriteMoment::ActiveArea).1 }
        }
    });
    let between = |meant: &Frame, shown: &Frame| {
        FrameSignature::held(setup.held(), setup.size(), meant, shown).with_pitch(setup.pitch())
    };
    let Some(meant_during) = &meant.during else {
        return between(&meant.after, &settled(setup, tap));
    };
    let (during, after) = moving(setup, tap, setup.conditions.moment);
    let (during, after) = (between(meant_during, &during), between(&meant.after, &after));
    if during.is_clean() { after } else { after.merged_with(&during) }
}

/// Where the writes leave a board.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct SettledBoard {
    registers: Registers,
    /// How far a monitor shows the frame looked at from its place.
    shift: Shift,
}

/// Whether the writes leave a board where they leave a plain one.
pub(super) fn is_set<T: Tap + Clone>(setup: &ExperimentSetup, tap: &T) -> bool {
    let plain = setup.written.get_or_init(|| written(setup, &Plain));
    written(setup, tap) == *plain
}

/// Where the writes leave a board, which needs no picture for that.
fn written<T: Tap + Clone>(setup: &ExperimentSetup, tap: &T) -> SettledBoard {
    let mut board = at_the_writes(setup, tap);
    write_registers(setup, &mut board, Board::pass_to);
    let mut shift = Shift::default();
    if tap.stages().contains(Stages::SYNC) {
        let frame = board.beam().frame;
        let mut tap = board.tap().clone();
        for number in frame..=frame + FRAMES_AFTER {
            shift = tap.shift(number);
        }
    }
    SettledBoard { registers: board.registers().clone(), shift }
}

/// The frame after the one of the writes and another.
fn settled<T: Tap + Clone>(setup: &ExperimentSetup, tap: &T) -> Frame {
    let mut board = at_the_writes(setup, tap);
    if tap.stages().contains(Stages::MEMORY) {
        board.load(setup.memory_before());
        write(setup, &mut board, Board::pass_to);
    } else {
        // How memory came to hold the picture makes no difference to this board.
        write_registers(setup, &mut board, Board::pass_to);
        board.load(setup.memory());
    }
    for _ in 0..FRAMES_AFTER {
        board.pass_frame();
    }
    board.run_frame()
}

/// A board at the moment of the writes, nothing in its memory that it has not at start-up.
fn at_the_writes<T: Tap + Clone>(setup: &ExperimentSetup, tap: &T) -> Board<T> {
    // What acts on writes alone has done nothing so far, where none were made.
    let had_writes = tap.stages().contains(Stages::PORT) && mode_to_set(setup).is_some();
    let shared = !had_writes && !tap.acts_at_rest() && tap.stages().contains(setup.design_stages);
    if !shared {
        return passed_to_the_writes(setup, tap);
    }
    let by_design = || passed_to_the_writes(setup, &setup.bench.layers().by_design());
    setup.at_the_writes.get_or_init(by_design).with_tap(tap.clone())
}

fn passed_to_the_writes<T: Tap + Clone>(setup: &ExperimentSetup, tap: &T) -> Board<T> {
    let mut board = match mode_to_set(setup) {
        Some(mode) => in_mode(setup, tap, mode),
        None => Board::new(Arc::clone(setup.adapter()), setup.before.clone(), tap.clone()),
    };
    board.pass_frame();
    let moment = moment(&board, setup.conditions.moment);
    board.pass_to(moment);
    board
}

/// The mode that the program of a session sets before its looks; of other pictures it is not known how they came about.
fn mode_to_set(setup: &ExperimentSetup) -> Option<(&Mode, &FirmwareMode)> {
    let by_ports = setup.bench.is_test_card();
    let mode = setup.bench.mode();
    mode.firmware.as_ref().filter(|_| by_ports).map(|firmware| (mode, firmware))
}

/// A board whose mode was set through its ports, and what the bench has otherwise after that.
fn in_mode<T: Tap + Clone>(setup: &ExperimentSetup, tap: &T, (mode, firmware): (&Mode, &FirmwareMode)) -> Board<T> {
    let adapter = setup.adapter();
    let mut board = Board::new(Arc::clone(adapter), adapter.start_up(adapter.default_mode()), tap.clone());
    adapter.set_mode(mode, firmware, &mut board);
    let start_up = adapter.start_up(mode);
    for (field, _) in adapter.fields() {
        let value = adapter.get(&setup.before, field);
        if adapter.get(&start_up, field) != value {
            write_register(&mut board, field, value, DOTS_APART, Board::pass_to);
        }
    }
    board
}

/// Dots from write to write of a session's program, which takes each from a list: some forty clocks, 3 µs at 12 MHz
/// (derived).
const DOTS_APART: u64 = 75;

/// Writes a register through its ports, a write that many dots after the one before it; `advance` brings the beam there.
fn write_register<T: Tap>(
    board: &mut Board<T>,
    field: FieldId,
    value: u32,
    apart: u64,
    advance: fn(&mut Board<T>, u64),
) {
    for (port, byte) in board.adapter().programming(board.registers(), field, value) {
        let dot = board.beam().dot;
        advance(board, dot + apart);
        board.write_port(port, byte);
    }
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
    write_registers(setup, board, advance);
    if setup.conditions.layout == PictureLayout::Again {
        let redraw = setup.redraw.get_or_init(|| MemoryRedraw::between(setup.memory_before(), setup.memory()));
        redraw.run(board, setup.memory(), advance);
    }
}

fn write_registers<T: Tap>(setup: &ExperimentSetup, board: &mut Board<T>, advance: fn(&mut Board<T>, u64)) {
    let apart = if setup.bench.is_test_card() { DOTS_APART } else { 0 };
    for (field, value) in &setup.changes {
        write_register(board, *field, *value, apart, advance);
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
