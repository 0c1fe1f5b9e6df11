//! Machine-readable codes on a capture: QR codes (ISO/IEC 18004).

use std::panic::catch_unwind;

use image::RgbImage;
use rqrr::PreparedImage;

use crate::capture::Capture;
use crate::measurement::SEARCHED_SIDE;

/// Codes of one capture that are read, at most.
const MOST_CODES: usize = 16;

impl Capture {
    /// The texts of the codes that can be read on it, each once.
    #[must_use]
    pub fn codes(&self) -> Vec<String> {
        let image = self.image();
        let factor = image.width().max(image.height()).div_ceil(SEARCHED_SIDE).max(1);
        let mut texts: Vec<String> = Vec::new();
        // As it is, and half as large: scan lines and noise fall away.
        for factor in [factor, 2 * factor] {
            for text in read(image, factor) {
                if !texts.contains(&text) && texts.len() < MOST_CODES {
                    texts.push(text);
                }
            }
            if !texts.is_empty() {
                break;
            }
        }
        texts
    }
}

fn read(image: &RgbImage, factor: u32) -> Vec<String> {
    let (width, height) = ((image.width() / factor) as usize, (image.height() / factor) as usize);
    if width.min(height) < 32 {
        return Vec::new();
    }
    let (bytes, stride, factor) = (image.as_raw(), image.width() as usize * 3, factor as usize);
    let brightness = |x: usize, y: usize| {
        let rows = (y * factor..(y + 1) * factor).map(|row| &bytes[row * stride + 3 * x * factor..][..3 * factor]);
        let sum: u64 = rows.flatten().map(|value| u64::from(*value)).sum();
        (sum / (3 * factor * factor) as u64) as u8
    };
    // What strange pictures do to the reader must not end the program.
    let texts = catch_unwind(|| {
        let mut prepared = PreparedImage::prepare_from_greyscale(width, height, brightness);
        let grids = prepared.detect_grids();
        grids.iter().filter_map(|grid| grid.decode().ok().map(|(_, text)| text)).collect::<Vec<_>>()
    });
    texts.unwrap_or_default()
}

#[cfg(test)]
mod tests {
    use image::Rgb;

    use super::*;

    #[test]
    fn strange_pictures_have_no_codes() {
        for seed in 0..6_u32 {
            let pixel = |x: u32, y: u32| {
                let value = (x / (1 + seed)).wrapping_mul(2_654_435_761) ^ (y / (1 + seed)).wrapping_mul(40_503 + seed);
                Rgb([(value >> 7) as u8; 3])
            };
            let capture = Capture::from_image(RgbImage::from_fn(200, 180, pixel)).expect("a size that is read");
            assert_eq!(capture.codes(), Vec::<String>::new());
        }
    }
}
