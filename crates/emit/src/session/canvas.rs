//! Where the pixels of a look stand in the processor's window, so that a program can draw on the picture.

use backporch_adapter::Serialise;
use backporch_picture::card::label_mask;
use backporch_raster::QuietFrame;

use super::image::Window;

/// How a pixel is reached.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub(super) enum PixelAccess {
    /// Bits of a byte.
    Packed = 0,
    /// One bit in each of four planes.
    Planar = 1,
    /// A byte, in the plane of its column.
    PlaneBytes = 2,
    /// A cell of text: its attribute.
    Text = 3,
}

/// The pixels of one setting; those of its lines follow from the first.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub(super) struct CardCanvas {
    pub kind: PixelAccess,
    /// Pixels or cells across and down.
    pub width: u16,
    pub height: u16,
    /// Bytes of the window from one row of memory to the next.
    pub pitch: u16,
    /// Lines that share a row of memory, as a power of two; each has a bank.
    pub lines_shift: u8,
    /// Bytes from bank to bank.
    pub bank: u16,
    /// Bits of an address that count along the row.
    pub mask: u16,
    /// Pixels of a byte, as a power of two.
    pub pixels_shift: u8,
    /// What is exclusive-ored for each pixel of a byte.
    pub masks: [u8; 8],
    /// Pixels and lines of a cell; one each where pixels are marked.
    pub cell: (u32, u32),
    pub segment: u16,
}

/// Address masks tried, the widest first.
const MASKS: [u16; 5] = [0xFFFF, 0x7FFF, 0x3FFF, 0x1FFF, 0x0FFF];

impl CardCanvas {
    /// The canvas of a frame and the window offset of its first pixel; `None` where its pixels cannot be reached by
    /// such a rule.
    pub fn of(quiet: &QuietFrame, window: &Window, (width, height): (u32, u32)) -> Option<(Self, u16)> {
        let first = quiet.line(0, quiet.start(), 0);
        let (kind, pixels_shift, masks) = match quiet.format().serialise {
            Serialise::Packed(bits @ (1 | 2 | 4)) => {
                (PixelAccess::Packed, (8 / bits).trailing_zeros() as u8, groups(bits))
            }
            Serialise::Packed(bits) => (PixelAccess::Packed, 0, [label_mask(u32::from(bits)); 8]),
            // Firmware's window and the planes do not tell the same order here: not to be relied on.
            Serialise::Interleaved => return None,
            Serialise::Planar => (PixelAccess::Planar, 3, groups(1)),
            Serialise::PlaneBytes if window.by_planes => (PixelAccess::PlaneBytes, 2, [label_mask(8); 8]),
            Serialise::PlaneBytes => (PixelAccess::Packed, 0, [label_mask(8); 8]),
            // Light on dark becomes dark on light.
            Serialise::Text | Serialise::MonoText | Serialise::PlaneText => (PixelAccess::Text, 0, [0x77; 8]),
        };
        let rows_down = |row: u32| (0..height).find(|index| quiet.line(0, quiet.start(), *index).row == row);
        let cell = match kind {
            PixelAccess::Text => (first.char_pixels, rows_down(1).unwrap_or(height)),
            PixelAccess::Packed | PixelAccess::Planar | PixelAccess::PlaneBytes => (1, 1),
        };
        let (columns, rows) = (width / cell.0.max(1), height / cell.1.max(1));
        // Offset of a pixel of the picture; in planes that of its first one.
        let place = |x: u32, y: u32| -> Option<u16> {
            let line = quiet.line(0, quiet.start(), y * cell.1);
            let byte = match quiet.format().serialise {
                Serialise::Packed(bits) => x * u32::from(bits) / 8,
                Serialise::Interleaved => x / 8 * 4 + x / 4 % 2,
                Serialise::Planar => x / 8 * 4,
                Serialise::PlaneBytes => x,
                Serialise::Text | Serialise::MonoText | Serialise::PlaneText => x * line.char_bytes,
            };
            window.reached(line.memory(line.plain_address(byte))).map(|(_, offset)| offset)
        };
        let origin = place(0, 0)?;
        let columns_tried = [0, 1, 2, 3, 7, 8, columns / 2, columns.saturating_sub(1)];
        let fits = |canvas: &Self| {
            (0..rows).all(|y| {
                columns_tried
                    .iter()
                    .filter(|x| **x < columns)
                    .all(|x| place(*x, y) == Some(canvas.offset(origin, *x, y)))
            })
        };
        for lines_shift in 0..=2u8 {
            let below = place(0, 1 << lines_shift)?;
            let bank = if lines_shift == 0 { 0 } else { place(0, 1)?.wrapping_sub(origin) };
            for mask in MASKS {
                let pitch = below.wrapping_sub(origin) & mask;
                let (width, height) = (columns as u16, rows as u16);
                let segment = window.segment;
                let canvas =
                    Self { kind, width, height, pitch, lines_shift, bank, mask, pixels_shift, masks, cell, segment };
                if fits(&canvas) {
                    return Some((canvas, origin & mask));
                }
            }
        }
        None
    }

    /// Offset of a pixel as the program reckons it.
    fn offset(&self, origin: u16, x: u32, y: u32) -> u16 {
        let (x, y) = (x as u16, y as u16);
        let bank = (y & ((1 << self.lines_shift) - 1)).wrapping_mul(self.bank);
        let row = (y >> self.lines_shift).wrapping_mul(self.pitch);
        let along = match self.kind {
            PixelAccess::Text => 2 * x,
            PixelAccess::Packed | PixelAccess::Planar | PixelAccess::PlaneBytes => x >> self.pixels_shift,
        };
        (origin.wrapping_add(row).wrapping_add(along) & self.mask) | bank
    }

    /// The canvas as the program keeps it, with the addresses of the port writes before and after drawing.
    pub fn bytes(&self, begin: u32, end: u32) -> Vec<u8> {
        let mut bytes = Vec::new();
        for word in [
            self.width,
            self.height,
            self.pitch,
            self.bank,
            self.mask,
            (1 << self.lines_shift) - 1,
            (1 << self.pixels_shift) - 1,
            self.segment,
        ] {
            bytes.extend(word.to_le_bytes());
        }
        bytes.extend([self.lines_shift, self.pixels_shift, self.kind as u8]);
        bytes.extend(self.masks);
        bytes.extend((begin as u16).to_le_bytes());
        bytes.extend((end as u16).to_le_bytes());
        bytes
    }
}

/// Offsets of what [`Canvas::bytes`] holds.
pub(super) mod at {
    pub const WIDTH: u32 = 0;
    pub const HEIGHT: u32 = 2;
    pub const PITCH: u32 = 4;
    pub const BANK: u32 = 6;
    pub const MASK: u32 = 8;
    pub const LINES_MASK: u32 = 10;
    pub const PIXELS_MASK: u32 = 12;
    pub const SEGMENT: u32 = 14;
    pub const LINES_SHIFT: u32 = 16;
    pub const PIXELS_SHIFT: u32 = 17;
    pub const KIND: u32 = 18;
    pub const MASKS: u32 = 19;
    /// Addresses of the port writes before and after drawing.
    pub const BEGIN: u32 = 27;
    pub const END: u32 = 29;
    pub const LEN: u32 = 31;
}

/// All bits of each pixel of a byte, the most significant first.
fn groups(bits: u8) -> [u8; 8] {
    let pixel = |at: usize| (0xFF00u16 >> bits) as u8 >> (at * usize::from(bits) % 8);
    [0, 1, 2, 3, 4, 5, 6, 7].map(pixel)
}
