//! Encodes pictures as PNG, and photographs as JPEG, in memory.

use backporch_input::MAKER;
use image::codecs::jpeg::JpegEncoder;
use image::{ImageError, RgbImage};
use png::{BitDepth, ColorType, Compression, EncodingError};
use thiserror::Error;

use crate::indexed::{Indexed, MOST_COLOURS};

/// Why a picture could not be encoded: it is empty, or too large for the form.
#[derive(Debug, Error)]
#[error("cannot write a picture of {width} x {height} pixels as {source}")]
pub struct WriteError {
    width: u32,
    height: u32,
    source: FormError,
}

/// What stands against it, by form.
#[derive(Debug, Error)]
enum FormError {
    #[error("PNG: {0}")]
    Png(#[from] EncodingError),
    #[error("JPEG: {0}")]
    Jpeg(#[from] ImageError),
}

/// A true-colour PNG file, eight bits a channel.
///
/// # Errors
///
/// [`WriteError`] for a picture without pixels.
pub fn png(picture: &RgbImage) -> Result<Vec<u8>, WriteError> {
    encoded(picture.dimensions(), ColorType::Rgb, None, picture.as_raw())
}

/// A JPEG file, for photographs: `quality` from 1 to 100, where 90 shows hardly a difference.
///
/// # Errors
///
/// [`WriteError`] for a picture without pixels, or larger than the form allows, 65 535 pixels a side.
pub fn jpeg(picture: &RgbImage, quality: u8) -> Result<Vec<u8>, WriteError> {
    let mut bytes = Vec::new();
    let written = JpegEncoder::new_with_quality(&mut bytes, quality.clamp(1, 100)).encode_image(picture);
    let (width, height) = picture.dimensions();
    written.map_err(|error| WriteError { width, height, source: error.into() })?;
    Ok(bytes)
}

/// A palette PNG file, eight bits an index; indices and palette stand in it as they are.
///
/// # Errors
///
/// [`WriteError`] for a picture larger than the form allows, 2³¹ − 1 pixels a side.
pub fn indexed_png(picture: &Indexed) -> Result<Vec<u8>, WriteError> {
    let size = (picture.width(), picture.height());
    let palette = picture.palette().as_flattened();
    encoded(size, ColorType::Indexed, Some(palette), picture.indices())
}

/// As small a PNG file as holds these pixels exactly, transparent ones among them: a palette of up to 256 colours
/// in as few bits as they need, or true colour where there are more. Row by row from the top left, red, green, blue
/// and how solid, `width` to a row.
///
/// # Errors
///
/// [`WriteError`] for a picture without pixels, or with a last row that is not whole.
pub fn compact_png(pixels: &[[u8; 4]], width: u32) -> Result<Vec<u8>, WriteError> {
    let height = pixels.len().checked_div(width as usize).unwrap_or(0) as u32;
    let mut palette: Vec<[u8; 4]> = pixels.to_vec();
    palette.sort_unstable();
    palette.dedup();
    if palette.len() > MOST_COLOURS {
        return packed((width, height), ColorType::Rgba, BitDepth::Eight, None, pixels.as_flattened());
    }
    let (depth, bits) = match palette.len() {
        0..=2 => (BitDepth::One, 1),
        3..=4 => (BitDepth::Two, 2),
        5..=16 => (BitDepth::Four, 4),
        _ => (BitDepth::Eight, 8),
    };
    let index = |pixel: &[u8; 4]| palette.binary_search(pixel).unwrap_or(0) as u8;
    let byte = |pixels: &[[u8; 4]]| {
        let places = pixels.iter().zip((0..8 / bits).rev());
        places.fold(0, |byte, (pixel, place)| byte | index(pixel) << (place * bits))
    };
    let rows = pixels.chunks(width.max(1) as usize);
    let data: Vec<u8> = rows.flat_map(|row| row.chunks(8 / bits).map(byte)).collect();
    packed((width, height), ColorType::Indexed, depth, Some(&palette), &data)
}

fn packed(
    size: (u32, u32),
    colour: ColorType,
    depth: BitDepth,
    palette: Option<&[[u8; 4]]>,
    data: &[u8],
) -> Result<Vec<u8>, WriteError> {
    let mut bytes = Vec::new();
    let mut encoder = png::Encoder::new(&mut bytes, size.0, size.1);
    encoder.set_color(colour);
    encoder.set_depth(depth);
    encoder.set_compression(Compression::High);
    if let Some(palette) = palette {
        // Neighbouring indices do not mean neighbouring colours: there is nothing for a filter to find.
        encoder.set_filter(png::Filter::NoFilter);
        encoder.set_palette(palette.iter().flat_map(|[red, green, blue, _]| [*red, *green, *blue]).collect::<Vec<_>>());
        if palette.iter().any(|colour| colour[3] < 255) {
            encoder.set_trns(palette.iter().map(|colour| colour[3]).collect::<Vec<_>>());
        }
    }
    finished(encoder, size, data)?;
    Ok(bytes)
}

fn finished(encoder: png::Encoder<&mut Vec<u8>>, size: (u32, u32), data: &[u8]) -> Result<(), WriteError> {
    let written = encoder.write_header().and_then(|mut writer| {
        writer.write_image_data(data)?;
        writer.finish()
    });
    written.map_err(|error| WriteError { width: size.0, height: size.1, source: error.into() })
}

fn encoded(
    (width, height): (u32, u32),
    colour: ColorType,
    palette: Option<&[u8]>,
    data: &[u8],
) -> Result<Vec<u8>, WriteError> {
    let mut bytes = Vec::new();
    let mut encoder = png::Encoder::new(&mut bytes, width, height);
    encoder.set_color(colour);
    encoder.set_depth(BitDepth::Eight);
    encoder.set_compression(Compression::Balanced);
    let refuse = |error: EncodingError| WriteError { width, height, source: error.into() };
    encoder.add_text_chunk("Software".to_string(), MAKER.to_string()).map_err(refuse)?;
    if let Some(palette) = palette {
        encoder.set_palette(palette);
    }
    finished(encoder, (width, height), data)?;
    Ok(bytes)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::harbour::small;
    use crate::load::load;
    use proptest::prelude::*;

    #[test]
    fn true_colour_comes_back() {
        let picture = small(96, 40);
        assert_eq!(load(&png(&picture).expect("encodes")).expect("readable"), picture);
        assert_eq!(png(&picture).expect("encodes"), png(&picture).expect("encodes"));
        assert!(png(&RgbImage::new(0, 3)).is_err());
        assert!(compact_png(&[], 3).is_err());
        assert!(compact_png(&[[0; 4]; 4], 3).is_err());
    }

    #[test]
    fn a_photograph_comes_back_nearly() {
        let picture = RgbImage::from_fn(96, 40, |x, y| image::Rgb([x as u8 * 2, y as u8 * 6, 90]));
        let back = load(&jpeg(&picture, 90).expect("encodes")).expect("readable");
        let far = picture.as_raw().iter().zip(back.as_raw()).map(|(one, other)| one.abs_diff(*other)).max();
        assert!(far.is_some_and(|far| far < 24), "{far:?}");
        assert!(jpeg(&RgbImage::new(0, 3), 90).is_err());
    }

    proptest! {
        // Reference: the decoder of the `image` library.
        #[test]
        fn compact_pixels_come_back(
            colours in prop::collection::vec(any::<[u8; 4]>(), 1..400),
            width in 1u32..30,
            height in 1u32..30,
            seed in any::<u64>(),
        ) {
            let pixel = |at: u32| colours[(u64::from(at).wrapping_mul(seed | 1) >> 9) as usize % colours.len()];
            let pixels: Vec<[u8; 4]> = (0..width * height).map(pixel).collect();
            let bytes = compact_png(&pixels, width)?;
            let read = image::load_from_memory(&bytes)?.into_rgba8();
            prop_assert_eq!(read.dimensions(), (width, height));
            prop_assert_eq!(read.as_raw().as_slice(), pixels.as_flattened());
        }

        // Reference: the `png` library's decoder, set to leave indices alone.
        #[test]
        fn indices_and_palette_come_back(
            palette in prop::collection::vec(any::<[u8; 3]>(), 1..=256),
            width in 1u32..20,
            height in 1u32..20,
            seed in any::<u64>(),
        ) {
            let indices: Vec<u8> = (0..u64::from(width * height))
                .map(|at| (at.wrapping_mul(seed | 1) >> 7) as usize % palette.len())
                .map(|index| index as u8)
                .collect();
            let picture = Indexed::new(width, height, indices.clone(), palette.clone())?;
            let bytes = indexed_png(&picture)?;
            let mut decoder = png::Decoder::new(std::io::Cursor::new(&bytes));
            decoder.set_transformations(png::Transformations::IDENTITY);
            let mut reader = decoder.read_info()?;
            let mut read = vec![0; (width * height) as usize];
            reader.next_frame(&mut read)?;
            prop_assert_eq!(read, indices);
            prop_assert_eq!(reader.info().palette.as_deref(), Some(palette.as_flattened()));
            prop_assert_eq!(load(&bytes)?, picture.to_rgb());
        }
    }
}
