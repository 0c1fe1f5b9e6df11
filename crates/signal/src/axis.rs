//! One axis of a raster, and the two axes with a clock: the signal.

use thiserror::Error;

use crate::{Hertz, SyncPolarity};

/// One axis of a raster, in dots along a line or in lines down a frame.
///
/// Counted from the first active unit: active, front porch, sync, back porch.
/// The porches reach from the active area to the sync pulse, so a visible
/// border is part of them. Their sum is the total; no part overlaps another.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Axis {
    active: u32,
    front_porch: u32,
    sync: u32,
    back_porch: u32,
}

/// Why an axis has no place for its parts: a monitor would show no stable picture.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Error)]
pub enum AxisError {
    /// Nothing is displayed on this axis.
    #[error("nothing is displayed")]
    NothingActive,
    /// The frame never ends.
    #[error("the frame does not end")]
    Endless,
    /// The sync pulse has no width.
    #[error("there is no sync pulse")]
    NoSync,
    /// The sync pulse begins inside the active area.
    #[error("sync begins at {sync_start}, inside the active area of {active}")]
    SyncInsideActive {
        /// First unit of the pulse.
        sync_start: u32,
        /// Number of active units.
        active: u32,
    },
    /// The sync pulse is not over when the line or frame ends, or never begins.
    #[error("sync ends at {sync_end}, past the total of {total}")]
    SyncPastTotal {
        /// First unit after the pulse.
        sync_end: u32,
        /// Units in the whole axis.
        total: u32,
    },
}

impl Axis {
    /// Lays an axis out from a controller's comparands.
    ///
    /// # Errors
    /// Where the parts overlap or one of them is missing: see [`AxisError`].
    pub fn new(active: u32, sync_start: u32, sync: u32, total: u32) -> Result<Self, AxisError> {
        let sync_end = sync_start.saturating_add(sync);
        if active == 0 {
            Err(AxisError::NothingActive)
        } else if sync == 0 {
            Err(AxisError::NoSync)
        } else if sync_start < active {
            Err(AxisError::SyncInsideActive { sync_start, active })
        } else if sync_end > total {
            Err(AxisError::SyncPastTotal { sync_end, total })
        } else {
            Ok(Self { active, front_porch: sync_start - active, sync, back_porch: total - sync_end })
        }
    }

    /// Active units.
    #[must_use]
    pub fn active(&self) -> u32 {
        self.active
    }

    /// Units between the active area and sync, border included.
    #[must_use]
    pub fn front_porch(&self) -> u32 {
        self.front_porch
    }

    /// Units of the sync pulse.
    #[must_use]
    pub fn sync(&self) -> u32 {
        self.sync
    }

    /// Units between sync and the next active area, border included.
    #[must_use]
    pub fn back_porch(&self) -> u32 {
        self.back_porch
    }

    /// All units of the axis.
    #[must_use]
    pub fn total(&self) -> u32 {
        self.active + self.front_porch + self.sync + self.back_porch
    }
}

/// A stable signal: a dot clock, two axes and the polarity of sync.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Signal {
    /// Dots a second.
    pub dot_clock: Hertz,
    /// Along a line, in dots.
    pub horizontal: Axis,
    /// Down a frame, in scan lines.
    pub vertical: Axis,
    /// Polarity of the sync lines, where it is known.
    pub polarity: Option<SyncPolarity>,
}

impl Signal {
    /// Scan lines a second, in hertz.
    #[must_use]
    pub fn line_rate_hz(&self) -> f64 {
        self.dot_clock.get() / f64::from(self.horizontal.total())
    }

    /// Frames a second, in hertz.
    #[must_use]
    pub fn frame_rate_hz(&self) -> f64 {
        self.line_rate_hz() / f64::from(self.vertical.total())
    }

    /// How long `dots` last, in microseconds.
    #[must_use]
    pub fn microseconds(&self, dots: u32) -> f64 {
        self.dot_clock.microseconds(f64::from(dots))
    }
}
