//! Moving memory: string instructions and columns, one access at a time.

use std::sync::Arc;

use backporch_adapter::MemoryPath;
use backporch_raster::{Plain, QuietFrame, Tap};

use super::{Runner, Task};
use crate::cpu::Width;
use crate::program::{ColumnOp, MOST_REPEATS};

/// Where moved bytes come from.
#[derive(Clone, Debug)]
pub(super) enum Bytes {
    Same(u8),
    Picture { from: i64, plane: i64 },
    Memory(u32),
    Listed(Arc<[u8]>),
}

/// A string instruction under way.
#[derive(Clone, Debug)]
pub(super) struct Move {
    bytes: Bytes,
    to: u32,
    count: u32,
    done: u32,
    width: Width,
}

/// A column under way.
#[derive(Clone, Debug)]
pub(super) struct ColumnRedraw {
    layout: QuietFrame,
    start: u32,
    column: i64,
    plane: i64,
    path: MemoryPath,
    x: u32,
    bytes: u32,
    rows: u32,
    pitch: Option<i64>,
    width: Width,
    row: u32,
    done: u32,
}

impl<T: Tap> Runner<T> {
    /// Waits as long as the board keeps a transfer that would be over in this many clocks.
    fn wait_for_board(&mut self, width: Width, address: u32, clocks: u64) {
        let start = (self.state.clock + clocks).saturating_sub(u64::from(self.cpu.model().bus.cycle));
        let line = || self.board.board().line_place();
        let wait = self.cpu.board_transfer_at(width, address, &self.state.beam, line, start);
        self.spend(wait);
    }

    pub(super) fn begin_move(&mut self, bytes: Bytes, to: i64, count: i64, width: Width) {
        let count = count.clamp(0, MOST_REPEATS) as u32;
        self.state.task = (count > 0).then_some(Task::Move(Move { bytes, to: to as u32, count, done: 0, width }));
        self.rest(0);
    }

    /// One repetition of a string instruction.
    pub(super) fn move_once(&mut self, mut task: Move) {
        let to = task.to.wrapping_add(task.done);
        let left = task.count - task.done;
        let width = if left >= task.width.bytes() { task.width } else { Width::Byte };
        let each = match &task.bytes {
            Bytes::Same(_) => self.cpu.clocks().rep_stos.each,
            Bytes::Memory(_) => self.cpu.clocks().rep_movs.each,
            Bytes::Picture { .. } | Bytes::Listed(_) => {
                self.cpu.clocks().rep_movs.each + self.cpu.memory_transfer(width)
            }
        };
        if let Bytes::Memory(at) = &task.bytes {
            // The reading cycle ends before the writing one begins.
            let written = u64::from(each.saturating_sub(self.cpu.model().bus.cycle));
            self.wait_for_board(width, at.wrapping_add(task.done), written);
        }
        self.wait_for_board(width, to, u64::from(each));
        self.spend(each);
        let dot = self.dot();
        for at in task.done..task.done + width.bytes() {
            let byte = match &task.bytes {
                Bytes::Same(byte) => *byte,
                Bytes::Listed(bytes) => bytes[at as usize],
                Bytes::Memory(from) => self.board.read_memory(dot, from.wrapping_add(at)),
                Bytes::Picture { from, plane } => {
                    let offset = from.wrapping_add(i64::from(at));
                    self.picture.as_ref().map_or(0, |picture| picture.at(offset, *plane))
                }
            };
            self.board.write_memory(dot, task.to.wrapping_add(at), byte);
        }
        task.done += width.bytes();
        if task.done < task.count {
            self.state.task = Some(Task::Move(task));
        }
    }

    pub(super) fn begin_column(&mut self, column: &ColumnOp) {
        let setup = self.operand(&column.column) + self.operand(&column.start);
        let rows = match (&column.rows, &self.picture) {
            (Some(rows), _) => self.number(rows).clamp(0, MOST_REPEATS) as u32,
            (None, Some(picture)) => picture.height(),
            (None, None) => 0,
        };
        let task = ColumnRedraw {
            layout: QuietFrame::new(self.board.adapter(), self.board.board().registers(), &Plain),
            start: self.number(&column.start) as u32,
            column: self.number(&column.column),
            plane: self.number(&column.plane),
            path: self.board.adapter().memory_path(self.board.board().registers()),
            x: self.number(&column.x) as u32,
            bytes: self.number(&column.bytes).clamp(0, MOST_REPEATS) as u32,
            rows,
            pitch: column.pitch.as_ref().map(|pitch| self.number(pitch)),
            width: column.width,
            row: 0,
            done: 0,
        };
        let some = task.rows > 0 && task.bytes > 0;
        self.state.task = some.then(|| Task::Redraw(Box::new(task)));
        self.rest(setup + self.cpu.clocks().mov_reg_imm);
    }

    /// One `MOVS` of a column, and at the end of a row the steps to the next.
    pub(super) fn redraw_once(&mut self, mut task: Box<ColumnRedraw>) {
        let line = task.layout.line(0, task.start, task.row);
        // On the line bytes of all planes count, in the window those that the processor reaches one by one.
        let shown = |offset: u32| task.path.shown_at(offset);
        let pitch = task.pitch.map(|pitch| i64::from(shown(pitch as u32)));
        let skew = pitch.map_or(0, |pitch| i64::from(line.row) * (pitch - i64::from(line.pitch)));
        let address = |done: u32| {
            let offset = shown(task.x.wrapping_add(done)).wrapping_add(skew as u32);
            let address = line.memory(line.plain_address(offset));
            task.path.offset_of(address).unwrap_or(address)
        };
        let width = if task.bytes - task.done >= task.width.bytes() { task.width } else { Width::Byte };
        let each = self.cpu.clocks().movs + self.cpu.memory_transfer(width);
        self.wait_for_board(width, address(task.done), u64::from(each));
        self.spend(each);
        let dot = self.dot();
        for done in task.done..task.done + width.bytes() {
            let column = task.column.wrapping_add(i64::from(done));
            let byte = self.picture.as_ref().map_or(0, |picture| picture.byte(column, task.row, task.plane));
            self.board.write_memory(dot, address(done), byte);
        }
        task.done += width.bytes();
        if task.done >= task.bytes {
            task.done = 0;
            task.row += 1;
            let clocks = self.cpu.clocks();
            let adds = if task.layout.format().uses_row_address() { 3 } else { 2 };
            let turn = if task.row < task.rows { clocks.loop_taken } else { clocks.loop_done };
            self.spend(adds * clocks.add_reg_imm + turn);
        }
        if task.row < task.rows {
            self.state.task = Some(Task::Redraw(task));
        }
    }
}
