//! Program images: plain `.COM` and relocated `.EXE`.

use thiserror::Error;

/// Longest plain image: a segment less the 256 bytes before it and a word of stack.
const LONGEST_PLAIN: usize = 0x1_0000 - 0x0100 - 2;

/// Longest image of either kind: all of memory.
const LONGEST: usize = 0xA_0000;

/// A program as loaded from its file, nothing relocated yet.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ProgramImage {
    /// Bytes to be laid at the load segment.
    pub bytes: Vec<u8>,
    /// What is particular to its kind.
    pub kind: ImageKind,
}

/// The two kinds of images.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum ImageKind {
    /// Starts at its first byte, all segments alike, the stack at the segment's end.
    Plain,
    /// Says where it starts and where its stack is, relative to the load segment.
    Relocated {
        /// Words to which the load segment is added: segment and offset.
        relocations: Vec<(u16, u16)>,
        /// Code segment and instruction pointer.
        start: (u16, u16),
        /// Stack segment and pointer.
        stack: (u16, u16),
        /// Paragraphs needed beyond the image.
        least: u16,
        /// Paragraphs wanted beyond the image.
        most: u16,
    },
}

/// A file that is no program.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
#[error("found {}, allowed {}", self.found(), self.allowed())]
pub enum ImageError {
    /// Nothing in it.
    Empty,
    /// Too long.
    TooLong {
        /// Bytes found.
        found: usize,
        /// Bytes allowed.
        allowed: usize,
    },
    /// The header of a relocated image contradicts itself or the file.
    Header {
        /// Which field.
        field: &'static str,
        /// What it holds.
        found: usize,
        /// What it may hold.
        allowed: String,
    },
}

impl ImageError {
    /// What was found.
    #[must_use]
    pub fn found(&self) -> String {
        match self {
            Self::Empty => "an empty file".to_string(),
            Self::TooLong { found, .. } => format!("{found} bytes"),
            Self::Header { field, found, .. } => format!("{found} for the {field} of the .EXE header"),
        }
    }

    /// What is allowed.
    #[must_use]
    pub fn allowed(&self) -> String {
        match self {
            Self::Empty => "a .COM or .EXE program".to_string(),
            Self::TooLong { allowed, .. } => format!("at most {allowed}"),
            Self::Header { allowed, .. } => allowed.clone(),
        }
    }
}

impl ProgramImage {
    /// Reads an image; one that begins with the letters MZ is a relocated one.
    ///
    /// # Errors
    /// Says what is wrong with the file.
    pub fn parse(file: &[u8]) -> Result<Self, ImageError> {
        match file {
            [] => Err(ImageError::Empty),
            [b'M', b'Z', ..] | [b'Z', b'M', ..] => Self::relocated(file),
            _ if file.len() > LONGEST_PLAIN => Err(ImageError::TooLong { found: file.len(), allowed: LONGEST_PLAIN }),
            _ => Ok(Self { bytes: file.to_vec(), kind: ImageKind::Plain }),
        }
    }

    /// Fields by their word in the header: 1 bytes in the last page, 2 pages, 3
    /// relocations, 4 paragraphs of header, 5 and 6 paragraphs beyond the
    /// image, 7 SS, 8 SP, 10 IP, 11 CS, 12 relocation table (common practice).
    fn relocated(file: &[u8]) -> Result<Self, ImageError> {
        let wrong = |field, found: usize, allowed: String| ImageError::Header { field, found, allowed };
        let word = |at: usize| file.get(at..at + 2).map(|pair| u16::from_le_bytes([pair[0], pair[1]]));
        let field =
            |number: usize| word(number * 2).ok_or_else(|| wrong("length", file.len(), "at least 28".to_string()));
        let (last, pages) = (usize::from(field(1)?), usize::from(field(2)?));
        if last > 512 || pages == 0 {
            return Err(wrong("last page", last, "0..=512, of at least one page".to_string()));
        }
        let end = if last == 0 { pages * 512 } else { (pages - 1) * 512 + last };
        let header = usize::from(field(4)?) * 16;
        // Files shorter than they say are loaded as far as they go (common practice).
        let end = end.min(file.len());
        if header < 28 || header > end {
            return Err(wrong("header size", header, format!("28..={end}")));
        }
        let bytes = file[header..end].to_vec();
        if bytes.len() > LONGEST {
            return Err(ImageError::TooLong { found: bytes.len(), allowed: LONGEST });
        }
        let (count, table) = (usize::from(field(3)?), usize::from(field(12)?));
        let relocation = |number: usize| {
            let at = table + number * 4;
            let outside = |found| wrong("relocation", found, format!("inside the image of {} bytes", bytes.len()));
            let (offset, segment) = (word(at).ok_or(outside(at))?, word(at + 2).ok_or(outside(at))?);
            let place = usize::from(segment) * 16 + usize::from(offset);
            (place + 2 <= bytes.len()).then_some((segment, offset)).ok_or(outside(place))
        };
        let relocations = (0..count).map(relocation).collect::<Result<_, _>>()?;
        let kind = ImageKind::Relocated {
            relocations,
            start: (field(11)?, field(10)?),
            stack: (field(7)?, field(8)?),
            least: field(5)?,
            most: field(6)?,
        };
        Ok(Self { bytes, kind })
    }

    /// The bytes with every relocation added to.
    #[must_use]
    pub fn at_segment(&self, segment: u16) -> Vec<u8> {
        let mut bytes = self.bytes.clone();
        if let ImageKind::Relocated { relocations, .. } = &self.kind {
            for (paragraph, offset) in relocations {
                let at = usize::from(*paragraph) * 16 + usize::from(*offset);
                if let Some(pair) = bytes.get_mut(at..at + 2) {
                    let value = u16::from_le_bytes([pair[0], pair[1]]).wrapping_add(segment);
                    pair.copy_from_slice(&value.to_le_bytes());
                }
            }
        }
        bytes
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn exe() -> Vec<u8> {
        let mut file = vec![0u8; 64];
        let words = [0x5A4D, 96, 1, 1, 2, 0x10, 0xFFFF, 3, 0x80, 0, 4, 1, 0x1C];
        for (at, word) in words.iter().enumerate() {
            file[at * 2..][..2].copy_from_slice(&u16::to_le_bytes(*word));
        }
        file[0x1C..0x20].copy_from_slice(&[2, 0, 0, 0]);
        file.truncate(32);
        file.extend([0xB8, 0x00, 0x05, 0x00]);
        file.resize(96, 0x90);
        file
    }

    #[test]
    fn a_relocated_image_moves_with_its_segment() {
        let image = ProgramImage::parse(&exe()).unwrap();
        assert_eq!(image.bytes.len(), 64);
        let ImageKind::Relocated { start, stack, .. } = &image.kind else { panic!() };
        assert_eq!((*start, *stack), ((1, 4), (3, 0x80)));
        assert_eq!(image.at_segment(0x1000)[..4], [0xB8, 0x00, 0x05, 0x10]);
    }

    #[test]
    fn relocations_outside_the_image_are_refused() {
        let mut file = exe();
        file[0x1C] = 0x40;
        assert!(matches!(ProgramImage::parse(&file), Err(ImageError::Header { field: "relocation", found: 0x40, .. })));
    }

    proptest! {
        #[test]
        fn any_file_is_read_or_refused(mut file in proptest::collection::vec(any::<u8>(), 0..200), exe in any::<bool>()) {
            if exe && file.len() > 1 {
                (file[0], file[1]) = (b'M', b'Z');
            }
            if let Ok(image) = ProgramImage::parse(&file) {
                prop_assert_eq!(image.at_segment(0x1234).len(), image.bytes.len());
            }
        }
    }
}
