//! Reads a picture that someone brings: PNG, BMP, GIF (its first image) and the PNM family, from bytes.
//!
//! The size is read and judged before room is made for the picture.

use std::io::Cursor;

use image::{DynamicImage, ImageDecoder, ImageError, ImageReader, Limits, Rgb, RgbImage};
use thiserror::Error;

/// The widest and the highest picture that is read, in pixels.
pub const LONGEST_SIDE: u32 = 8192;

/// Room for a decoded picture: [`LONGEST_SIDE`] squared, four bytes a pixel.
const MOST_BYTES: u64 = LONGEST_SIDE as u64 * LONGEST_SIDE as u64 * 4;

/// Why there is no picture.
#[derive(Debug, Error)]
#[non_exhaustive]
pub enum PictureError {
    /// The bytes begin like none of the forms that are read.
    #[error("not a picture in a known form, allowed are PNG, BMP, GIF and PNM")]
    Form,
    /// The bytes begin like one of the forms but break its rules, or end early.
    #[error("picture is damaged: {0}")]
    Damaged(#[source] ImageError),
    /// Width or height is 0.
    #[error("picture is {width} x {height} pixels, at least 1 x 1 is needed")]
    Empty {
        /// Pixels across.
        width: u32,
        /// Pixels down.
        height: u32,
    },
    /// Wider or higher than [`LONGEST_SIDE`].
    #[error("picture is {width} x {height} pixels, allowed are up to {LONGEST_SIDE} x {LONGEST_SIDE}")]
    TooLarge {
        /// Pixels across.
        width: u32,
        /// Pixels down.
        height: u32,
    },
    /// Within the sides allowed, but too many bytes a pixel.
    #[error("picture of {width} x {height} pixels needs {found} bytes, allowed are {MOST_BYTES}")]
    TooHeavy {
        /// Pixels across.
        width: u32,
        /// Pixels down.
        height: u32,
        /// Bytes it needs.
        found: u64,
    },
}

/// Reads a picture of any known form; where it is transparent, black shines through.
///
/// # Errors
///
/// [`LoadError`] for bytes that are no picture, or one that is damaged, empty or too large.
pub fn load(bytes: &[u8]) -> Result<RgbImage, PictureError> {
    let mut reader = ImageReader::new(Cursor::new(bytes))
        .with_guessed_format()
        .map_err(|error| PictureError::Damaged(error.into()))?;
    if reader.format().is_none() {
        return Err(PictureError::Form);
    }
    let mut limits = Limits::no_limits();
    limits.max_alloc = Some(MOST_BYTES);
    reader.limits(limits);
    let decoder = reader.into_decoder().map_err(refused)?;
    check_size(&decoder)?;
    let picture = DynamicImage::from_decoder(decoder).map_err(refused)?;
    Ok(on_black(picture))
}

fn check_size(decoder: &impl ImageDecoder) -> Result<(), PictureError> {
    let (width, height) = decoder.dimensions();
    if width == 0 || height == 0 {
        return Err(PictureError::Empty { width, height });
    }
    if width.max(height) > LONGEST_SIDE {
        return Err(PictureError::TooLarge { width, height });
    }
    let found = decoder.total_bytes();
    if found > MOST_BYTES {
        return Err(PictureError::TooHeavy { width, height, found });
    }
    Ok(())
}

fn refused(error: ImageError) -> PictureError {
    match error {
        ImageError::Unsupported(_) => PictureError::Form,
        other => PictureError::Damaged(other),
    }
}

fn on_black(picture: DynamicImage) -> RgbImage {
    if !picture.color().has_alpha() {
        return picture.into_rgb8();
    }
    let picture = picture.into_rgba8();
    let shine = |value: u8, alpha: u8| ((u16::from(value) * u16::from(alpha) + 127) / 255) as u8;
    RgbImage::from_fn(picture.width(), picture.height(), |x, y| {
        let [red, green, blue, alpha] = picture.get_pixel(x, y).0;
        Rgb([red, green, blue].map(|value| shine(value, alpha)))
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::harbour::small;
    use image::{ImageFormat, Rgba, RgbaImage};
    use proptest::prelude::*;

    const FORMS: [ImageFormat; 4] = [ImageFormat::Png, ImageFormat::Bmp, ImageFormat::Gif, ImageFormat::Pnm];

    fn encoded(picture: &DynamicImage, form: ImageFormat) -> Vec<u8> {
        let mut bytes = Cursor::new(Vec::new());
        picture.write_to(&mut bytes, form).expect("encodes");
        bytes.into_inner()
    }

    /// The start of a BMP file of a given size (BITMAPINFOHEADER, 24 bits a pixel).
    fn bmp_heading(width: u32, height: u32) -> Vec<u8> {
        let mut bytes = b"BM\0\0\0\0\0\0\0\0\x36\0\0\0\x28\0\0\0".to_vec();
        bytes.extend(width.to_le_bytes());
        bytes.extend(height.to_le_bytes());
        bytes.extend([1, 0, 24, 0]);
        bytes.extend([0; 24]);
        bytes
    }

    /// The start of a PNG file of a given size and colour, up to the heading of its data (PNG
    /// specification: a signature of 8 bytes, IHDR of 25, then IDAT with its length before it).
    fn png_heading(width: u32, height: u32, depth: png::BitDepth, colour: png::ColorType) -> Vec<u8> {
        let mut bytes = Vec::new();
        let mut encoder = png::Encoder::new(&mut bytes, width, height);
        encoder.set_depth(depth);
        encoder.set_color(colour);
        drop(encoder.write_header().expect("header"));
        bytes.truncate(8 + 25);
        bytes.extend(b"\0\0\0\x0AIDAT");
        bytes
    }

    #[test]
    fn every_form_is_read() {
        let few: Vec<_> = [[0, 0, 0], [200, 30, 90], [40, 250, 5], [255; 3]].into();
        let picture = RgbImage::from_fn(13, 7, |x, y| Rgb(few[(x * 3 + y * y) as usize % 4]));
        for form in FORMS {
            let bytes = encoded(&picture.clone().into(), form);
            assert_eq!(load(&bytes).expect("readable"), picture, "{form:?}");
        }
    }

    #[test]
    fn black_shines_through() {
        let picture = RgbaImage::from_fn(3, 1, |x, _| Rgba([200, 100, 255, [0, 128, 255][x as usize]]));
        let read = load(&encoded(&picture.into(), ImageFormat::Png)).expect("readable");
        let pixels: Vec<_> = read.pixels().map(|pixel| pixel.0).collect();
        assert_eq!(pixels, [[0, 0, 0], [100, 50, 128], [200, 100, 255]]);
    }

    #[test]
    fn sizes_out_of_range_are_refused_with_what_was_found() {
        let message = |bytes: &[u8]| load(bytes).expect_err("refused").to_string();
        assert_eq!(message(&bmp_heading(8193, 2)), "picture is 8193 x 2 pixels, allowed are up to 8192 x 8192");
        let wide = png_heading(2, 0x7FFF_FFFF, png::BitDepth::Eight, png::ColorType::Rgb);
        assert_eq!(message(&wide), "picture is 2 x 2147483647 pixels, allowed are up to 8192 x 8192");
        let heavy = png_heading(8192, 8192, png::BitDepth::Sixteen, png::ColorType::Rgba);
        assert!(matches!(load(&heavy), Err(PictureError::TooHeavy { .. })), "{:?}", load(&heavy));
        assert!(load(&bmp_heading(0, 2)).is_err());
        assert!(matches!(load(b""), Err(PictureError::Form)));
        assert!(matches!(load(b"no picture at all"), Err(PictureError::Form)));
    }

    proptest! {
        #[test]
        fn garbage_is_answered(form in 0usize..5, bytes in prop::collection::vec(any::<u8>(), 0..200)) {
            let magic: [&[u8]; 5] = [b"", b"\x89PNG\r\n\x1a\n", b"BM", b"GIF89a", b"P6 "];
            let _ = load(&[magic[form], &bytes].concat());
        }

        #[test]
        fn broken_files_are_answered(form in 0usize..4, keep in 0.0..1.0f64, at in 0.0..1.0f64, value: u8) {
            let mut bytes = encoded(&small(16, 8).into(), FORMS[form]);
            let at = (at * bytes.len() as f64) as usize;
            bytes[at] = value;
            // A size of some billions of pixels would be refused, a smaller one is decoded.
            let _ = load(&bytes);
            bytes.truncate((keep * bytes.len() as f64) as usize);
            let _ = load(&bytes);
        }
    }
}
