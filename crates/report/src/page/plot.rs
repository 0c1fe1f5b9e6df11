//! Drawings of the page as SVG: verdict shapes, the parts of a line and of a frame, margins, the beam's way.

use askama::Template;
use backporch_picture::mark::Mark;
use backporch_signal::{Axis, Signal};

/// The shapes of the verdicts, to be used by name; the same as on contact sheets.
#[derive(Clone, Copy, Debug, Template)]
#[template(path = "symbols.svg")]
pub struct Symbols;

impl Symbols {
    /// The colours of the verdicts, for the style sheet.
    pub fn colours(self) -> impl Iterator<Item = (&'static str, [u8; 3])> {
        Mark::ALL.into_iter().map(|mark| (mark.word(), mark.colour()))
    }
}

/// One axis as a level over time: high where memory is shown, middle in the porches, low in sync.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Template)]
#[template(path = "axis.svg")]
pub struct AxisPlot {
    axis: Axis,
}

impl AxisPlot {
    /// Draws an axis.
    pub fn new(axis: Axis) -> Self {
        Self { axis }
    }

    fn sync_start(&self) -> u32 {
        self.axis.active() + self.axis.front_porch()
    }

    fn sync_end(&self) -> u32 {
        self.sync_start() + self.axis.sync()
    }
}

/// The beam's way through a frame, with marked places.
#[derive(Clone, Debug, PartialEq, Eq, Template)]
#[template(path = "beam.svg")]
pub struct BeamChart {
    dots: u32,
    lines: u32,
    active: (u32, u32),
    horizontal_sync: (u32, u32),
    vertical_sync: (u32, u32),
    places: Vec<(u32, u32)>,
}

impl BeamChart {
    /// Draws the frame of a signal and marks places on it, dot of the line and line of the frame, from 1 on.
    #[must_use]
    pub fn new(signal: &Signal, places: Vec<(u32, u32)>) -> Self {
        let start = |axis: &Axis| axis.active() + axis.front_porch();
        let Signal { horizontal, vertical, .. } = signal;
        Self {
            dots: horizontal.total(),
            lines: vertical.total(),
            active: (horizontal.active(), vertical.active()),
            horizontal_sync: (start(horizontal), horizontal.sync()),
            vertical_sync: (start(vertical), vertical.sync()),
            places,
        }
    }

    /// Height of the chart, its width being 1000: as on a screen of 4 to 3.
    fn height(&self) -> u32 {
        750
    }

    fn x(&self, dot: &u32) -> u32 {
        scaled(*dot, self.dots, 1000)
    }

    fn y(&self, line: &u32) -> u32 {
        scaled(*line, self.lines, self.height())
    }
}

/// `part` of `whole` on a length.
fn scaled(part: u32, whole: u32, length: u32) -> u32 {
    (u64::from(part.min(whole)) * u64::from(length) / u64::from(whole.max(1))) as u32
}
