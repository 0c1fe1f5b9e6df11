//! Reduces a picture to the colours a board can show: to a palette that is given, or to the best one of
//! as many colours that its DAC allows.
//!
//! Difference is weighed in Oklab. With dithering, each colour of the picture is made of the one or
//! two palette colours whose mixture of light comes nearest to it, laid out by the ordered matrix of [`crate::dither`].
//! A colour that is in the palette stays as it is either way.

use std::collections::{BTreeSet, HashMap};

use image::RgbImage;
use quantette::{PaletteSize, Pipeline, QuantizeMethod, deps::palette::Srgb};
use thiserror::Error;

use crate::dac;
use crate::dither::threshold;
use crate::indexed::{Colour, Indexed, IndexedError, MOST_COLOURS, check_colours};
use crate::perceptual::{Lab, Linear, difference, lab, linear};

/// How a colour is treated that the palette does not have.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Dither {
    /// The nearest palette colour takes its place.
    #[default]
    Off,
    /// Two palette colours are mixed by the ordered matrix.
    Ordered,
}

/// Why a picture cannot be reduced.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
#[non_exhaustive]
pub enum QuantiseError {
    /// The picture or the palette given is unusable.
    #[error(transparent)]
    Picture(#[from] IndexedError),
    /// More pixels than can be clustered.
    #[error("picture has {found} pixels, allowed are up to {}", u32::MAX)]
    Pixels {
        /// Pixels in all.
        found: usize,
    },
    /// A number of colours that no palette can have.
    #[error("{found} colours asked for, allowed are 1 to {MOST_COLOURS}")]
    Colours {
        /// The number asked for.
        found: usize,
    },
}

/// Palette colours that are tried in pairs for a mixture, the nearest first.
const CANDIDATES: usize = 12;

/// What the difference between two mixed colours costs, as a part of it. A low cost comes nearer to
/// each colour on its own, a high one keeps the grain fine; chosen by eye on four-colour palettes.
const GRAIN: f32 = 0.16;

/// The picture in the colours of `palette`, which stays as given.
///
/// # Errors
///
/// [`QuantiseError::Picture`] for an empty picture or a palette of no or more than 256 colours.
pub fn to_palette(picture: &RgbImage, palette: &[Colour], dither: Dither) -> Result<Indexed, QuantiseError> {
    check_colours(palette)?;
    let mut matcher = Matcher::new(palette, dither);
    let indices = picture
        .enumerate_pixels()
        .map(|(x, y, pixel)| matcher.index(pixel.0, threshold(i64::from(x), i64::from(y))))
        .collect();
    Ok(Indexed::new(picture.width(), picture.height(), indices, palette.to_vec())?)
}

/// The picture in its best palette of at most `colours` (1 to 256), each of which a six-bit DAC can
/// show; darkest colour first. With no more colours than that in the picture, each keeps its own.
///
/// # Errors
///
/// [`QuantiseError::Colours`] for a number out of range, [`QuantiseError::Picture`] for an empty picture.
pub fn to_best_palette(picture: &RgbImage, colours: usize, dither: Dither) -> Result<Indexed, QuantiseError> {
    let size = PaletteSize::try_from(colours)
        .ok()
        .filter(|_| colours <= MOST_COLOURS)
        .ok_or(QuantiseError::Colours { found: colours })?;
    let (width, height) = picture.dimensions();
    if width == 0 || height == 0 {
        return Err(IndexedError::Empty { width, height }.into());
    }
    let mut shown = picture.clone();
    for pixel in shown.pixels_mut() {
        pixel.0 = dac::shown(pixel.0);
    }
    let distinct: BTreeSet<Colour> = shown.pixels().map(|pixel| pixel.0).collect();
    let chosen = if distinct.len() <= colours { distinct } else { clustered(&shown, size)? };
    let mut palette: Vec<Colour> = chosen.into_iter().collect();
    palette.sort_by(|a, b| {
        let lightness = |colour: Colour| lab(linear(colour))[0];
        lightness(*a).total_cmp(&lightness(*b)).then(a.cmp(b))
    });
    to_palette(&shown, &palette, dither)
}

/// The middles of the clusters that the colours of a picture fall into, as the DAC shows them.
fn clustered(picture: &RgbImage, size: PaletteSize) -> Result<BTreeSet<Colour>, QuantiseError> {
    let pixels: Vec<Srgb<u8>> = picture.pixels().map(|pixel| Srgb::new(pixel[0], pixel[1], pixel[2])).collect();
    let palette = Pipeline::new()
        .palette_size(size)
        .quantize_method(QuantizeMethod::kmeans())
        .input_slice(pixels.as_slice())
        .map_err(|_| QuantiseError::Pixels { found: pixels.len() })?
        .output_srgb8_palette();
    Ok(palette.into_vec().into_iter().map(|colour| dac::shown([colour.red, colour.green, colour.blue])).collect())
}

/// One or two palette colours that stand for a colour of the picture.
#[derive(Debug, Clone, Copy)]
struct Mixture {
    first: u8,
    second: u8,
    /// The part of `second`, 0 to 1.
    part: f32,
}

/// Finds palette colours, remembering what it found.
struct Matcher {
    light: Vec<Linear>,
    seen: Vec<Lab>,
    dither: Dither,
    known: HashMap<Colour, Mixture>,
}

impl Matcher {
    /// `palette` has 1 to 256 colours.
    fn new(palette: &[Colour], dither: Dither) -> Self {
        let light: Vec<Linear> = palette.iter().map(|&colour| linear(colour)).collect();
        let seen = light.iter().map(|&light| lab(light)).collect();
        Self { light, seen, dither, known: HashMap::new() }
    }

    fn index(&mut self, colour: Colour, threshold: f32) -> u8 {
        let mixture = match self.known.get(&colour) {
            Some(&mixture) => mixture,
            None => {
                let mixture = self.mixture(colour);
                self.known.insert(colour, mixture);
                mixture
            }
        };
        if threshold < mixture.part { mixture.second } else { mixture.first }
    }

    fn mixture(&self, colour: Colour) -> Mixture {
        let light = linear(colour);
        let wanted = lab(light);
        match self.dither {
            Dither::Off => self.plain(self.nearest(wanted)),
            Dither::Ordered => self.mixed(light, wanted),
        }
    }

    fn plain(&self, index: usize) -> Mixture {
        let index = index as u8;
        Mixture { first: index, second: index, part: 0.0 }
    }

    /// The palette colour that differs least, the lowest of several.
    fn nearest(&self, wanted: Lab) -> usize {
        let mut best = (f32::INFINITY, 0);
        for (index, &seen) in self.seen.iter().enumerate() {
            let off = difference(seen, wanted);
            if off < best.0 {
                best = (off, index);
            }
        }
        best.1
    }

    /// The mixture of two palette colours that differs least.
    fn mixed(&self, light: Linear, wanted: Lab) -> Mixture {
        let mut by_distance: Vec<(f32, usize)> =
            self.seen.iter().enumerate().map(|(index, &seen)| (difference(seen, wanted), index)).collect();
        by_distance.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
        by_distance.truncate(CANDIDATES);
        let Some(&(off, nearest)) = by_distance.first() else {
            return self.plain(0);
        };
        let mut best = (off, self.plain(nearest));
        for (rank, &(_, first)) in by_distance.iter().enumerate() {
            for &(_, second) in &by_distance[rank + 1..] {
                let (off, mixture) = self.pair(first.min(second), first.max(second), light, wanted);
                if off < best.0 {
                    best = (off, mixture);
                }
            }
        }
        best.1
    }

    /// The best mixture of two given colours, and how far off it is.
    fn pair(&self, first: usize, second: usize, light: Linear, wanted: Lab) -> (f32, Mixture) {
        let (a, b) = (self.light[first], self.light[second]);
        let way: Linear = std::array::from_fn(|i| b[i] - a[i]);
        let along: f32 = (0..3).map(|i| way[i] * (light[i] - a[i])).sum();
        let length: f32 = way.iter().map(|step| step * step).sum();
        let part = if length > 0.0 { (along / length).clamp(0.0, 1.0) } else { 0.0 };
        let mixed: Linear = std::array::from_fn(|i| a[i] + way[i] * part);
        let coarse = difference(self.seen[first], self.seen[second]) * part * (1.0 - part);
        let mixture = Mixture { first: first as u8, second: second as u8, part };
        (difference(lab(mixed), wanted) + GRAIN * coarse, mixture)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::harbour::small;
    use image::Rgb;
    use proptest::prelude::*;
    use quantette::color_space::srgb8_to_oklab;

    fn picture_of(width: u32, colours: &[Colour]) -> RgbImage {
        RgbImage::from_fn(width, (colours.len() as u32).div_ceil(width), |x, y| {
            Rgb(colours[(y * width + x) as usize % colours.len()])
        })
    }

    fn mean_light(picture: &RgbImage) -> Linear {
        let mut sum = [0.0f64; 3];
        for pixel in picture.pixels() {
            for (total, value) in sum.iter_mut().zip(linear(pixel.0)) {
                *total += f64::from(value);
            }
        }
        sum.map(|total| (total / picture.pixels().len() as f64) as f32)
    }

    #[test]
    fn numbers_out_of_range_are_refused() {
        let picture = small(8, 8);
        for found in [0, 257, usize::MAX] {
            assert_eq!(to_best_palette(&picture, found, Dither::Off), Err(QuantiseError::Colours { found }));
        }
        let empty = RgbImage::new(0, 4);
        assert!(to_best_palette(&empty, 4, Dither::Off).is_err());
        assert!(to_palette(&empty, &[[0; 3]], Dither::Off).is_err());
        assert!(to_palette(&picture, &[], Dither::Off).is_err());
        assert!(to_palette(&picture, &[[0; 3]; 257], Dither::Off).is_err());
    }

    #[test]
    fn best_palette_is_near_and_shown_by_the_dac() {
        let picture = small(192, 50);
        let few = to_best_palette(&picture, 256, Dither::Off).expect("valid");
        assert!(few.palette().len() > 200);
        for &colour in few.palette() {
            assert_eq!(dac::shown(colour), colour);
        }
        let mean = |reduced: &Indexed| {
            let pairs = picture.pixels().zip(reduced.to_rgb().pixels().copied().collect::<Vec<_>>());
            let sum: f32 = pairs.map(|(a, b)| difference(lab(linear(a.0)), lab(linear(b.0))).sqrt()).sum();
            sum / picture.pixels().len() as f32
        };
        let poor = to_best_palette(&picture, 16, Dither::Off).expect("valid");
        // An Oklab distance of 0.02 is about what the eye just sees.
        assert!(mean(&few) < 0.02, "{}", mean(&few));
        assert!(mean(&few) < mean(&poor));
        assert_eq!(few, to_best_palette(&picture, 256, Dither::Off).expect("valid"));
    }

    #[test]
    fn dithering_keeps_the_light_of_middle_greys() {
        let palette = [[0; 3], [255; 3]];
        let light_of = |grey: u8, dither| {
            let flat = RgbImage::from_pixel(64, 64, Rgb([grey; 3]));
            let reduced = to_palette(&flat, &palette, dither).expect("valid").to_rgb();
            (mean_light(&reduced)[0] - linear([grey; 3])[0]).abs()
        };
        for grey in 0..=u8::MAX {
            let (plain, dithered) = (light_of(grey, Dither::Off), light_of(grey, Dither::Ordered));
            assert!(dithered <= plain + 1.0 / 64.0, "{grey}: {dithered} {plain}");
        }
        for grey in [120, 140, 160, 188] {
            assert!(light_of(grey, Dither::Ordered) < 1.0 / 64.0, "{grey}");
        }
    }

    proptest! {
        #[test]
        fn few_colours_are_kept_exactly(
            colours in prop::collection::vec(any::<Colour>(), 1..40),
            width in 1u32..12,
            dither in prop_oneof![Just(Dither::Off), Just(Dither::Ordered)],
        ) {
            let picture = picture_of(width, &colours);
            let reduced = to_best_palette(&picture, 40, dither)?;
            for (before, after) in picture.pixels().zip(reduced.to_rgb().pixels()) {
                prop_assert_eq!(dac::shown(before.0), after.0);
            }
            prop_assert!(reduced.palette().len() <= colours.len());
        }

        // Reference: every distance measured by the colour conversion of the `palette` library.
        #[test]
        fn without_dithering_no_palette_colour_is_nearer(
            colours in prop::collection::vec(any::<Colour>(), 1..30),
            palette in prop::collection::vec(any::<Colour>(), 1..30),
        ) {
            let picture = picture_of(5, &colours);
            let reduced = to_palette(&picture, &palette, Dither::Off)?;
            let oklab = |[r, g, b]: Colour| srgb8_to_oklab(&[Srgb::new(r, g, b)])[0];
            let distance = |a: Colour, b: Colour| {
                let (a, b) = (oklab(a), oklab(b));
                ((a.l - b.l).powi(2) + (a.a - b.a).powi(2) + (a.b - b.b).powi(2)).sqrt()
            };
            for (pixel, &index) in picture.pixels().zip(reduced.indices()) {
                let chosen = distance(pixel.0, palette[usize::from(index)]);
                for &other in &palette {
                    prop_assert!(chosen <= distance(pixel.0, other) + 1e-4);
                }
            }
        }

        #[test]
        fn palette_colours_are_never_dithered(
            palette in prop::collection::vec(any::<Colour>(), 1..30),
        ) {
            let picture = picture_of(7, &palette);
            let reduced = to_palette(&picture, &palette, Dither::Ordered)?;
            prop_assert_eq!(reduced.to_rgb(), picture);
        }
    }
}
