//! Sync: where the pulses stand, and where the monitor shows the picture.

use backporch_adapter::Timing;
use backporch_raster::{Shift, Stages};

use crate::chance::draw_around;
use crate::language::actions;

actions! {
    /// What a fault does to sync, and to where the picture stands.
    pub enum SyncAction {
        /// The horizontal sync position is rounded down to a multiple.
        PositionRounded { to: Between(1, 128) }
            => Comparands, "the horizontal sync position is rounded down to a multiple of {to} character clocks";
        /// Horizontal sync begins this many character clocks late (above 0) or early.
        PositionOff { chars: Between(-64, 64) }
            => Comparands, "horizontal sync begins {chars} character clock(s) late";
        /// Horizontal sync is no longer than this.
        WidthAtMost { chars: Between(0, 16) }
            => Comparands, "horizontal sync lasts at most {chars} character clock(s)";
        /// Display ends this many character clocks late (above 0) or early.
        DisplayedOff { chars: Between(-64, 64) }
            => Comparands, "display ends {chars} character clock(s) late";
        /// The picture stands off its place.
        Jump { dots: Between(-1024, 1024), lines: Between(-1024, 1024) }
            => Frame, "the whole picture stands {dots} dot(s) to the right and {lines} line(s) down";
        /// The picture stands off its place by chance.
        Jitter { dots: Between(0, 1024), lines: Between(0, 1024) }
            => Frame, "the whole picture stands off its place by chance, up to {dots} dot(s) and {lines} line(s) either way";
        /// The picture jumps when a register is written, and comes back.
        Bounce { dots: Between(-1024, 1024), lines: Between(-1024, 1024), frames: Between(1, 600) }
            => Write, "the whole picture jumps {dots} dot(s) to the right and {lines} line(s) down, for {frames} frame(s)";
    }
}

/// No sync pulse is longer, in character clocks.
const MOST_SYNC: i32 = 16;

/// Frames for which a jump lasts that a write has caused.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub(crate) struct BounceMemory {
    /// The frame after the last one that jumps.
    until: u64,
}

impl SyncAction<i32> {
    /// Stages of the tap it works through.
    pub(crate) fn stages(&self) -> Stages {
        match self {
            Self::Bounce { .. } => Stages::PORT | Stages::SYNC,
            Self::PositionRounded { .. }
            | Self::PositionOff { .. }
            | Self::WidthAtMost { .. }
            | Self::DisplayedOff { .. }
            | Self::Jump { .. }
            | Self::Jitter { .. } => Stages::SYNC,
        }
    }

    /// Whether writes cause it; its condition is asked then.
    pub(crate) fn is_caused_by_writes(&self) -> bool {
        self.stages().contains(Stages::PORT)
    }

    /// Changes the comparands.
    pub(crate) fn apply(&self, timing: &mut Timing) {
        let start = timing.sync_start;
        match *self {
            Self::PositionRounded { to } => move_sync(timing, start - start % to as u16),
            Self::PositionOff { chars } => move_sync(timing, start.saturating_add_signed(chars as i16)),
            Self::WidthAtMost { chars } => {
                let cut = timing.sync_width.saturating_sub(chars as u16);
                timing.sync_width -= cut;
                timing.blank_width = timing.blank_width.saturating_sub(cut);
            }
            Self::DisplayedOff { chars } => timing.displayed = timing.displayed.saturating_add_signed(chars as i16),
            Self::Jump { .. } | Self::Jitter { .. } | Self::Bounce { .. } => {}
        }
    }

    /// A write has met the condition of a jump.
    pub(crate) fn note(&self, frame: u64, memory: &mut BounceMemory) {
        if let Self::Bounce { frames, .. } = *self {
            memory.until = memory.until.max(frame + frames as u64);
        }
    }

    /// How far the picture of a frame stands off its place.
    pub(crate) fn shift(&self, frame: u64, key: u64, memory: &BounceMemory) -> Shift {
        match *self {
            Self::Jump { dots, lines } => Shift { dots, lines },
            Self::Jitter { dots, lines } => {
                Shift { dots: draw_around(key, frame, 0, dots), lines: draw_around(key, frame, 1, lines) }
            }
            Self::Bounce { dots, lines, .. } if frame < memory.until => Shift { dots, lines },
            Self::Bounce { .. }
            | Self::PositionRounded { .. }
            | Self::PositionOff { .. }
            | Self::WidthAtMost { .. }
            | Self::DisplayedOff { .. } => Shift::default(),
        }
    }

    /// Whether it changes nothing on any board.
    pub(crate) fn is_no_op(&self) -> bool {
        match *self {
            Self::PositionRounded { to } => to == 1,
            Self::PositionOff { chars } | Self::DisplayedOff { chars } => chars == 0,
            Self::WidthAtMost { chars } => chars >= MOST_SYNC,
            Self::Jump { dots, lines } | Self::Jitter { dots, lines } | Self::Bounce { dots, lines, .. } => {
                dots == 0 && lines == 0
            }
        }
    }
}

/// Moves horizontal sync, and the blanking around it.
fn move_sync(timing: &mut Timing, to: u16) {
    let moved = to as i16 - timing.sync_start as i16;
    timing.sync_start = to;
    timing.blank_start = timing.blank_start.saturating_add_signed(moved);
}
