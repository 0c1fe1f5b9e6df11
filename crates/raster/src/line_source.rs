//! A line on its way from memory to pixel values: the one road that the beam,
//! stretch by stretch, and a quiet frame, line by line, both take.

use backporch_adapter::{Serialise, Shown};

use crate::fetch;
use crate::line::Line;
use crate::serialise::Serialiser;
use crate::span::SpanRow;
use crate::stages::Stages;
use crate::tap::{LineEffects, Tap};

/// Everything that decides what a line shows.
#[derive(Clone, Copy, Debug)]
pub(crate) struct LineSource<'a, T> {
    pub tap: &'a T,
    pub shown: &'a Shown,
    pub line: &'a Line,
    /// What of the tap acts on the line.
    pub effects: &'a LineEffects,
    pub memory: &'a [u8],
    /// Address counter at the start of the line's row, in address units.
    pub row_start: u32,
    /// A byte of the processor in the place of the first character's.
    pub snow: Option<u8>,
}

impl<T: Tap> LineSource<'_, T> {
    /// Appends the pixel values of `chars` character clocks from `along` on;
    /// calls `each` with the spans they are fetched from, in order, row by row.
    pub fn draw(&self, along: u32, chars: u32, scratch: &mut Vec<u8>, values: &mut Vec<u8>, each: impl FnMut(SpanRow)) {
        let Self { line, effects, .. } = *self;
        let extra = u32::from(line.pan > 0);
        let (offset, len) = (along * line.char_bytes, (chars + extra) * line.char_bytes);
        let first = values.len();
        if self.bytes_are_values() {
            self.fetch(offset, len, values, each);
        } else {
            scratch.clear();
            self.fetch(offset, len, scratch, each);
            self.disturb(offset, scratch);
            self.serialiser().append(offset, scratch, values);
        }
        if line.pan > 0 {
            values.drain(first..first + usize::from(line.pan));
            values.truncate(first + (chars * line.char_pixels) as usize);
        }
        if effects.stages.contains(Stages::PIXEL) {
            self.change_pixels(along, &mut values[first..]);
        }
    }

    /// Whether the bytes of memory are the pixel values, one by one.
    fn bytes_are_values(&self) -> bool {
        matches!(self.shown.serialise, Serialise::Packed(8) | Serialise::PlaneBytes)
            && self.snow.is_none()
            && !self.effects.stages.contains(Stages::FETCH)
    }

    /// Appends the bytes of `len` places from `offset` on, as memory has them.
    fn fetch(&self, offset: u32, len: u32, bytes: &mut Vec<u8>, mut each: impl FnMut(SpanRow)) {
        fetch::spans(self.tap, self.line, self.effects, offset, len, |row| {
            row.read(self.memory, bytes);
            each(row);
        });
    }

    /// What the processor and the fetch stage's taps make of the bytes fetched.
    fn disturb(&self, offset: u32, bytes: &mut [u8]) {
        if let Some(value) = self.snow {
            bytes[..self.line.char_bytes as usize].fill(value);
        }
        if self.effects.stages.contains(Stages::FETCH) {
            self.tap.fetch_on(self.line, self.effects, offset, bytes, &|at| self.byte(at));
        }
    }

    /// What the pixel stage's taps make of the values.
    fn change_pixels(&self, along: u32, values: &mut [u8]) {
        let Self { tap, line, effects, .. } = *self;
        let fetched = |at: u32| {
            let mut one = [self.byte(at)];
            if effects.stages.contains(Stages::FETCH) {
                tap.fetch_on(line, effects, at, &mut one, &|at| self.byte(at));
            }
            one[0]
        };
        let serialiser = self.serialiser();
        let peek = |x: u32| serialiser.pixel(x + u32::from(line.pan), fetched);
        tap.pixels_on(line, effects, along * line.char_pixels, values, &peek);
    }

    fn byte(&self, at: u32) -> u8 {
        fetch::byte(self.tap, self.line, self.effects, self.memory, at)
    }

    fn serialiser(&self) -> Serialiser<'_> {
        let cursor = self.shown.cursor_on(self.row_start, self.line.row_address, self.line.frame);
        Serialiser::new(self.shown, self.line, cursor, self.memory)
    }
}
