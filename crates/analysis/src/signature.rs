//! The signature of one frame under a fault: which lines are bad, where, and how.
//!
//! This is the compact signature that predictions are kept as. Faults that
//! lead to equal signatures under every setting tried cannot be distinguished by
//! any sighting, whatever they do inside.

mod components;
pub(crate) mod frames;
mod line_set;
pub(crate) mod moved;

pub use components::ComponentChange;
pub use line_set::LineSet;

use crate::verdict::Verdict;

/// What is wrong with a frame; of several the greatest counts.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Nature {
    /// Every shape in its place, in wrong colours.
    Colours,
    /// Wrong pixel values from the right addresses.
    Pixels,
    /// Wrong addresses.
    Addresses,
    /// The picture stands in another place.
    Displaced,
    /// No stable picture.
    NoPicture,
}

/// What a frame shows, held against a healthy board's.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub struct FrameSignature {
    /// Pixels of a line.
    pub width: u32,
    /// The bad lines.
    pub lines: LineSet,
    /// First and last bad pixel over all lines.
    pub x: Option<(u32, u32)>,
    /// Number of bad pixels.
    pub pixels: u32,
    /// What is wrong; `None` where nothing is.
    pub nature: Option<Nature>,
    /// Pixels by which the content of the bad parts is moved to the left, counted on from line to line through memory,
    /// where it is the same for three quarters of them or more; negative to the right. A [pitch](Self::pitch) to the left is
    /// a line up.
    pub moved: Option<i32>,
    /// Pixels from the start of a line to that of the next one in memory.
    pub pitch: u32,
    /// Pixels by which lines end before they should, at most.
    pub short: u32,
    /// It is not the same in every frame.
    pub flickers: bool,
    /// What became of red, green and blue between pixel values and screen.
    pub components: [ComponentChange; 3],
}

impl FrameSignature {
    /// A frame as on a healthy board, of that size.
    #[must_use]
    pub fn clean(width: u32, height: u32) -> Self {
        let lines = LineSet::none(height);
        Self {
            width,
            lines,
            x: None,
            pixels: 0,
            nature: None,
            moved: None,
            pitch: width,
            short: 0,
            flickers: false,
            components: Default::default(),
        }
    }

    /// A frame that is wrong all over.
    #[must_use]
    pub fn all(width: u32, height: u32, nature: Nature) -> Self {
        let x = (width > 0).then(|| (0, width - 1));
        Self {
            lines: LineSet::all(height),
            x,
            pixels: width * height,
            nature: Some(nature),
            ..Self::clean(width, height)
        }
    }

    /// The same where lines follow each other in memory at another distance than their width, in pixels.
    #[must_use]
    pub fn with_pitch(self, pitch: u32) -> Self {
        Self { pitch, ..self }
    }

    /// Where the content of the bad parts has moved, if most of it has moved alike: pixels to the right, and lines down.
    #[must_use]
    pub fn moved_to(&self) -> Option<(i32, i32)> {
        let moved = -self.moved?;
        let pitch = i32::try_from(self.pitch.max(1)).unwrap_or(i32::MAX);
        // The nearest line: at most half a pitch to either side.
        let down = (moved + moved.signum() * (pitch / 2)) / pitch;
        Some((moved - down * pitch, down))
    }

    /// Whether pixel values are shown in other colours than they are meant to be.
    #[must_use]
    pub fn is_recoloured(&self) -> bool {
        self.components != <[ComponentChange; 3]>::default()
    }

    /// Whether nothing is wrong.
    #[must_use]
    pub fn is_clean(&self) -> bool {
        self.nature.is_none()
    }

    /// The verdict, as of a sweep.
    #[must_use]
    pub fn verdict(&self) -> Verdict {
        match (self.nature, self.x) {
            (None, _) => Verdict::Clean,
            (_, Some((from, _))) if from >= self.width.div_ceil(2) => Verdict::EdgeDamaged,
            _ => Verdict::Broken,
        }
    }

    /// Share of the frame's pixels within the bad stretch of the bad lines, 0 to 1.
    #[must_use]
    pub fn extent(&self) -> f64 {
        match (self.nature, self.x) {
            (None, _) => 0.0,
            (Some(Nature::Displaced | Nature::NoPicture), _) => 1.0,
            (_, Some((from, to))) => self.lines.share() * f64::from(to - from + 1) / f64::from(self.width.max(1)),
            (_, None) => 0.0,
        }
    }

    /// Takes in what another frame under the same setting shows: it flickers
    /// where that is something else.
    #[must_use]
    pub fn merged_with(mut self, other: &Self) -> Self {
        if self == *other {
            return self;
        }
        self.flickers = true;
        self.moved = self.moved.filter(|_| self.moved == other.moved);
        self.nature = self.nature.max(other.nature);
        self.components = ComponentChange::merged(self.components, other.components);
        self.pixels = self.pixels.max(other.pixels);
        self.short = self.short.max(other.short);
        self.lines.join(&other.lines);
        self.x = match (self.x, other.x) {
            (Some((from, to)), Some((one, two))) => Some((from.min(one), to.max(two))),
            (one, two) => one.or(two),
        };
        self
    }

    /// Share of the bad stretch that is bad, 0 to 1.
    #[must_use]
    pub fn density(&self) -> f64 {
        let stretch = self.x.map_or(0, |(from, to)| to - from + 1) * self.lines.count();
        f64::from(self.pixels) / f64::from(stretch.max(1))
    }

    /// Notes that pixels `from` to `to` of a line are bad.
    pub fn mark(&mut self, line: u32, (from, to): (u32, u32), nature: Nature) {
        self.mark_some(line, (from, to), to - from + 1, nature);
    }

    /// The same where only `pixels` of the stretch are bad.
    pub fn mark_some(&mut self, line: u32, (from, to): (u32, u32), pixels: u32, nature: Nature) {
        self.pixels += pixels;
        self.nature = self.nature.max(Some(nature));
        self.lines.mark(line);
        self.x = Some(match self.x {
            Some((first, last)) => (first.min(from), last.max(to)),
            None => (from, to),
        });
    }
}
