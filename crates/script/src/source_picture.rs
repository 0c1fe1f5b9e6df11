//! The picture a routine redraws from, as bytes in the board's own layout.

use thiserror::Error;

/// A picture in system memory, its bytes packed as the board shows them; where the processor reaches planes, plane after
/// plane.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SourcePicture {
    width: u32,
    height: u32,
    pitch: u32,
    planes: Vec<Vec<u8>>,
}

/// Why bytes are no picture.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Error)]
pub enum SourcePictureError {
    /// No columns or no rows.
    #[error("found {width} x {height} bytes, allowed at least one of each")]
    Empty {
        /// Bytes of a row.
        width: u32,
        /// Rows.
        height: u32,
    },
    /// Rows overlap.
    #[error("found a pitch of {pitch}, allowed at least the {width} bytes of a row")]
    Pitch {
        /// Bytes from row to row.
        pitch: u32,
        /// Bytes of a row.
        width: u32,
    },
    /// The last rows are missing.
    #[error("found {found} bytes, allowed at least {needed}")]
    Short {
        /// Bytes there are.
        found: usize,
        /// Bytes all rows need.
        needed: usize,
    },
}

impl SourcePicture {
    /// A picture of `height` rows of `width` bytes, each row `pitch` bytes after the last.
    ///
    /// # Errors
    /// Where there is no byte to show, or one is missing.
    pub fn new(width: u32, height: u32, pitch: u32, data: Vec<u8>) -> Result<Self, SourcePictureError> {
        Self::of_planes(width, height, pitch, vec![data])
    }

    /// A picture whose planes have `height` rows of `width` bytes each.
    ///
    /// # Errors
    /// Where there is no byte to show, or one is missing.
    pub fn of_planes(width: u32, height: u32, pitch: u32, planes: Vec<Vec<u8>>) -> Result<Self, SourcePictureError> {
        if width == 0 || height == 0 || planes.is_empty() {
            return Err(SourcePictureError::Empty { width, height });
        }
        if pitch < width {
            return Err(SourcePictureError::Pitch { pitch, width });
        }
        let needed = (height as usize - 1) * pitch as usize + width as usize;
        match planes.iter().map(Vec::len).find(|found| *found < needed) {
            Some(found) => Err(SourcePictureError::Short { found, needed }),
            None => Ok(Self { width, height, pitch, planes }),
        }
    }

    /// Bytes of a row.
    #[must_use]
    pub fn width(&self) -> u32 {
        self.width
    }

    /// Rows.
    #[must_use]
    pub fn height(&self) -> u32 {
        self.height
    }

    /// The byte of a plane at a column and row; all repeat.
    #[must_use]
    pub fn byte(&self, column: i64, row: u32, plane: i64) -> u8 {
        let column = column.rem_euclid(i64::from(self.width)) as usize;
        self.plane(plane)[(row % self.height) as usize * self.pitch as usize + column]
    }

    /// The byte of a plane at an offset from its first one; planes and their bytes repeat.
    #[must_use]
    pub fn at(&self, offset: i64, plane: i64) -> u8 {
        let plane = self.plane(plane);
        plane[offset.rem_euclid(plane.len() as i64) as usize]
    }

    fn plane(&self, number: i64) -> &[u8] {
        &self.planes[number.rem_euclid(self.planes.len() as i64) as usize]
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn columns_and_rows_repeat() {
        let picture = SourcePicture::new(3, 2, 4, vec![1, 2, 3, 0, 4, 5, 6]).unwrap();
        assert_eq!([picture.byte(0, 0, 0), picture.byte(-1, 1, 3), picture.byte(4, 3, 0)], [1, 6, 5]);
        assert_eq!([picture.at(-1, 0), picture.at(7, 0)], [6, 1]);
        let planes = vec![vec![1, 2], vec![3, 4]];
        let picture = SourcePicture::of_planes(1, 2, 1, planes).unwrap();
        assert_eq!([picture.byte(0, 1, 1), picture.byte(0, 1, 2), picture.at(2, 1)], [4, 2, 3]);
    }

    #[test]
    fn what_is_no_picture_is_refused() {
        let refused = |width, height, pitch, len| SourcePicture::new(width, height, pitch, vec![0; len]).unwrap_err();
        assert_eq!(refused(0, 1, 1, 9), SourcePictureError::Empty { width: 0, height: 1 });
        assert_eq!(refused(3, 1, 2, 9), SourcePictureError::Pitch { pitch: 2, width: 3 });
        assert_eq!(refused(3, 2, 4, 6), SourcePictureError::Short { found: 6, needed: 7 });
    }
}
