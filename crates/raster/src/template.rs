//! Whole lines drawn once and drawn again: where a scan line begins as an
//! earlier one did, under the same registers, its stretches are the same.

use crate::counters::{Counters, Pulse};
use crate::frame::Segment;

/// What decides how a whole line is cut into stretches, beside the registers.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct LineStart {
    /// Horizontal sync and blanking left over from the line before.
    left: (Pulse, Pulse),
    vertical_sync: bool,
    vertical_blanking: bool,
    down: bool,
}

impl LineStart {
    /// Of the counters at the first character clock of a line.
    pub fn of(counters: &Counters) -> Self {
        Self {
            left: (counters.sync, counters.blank),
            vertical_sync: counters.vertical_sync(),
            vertical_blanking: counters.vertical_blanking(),
            down: counters.vertical_enable(),
        }
    }
}

/// What of memory a whole line shows.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Shows {
    /// None.
    Nothing,
    /// A picture line in one piece from the first dot on: the segment of that position.
    PictureLine(usize),
    /// In any other way.
    Pieces,
}

impl Shows {
    /// Of the segments of a line; a picture line has this many dots.
    pub fn of(segments: &[Segment], picture_dots: u32) -> Self {
        let active = |segment: &Segment| segment.kind.pixel_dots().is_some();
        match segments.iter().position(active) {
            None => Self::Nothing,
            Some(position) => {
                let first = &segments[position];
                let alone = !segments[position + 1..].iter().any(active);
                let whole = first.dot == 0 && first.dots == picture_dots;
                if alone && whole { Self::PictureLine(position) } else { Self::Pieces }
            }
        }
    }
}

/// A whole line, drawn without a change of shape in between.
#[derive(Clone, Debug)]
pub(crate) struct LineTemplate {
    pub begins: LineStart,
    /// Its segments; the values of active ones, and the palette, are another line's.
    pub segments: Vec<Segment>,
    pub shows: Shows,
    /// Dots of the line.
    pub dots: u32,
    /// Horizontal sync and blanking left over at its end.
    pub ends: (Pulse, Pulse),
}

/// The whole lines drawn since timing or display format last changed.
#[derive(Clone, Debug, Default)]
pub(crate) struct Templates {
    shape: u64,
    known: Vec<LineTemplate>,
}

/// Kinds of line kept: shown, border, vertical sync, vertical blanking, and
/// the first of each after a change.
const MOST: usize = 8;

impl Templates {
    /// The template of a line that begins so, if it was drawn under this shape.
    pub fn find(&self, shape: u64, begins: &LineStart) -> Option<usize> {
        if self.shape != shape {
            return None;
        }
        self.known.iter().position(|template| template.begins == *begins)
    }

    /// The template at a position [`Templates::find`] gave.
    pub fn at(&self, position: usize) -> &LineTemplate {
        &self.known[position]
    }

    /// The same with the palette of that position in its segments.
    pub fn at_palette(&mut self, position: usize, palette: u16) -> &LineTemplate {
        let template = &mut self.known[position];
        if template.segments.first().is_some_and(|segment| segment.palette != palette) {
            template.segments.iter_mut().for_each(|segment| segment.palette = palette);
        }
        template
    }

    /// Keeps a line drawn under a shape.
    pub fn keep(&mut self, shape: u64, template: LineTemplate) {
        if self.shape != shape {
            self.known.clear();
            self.shape = shape;
        }
        if self.known.len() < MOST {
            self.known.push(template);
        }
    }
}
