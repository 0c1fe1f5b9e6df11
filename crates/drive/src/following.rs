//! A program's accesses made on a watched board, as they come.

use backporch_hazards::{Hazard, Inspector};
use backporch_pc::record::AccessKind;
use backporch_pc::{Far, RecordedAccess};
use backporch_raster::{Board, Tap};
use backporch_script::{CodeAddress, FrameRecord, Maker, Poll, Watched};

use crate::driven::traced;

/// A board on which everything a program does is done once more and noted.
///
/// What a program did is followed frame by frame, so that nothing has to be kept but the frames under judgement.
#[derive(Clone, Debug)]
pub struct Follower<T: Tap> {
    board: Watched<T>,
}

impl<T: Tap> Follower<T> {
    /// Follows on a board that is like the program's own at the start.
    #[must_use]
    pub fn new(board: Board<T>) -> Self {
        Self { board: Watched::new(board) }
    }

    /// The board.
    #[must_use]
    pub fn board(&self) -> &Watched<T> {
        &self.board
    }

    /// The same, with a choice of what to keep.
    pub fn board_mut(&mut self) -> &mut Watched<T> {
        &mut self.board
    }

    /// Does what the program did.
    pub fn follow(&mut self, accesses: &[RecordedAccess]) {
        for access in accesses {
            self.board.made_by(maker_of(access));
            match access.kind {
                AccessKind::PortRead => {
                    let poll = Poll { port: access.address as u16, last: access.last, times: access.times };
                    self.board.poll_port(access.dot, poll);
                }
                _ => self.board.make(access.dot, traced(access)),
            }
        }
    }

    /// Runs on to a dot.
    pub fn run_to(&mut self, dot: u64) {
        self.board.run_to(dot);
    }

    /// The oldest whole frame not yet taken.
    pub fn take(&mut self) -> Option<FrameRecord> {
        self.board.take()
    }

    /// The frame under way, run to its end.
    pub fn next_frame(&mut self) -> FrameRecord {
        loop {
            if let Some(record) = self.take() {
                return record;
            }
            let here = self.board.at().dot;
            self.run_to(here + STRIDE);
        }
    }
}

/// Frames that are shown on after a program has ended: the one under way, and those that tell what it left.
const SHOWN_ON: usize = 3;

/// Dots run at a time where nothing happens.
const STRIDE: u64 = 1 << 16;

fn maker_of(access: &RecordedAccess) -> Maker {
    let Far { segment, offset } = access.by;
    let place = CodeAddress { segment, offset };
    if access.by_firmware { Maker::Firmware(place) } else { Maker::Instruction(place) }
}

/// The instruction of a program that made a mistake, where one did.
#[must_use]
pub fn responsible(hazard: &Hazard) -> Option<Far> {
    hazard.by.place().map(|CodeAddress { segment, offset }| Far::new(segment, offset))
}

/// Looks for mistakes in what a program does, while it does it.
#[derive(Clone, Debug)]
pub struct Watcher<T: Tap> {
    follower: Follower<T>,
    inspector: Inspector,
}

impl<T: Tap> Watcher<T> {
    /// A watcher with a board that is like the program's own at the start.
    #[must_use]
    pub fn new(board: Board<T>, inspector: Inspector) -> Self {
        Self { follower: Follower::new(board), inspector }
    }

    /// Takes in what the program did, and that its beam has come to a dot; gives the mistakes found since.
    pub fn follow(&mut self, accesses: &[RecordedAccess], dot: u64) -> Vec<Hazard> {
        self.follower.follow(accesses);
        self.follower.run_to(dot);
        while let Some(record) = self.follower.take() {
            self.inspector.see(record);
        }
        self.inspector.take_found()
    }

    /// Judges the last frames too. Where the program has ended, its board shows on what it left.
    #[must_use]
    pub fn finish(mut self, ended: bool) -> Vec<Hazard> {
        let more = if ended { SHOWN_ON } else { 0 };
        (0..more).for_each(|_| self.inspector.see(self.follower.next_frame()));
        self.inspector.finish(None)
    }
}
