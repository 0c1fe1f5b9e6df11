//! What became of red, green and blue in a frame whose colours are wrong.

use backporch_adapter::Rgba;
use backporch_raster::{Frame, ScanLine, Segment};

/// A component keeps its light while that changes by no more than this share.
const UNCHANGED: f64 = 0.03;

/// What became of one of the three components over a frame.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum ComponentChange {
    /// As it was, everywhere.
    #[default]
    Same,
    /// Elsewhere, but about as much of it.
    Moved,
    /// Less of it.
    Less,
    /// More of it.
    More,
    /// None of it is left.
    Missing,
}

impl ComponentChange {
    /// Of frames that differ: what is the same in both; else what is neither more nor less.
    pub(super) fn merged(one: [Self; 3], other: [Self; 3]) -> [Self; 3] {
        std::array::from_fn(|at| if one[at] == other[at] { one[at] } else { Self::Moved })
    }
}

/// Red, green and blue of two frames, summed up over their pictures.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Components {
    right: [u64; 3],
    wrong: [u64; 3],
    differs: [bool; 3],
}

impl Components {
    /// Adds a line of each, pixel for pixel.
    pub fn follow(&mut self, healthy: &Frame, one: &ScanLine, faulty: &Frame, other: &ScanLine) {
        for (segment, that) in healthy.segments_of(one).iter().zip(faulty.segments_of(other)) {
            let pairs = colours(healthy, segment).zip(colours(faulty, that));
            pairs.for_each(|(right, wrong)| self.add(right, wrong));
        }
    }

    /// Adds pixel values in the colours they are meant to be shown in and those they are.
    pub fn add_values(&mut self, values: &[u8], meant: &[Rgba; 256], shown: &[Rgba; 256]) {
        values.iter().for_each(|value| self.add(meant[usize::from(*value)], shown[usize::from(*value)]));
    }

    fn add(&mut self, right: Rgba, wrong: Rgba) {
        for at in 0..3 {
            self.right[at] += u64::from(right[at]);
            self.wrong[at] += u64::from(wrong[at]);
            self.differs[at] |= right[at] != wrong[at];
        }
    }

    /// What became of each.
    pub fn changes(&self) -> [ComponentChange; 3] {
        std::array::from_fn(|at| match (self.right[at] as f64, self.wrong[at] as f64) {
            _ if !self.differs[at] => ComponentChange::Same,
            (_, 0.0) => ComponentChange::Missing,
            (right, wrong) if wrong < right * (1.0 - UNCHANGED) => ComponentChange::Less,
            (right, wrong) if wrong > right * (1.0 + UNCHANGED) => ComponentChange::More,
            _ => ComponentChange::Moved,
        })
    }
}

/// Colours of the pixels of a segment, in order.
fn colours<'a>(frame: &'a Frame, segment: &Segment) -> impl Iterator<Item = Rgba> + 'a {
    let palette = &frame.palettes[usize::from(segment.palette)].colours;
    frame.values_of(segment.kind).iter().map(move |value| palette[usize::from(*value)])
}
