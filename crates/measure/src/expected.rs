//! What the bench says: the picture that was meant, and the memory it may have come from.

use std::ops::Range;

use thiserror::Error;

/// Red, green and blue, 0 to 255, as written in a picture file.
pub type Rgb8 = [u8; 3];

/// Why there is nothing to hold a capture against.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
#[non_exhaustive]
pub enum ExpectedError {
    /// The picture is too small to be found, or too large.
    #[error("picture of {width} x {height} pixels, allowed {SMALLEST} x {SMALLEST} to {LARGEST} x {LARGEST}")]
    Size {
        /// Pixels across.
        width: usize,
        /// Lines.
        height: usize,
    },
    /// There are not as many pixels as the size says.
    #[error("{found} pixels, allowed {allowed}")]
    Pixels {
        /// Pixels there are.
        found: usize,
        /// Pixels the size says.
        allowed: usize,
    },
    /// The picture is all but one colour: nothing could be found by it.
    #[error("a picture all of one colour, allowed one with shapes in it")]
    Flat,
    /// A line begins outside of its strip of memory, or there is no such strip.
    #[error("line {line} begins at pixel {at} of strip {strip}, which memory does not hold")]
    Outside {
        /// The line.
        line: usize,
        /// Its strip.
        strip: usize,
        /// Where it begins.
        at: usize,
    },
}

/// The smallest picture either way, in pixels.
const SMALLEST: usize = 32;
/// The largest.
const LARGEST: usize = 2048;

/// Video memory as pixels: what the board would show if it went on along memory for ever.
///
/// Where lines alternate between banks, each bank is a strip of its own. Strips go round: after the last pixel comes the
/// first.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct MemoryImage {
    /// The strips; none is empty.
    pub strips: Vec<Vec<Rgb8>>,
    /// For each picture line its strip, and where it begins in it, in pixels.
    pub lines: Vec<(usize, usize)>,
}

/// A picture that a board should show.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Expected {
    width: usize,
    height: usize,
    pixels: Vec<Rgb8>,
    border: Rgb8,
    memory: MemoryImage,
    /// Where it is not known what is shown: pixels and lines.
    unknown: Option<(Range<usize>, Range<usize>)>,
}

impl Expected {
    /// A picture of `width` pixels a line, line by line from the top, with the colour around it.
    ///
    /// # Errors
    ///
    /// [`ExpectedError`] where it is too small, too large, of one colour or incomplete, or where memory lacks a line.
    pub fn new(
        (width, height): (usize, usize),
        pixels: Vec<Rgb8>,
        border: Rgb8,
        memory: Option<MemoryImage>,
    ) -> Result<Self, ExpectedError> {
        let allowed = SMALLEST..=LARGEST;
        if !allowed.contains(&width) || !allowed.contains(&height) {
            return Err(ExpectedError::Size { width, height });
        }
        if pixels.len() != width * height {
            return Err(ExpectedError::Pixels { found: pixels.len(), allowed: width * height });
        }
        let unlike = pixels.iter().filter(|pixel| **pixel != pixels[0]).count();
        if unlike * 200 < pixels.len() {
            return Err(ExpectedError::Flat);
        }
        let of_picture =
            || MemoryImage { strips: vec![pixels.clone()], lines: (0..height).map(|line| (0, line * width)).collect() };
        let memory = memory.unwrap_or_else(of_picture);
        for line in 0..height {
            let (strip, at) = memory.lines.get(line).copied().unwrap_or((usize::MAX, 0));
            if memory.strips.get(strip).is_none_or(|pixels| at >= pixels.len()) {
                return Err(ExpectedError::Outside { line, strip, at });
            }
        }
        Ok(Self { width, height, pixels, border, memory, unknown: None })
    }

    /// The same where it is not known what these pixels of these lines show: nothing is read of them.
    #[must_use]
    pub fn with_unknown(self, pixels: Range<usize>, lines: Range<usize>) -> Self {
        Self { unknown: Some((pixels, lines)), ..self }
    }

    /// Whether it is known what a pixel shows.
    #[must_use]
    pub fn is_known(&self, x: usize, y: usize) -> bool {
        !self.unknown.as_ref().is_some_and(|(pixels, lines)| pixels.contains(&x) && lines.contains(&y))
    }

    /// Pixels of a line, and lines.
    #[must_use]
    pub fn size(&self) -> (usize, usize) {
        (self.width, self.height)
    }

    /// The pixels of a line.
    #[must_use]
    pub fn line(&self, line: usize) -> &[Rgb8] {
        &self.pixels[line * self.width..(line + 1) * self.width]
    }

    /// The colour around the picture.
    #[must_use]
    pub fn border(&self) -> Rgb8 {
        self.border
    }

    /// The memory behind it; the picture itself, line after line, where none was given.
    #[must_use]
    pub fn memory(&self) -> &MemoryImage {
        &self.memory
    }

    /// What stands at `moved` pixels along memory from where a line begins.
    #[must_use]
    pub fn along_memory(&self, line: usize, moved: i64) -> Rgb8 {
        let (strip, at) = self.memory.lines[line];
        let pixels = &self.memory.strips[strip];
        pixels[(at as i64 + moved).rem_euclid(pixels.len() as i64) as usize]
    }

    /// The same picture with all of its content fetched that many pixels and lines further on.
    pub(crate) fn moved_on(&self, right: i64, down: i64) -> Self {
        let pitch = self.pitch();
        let line = |y: usize| {
            // Beyond the last line memory goes on as from line to line before.
            let at = y as i64 + down;
            let known = at.clamp(0, self.height as i64 - 1);
            let from = (at - known) * pitch + right;
            (0..self.width).map(move |x| self.along_memory(known as usize, from + x as i64))
        };
        Self { pixels: (0..self.height).flat_map(line).collect(), ..self.clone() }
    }

    /// Pixels along memory from a line to the next one in the same strip.
    pub(crate) fn pitch(&self) -> i64 {
        let lines = &self.memory.lines;
        let next = lines.iter().zip(lines.iter().skip(1)).find(|((one, _), (other, _))| one == other);
        next.map_or(self.width as i64, |((_, from), (_, to))| *to as i64 - *from as i64)
    }
}
