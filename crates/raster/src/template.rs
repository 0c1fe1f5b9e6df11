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

/// A whole line, drawn without a change of shape in between.
#[derive(Clone, Debug)]
pub(crate) struct LineTemplate {
    pub begins: LineStart,
    /// Its segments; the values of active ones are another line's.
    pub segments: Vec<Segment>,
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
