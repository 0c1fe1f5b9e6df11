//! Pictures on the bench: loaded, and brought into the colours a mode has.

use backporch_adapter::{Adapter, ColourRule, Registers};
use backporch_input::{InputError, InputErrorKind, read_bytes};
use backporch_picture::dac::level;
use backporch_picture::harbour::harbour;
use backporch_picture::indexed::Indexed;
use backporch_picture::load::load as decode;
use backporch_picture::quantise::{Dither, to_best_palette, to_palette};
use backporch_raster::QuietFrame;
use image::RgbImage;

use crate::file::{PictureRef, Scroll};
use crate::library::Library;
use crate::resource::BUILT_IN_PICTURE;

/// Largest picture file read, in bytes.
const MOST_PICTURE_BYTES: u64 = 64 << 20;

/// A picture in the mode's colours, and where it lies.
#[derive(Clone, Debug)]
pub(crate) struct Art {
    pub picture: Indexed,
    pub at: u32,
    pub column: u32,
    pub scroll: Scroll,
}

/// Heights the built-in picture is drawn in, in lines.
const DRAWN_LINES: std::ops::RangeInclusive<u32> = 64..=600;

/// The built-in picture of that name, as many lines high as the mode shows, or the one in a file.
pub(crate) fn load(name: &str, library: &Library, lines: u32) -> Result<RgbImage, InputError> {
    if name == BUILT_IN_PICTURE {
        return Ok(harbour(lines.clamp(*DRAWN_LINES.start(), *DRAWN_LINES.end())));
    }
    let path = library.path(name);
    let bytes = read_bytes(&path, MOST_PICTURE_BYTES)?;
    decode(&bytes).map_err(|error| {
        let found = format!("no such picture ({error})");
        let allowed = "a PNG, BMP, GIF or PNM picture of 1 x 1 to 8192 x 8192 pixels";
        InputError::new(path.display().to_string(), found, allowed).of_kind(InputErrorKind::Unreadable)
    })
}

/// The picture in the colours these registers give; where they come from a
/// DAC, the picture's best colours are put into it.
pub(crate) fn in_colours_of(
    image: &RgbImage,
    wanted: &PictureRef,
    adapter: &Adapter,
    registers: &mut Registers,
    quiet: &QuietFrame,
    bits: u32,
) -> Result<Indexed, InputError> {
    let dither = if wanted.dither { Dither::Ordered } else { Dither::Off };
    let unfit = |error| InputError::new(&wanted.source, error, "a picture of at least 1 x 1 pixels");
    if quiet.format().colour == ColourRule::Dac {
        let picture = to_best_palette(image, 1 << bits, dither).map_err(unfit)?;
        for (index, colour) in (0..=255).zip(picture.palette()) {
            registers.set_dac(index, colour.map(level));
        }
        return Ok(picture);
    }
    let palette = adapter.palette(registers);
    let colours: Vec<[u8; 3]> = palette.colours[..1 << bits].iter().map(|&[r, g, b, _]| [r, g, b]).collect();
    to_palette(image, &colours, dither).map_err(unfit)
}
