//! A picture as a board holds it: one palette index a pixel, and the palette they point into.

use image::{Rgb, RgbImage};
use thiserror::Error;

/// Red, green and blue, 0 to 255 each.
pub type Colour = [u8; 3];

/// The most colours an index of one byte can tell apart.
pub const MOST_COLOURS: usize = 256;

/// A picture of at least one pixel whose every index has a colour in its palette.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Indexed {
    width: u32,
    height: u32,
    indices: Vec<u8>,
    palette: Vec<Colour>,
}

/// Why something is no [`Indexed`] picture.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
#[non_exhaustive]
pub enum IndexedError {
    /// Width or height is 0.
    #[error("picture is {width} x {height} pixels, at least 1 x 1 is needed")]
    Empty {
        /// Pixels across.
        width: u32,
        /// Pixels down.
        height: u32,
    },
    /// Too few or too many colours.
    #[error("palette has {found} colours, allowed are 1 to {MOST_COLOURS}")]
    Colours {
        /// The number of colours.
        found: usize,
    },
    /// Not one index a pixel.
    #[error("{found} indices for {width} x {height} pixels, allowed are {needed}")]
    Length {
        /// The number of indices.
        found: usize,
        /// Pixels across.
        width: u32,
        /// Pixels down.
        height: u32,
        /// Pixels in all.
        needed: u64,
    },
    /// An index without a colour.
    #[error("pixel {x}, {y} has index {found}, the palette allows 0 to {highest}")]
    Index {
        /// Column, from 0 at the left.
        x: u32,
        /// Row, from 0 at the top.
        y: u32,
        /// The index.
        found: u8,
        /// The highest index with a colour.
        highest: usize,
    },
}

impl Indexed {
    /// A picture of `width` by `height` pixels; `indices` go row by row from the top left.
    ///
    /// # Errors
    ///
    /// [`IndexedError`] unless there is one index a pixel, 1 to [`MOST_COLOURS`] colours, and a
    /// colour to every index.
    pub fn new(width: u32, height: u32, indices: Vec<u8>, palette: Vec<Colour>) -> Result<Self, IndexedError> {
        if width == 0 || height == 0 {
            return Err(IndexedError::Empty { width, height });
        }
        check_colours(&palette)?;
        let needed = u64::from(width) * u64::from(height);
        if indices.len() as u64 != needed {
            return Err(IndexedError::Length { found: indices.len(), width, height, needed });
        }
        if let Some(at) = indices.iter().position(|&index| usize::from(index) >= palette.len()) {
            let (x, y) = (at as u64 % u64::from(width), at as u64 / u64::from(width));
            return Err(IndexedError::Index {
                x: x as u32,
                y: y as u32,
                found: indices[at],
                highest: palette.len() - 1,
            });
        }
        Ok(Self { width, height, indices, palette })
    }

    /// Pixels across, at least 1.
    #[must_use]
    pub const fn width(&self) -> u32 {
        self.width
    }

    /// Pixels down, at least 1.
    #[must_use]
    pub const fn height(&self) -> u32 {
        self.height
    }

    /// The indices, row by row from the top left.
    #[must_use]
    pub fn indices(&self) -> &[u8] {
        &self.indices
    }

    /// The colours, 1 to [`MOST_COLOURS`].
    #[must_use]
    pub fn palette(&self) -> &[Colour] {
        &self.palette
    }

    /// Indices and palette, for whoever goes on with them.
    #[must_use]
    pub fn into_parts(self) -> (Vec<u8>, Vec<Colour>) {
        (self.indices, self.palette)
    }

    /// The picture in its colours.
    #[must_use]
    pub fn to_rgb(&self) -> RgbImage {
        let mut picture = RgbImage::new(self.width, self.height);
        for (pixel, &index) in picture.pixels_mut().zip(&self.indices) {
            *pixel = Rgb(self.palette[usize::from(index)]);
        }
        picture
    }
}

/// Refuses a palette that indices of one byte cannot use.
pub(crate) fn check_colours(palette: &[Colour]) -> Result<(), IndexedError> {
    let found = palette.len();
    if (1..=MOST_COLOURS).contains(&found) { Ok(()) } else { Err(IndexedError::Colours { found }) }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    const BLACK: Colour = [0; 3];

    #[test]
    fn refusals_say_what_was_found_and_what_is_allowed() {
        let refused = |width, height, indices: &[u8], colours| {
            Indexed::new(width, height, indices.to_vec(), vec![BLACK; colours]).expect_err("refused").to_string()
        };
        assert_eq!(refused(0, 2, &[], 1), "picture is 0 x 2 pixels, at least 1 x 1 is needed");
        assert_eq!(refused(1, 1, &[0], 0), "palette has 0 colours, allowed are 1 to 256");
        assert_eq!(refused(1, 1, &[0], 257), "palette has 257 colours, allowed are 1 to 256");
        assert_eq!(refused(2, 2, &[0; 3], 1), "3 indices for 2 x 2 pixels, allowed are 4");
        assert_eq!(refused(2, 2, &[0, 1, 0, 2], 2), "pixel 1, 1 has index 2, the palette allows 0 to 1");
    }

    proptest! {
        #[test]
        fn colours_are_those_of_the_indices(width in 1u32..9, height in 1u32..9, seed: [u8; 64]) {
            let palette: Vec<Colour> = (0..=u8::MAX).map(|i| [i, 255 - i, i / 2]).collect();
            let indices = seed[..(width * height) as usize].to_vec();
            let picture = Indexed::new(width, height, indices.clone(), palette.clone())?;
            for (pixel, index) in picture.to_rgb().pixels().zip(indices) {
                prop_assert_eq!(pixel.0, palette[usize::from(index)]);
            }
        }
    }
}
