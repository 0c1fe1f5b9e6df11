//! Encodes pictures as PNG, in memory.

use image::RgbImage;
use png::{BitDepth, ColorType, Compression, EncodingError};
use thiserror::Error;

use crate::indexed::Indexed;

/// Why a picture could not be encoded: it is empty, or too large for the form.
#[derive(Debug, Error)]
#[error("cannot write a picture of {width} x {height} pixels as PNG: {source}")]
pub struct WriteError {
    width: u32,
    height: u32,
    source: EncodingError,
}

/// A true-colour PNG file, eight bits a channel.
///
/// # Errors
///
/// [`WriteError`] for a picture without pixels.
pub fn png(picture: &RgbImage) -> Result<Vec<u8>, WriteError> {
    encoded(picture.dimensions(), ColorType::Rgb, None, picture.as_raw())
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
    if let Some(palette) = palette {
        encoder.set_palette(palette);
    }
    let written = encoder.write_header().and_then(|mut writer| {
        writer.write_image_data(data)?;
        writer.finish()
    });
    match written {
        Ok(()) => Ok(bytes),
        Err(source) => Err(WriteError { width, height, source }),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::harbour::harbour;
    use crate::load::load;
    use proptest::prelude::*;

    #[test]
    fn true_colour_comes_back() {
        let picture = harbour(96, 40);
        assert_eq!(load(&png(&picture).expect("encodes")).expect("readable"), picture);
        assert_eq!(png(&picture).expect("encodes"), png(&picture).expect("encodes"));
        assert!(png(&RgbImage::new(0, 3)).is_err());
    }

    proptest! {
        // Reference: the `png` library's decoder, told to leave indices alone.
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
