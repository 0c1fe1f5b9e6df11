//! Hazards: mistakes of timing and order, found in what happened.
//!
//! An [`Inspector`] is shown one [`FrameRecord`](backporch_script::FrameRecord) after
//! another, from a routine, a replayed trace or any other driver. It looks at
//! what reached the bus, where the beam was, and what the board then showed,
//! never at the text of a script.
//!
//! ```text
//! records ─► Seen (four frames) ─┬─► start:   torn, late, near the latch
//!                                ├─► memory:  column early or late, tear, pitch
//!                                ├─► picture: registers in the middle of it, panning
//!                                └─► state:   protected, out of step, runs over, snow, sync, overrun
//! ```
//!
//! A frame is judged when the two after it are known: what a write did shows
//! up to two frames later.

mod book;
mod flip_flop;
mod image;
mod inspect;
mod memory;
mod mid_picture;
mod panning;
mod pitch;
mod seen;
mod setting;
mod signal;
mod start;
mod state;
mod tear;
mod window;

pub use image::{Displaced, displaced, loader_hazards};
pub use inspect::{Inspector, inspect};
pub use setting::{MeantLayout, Surroundings};

use std::fmt;

use backporch_script::{Maker, PortAccess};

/// The kinds of mistakes.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum HazardKind {
    /// The start address was taken over between its bytes.
    TornStart,
    /// The start address was written after it was taken over.
    LateStart,
    /// The start address was written so near its take-over that the speed of the machine decides.
    NearLatch,
    /// The entering column was redrawn while a frame still showed it at its old place.
    ColumnEarly,
    /// The entering column was redrawn after the frame had shown it.
    ColumnLate,
    /// Memory was written across the place the beam was reading.
    Tear,
    /// Panning was shown with the start address of another step.
    PanPairing,
    /// Colours, panning, page or mode changed in the middle of the picture.
    MidPicture,
    /// Panning reaches below a split screen's edge.
    PanBelowSplit,
    /// The attribute port took an index for data, or data for an index.
    FlipFlop,
    /// A protected register took no write.
    Protected,
    /// Rows are written at another pitch than they are shown.
    Pitch,
    /// The window runs over the end of memory or of a 64 KiB segment.
    RunsOver,
    /// A memory image is displaced against its picture.
    LoaderOffset,
    /// The processor took the fetch's place while the beam displayed.
    Snow,
    /// The monitor will not take the signal.
    Sync,
    /// A pass took more frames than it was meant to.
    Overrun,
    /// A wait does not end.
    Stuck,
}

impl HazardKind {
    /// Every kind.
    pub const ALL: [Self; 18] = [
        Self::TornStart,
        Self::LateStart,
        Self::NearLatch,
        Self::ColumnEarly,
        Self::ColumnLate,
        Self::Tear,
        Self::PanPairing,
        Self::MidPicture,
        Self::PanBelowSplit,
        Self::FlipFlop,
        Self::Protected,
        Self::Pitch,
        Self::RunsOver,
        Self::LoaderOffset,
        Self::Snow,
        Self::Sync,
        Self::Overrun,
        Self::Stuck,
    ];

    /// Whether it is a matter of time: of when a write falls, or of how long a pass takes.
    #[must_use]
    pub fn is_of_timing(self) -> bool {
        match self {
            Self::TornStart
            | Self::LateStart
            | Self::NearLatch
            | Self::ColumnEarly
            | Self::ColumnLate
            | Self::Tear
            | Self::PanPairing
            | Self::MidPicture
            | Self::Snow
            | Self::Overrun => true,
            Self::PanBelowSplit
            | Self::FlipFlop
            | Self::Protected
            | Self::Pitch
            | Self::RunsOver
            | Self::LoaderOffset
            | Self::Sync
            | Self::Stuck => false,
        }
    }

    /// Name in reports.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::TornStart => "torn-start",
            Self::LateStart => "late-start",
            Self::NearLatch => "near-latch",
            Self::ColumnEarly => "column-early",
            Self::ColumnLate => "column-late",
            Self::Tear => "tear",
            Self::PanPairing => "pan-pairing",
            Self::MidPicture => "mid-picture",
            Self::PanBelowSplit => "pan-below-split",
            Self::FlipFlop => "flip-flop",
            Self::Protected => "protected-register",
            Self::Pitch => "pitch",
            Self::RunsOver => "runs-over",
            Self::LoaderOffset => "loader-offset",
            Self::Snow => "snow",
            Self::Sync => "sync",
            Self::Overrun => "overrun",
            Self::Stuck => "stuck-wait",
        }
    }
}

impl fmt::Display for HazardKind {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.name())
    }
}

/// One mistake.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Hazard {
    /// Its kind.
    pub kind: HazardKind,
    /// Frame that shows the damage, or would.
    pub frame: u64,
    /// Scan line: of the beam at the write for hazards of registers, of the
    /// first damage for hazards of memory.
    pub line: u32,
    /// Dot of that line.
    pub dot: u32,
    /// Dot, since the board was made, at which the beam stood for the access that made the mistake, where one did.
    pub made: Option<u64>,
    /// Who made that access.
    pub by: Maker,
    /// What happened.
    pub what: String,
    /// What to do about it.
    pub cure: String,
}

impl Hazard {
    /// A mistake that a write to a port made, where the beam stood at it; `frame` shows the damage, or would.
    fn of_write(kind: HazardKind, frame: u64, write: &PortAccess, what: String, cure: String) -> Self {
        let PortAccess { at, by, .. } = *write;
        Self { kind, frame, line: at.line, dot: at.line_dot, made: Some(at.dot), by, what, cure }
    }
}
