//! Pictures laid into video memory, in the board's own layout.
//!
//! Which byte shows at which place is asked of the fetch plan itself
//! ([`QuietFrame::line`]), so a picture is laid exactly where a healthy board
//! will fetch it: linear, banked, at any pitch and past the end of memory.

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
    let bits = bits_per_pixel(frame)?;
    let (found, allowed) = (picture.palette().len(), 1 << bits);
    if found > allowed {
        return Err(LayError::Colours { found, allowed });
    }
    let rule = frame.format().serialise;
    let at_once = rule.pixels_at_once() as usize;
    let width = picture.width() as usize;
    for (row, y) in picture.indices().chunks_exact(width).zip(0..) {
        let line = frame.line(0, placement.start, y);
        // Columns wrap around: the row goes on and on from the placement's column.
        let mut pixels = row.iter().cycle().skip(placement.column as usize % width);
        let mut offset = 0;
        let mut group = [0; MOST_AT_ONCE];
        let group = &mut group[..at_once.min(MOST_AT_ONCE)];
        while offset < line.pitch.max(line.bytes) {
            group.iter_mut().zip(&mut pixels).for_each(|(pixel, index)| *pixel = *index);
            for byte in rule.bytes_showing(group) {
                if let Some(cell) = memory.get_mut(line.memory(line.plain_address(offset)) as usize) {
                    *cell = byte;
                }
                offset += 1;
            }
        }
    }
    Ok(())
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
