//! Pictures laid into video memory, in the board's own layout.
//!
//! Which byte shows at which place is asked of the fetch plan itself
//! ([`QuietFrame::line`]), so a picture is laid exactly where a healthy board
//! will fetch it: linear, banked, at any pitch and past the end of memory.

use std::borrow::Cow;
use std::sync::OnceLock;

use backporch_adapter::Serialise;
use backporch_raster::QuietFrame;
use thiserror::Error;

use crate::indexed::Indexed;

/// Where a picture goes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Placement {
    /// Start address, in the board's address units, at which the picture is
    /// laid: there its `column` stands at the left of the top line.
    pub start: u32,
    /// Column of the picture that stands at the left edge; columns wrap around.
    pub column: u32,
}

/// Why a picture cannot be laid.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Error)]
pub enum LayError {
    /// The mode shows characters, not pixels.
    #[error("found a text mode, allowed a graphics mode")]
    Text,
    /// The picture has more colours than the mode's pixels can tell apart.
    #[error("found {found} colours, allowed at most {allowed}")]
    Colours {
        /// Colours of the picture.
        found: usize,
        /// Values of a pixel.
        allowed: usize,
    },
}

/// Bits of a pixel in this mode.
///
/// # Errors
/// [`LayError::Text`] where there are none.
pub fn bits_per_pixel(frame: &QuietFrame) -> Result<u32, LayError> {
    match frame.format().serialise {
        rule if rule.is_text() => Err(LayError::Text),
        rule => Ok(u32::from(rule.pixel_bits())),
    }
}

/// Most pixels that are laid together, in whatever bytes they share.
const MOST_AT_ONCE: usize = 8;
/// Most bytes such pixels take.
const MOST_BYTES: usize = 4;

/// Lays `picture` into `memory` as `frame` will fetch it.
///
/// Every row of memory is filled to its whole pitch, so a picture wider than
/// the screen goes as far as the rows do. Lines below the picture stay as they
/// are; a picture taller than memory overwrites its own top, as the address
/// counter does.
///
/// # Errors
/// Where the mode has no pixels, or too few values for the picture's colours.
pub fn lay(picture: &Indexed, frame: &QuietFrame, placement: Placement, memory: &mut [u8]) -> Result<(), LayError> {
    RowBytes::new(picture, frame)?.lay(frame, placement, memory)
}

/// A picture's rows as the bytes by which a mode shows them, so that it is laid
/// again and again, wherever it goes, by copying.
#[derive(Clone, Debug)]
pub struct RowBytes<'a> {
    picture: &'a Indexed,
    rule: Serialise,
    /// For each column of the first pixel group: all groups of every row from
    /// there until they begin again.
    from_column: Vec<OnceLock<Cow<'a, [u8]>>>,
}

impl<'a> RowBytes<'a> {
    /// The rows of a picture for the display format of `frame`.
    ///
    /// # Errors
    /// Where the mode has no pixels, or too few values for the picture's colours.
    pub fn new(picture: &'a Indexed, frame: &QuietFrame) -> Result<Self, LayError> {
        let (found, allowed) = (picture.palette().len(), 1 << bits_per_pixel(frame)?);
        if found > allowed {
            return Err(LayError::Colours { found, allowed });
        }
        let mut rows = Self { picture, rule: frame.format().serialise, from_column: Vec::new() };
        rows.from_column.resize_with(rows.columns_apart(), OnceLock::new);
        Ok(rows)
    }

    /// Lays the picture into `memory` as `frame` will fetch it (see [`lay`]).
    ///
    /// # Errors
    /// Where the frame is of another display format that the picture does not fit.
    pub fn lay(&self, frame: &QuietFrame, placement: Placement, memory: &mut [u8]) -> Result<(), LayError> {
        if frame.format().serialise != self.rule {
            return Self::new(self.picture, frame)?.lay(frame, placement, memory);
        }
        let (width, apart) = (self.picture.width() as usize, self.columns_apart());
        let column = placement.column as usize % width;
        let rows = self.from_column[column % apart].get_or_init(|| self.bytes_from(column % apart));
        let groups = width / apart;
        let first = match self.at_once() / apart {
            1 => column / apart,
            _ => (0..groups).find(|at| (column % apart + at * self.at_once()) % width == column).unwrap_or(0),
        };
        let size = rows.len() / groups / self.picture.height() as usize;
        for (row, y) in rows.chunks_exact(groups * size).zip(0..) {
            let line = frame.line(0, placement.start, y);
            let len = line.pitch.max(line.bytes).next_multiple_of(size as u32);
            line.plain_spans_of(len, |span| {
                let end = memory.len().min((span.address + span.len) as usize);
                if let Some(cells) = memory.get_mut(span.address as usize..end) {
                    fill_from(row, (first * size + span.at as usize) % row.len(), cells);
                }
            });
        }
        Ok(())
    }

    /// Pixels that are laid together.
    fn at_once(&self) -> usize {
        (self.rule.pixels_at_once() as usize).clamp(1, MOST_AT_ONCE)
    }

    /// Columns at which the rows go on in different groups.
    fn columns_apart(&self) -> usize {
        num_integer::gcd(self.picture.width() as usize, self.at_once())
    }

    /// The bytes of every row whose first group begins at a column.
    fn bytes_from(&self, column: usize) -> Cow<'a, [u8]> {
        let picture = self.picture;
        if matches!(self.rule, Serialise::Packed(8)) {
            return Cow::Borrowed(picture.indices());
        }
        let width = picture.width() as usize;
        let mut bytes = Vec::with_capacity(picture.indices().len() / self.at_once() * MOST_BYTES);
        for row in picture.indices().chunks_exact(width) {
            // Columns wrap around: the row goes on and on from its first column.
            let mut pixels = row.iter().cycle().skip(column);
            for _ in 0..width / self.columns_apart() {
                let mut group = [0; MOST_AT_ONCE];
                let group = &mut group[..self.at_once()];
                group.iter_mut().zip(&mut pixels).for_each(|(pixel, index)| *pixel = *index);
                bytes.extend(self.rule.bytes_showing(group));
            }
        }
        Cow::Owned(bytes)
    }
}

/// Fills `cells` from a row that goes on and on, from `at` on.
fn fill_from(row: &[u8], at: usize, cells: &mut [u8]) {
    let mut rest = cells;
    let mut source = &row[at..];
    while !rest.is_empty() {
        let (now, later) = rest.split_at_mut(source.len().min(rest.len()));
        now.copy_from_slice(&source[..now.len()]);
        (rest, source) = (later, row);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use backporch_adapter::Adapter;
    use backporch_raster::{Board, Plain, View};
    use proptest::prelude::*;

    fn picture(width: u32, height: u32, colours: u32) -> Indexed {
        let pixels = (0..width * height).map(|at| (at.wrapping_mul(2_654_435_761) >> 9) % colours);
        let palette = (0..colours).map(|level| [(level * 4) as u8; 3]).collect();
        Indexed::new(width, height, pixels.map(|value| value as u8).collect(), palette).unwrap()
    }

    proptest! {
        /// What is laid is what a healthy board shows, at any start address and column.
        #[test]
        fn a_laid_picture_is_shown(which in 0usize..8, start in 0u32..8192, column in 0u32..900, width in 1u32..900) {
            let (name, mode, colours) = [
                ("linear-256", "320x200x256", 256),
                ("colour-graphics", "320x200x4", 4),
                ("colour-graphics", "640x200x2", 2),
                ("monochrome", "720x348x2", 2),
                ("ega", "320x200x16", 16),
                ("vga", "320x200x256", 256),
                ("vga", "320x200x256-planar", 256),
                ("vga", "320x200x16", 16),
            ][which];
            let adapter = Adapter::built_in(name).unwrap();
            let mut registers = adapter.start_up(adapter.mode(mode).unwrap());
            adapter.set(&mut registers, adapter.start_address(), u64::from(start)).unwrap();
            let quiet = QuietFrame::new(&adapter, &registers, &Plain);
            let lines = quiet.picture_lines();
            let picture = picture(width, lines, colours);
            let mut board = Board::plain(adapter, registers);
            let mut memory = board.memory().to_vec();
            lay(&picture, &quiet, Placement { start, column }, &mut memory).unwrap();
            board.load(&memory);
            let frame = board.run_frame();
            let (shown, height) = frame.picture_size();
            prop_assert_eq!(height, lines);
            prop_assert_eq!(frame.picture(View::Picture).width, shown);
            for line in [0, 1, 2, 77, lines - 2, lines - 1] {
                for x in 0..shown {
                    let expected = picture.indices()[(line * width + (column + x) % width) as usize];
                    prop_assert_eq!(frame.value_at(x, line), Some(expected), "{} {}", x, line);
                }
            }
        }
    }

    /// Byte by byte, group by group: what laying means.
    fn laid_byte_by_byte(picture: &Indexed, frame: &QuietFrame, placement: Placement, memory: &mut [u8]) {
        let rule = frame.format().serialise;
        let at_once = rule.pixels_at_once() as usize;
        let width = picture.width() as usize;
        for (row, y) in picture.indices().chunks_exact(width).zip(0..) {
            let line = frame.line(0, placement.start, y);
            let mut pixels = row.iter().cycle().skip(placement.column as usize % width).copied();
            let mut offset = 0;
            while offset < line.pitch.max(line.bytes) {
                let group: Vec<u8> = pixels.by_ref().take(at_once).collect();
                for byte in rule.bytes_showing(&group) {
                    if let Some(cell) = memory.get_mut(line.memory(line.plain_address(offset)) as usize) {
                        *cell = byte;
                    }
                    offset += 1;
                }
            }
        }
    }

    proptest! {
        /// Laying by copying rows is laying byte by byte, whatever the width, the height and the pitch.
        #[test]
        fn rows_are_copied_to_where_their_bytes_belong(
            which in 0usize..7, start in 0u32..0xFFFF, column in 0u32..900, width in 1u32..200, height in 1u32..260,
            fields in prop::collection::vec((any::<prop::sample::Index>(), any::<u32>()), 0..3),
        ) {
            let (name, mode, colours) = [
                ("linear-256", "320x200x256", 256),
                ("colour-graphics", "320x200x4", 4),
                ("colour-graphics", "640x200x2", 2),
                ("ega", "320x200x16", 16),
                ("vga", "320x200x256", 256),
                ("vga", "320x200x256-planar", 256),
                ("vga", "640x480x16", 16),
            ][which];
            let adapter = Adapter::built_in(name).unwrap();
            let mut registers = adapter.start_up(adapter.mode(mode).unwrap());
            let all: Vec<_> = adapter.fields().map(|(field, info)| (field, info.max())).collect();
            for (field, value) in &fields {
                let (field, max) = all[field.index(all.len())];
                adapter.set(&mut registers, field, u64::from(*value) % (u64::from(max) + 1)).unwrap();
            }
            let quiet = QuietFrame::new(&adapter, &registers, &Plain);
            let picture = picture(width, height, colours);
            let mut copied = vec![0x5A; adapter.memory().bytes as usize];
            let mut one_by_one = copied.clone();
            let placement = Placement { start, column };
            if lay(&picture, &quiet, placement, &mut copied).is_ok() {
                laid_byte_by_byte(&picture, &quiet, placement, &mut one_by_one);
                prop_assert!(copied == one_by_one);
            }
        }
    }

    #[test]
    fn what_cannot_be_laid_is_refused() {
        let adapter = Adapter::built_in("colour-graphics").unwrap();
        let placement = Placement { start: 0, column: 0 };
        let lay_in = |mode: &str, colours| {
            let registers = adapter.start_up(adapter.mode(mode).unwrap());
            let quiet = QuietFrame::new(&adapter, &registers, &Plain);
            lay(&picture(8, 8, colours), &quiet, placement, &mut [0; 16384])
        };
        assert_eq!(lay_in("text-80", 2), Err(LayError::Text));
        assert_eq!(lay_in("320x200x4", 5), Err(LayError::Colours { found: 5, allowed: 4 }));
        assert_eq!(lay_in("320x200x4", 4), Ok(()));
    }
}
