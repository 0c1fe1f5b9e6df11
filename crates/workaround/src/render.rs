//! Proving a candidate by rendering: what the monitor would show, step by step.
//!
//! Two boards, the plain one and the one in question, are brought to the
//! candidate's registers through their ports and then scrolled as a routine
//! does: the start address is written in the active area, the picture's
//! entering columns are redrawn, and the frame that shows it is held against
//! the plain one.

use std::sync::Arc;

use backporch_adapter::Registers;
use backporch_bench::{Bench, LaidMemory};
use backporch_raster::{Board, Frame, Plain, QuietFrame, ScanLine, Tap};
use rayon::prelude::*;

use crate::transition::Transition;

/// Start addresses walked by one pair of boards.
const STRETCH: usize = 256;

/// Renders every one of `starts` under `registers` and says for each whether
/// it is clean; nothing once `goes_on`, which is asked before each, from any thread, says no.
#[must_use]
pub fn rendered<T: Tap + Clone + Send + Sync>(
    bench: &Bench,
    registers: &Registers,
    tap: &T,
    starts: &[u32],
    goes_on: &(dyn Fn() -> bool + Sync),
) -> Option<Vec<bool>> {
    let stretch = |starts: &[u32]| {
        let mut pair = Pair::new(bench, registers, tap);
        let clean = |start: &u32| goes_on().then(|| pair.shows_clean(*start));
        starts.iter().map(clean).collect::<Vec<Option<bool>>>()
    };
    starts.par_chunks(STRETCH).flat_map_iter(stretch).collect()
}

/// Whether every one of `starts` is clean; the rest is left alone once one is not, or once `goes_on` says no, which proves
/// nothing. `goes_on` is asked before each, from any thread.
#[must_use]
pub fn holds<T: Tap + Clone + Send + Sync>(
    bench: &Bench,
    registers: &Registers,
    tap: &T,
    starts: &[u32],
    goes_on: &(dyn Fn() -> bool + Sync),
) -> bool {
    let clean = |starts: &[u32]| {
        let mut pair = Pair::new(bench, registers, tap);
        starts.iter().all(|start| goes_on() && pair.shows_clean(*start))
    };
    starts.par_chunks(STRETCH).all(clean)
}

/// Whether two frames show the same on every scan line, also where a picture
/// line is shown once more: fetched from the same places, at the same dots, in
/// the same colours.
fn shows_the_same(one: &Frame, other: &Frame) -> bool {
    let whole = |frame: &Frame| (frame.lines.len(), frame.shift, frame.unstable);
    let same = |(line, that): (&ScanLine, &ScanLine)| {
        one.spans_of(line) == other.spans_of(that) && one.looks_like(line, other, that)
    };
    whole(one) == whole(other) && (are_stored_alike(one, other) || one.lines.iter().zip(&other.lines).all(same))
}

/// Whether two frames are stored alike, list by list: then they show the same, which is known without going through lines.
fn are_stored_alike(one: &Frame, other: &Frame) -> bool {
    let alike = |(one, other): (&ScanLine, &ScanLine)| {
        (one.dots, &one.segments, &one.spans) == (other.dots, &other.segments, &other.spans)
    };
    one.segments == other.segments
        && one.spans == other.spans
        && one.palettes == other.palettes
        && one.values == other.values
        && one.lines.iter().zip(&other.lines).all(alike)
}

/// The boards side by side.
struct Pair<'a, T: Tap> {
    bench: &'a Bench,
    memory: LaidMemory<'a>,
    registers: Registers,
    plain: Board,
    shown: Board<T>,
}

impl<'a, T: Tap + Clone> Pair<'a, T> {
    fn new(bench: &'a Bench, registers: &Registers, tap: &T) -> Self {
        let adapter = bench.adapter();
        let mut from = adapter.start_up(bench.mode());
        for index in 0..=255 {
            from.set_dac(index, bench.registers().dac(index));
        }
        let transition = Transition::new(adapter, &from, registers);
        let mut pair = Self {
            bench,
            memory: LaidMemory::new(bench),
            registers: registers.clone(),
            plain: Board::plain(Arc::clone(adapter), from.clone()),
            shown: Board::new(Arc::clone(adapter), from, tap.clone()),
        };
        for (port, byte) in transition.ports() {
            pair.plain.write_port(port, byte);
            pair.shown.write_port(port, byte);
        }
        settle(&mut pair.plain);
        settle(&mut pair.shown);
        pair
    }

    fn shows_clean(&mut self, start: u32) -> bool {
        let adapter = self.bench.adapter();
        let field = adapter.start_address();
        // Every start address of a path fits the register.
        let _ = adapter.set(&mut self.registers, field, u64::from(start));
        let memory = self.memory.under(&QuietFrame::new(adapter, &self.registers, &Plain));
        let meant = shown(&mut self.plain, memory, start);
        let found = shown(&mut self.shown, memory, start);
        let clean = shows_the_same(&meant, &found);
        self.plain.recycle(meant);
        self.shown.recycle(found);
        clean
    }
}

fn settle<T: Tap>(board: &mut Board<T>) {
    for _ in 0..2 {
        board.pass_frame();
    }
}

/// Writes the start address a quarter down the frame and gives the frame that shows it.
fn shown<T: Tap>(board: &mut Board<T>, memory: &[u8], start: u32) -> Frame {
    let adapter = Arc::clone(board.adapter());
    let timing = adapter.timing(board.registers());
    let dots = u64::from(adapter.format(adapter.format_index(board.registers())).char_dots);
    let frame_dots = u64::from(timing.lines()) * u64::from(timing.chars()) * dots;
    board.pass_to(board.beam().dot + frame_dots / 4);
    board.load(memory);
    for (port, byte) in adapter.programming(board.registers(), adapter.start_address(), start) {
        board.write_port(port, byte);
    }
    board.pass_frame();
    board.run_frame()
}
