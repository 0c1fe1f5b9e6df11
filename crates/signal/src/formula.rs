//! Published timing formulas: blanking, sync and porches for a picture of any size.
//!
//! VESA's Generalized Timing Formula (GTF) and Coordinated Video Timings (CVT, without reduced blanking). Both say how much
//! of a line is blanked by one straight line over its length, that sync is eight hundredths of the line and ends in the middle
//! of blanking, and that vertical sync and the back porch below it last 550 us. They differ in how they round and in the
//! lines of vertical sync and front porch.
//!
//! ```text
//! size, frame rate ────────► signal           the published way, for a dot clock of any frequency
//! dots shown, dot clock ───► least_line ──► horizontal      for a board whose crystals are given
//! lines shown, line rate ──► least_frame
//! ```

use serde::{Deserialize, Serialize};

use crate::{Axis, AxisError, Hertz, Polarity, Signal, SyncPolarity};

/// C' of the blanking formula, in percent: the default values C = 40, K = 128, J = 20.
const OFFSET_PERCENT: f64 = 30.0;
/// M' of it, in percent for each millisecond of a line: the default values M = 600, K = 128.
const GRADIENT_PERCENT: f64 = 300.0;
/// Least share of a line that CVT blanks, in percent.
const CVT_LEAST_PERCENT: f64 = 20.0;
/// Share of a line that is sync.
const SYNC_SHARE: f64 = 0.08;
/// Least time of vertical sync and the back porch together, in microseconds: what a tube needs to go back to the top.
pub const SYNC_AND_BACK_US: f64 = 550.0;
/// What a count that is whole in theory may fall short of it in floating point: 964 lines at 60 Hz are 33 in 550 us.
const ROUNDING_SLACK: f64 = 1e-9;
/// Least lines of the back porch of CVT, as its reference implementations have it.
const CVT_LEAST_BACK: u32 = 7;
/// Dots that sizes are counted in where a board does not say otherwise.
const CELL: u32 = 8;
/// Most dots and lines of a picture.
const MOST: u32 = 16_384;
/// Most dots of a cell.
const MOST_CELL: u32 = 64;
/// Steps of the dot clock of CVT, in hertz.
const CVT_CLOCK_STEP: f64 = 250_000.0;

/// A published timing formula.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum Formula {
    /// Generalized Timing Formula (VESA, 1999), default parameters.
    Gtf,
    /// Coordinated Video Timings (VESA, 2003), without reduced blanking.
    Cvt,
}

impl Formula {
    /// Its name, for people.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Gtf => "GTF",
            Self::Cvt => "CVT",
        }
    }

    /// The signal for a picture of `dots` by `lines` at a frame rate, the dot clock chosen by the formula; `None` for a
    /// picture of no size or of more than 16,384 dots or lines, for rates at which it leaves no time for lines, and where it
    /// blanks so little of slow lines that sync has no room.
    #[must_use]
    pub fn signal(self, dots: u32, lines: u32, frame_rate: Hertz) -> Option<Signal> {
        if !(1..=MOST).contains(&dots) || !(1..=MOST).contains(&lines) {
            return None;
        }
        let frame_us = 1e6 / frame_rate.get();
        let estimate_us = (frame_us - SYNC_AND_BACK_US) / f64::from(lines + self.front_porch_lines());
        let line_rate = Hertz::new(1e6 / estimate_us)?;
        let vertical = self.least_frame(dots, lines, line_rate).ok()?;
        let line_us = match self {
            // The lines are made to fit the rate exactly.
            Self::Gtf => frame_us / f64::from(vertical.total()),
            Self::Cvt => estimate_us,
        };
        let percent = OFFSET_PERCENT - GRADIENT_PERCENT * line_us / 1e3;
        let total = dots + self.blanking(dots, percent, CELL);
        let exact = f64::from(total) / line_us * 1e6;
        let dot_clock = match self {
            Self::Gtf => exact,
            Self::Cvt => (exact / CVT_CLOCK_STEP).floor() * CVT_CLOCK_STEP,
        };
        Some(Signal {
            dot_clock: Hertz::new(dot_clock)?,
            horizontal: self.horizontal(dots, total, CELL).ok()?,
            vertical,
            polarity: Some(Self::POLARITY),
        })
    }

    /// Polarity of sync by which both tell a monitor that it gets their timing.
    pub const POLARITY: SyncPolarity = SyncPolarity { horizontal: Polarity::Negative, vertical: Polarity::Positive };

    /// Dots of the shortest line that the formula makes of `active` dots at a dot clock, in cells of `cell` dots, at least
    /// one; `None` for no dots, more than 16,384, or cells of more than 64.
    ///
    /// The published way from a given dot clock is GTF's; for CVT it is derived, the same straight line being solved. Below
    /// about 20 kHz either blanks too little for its own sync: the line is then the shortest with room for that (derived).
    #[must_use]
    pub fn least_line(self, active: u32, cell: u32, dot_clock: Hertz) -> Option<u32> {
        if !(1..=MOST).contains(&active) || cell > MOST_CELL {
            return None;
        }
        let (cell, megahertz) = (cell.max(1), dot_clock.get() / 1e6);
        // total (1 - (C' - M' total / clock)) = active, the parameters as shares of 1.
        let (shown, gradient) = (1.0 - OFFSET_PERCENT / 100.0, GRADIENT_PERCENT / 1e5 / megahertz);
        let total = ((shown * shown + 4.0 * gradient * f64::from(active)).sqrt() - shown) / (2.0 * gradient);
        let percent = OFFSET_PERCENT - GRADIENT_PERCENT * total / megahertz / 1e3;
        let least = active + self.blanking(active, percent, cell);
        (least..=2 * least).step_by(2 * cell as usize).find(|total| self.horizontal(active, *total, cell).is_ok())
    }

    /// A line of `total` dots, of which `active` are shown: sync in cells of `cell` dots, ending in the middle of blanking.
    ///
    /// # Errors
    /// Where blanking has no room for sync.
    pub fn horizontal(self, active: u32, total: u32, cell: u32) -> Result<Axis, AxisError> {
        let cell = cell.max(1);
        let cells = SYNC_SHARE * f64::from(total) / f64::from(cell);
        let cells = match self {
            Self::Gtf => cells.round(),
            Self::Cvt => cells.floor(),
        };
        let sync = (cells as u32).max(1) * cell;
        let back = total.saturating_sub(active) / 2 / cell * cell;
        Axis::new(active, total.saturating_sub(back + sync), sync, total)
    }

    /// The shortest frame for a picture of this many dots and lines at a line rate.
    ///
    /// # Errors
    /// Where no line is shown.
    pub fn least_frame(self, dots: u32, lines: u32, line_rate: Hertz) -> Result<Axis, AxisError> {
        let in_550_us = SYNC_AND_BACK_US * line_rate.get() / 1e6;
        let sync = self.sync_lines(dots, lines);
        let sync_and_back = match self {
            Self::Gtf => (in_550_us.round() as u32).max(sync + 1),
            Self::Cvt => ((in_550_us + ROUNDING_SLACK).floor() as u32 + 1).max(sync + CVT_LEAST_BACK),
        };
        let sync_start = lines.saturating_add(self.front_porch_lines());
        Axis::new(lines, sync_start, sync, sync_start.saturating_add(sync_and_back))
    }

    fn front_porch_lines(self) -> u32 {
        match self {
            Self::Gtf => 1,
            Self::Cvt => 3,
        }
    }

    /// Lines of vertical sync, which in CVT say the shape of the picture: whole dots of it count, but for 5 : 4, which must be
    /// met exactly (as `edid-decode` has it).
    fn sync_lines(self, dots: u32, lines: u32) -> u32 {
        let (dots, lines) = (u64::from(dots), u64::from(lines));
        let has_shape = |across: u64, down: u64| lines * across / down == dots;
        match self {
            Self::Gtf => 3,
            Self::Cvt if has_shape(4, 3) => 4,
            Self::Cvt if has_shape(16, 9) => 5,
            Self::Cvt if has_shape(16, 10) => 6,
            Self::Cvt if has_shape(15, 9) || lines * 5 == dots * 4 => 7,
            Self::Cvt => 10,
        }
    }

    /// Dots blanked where the formula gives a share of the line, in pairs of cells, at least one.
    fn blanking(self, active: u32, percent: f64, cell: u32) -> u32 {
        let pair = f64::from(2 * cell);
        let pairs = |percent: f64| f64::from(active) * percent / (100.0 - percent) / pair;
        let pairs = match self {
            Self::Gtf => pairs(percent).round(),
            Self::Cvt => pairs(percent.max(CVT_LEAST_PERCENT)).floor(),
        };
        (pairs.max(1.0) * pair) as u32
    }
}
