//! Where and why a run stops, and where it is asked to.

use std::collections::BTreeSet;

use backporch_raster::Frame;

use crate::registers::Far;
use crate::trouble::Report;

/// Why a run has stopped.
#[derive(Clone, Debug)]
pub enum Stop {
    /// A frame is whole.
    Frame(Box<Frame>),
    /// The program ended and gave this code.
    Exit(u8),
    /// An address of [`Breakpoints::addresses`] comes next.
    Address(Far),
    /// A port of [`Breakpoints::ports`] was written by the last instruction.
    Port(u16),
    /// The beam has come to the scan line of [`Breakpoints::scan_line`].
    ScanLine(u32),
    /// The program waits for a key and none is to come.
    WaitsForKey,
    /// The time given is over.
    TimeOver,
    /// The program cannot go on.
    Trouble(Box<Report>),
}

impl Stop {
    /// Whether the program can go on from here.
    #[must_use]
    pub fn can_go_on(&self) -> bool {
        !matches!(self, Self::Exit(_) | Self::Trouble(_))
    }
}

/// Where a run is asked to stop.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Breakpoints {
    /// Before the instruction at one of these.
    pub addresses: BTreeSet<Far>,
    /// After a write to one of these.
    pub ports: BTreeSet<u16>,
    /// After the instruction during which the beam comes to this scan line of a frame.
    pub scan_line: Option<u32>,
}

/// The last instructions executed, the newest at the end.
#[derive(Clone, Debug)]
pub(crate) struct Trail {
    places: [Far; Self::LENGTH],
    count: usize,
}

impl Default for Trail {
    fn default() -> Self {
        Self { places: [Far::default(); Self::LENGTH], count: 0 }
    }
}

impl Trail {
    /// A power of two.
    const LENGTH: usize = 16;

    #[inline]
    pub fn add(&mut self, at: Far) {
        // A repeated string is one instruction.
        if self.places[self.count.wrapping_sub(1) % Self::LENGTH] != at {
            self.places[self.count % Self::LENGTH] = at;
            self.count = self.count.wrapping_add(1);
        }
    }

    pub fn places(&self) -> impl Iterator<Item = Far> {
        let first = self.count.saturating_sub(Self::LENGTH);
        (first..self.count).map(|index| self.places[index % Self::LENGTH])
    }

    pub fn last(&self) -> Far {
        self.places[self.count.wrapping_sub(1) % Self::LENGTH]
    }
}
