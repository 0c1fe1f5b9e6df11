//! Transport: the boards, the moment they stand at, and whether time runs.

use backporch_adapter::Registers;
use backporch_bench::Bench;
use backporch_raster::{Beam, Frame};

use super::board_pair::{BoardAction, BoardPair};
use super::history::{BoardHistory, KeptReplay};
use super::pace::Pace;
use super::stop_condition::{PendingStop, StopCondition};
use super::{BoardSide, BusWrite};

/// Where in time the boards stand, and how time goes on.
#[derive(Debug)]
pub struct Transport {
    pub(super) history: BoardHistory,
    pub(super) pace: Pace,
    /// Frames run by themselves.
    pub(super) running: bool,
    /// A frame far ahead that is run to.
    pub(super) goal: Option<u64>,
    /// A course of events that is played anew, to be gone over to.
    pub(super) replay: Option<KeptReplay>,
    /// What a run is to stop at.
    pub(super) stop: Option<PendingStop>,
    /// Actions asked for that the boards have yet to take.
    pub(super) pending: Vec<BoardAction>,
}

impl Transport {
    /// Boards that have drawn nothing yet, paused.
    pub(super) fn new(boards: BoardPair) -> Self {
        Self {
            history: BoardHistory::new(boards),
            pace: Pace::new(60.0),
            running: false,
            goal: None,
            replay: None,
            stop: None,
            pending: Vec::new(),
        }
    }

    /// Begins anew with other boards, at the same speed.
    pub(super) fn replace_boards(&mut self, boards: BoardPair) {
        self.history = BoardHistory::new(boards);
        self.pending.clear();
        self.stop = None;
        self.goal = None;
        self.replay = None;
    }

    pub(super) fn boards(&self) -> &BoardPair {
        self.history.boards()
    }

    /// When frames are due.
    #[must_use]
    pub fn pace(&self) -> &Pace {
        &self.pace
    }

    /// Whether frames run by themselves.
    #[must_use]
    pub fn is_running(&self) -> bool {
        self.running || self.goal().is_some()
    }

    /// What the run waits for, where it waits for something.
    #[must_use]
    pub fn stop_condition(&self) -> Option<StopCondition> {
        self.stop.as_ref().map(|stop| stop.condition)
    }

    /// The frame a jump is on its way to.
    #[must_use]
    pub fn goal(&self) -> Option<u64> {
        self.goal.or(self.replay.as_ref().map(KeptReplay::last))
    }

    /// Number of the newest whole frame.
    #[must_use]
    pub fn frame_shown(&self) -> u64 {
        self.boards().newest.faulty.number
    }

    /// Number of the frame one looks at: inside a frame the one that is being drawn,
    /// else the newest whole one. What a person reads is this number everywhere.
    #[must_use]
    pub fn frame_number(&self) -> u64 {
        if self.is_mid_frame() { self.boards().frame() } else { self.frame_shown() }
    }

    /// Whether the beam stands inside a frame, with part of it drawn.
    #[must_use]
    pub fn is_mid_frame(&self) -> bool {
        self.boards().now() > self.boards().frame_start()
    }

    /// Where the faulty board's beam is.
    #[must_use]
    pub fn beam(&self) -> Beam {
        self.boards().faulty.beam()
    }

    /// Whether what comes next was seen before and is played again.
    #[must_use]
    pub fn replays(&self) -> bool {
        self.history.replays()
    }

    /// The newest whole frame of a board.
    #[must_use]
    pub fn frame(&self, side: BoardSide) -> &Frame {
        self.boards().frame_of(side)
    }

    /// What was written in the frame one looks at, in the order of the beam.
    #[must_use]
    pub fn writes(&self) -> &[BusWrite] {
        self.boards().writes(self.frame_number())
    }

    /// How many more were made in it than are kept.
    #[must_use]
    pub fn writes_left_out(&self) -> usize {
        self.boards().writes_left_out(self.frame_number())
    }

    /// Registers as the faulty board's ports have left them.
    #[must_use]
    pub fn faulty_registers(&self) -> &Registers {
        self.boards().faulty.registers()
    }

    /// The faulty board's video memory.
    #[must_use]
    pub fn memory(&self) -> &[u8] {
        self.boards().faulty.memory()
    }

    /// Lets frames run, or stops them.
    pub(super) fn run(&mut self, on: bool) {
        self.running = on;
        self.stop = None;
        self.history.stop_at(None);
        self.goal = None;
        self.replay = None;
        self.pace.stop();
    }

    /// Runs to a quarter down a frame: far from any latch, in the active area of every mode.
    pub(super) fn run_to_quarter(&mut self, bench: &Bench) {
        let boards = self.boards();
        let length: u64 = boards.newest.faulty.lines.iter().map(|line| u64::from(line.dots)).sum();
        if boards.now() > boards.frame_start() + length / 4 {
            self.history.finish_frame(bench);
        }
        let quarter = self.boards().frame_start() + length / 4;
        self.history.run_to(bench, quarter);
    }

    /// Runs to the end of the frame under way; `false` where it stopped before.
    pub(super) fn finish_frame(&mut self, bench: &Bench) -> bool {
        match self.stop_condition() {
            Some(StopCondition::ScanLine(line)) => self.history.finish_frame_or_come_to(bench, line),
            _ => self.history.finish_frame(bench),
        }
    }
}
