//! Video memory as a picture, and the outlines of what the frame shows of it.

use backporch_adapter::{Adapter, Palette, Registers, Rgba, Serialise};
use backporch_raster::{Frame, Span};

/// How many bytes a row of the map has.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum MapRows {
    /// As many as the picture's pitch: the picture reads as on the screen.
    #[default]
    Pitch,
    /// 256, the rows of memory chips: crossings stand at the right edge.
    Fixed256,
}

/// Video memory as a picture.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct MemoryPicture {
    /// Bytes a row.
    pub row_bytes: u32,
    /// Drawn a byte.
    pub byte_pixels: u32,
    /// Rows.
    pub rows: u32,
    /// Colour of each pixel, row by row; opacity 0 beyond the last byte.
    pub rgba: Vec<Rgba>,
}

impl MemoryPicture {
    /// Drawn across.
    #[must_use]
    pub fn width(&self) -> u32 {
        self.row_bytes * self.byte_pixels
    }

    /// Draws memory as its bytes would show under these registers.
    #[must_use]
    pub fn draw(adapter: &Adapter, registers: &Registers, memory: &[u8], row_bytes: u32) -> Self {
        let row_bytes = row_bytes.clamp(1, memory.len().max(1) as u32);
        let format = adapter.format(adapter.format_index(registers));
        let palette = adapter.palette(registers);
        let pixels = match format.serialise {
            Serialise::Packed(bits @ (1 | 2 | 4)) => Drawn::Packed(u32::from(bits)),
            Serialise::Packed(_) | Serialise::PlaneBytes => Drawn::Bytes,
            Serialise::Planar => Drawn::Planes,
            _ => Drawn::Grey,
        };
        let byte_pixels = pixels.of_a_byte();
        let rows = (memory.len() as u32).div_ceil(row_bytes);
        let mut rgba = Vec::with_capacity((rows * row_bytes * byte_pixels) as usize);
        memory.chunks(PLANES).for_each(|bytes| pixels.draw(bytes, &palette, &mut rgba));
        rgba.resize((rows * row_bytes * byte_pixels) as usize, [0, 0, 0, 0]);
        Self { row_bytes, byte_pixels, rows, rgba }
    }

    /// Its pixels, what shows as it is, what entered last tinted, the rest dimmed.
    #[must_use]
    pub fn shaded(&self, shown: &ShownMemory) -> Vec<Rgba> {
        let shade = |(at, pixel): (usize, &Rgba)| {
            let address = at as u32 / self.byte_pixels.max(1);
            if shown.newly_shown.has(address) {
                tinted(*pixel)
            } else if shown.coverage.has(address) {
                *pixel
            } else {
                dimmed(*pixel)
            }
        };
        self.rgba.iter().enumerate().map(shade).collect()
    }

    /// Row and byte of the row of an address.
    #[must_use]
    pub fn place_of(&self, address: u32) -> (u32, u32) {
        (address % self.row_bytes.max(1), address / self.row_bytes.max(1))
    }
}

/// Half of a colour and half of amber.
fn tinted([red, green, blue, opacity]: Rgba) -> Rgba {
    let half = |level: u8, of: u8| ((u16::from(level) + u16::from(of)) / 2) as u8;
    [half(red, 250), half(green, 204), half(blue, 84), opacity]
}

/// Two fifths of a colour's brightness.
fn dimmed([red, green, blue, opacity]: Rgba) -> Rgba {
    let part = |level: u8| (u16::from(level) * 2 / 5) as u8;
    [part(red), part(green), part(blue), opacity]
}

/// Planes of a board that has some; the bytes of one address lie side by side.
const PLANES: usize = 4;

/// How bytes are drawn on the map.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Drawn {
    /// Several pixels of this many bits lie in a byte.
    Packed(u32),
    /// A byte is a pixel.
    Bytes,
    /// A pixel takes a bit of each plane: four bytes are eight pixels.
    Planes,
    /// Bytes that are no pixels, such as characters, are shown as grey levels.
    Grey,
}

impl Drawn {
    /// Drawn a byte takes on the map.
    fn of_a_byte(self) -> u32 {
        match self {
            Self::Packed(bits) => 8 / bits,
            Self::Bytes | Self::Grey => 1,
            Self::Planes => 2,
        }
    }

    /// Draws the bytes of one address of every plane, or as many neighbours.
    fn draw(self, bytes: &[u8], palette: &Palette, rgba: &mut Vec<Rgba>) {
        let colour = |value: u32| palette.colours[value as usize & 0xFF];
        match self {
            Self::Packed(bits) => {
                let pixel = |byte: u8, at: u32| u32::from(byte) >> (at * bits) & ((1 << bits) - 1);
                let all = bytes.iter().flat_map(|byte| (0..8 / bits).rev().map(move |at| pixel(*byte, at)));
                rgba.extend(all.map(colour));
            }
            Self::Bytes => rgba.extend(bytes.iter().map(|byte| colour(u32::from(*byte)))),
            Self::Planes => {
                let bit = |plane: usize, at: u32| u32::from(bytes.get(plane).copied().unwrap_or(0)) >> at & 1;
                let value = |at: u32| (0..PLANES).fold(0, |value, plane| value | bit(plane, at) << plane);
                rgba.extend((0..8).rev().map(value).map(colour));
            }
            Self::Grey => rgba.extend(bytes.iter().map(|byte| [*byte, *byte, *byte, 255])),
        }
    }
}

/// Which bytes of memory a frame shows.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct MemoryCoverage {
    shown: Vec<bool>,
}

impl MemoryCoverage {
    /// The bytes a frame fetches.
    #[must_use]
    pub fn of(frame: &Frame, bytes: usize) -> Self {
        let mut shown = vec![false; bytes];
        for span in &frame.spans {
            let from = (span.address as usize).min(bytes);
            let to = (span.address as usize + span.len as usize).min(bytes);
            shown[from..to].fill(true);
        }
        Self { shown }
    }

    /// Whether a byte shows.
    #[must_use]
    pub fn has(&self, address: u32) -> bool {
        self.shown.get(address as usize).copied().unwrap_or(false)
    }

    /// Number of bytes that show.
    #[must_use]
    pub fn count(&self) -> usize {
        self.shown.iter().filter(|shown| **shown).count()
    }

    /// The bytes that show here and not in `before`.
    #[must_use]
    pub fn beyond(&self, before: &Self) -> Self {
        let shown = self.shown.iter().enumerate();
        Self { shown: shown.map(|(at, shown)| *shown && !before.has(at as u32)).collect() }
    }
}

/// The memory the newest frame shows, and what of it came into view last.
#[derive(Clone, Debug, Default)]
pub struct ShownMemory {
    fetched: Vec<Span>,
    coverage: MemoryCoverage,
    newly_shown: MemoryCoverage,
    /// Changes with what shows.
    revision: u64,
}

impl ShownMemory {
    /// Changes with what shows.
    #[must_use]
    pub fn revision(&self) -> u64 {
        self.revision
    }

    /// The bytes the frame shows.
    #[must_use]
    pub fn coverage(&self) -> &MemoryCoverage {
        &self.coverage
    }

    /// The bytes that came into view with the last change.
    #[must_use]
    pub fn newly_shown(&self) -> &MemoryCoverage {
        &self.newly_shown
    }

    /// Takes in a whole frame of a board with `bytes` bytes of memory.
    pub(super) fn take(&mut self, frame: &Frame, bytes: usize) {
        if self.fetched == frame.spans {
            return;
        }
        self.fetched.clone_from(&frame.spans);
        let coverage = MemoryCoverage::of(frame, bytes);
        let first = self.coverage.count() == 0;
        self.newly_shown = if first { MemoryCoverage::default() } else { coverage.beyond(&self.coverage) };
        self.coverage = coverage;
        self.revision += 1;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_shows_is_bright_and_what_entered_is_tinted() {
        let coverage =
            |from: usize| MemoryCoverage { shown: (0..8).map(|at| (from..from + 4).contains(&at)).collect() };
        let grey = [200, 200, 200, 255];
        let map = MemoryPicture { row_bytes: 4, byte_pixels: 2, rows: 2, rgba: vec![grey; 16] };
        let newly_shown = coverage(2).beyond(&coverage(0));
        let shown = ShownMemory { coverage: coverage(2), newly_shown, ..ShownMemory::default() };
        let shaded = map.shaded(&shown);
        for (at, pixel) in shaded.iter().enumerate() {
            match at / 2 {
                2 | 3 => assert_eq!(*pixel, grey, "shown"),
                4 | 5 => assert!(pixel[0] > pixel[2] + 40, "entered: {pixel:?}"),
                _ => assert!(pixel[0] < 120 && pixel[0] == pixel[2], "not shown: {pixel:?}"),
            }
        }
    }

    #[test]
    fn what_enters_was_not_shown_before() {
        let coverage =
            |from: usize| MemoryCoverage { shown: (0..8).map(|at| (from..from + 4).contains(&at)).collect() };
        let entered = coverage(2).beyond(&coverage(0));
        assert_eq!((0..8).filter(|at| entered.has(*at)).collect::<Vec<_>>(), [4, 5]);
    }
}
