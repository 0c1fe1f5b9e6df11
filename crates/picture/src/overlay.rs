//! Pictures and texts laid over what lies in video memory, pixel by pixel.
//!
//! Where a pixel shares its byte with others, these stay: every byte is written under a mask.

use backporch_adapter::CharacterSet;
use backporch_adapter::charset::GLYPH_WIDTH;
use backporch_raster::QuietFrame;
use thiserror::Error;

use crate::indexed::Indexed;
use crate::lay::{LayError, bits_per_pixel};

/// Most picture lines from the line at which a start address shows memory to the end of an overlay.
pub const MOST_LINES: u32 = 4096;

/// Pixel values in rows, some of which may be left as they are.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Overlay {
    width: u32,
    /// Row by row from the top left; `None` leaves what is there.
    values: Vec<Option<u8>>,
}

/// Where an overlay lies.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct OverlayPosition {
    /// Start address, in the board's address units.
    pub start: u32,
    /// Pixels from the left edge that this start address shows.
    pub x: u32,
    /// Picture lines from its top.
    pub y: u32,
}

/// Why an overlay cannot be laid.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Error)]
#[non_exhaustive]
pub enum OverlayError {
    /// The mode shows characters.
    #[error(transparent)]
    Mode(#[from] LayError),
    /// It goes on beyond the end of a row of memory.
    #[error("found pixels up to {found}, allowed up to {allowed}")]
    Wide {
        /// Pixels from the left edge to its right one.
        found: u64,
        /// Pixels of a row.
        allowed: u32,
    },
    /// It goes on too far down.
    #[error("found lines up to {found}, allowed up to {MOST_LINES}")]
    High {
        /// Lines from the top to its last.
        found: u64,
    },
}

/// Bits of a byte of video memory, and what they are to hold.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct MaskedByte {
    /// Address of the byte.
    pub address: u32,
    /// The bits that are written.
    pub mask: u8,
    /// What they hold; zero outside the mask.
    pub bits: u8,
}

impl MaskedByte {
    /// Writes it into memory; beyond its end nothing happens.
    pub fn write(self, memory: &mut [u8]) {
        if let Some(byte) = memory.get_mut(self.address as usize) {
            *byte = *byte & !self.mask | self.bits;
        }
    }
}

impl Overlay {
    /// All of a picture.
    #[must_use]
    pub fn of_picture(picture: &Indexed) -> Self {
        Self { width: picture.width(), values: picture.indices().iter().copied().map(Some).collect() }
    }

    /// A line of text with pixels of `ink`, on `ground` or on what is there.
    ///
    /// # Errors
    /// The first character that the set has no glyph for.
    pub fn of_text(text: &str, font: &CharacterSet, ink: u8, ground: Option<u8>) -> Result<Self, char> {
        let codes = text.chars().map(|character| font.code_for(character).ok_or(character));
        let codes = codes.collect::<Result<Vec<u8>, char>>()?;
        let mut values = Vec::new();
        for line in 0..font.glyph_height() {
            for row in codes.iter().map(|code| font.row(*code, line)) {
                let lit = |dot: u8| row & (1 << (GLYPH_WIDTH - 1 - dot)) != 0;
                values.extend((0..GLYPH_WIDTH).map(|dot| if lit(dot) { Some(ink) } else { ground }));
            }
        }
        Ok(Self { width: codes.len() as u32 * u32::from(GLYPH_WIDTH), values })
    }

    /// Pixels across.
    #[must_use]
    pub fn width(&self) -> u32 {
        self.width
    }

    /// Lines down.
    #[must_use]
    pub fn height(&self) -> u32 {
        self.values.len().checked_div(self.width as usize).unwrap_or(0) as u32
    }

    /// The bytes that hold it, for a board whose quiet frame is `frame`. Of values with more bits than a pixel the lower ones count.
    ///
    /// # Errors
    /// Where the mode has no pixels, or it goes beyond a row of memory.
    pub fn bytes(&self, frame: &QuietFrame, at: OverlayPosition) -> Result<Vec<MaskedByte>, OverlayError> {
        let all = (1u16 << bits_per_pixel(frame)?) - 1;
        let last = u64::from(at.y) + u64::from(self.height());
        if last > u64::from(MOST_LINES) {
            return Err(OverlayError::High { found: last });
        }
        let rule = frame.format().serialise;
        let at_once = rule.pixels_at_once().clamp(1, 8);
        let size = rule.bytes_showing(&[]).count() as u32;
        let right = u64::from(at.x) + u64::from(self.width);
        let mut bytes = Vec::new();
        for (row, y) in self.values.chunks_exact(self.width.max(1) as usize).zip(at.y..) {
            let line = frame.line(0, at.start, y);
            let allowed = row_pixels(frame, OverlayPosition { y, ..at });
            if right > u64::from(allowed) {
                return Err(OverlayError::Wide { found: right, allowed });
            }
            for group in at.x / at_once..(right as u32).div_ceil(at_once) {
                let pixels = (group * at_once..(group + 1) * at_once).map(|x| {
                    let column = x.checked_sub(at.x)?;
                    row.get(column as usize).copied().flatten()
                });
                let pixels: Vec<Option<u8>> = pixels.collect();
                let masks: Vec<u8> = pixels.iter().map(|pixel| pixel.map_or(0, |_| all as u8)).collect();
                let values: Vec<u8> = pixels.iter().map(|pixel| pixel.unwrap_or(0) & all as u8).collect();
                let both = rule.bytes_showing(&masks).zip(rule.bytes_showing(&values));
                for ((mask, bits), offset) in both.zip(group * size..).filter(|((mask, _), _)| *mask != 0) {
                    bytes.push(MaskedByte { address: line.memory(line.plain_address(offset)), mask, bits });
                }
            }
        }
        Ok(bytes)
    }
}

/// Pixels of the row of memory in which an overlay begins: those shown, or all up to the next row; 0 in a text mode.
#[must_use]
pub fn row_pixels(frame: &QuietFrame, at: OverlayPosition) -> u32 {
    let (line, rule) = (frame.line(0, at.start, at.y), frame.format().serialise);
    let size = rule.bytes_showing(&[]).count() as u32;
    line.pitch.max(line.bytes).checked_div(size).unwrap_or(0) * rule.pixels_at_once()
}

#[cfg(test)]
mod tests {
    use super::*;
    use backporch_adapter::Adapter;
    use backporch_raster::{Board, Plain};
    use proptest::prelude::*;

    const MODES: [(&str, &str); 8] = [
        ("linear-256", "320x200x256"),
        ("colour-graphics", "320x200x4"),
        ("colour-graphics", "640x200x2"),
        ("monochrome", "720x348x2"),
        ("ega", "320x200x16"),
        ("vga", "320x200x256"),
        ("vga", "320x200x256-planar"),
        ("vga", "640x480x2"),
    ];

    proptest! {
        /// The board shows an overlay where it was placed, and everywhere else what it showed before.
        #[test]
        fn an_overlay_shows_where_it_lies_and_nowhere_else(
            which in 0usize..MODES.len(), start in 0u32..700, x in 0u32..260, y in 0u32..190, width in 1u32..60,
            values in prop::collection::vec(prop::option::of(any::<u8>()), 1..200), ground in any::<u8>(),
        ) {
            let adapter = Adapter::built_in(MODES[which].0).unwrap();
            let mut registers = adapter.start_up(adapter.mode(MODES[which].1).unwrap());
            adapter.set(&mut registers, adapter.start_address(), u64::from(start)).unwrap();
            let quiet = QuietFrame::new(&adapter, &registers, &Plain);
            let all = ((1u16 << bits_per_pixel(&quiet).unwrap()) - 1) as u8;
            // Beyond the last line memory may begin again.
            let rows = (values.len() as u32 / width).min(200 - y);
            let overlay = Overlay { width, values: values[..(rows * width) as usize].to_vec() };
            let mut memory = vec![ground; adapter.memory().bytes as usize];
            let mut board = Board::plain(adapter, registers);
            board.load(&memory);
            let before = board.run_frame();
            for byte in overlay.bytes(&quiet, OverlayPosition { start, x, y }).unwrap() {
                byte.write(&mut memory);
            }
            board.load(&memory);
            let after = board.run_frame();
            let (across, down) = after.picture_size();
            for line in 0..down {
                for column in 0..across {
                    let inside = column.checked_sub(x).zip(line.checked_sub(y)).filter(|(dx, dy)| *dx < width && *dy < rows);
                    let laid = inside.and_then(|(dx, dy)| overlay.values[(dy * width + dx) as usize]);
                    let expected = laid.map(|value| value & all).or_else(|| before.value_at(column, line));
                    prop_assert_eq!(after.value_at(column, line), expected, "{} {}", column, line);
                }
            }
        }
    }

    #[test]
    fn a_text_stands_in_cells_of_eight_pixels() {
        let overlay = Overlay::of_text("1L", CharacterSet::built_in(), 3, Some(1)).unwrap();
        assert_eq!((overlay.width(), overlay.height()), (16, 8));
        // The line on which the built-in set's L ends: six dots, the first of them at the second place.
        let foot = &overlay.values[6 * 16 + 8..7 * 16];
        assert_eq!(foot.iter().filter(|value| **value == Some(3)).count(), 6);
        assert!(foot.iter().all(Option::is_some));
        assert_eq!(Overlay::of_text("\u{3042}", CharacterSet::built_in(), 3, None), Err('\u{3042}'));
        assert_eq!(Overlay::of_text("", CharacterSet::built_in(), 3, None).unwrap().height(), 0);
    }

    #[test]
    fn what_leaves_its_row_is_refused() {
        let adapter = Adapter::built_in("linear-256").unwrap();
        let registers = adapter.start_up(adapter.mode("320x200x256").unwrap());
        let quiet = QuietFrame::new(&adapter, &registers, &Plain);
        let overlay = Overlay { width: 10, values: vec![Some(1); 20] };
        let at = |x, y| overlay.bytes(&quiet, OverlayPosition { start: 0, x, y });
        assert!(at(310, 198).is_ok());
        assert_eq!(at(311, 0), Err(OverlayError::Wide { found: 321, allowed: 320 }));
        assert_eq!(at(0, u32::MAX), Err(OverlayError::High { found: u64::from(u32::MAX) + 2 }));
    }
}
