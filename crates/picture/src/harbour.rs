//! The built-in picture: a harbour at dusk.
//!
//! `examples/harbour` draws it. What it drew is stored once for each height that the built-in modes show; other heights
//! are made from those. The right edge continues in the left one, as a scroll that wraps needs.

use image::RgbImage;
use image::imageops::{FilterType, resize};

use crate::load::load;

/// Width of the panorama in pixels.
pub const WIDTH: u32 = 768;

/// Stored panoramas, lowest first: lines, and a PNG file.
const STORED: [(u32, &[u8]); 5] = [
    (200, include_bytes!("../../../assets/pictures/harbour-200.png")),
    (240, include_bytes!("../../../assets/pictures/harbour-240.png")),
    (348, include_bytes!("../../../assets/pictures/harbour-348.png")),
    (350, include_bytes!("../../../assets/pictures/harbour-350.png")),
    (480, include_bytes!("../../../assets/pictures/harbour-480.png")),
];

/// Heights that are stored, in lines, lowest first.
pub fn stored_lines() -> impl Iterator<Item = u32> {
    STORED.iter().map(|(lines, _)| *lines)
}

/// The panorama, [`WIDTH`] pixels wide and `lines` lines high, at least one. Where that height is not stored, lines of
/// the next larger one are left out, or lines of the largest repeated.
#[must_use]
pub fn harbour(lines: u32) -> RgbImage {
    let [.., largest] = STORED;
    let (_, png) = STORED.into_iter().find(|(stored, _)| *stored >= lines).unwrap_or(largest);
    // The tests decode every one of them.
    let stored = load(png).unwrap_or_default();
    if stored.height() == lines { stored } else { resize(&stored, WIDTH, lines.max(1), FilterType::Nearest) }
}

/// The whole scene in little, for tests.
#[cfg(test)]
pub(crate) fn small(width: u32, height: u32) -> RgbImage {
    resize(&harbour(200), width, height, FilterType::Nearest)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_height_is_given() {
        for lines in stored_lines().chain([1, 64, 201, 400, 600]) {
            assert_eq!(harbour(lines).dimensions(), (WIDTH, lines));
        }
        assert_eq!(harbour(0).dimensions(), (WIDTH, 1));
    }
}
