//! What a picture has to be.

use std::ops::RangeInclusive;

/// Half the width of the range that a single frame rate stands for, in hertz: what rounds to it.
const HALF_STEP_HZ: f64 = 0.5;

/// The frame rate wanted, in hertz.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct RateWanted {
    /// The best one.
    pub best: f64,
    /// The slowest that will do.
    pub from: f64,
    /// The fastest that will do.
    pub to: f64,
}

impl RateWanted {
    /// Whatever rounds to this rate; `None` unless it is finite and above 1 Hz.
    #[must_use]
    pub fn about(hertz: f64) -> Option<Self> {
        let is_rate = hertz.is_finite() && hertz > 1.0;
        is_rate.then_some(Self { best: hertz, from: hertz - HALF_STEP_HZ, to: hertz + HALF_STEP_HZ })
    }

    /// Whatever lies between two rates, the middle being the best; `None` unless they rise from above 1 Hz.
    #[must_use]
    pub fn between(range: &RangeInclusive<f64>) -> Option<Self> {
        let (from, to) = (*range.start(), *range.end());
        let rises = from > 1.0 && from <= to && to.is_finite();
        rises.then_some(Self { best: f64::midpoint(from, to), from, to })
    }

    /// Whether a rate will do.
    #[must_use]
    pub fn takes(&self, hertz: f64) -> bool {
        (self.from..=self.to).contains(&hertz)
    }
}

/// What a picture has to be.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ModeNeed {
    /// Pixels across.
    pub width: u32,
    /// Picture lines.
    pub height: u32,
    /// Frame rate; the mode's own as nearly as may be, if `None`.
    pub rate: Option<RateWanted>,
    /// Colours at once, at least.
    pub colours: u32,
}
