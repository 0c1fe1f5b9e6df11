//! Port writes placed at dots of the beam.

use std::sync::Arc;

use backporch_adapter::{Adapter, Registers};
use backporch_raster::Board;
use backporch_workaround::transition::{BeamMoment, Transition};

/// Character clocks from one write to the next: about as fast as a bus of the
/// time made them (common practice).
const APART: u64 = 4;
/// Frames after which a beam that never comes by is no longer waited for.
const PATIENCE: u64 = 3;

/// Makes the writes on a healthy board, waiting for the beam as the stages say.
pub(super) fn timed(adapter: &Arc<Adapter>, from: Registers, transition: &Transition) -> Vec<(u64, u16, u8)> {
    let mut board = Board::plain(Arc::clone(adapter), from);
    let mut writes = Vec::new();
    for stage in &transition.stages {
        wait(&mut board, stage.moment);
        for (port, value) in stage.cells.iter().flat_map(|cell| &cell.ports) {
            writes.push((board.beam().dot, *port, *value));
            board.write_port(*port, *value);
            on(&mut board, APART);
        }
    }
    writes
}

/// Waits for the beam: for retrace to be on; for the active area, a quarter of
/// the way down the next frame.
fn wait(board: &mut Board, moment: BeamMoment) {
    let first = board.beam().frame;
    let quarter = board.adapter().timing(board.registers()).lines() / 4;
    let there = |board: &Board| {
        let beam = board.beam();
        let arrived = match moment {
            BeamMoment::Anytime => true,
            BeamMoment::Retrace => beam.vertical_sync,
            BeamMoment::ActiveArea => beam.frame > first && beam.display && beam.scan_line >= quarter,
        };
        arrived || beam.frame > first + PATIENCE
    };
    while !there(board) {
        on(board, 1);
    }
}

fn on(board: &mut Board, chars: u64) {
    let format = board.adapter().format_index(board.registers());
    let dots = u64::from(board.adapter().format(format).char_dots);
    board.run_to(board.beam().dot + chars * dots);
}
