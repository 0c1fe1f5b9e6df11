//! A write trace played back on a board.

use backporch_raster::{Board, Tap};

use crate::trace::{Trace, TraceAccess};
use crate::watch::{FrameRecord, Watched};

/// Drives a board with a trace.
#[derive(Clone, Debug)]
pub struct Replay<T: Tap> {
    board: Watched<T>,
    trace: std::sync::Arc<Trace>,
    next: usize,
    /// Dots that every access comes later by.
    later: u64,
}

impl<T: Tap> Replay<T> {
    /// A replay from the trace's first access on.
    #[must_use]
    pub fn new(board: Board<T>, trace: std::sync::Arc<Trace>) -> Self {
        Self { board: Watched::new(board), trace, next: 0, later: 0 }
    }

    /// The same with every access this many dots later.
    #[must_use]
    pub fn later_by(mut self, dots: u64) -> Self {
        self.later = dots;
        self
    }

    /// The next access, at its dot.
    fn upcoming(&self) -> Option<(u64, TraceAccess)> {
        let (dot, access) = self.trace.accesses().get(self.next)?;
        Some((dot.saturating_add(self.later), *access))
    }

    /// The board under the trace.
    #[must_use]
    pub fn board(&self) -> &Watched<T> {
        &self.board
    }

    /// The same, with a choice of what to keep.
    pub fn board_mut(&mut self) -> &mut Watched<T> {
        &mut self.board
    }

    /// Whether every access has been made.
    #[must_use]
    pub fn is_over(&self) -> bool {
        self.next == self.trace.accesses().len()
    }

    /// Runs to the end of the frame under way. After the last access the beam runs on alone.
    pub fn next_frame(&mut self) -> FrameRecord {
        loop {
            if let Some(record) = self.board.take() {
                return record;
            }
            match self.upcoming() {
                // The beam comes near the access first, so that whole frames
                // before it are given with the board as they left it.
                Some((dot, _)) if dot > self.board.at().dot => {
                    let here = self.board.at().dot;
                    self.board.run_to(dot.min(here + FRAME_STRIDE));
                }
                Some((dot, access)) => {
                    self.next += 1;
                    self.board.make(dot, access);
                }
                None => {
                    let here = self.board.at().dot;
                    self.board.run_to(here + FRAME_STRIDE);
                }
            }
        }
    }

    /// Plays on until the beam is at a dot; accesses at that very dot are still to come.
    pub fn run_to(&mut self, dot: u64) {
        while let Some((at, access)) = self.upcoming().filter(|(at, _)| *at < dot) {
            self.next += 1;
            self.board.make(at, access);
        }
        self.board.run_to(dot);
    }
}

/// Dots the beam runs at a time where nothing happens.
const FRAME_STRIDE: u64 = 1 << 16;
