//! Latch: which start address the adapter takes over, and when.

use std::collections::VecDeque;

use backporch_adapter::{StartLoad, Timing};
use backporch_raster::{LatchMoment, Stages};

use crate::language::actions;

actions! {
    /// What a fault does when the start address is taken over.
    pub enum LatchAction {
        /// Bits of the start address stuck at 0, or dropped.
        BitsLow { bits: Between(1, 0xFFFFFF) }
            => TakeOver, "bits {bits:#} of the start address are taken over as 0";
        /// Bits of the start address stuck at 1.
        BitsHigh { bits: Between(1, 0xFFFFFF) }
            => TakeOver, "bits {bits:#} of the start address are taken over as 1";
        /// The start address is not taken over: the old one stays.
        Missed
            => TakeOver, "the start address is not taken over and the old one stays";
        /// The start address is taken over this many frames late.
        LateFrames { frames: Between(0, 60) }
            => TakeOver, "the start address is taken over {frames} frame(s) late";
        /// The upper byte and what is above it come into force a frame after the lower byte.
        HighByteLate
            => TakeOver, "the upper byte of the start address is taken over a frame after the lower one";
        /// The lower byte comes into force a frame after the upper one.
        LowByteLate
            => TakeOver, "the lower byte of the start address is taken over a frame after the upper one";
        /// The start address is taken over this many scan lines late.
        LateLines { lines: Between(0, 2047) }
            => Nothing, "the start address is taken over {lines} scan line(s) late";
        /// The start address is taken over when a frame begins.
        AtFrameStart
            => Comparands, "the start address is taken over when the frame begins";
        /// The start address is taken over when vertical retrace begins.
        AtRetrace
            => Comparands, "the start address is taken over when vertical retrace begins";
        /// The start address is taken over at every scan line of the first row.
        AtEachLineOfFirstRow
            => Comparands, "the start address is taken over anew at every scan line of the first row";
    }
}

/// What a late take-over remembers: start addresses by frame, oldest first.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub(crate) struct LatchMemory {
    seen: VecDeque<(u64, u32)>,
}

impl LatchMemory {
    /// Keeps the start address of a frame and answers with that of `frames` before it.
    fn late(&mut self, frame: u64, start: u32, frames: u64) -> u32 {
        self.seen.retain(|(seen, _)| *seen < frame);
        self.seen.push_back((frame, start));
        let due = frame.saturating_sub(frames);
        while self.seen.len() > 1 && self.seen[1].0 <= due {
            self.seen.pop_front();
        }
        self.seen[0].1
    }
}

impl LatchAction<i32> {
    /// Stages of the tap it works through.
    pub(crate) fn stages(&self) -> Stages {
        match self.moment() {
            Some(_) => Stages::SYNC,
            None => Stages::LATCH,
        }
    }

    /// The start address taken over in place of `start`.
    pub(crate) fn take(&self, moment: &LatchMoment, start: u32, memory: &mut LatchMemory) -> u32 {
        let mut frame_before = || memory.late(moment.frame, start, 1);
        match *self {
            Self::BitsLow { bits } => start & !(bits as u32),
            Self::BitsHigh { bits } => start | bits as u32,
            Self::Missed => moment.shown,
            Self::LateFrames { frames } => memory.late(moment.frame, start, frames as u64),
            Self::HighByteLate => frame_before() & !0xFF | start & 0xFF,
            Self::LowByteLate => start & !0xFF | frame_before() & 0xFF,
            Self::LateLines { .. } | Self::AtFrameStart | Self::AtRetrace | Self::AtEachLineOfFirstRow => start,
        }
    }

    /// Scan lines by which the take-over comes late.
    pub(crate) fn delay(&self) -> u32 {
        match *self {
            Self::LateLines { lines } => lines as u32,
            Self::BitsLow { .. }
            | Self::BitsHigh { .. }
            | Self::Missed
            | Self::LateFrames { .. }
            | Self::HighByteLate
            | Self::LowByteLate
            | Self::AtFrameStart
            | Self::AtRetrace
            | Self::AtEachLineOfFirstRow => 0,
        }
    }

    /// Whether it changes nothing on any board.
    pub(crate) fn is_no_op(&self) -> bool {
        match *self {
            Self::LateFrames { frames } => frames == 0,
            Self::LateLines { lines } => lines == 0,
            Self::BitsLow { .. }
            | Self::BitsHigh { .. }
            | Self::Missed
            | Self::HighByteLate
            | Self::LowByteLate
            | Self::AtFrameStart
            | Self::AtRetrace
            | Self::AtEachLineOfFirstRow => false,
        }
    }

    /// Moves the take-over to another moment.
    pub(crate) fn apply(&self, timing: &mut Timing) {
        if let Some(moment) = self.moment() {
            timing.start_load = moment;
        }
    }

    fn moment(&self) -> Option<StartLoad> {
        match self {
            Self::AtFrameStart => Some(StartLoad::FrameStart),
            Self::AtRetrace => Some(StartLoad::VerticalRetrace),
            Self::AtEachLineOfFirstRow => Some(StartLoad::EachLineOfFirstRow),
            Self::BitsLow { .. }
            | Self::BitsHigh { .. }
            | Self::Missed
            | Self::LateFrames { .. }
            | Self::HighByteLate
            | Self::LowByteLate
            | Self::LateLines { .. } => None,
        }
    }
}
