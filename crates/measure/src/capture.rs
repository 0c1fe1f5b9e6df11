//! Captures and photographs, from the bytes of a file.
//!
//! The size is read and judged before room is made for a picture. A photograph is turned upright as its camera noted
//! (EXIF), and an animated picture gives its frames.

use std::io::Cursor;
use std::path::Path;

use image::codecs::gif::GifDecoder;
use image::codecs::png::PngDecoder;
use image::codecs::webp::WebPDecoder;
use image::{
    AnimationDecoder, DynamicImage, Frames, ImageDecoder, ImageError, ImageFormat, ImageReader, Limits, RgbImage,
};
use thiserror::Error;

use crate::plane::Plane;

/// The widest and the highest capture that is read, in pixels.
pub const LONGEST_SIDE: u32 = 12_000;
/// Pixels of the largest capture that is read.
pub const MOST_PIXELS: u64 = 64_000_000;
/// Frames that are read of an animated picture; those after them are left out.
pub const MOST_FRAMES: usize = 16;
/// Most bytes of a file that captures are read from.
pub const MOST_FILE_BYTES: u64 = 256 << 20;
/// Endings of the names of files that captures are read from, in small letters.
pub const ENDINGS: [&str; 7] = ["png", "apng", "jpg", "jpeg", "webp", "bmp", "gif"];

/// Whether a name ends as that of a file that captures are read from, in small letters or capitals.
#[must_use]
pub fn names_capture(path: &Path) -> bool {
    let ending = path.extension().map(|ending| ending.to_string_lossy().to_lowercase());
    ending.is_some_and(|ending| ENDINGS.contains(&ending.as_str()))
}
/// The smallest side of a capture, in pixels.
const SMALLEST_SIDE: u32 = 64;
/// Room for decoding, in bytes.
const MOST_BYTES: u64 = MOST_PIXELS * 8;

/// Why a file is no capture.
#[derive(Debug, Error)]
#[non_exhaustive]
pub enum CaptureError {
    /// The bytes begin like none of the forms that are read.
    #[error("not a picture in a known form, allowed are PNG, JPEG, WebP, BMP and GIF")]
    Form,
    /// The bytes break the rules of their form, or end early.
    #[error("picture is damaged: {0}")]
    Damaged(#[source] ImageError),
    /// Too small to show a screen, or too large.
    #[error(
        "picture is {width} x {height} pixels, allowed are {SMALLEST_SIDE} to {LONGEST_SIDE} a side and {MOST_PIXELS} in all"
    )]
    Size {
        /// Pixels across.
        width: u32,
        /// Pixels down.
        height: u32,
    },
}

/// A capture: one frame of what was photographed or captured.
#[derive(Clone, Debug)]
pub struct Capture {
    image: RgbImage,
}

impl Capture {
    /// Reads all frames of a picture file, the first [`MOST_FRAMES`] of an animated one; at least one.
    ///
    /// # Errors
    ///
    /// [`CaptureError`] for bytes that are no picture, or one that is damaged, too small or too large.
    pub fn read(bytes: &[u8]) -> Result<Vec<Self>, CaptureError> {
        let reader = || ImageReader::new(Cursor::new(bytes)).with_guessed_format();
        let format = reader().map_err(|error| CaptureError::Damaged(error.into()))?.format();
        let animation = match format {
            Some(ImageFormat::Png | ImageFormat::Jpeg | ImageFormat::Bmp) => animated_png(bytes, format),
            Some(ImageFormat::Gif) => Some(frames(limited(GifDecoder::new(Cursor::new(bytes)).map_err(refused)?)?)),
            Some(ImageFormat::WebP) => {
                let decoder = limited(WebPDecoder::new(Cursor::new(bytes)).map_err(refused)?)?;
                decoder.has_animation().then(|| frames(decoder))
            }
            _ => return Err(CaptureError::Form),
        };
        match animation {
            Some(frames) => frames,
            None => {
                let reader = reader().map_err(|error| CaptureError::Damaged(error.into()))?;
                let mut decoder = limited(reader.into_decoder().map_err(refused)?)?;
                let orientation = decoder.orientation().map_err(refused)?;
                let mut picture = DynamicImage::from_decoder(decoder).map_err(refused)?;
                picture.apply_orientation(orientation);
                Ok(vec![Self::of(&picture)])
            }
        }
    }

    /// A capture from pixels at hand.
    ///
    /// # Errors
    ///
    /// [`CaptureError::Size`] where it is too small or too large.
    pub fn from_image(image: RgbImage) -> Result<Self, CaptureError> {
        allowed(image.width(), image.height())?;
        Ok(Self { image })
    }

    fn of(picture: &DynamicImage) -> Self {
        let image = if picture.color().has_alpha() {
            // Black shines through.
            let picture = picture.to_rgba8();
            let shine = |value: u8, alpha: u8| ((u16::from(value) * u16::from(alpha) + 127) / 255) as u8;
            RgbImage::from_fn(picture.width(), picture.height(), |x, y| {
                let [red, green, blue, alpha] = picture.get_pixel(x, y).0;
                image::Rgb([red, green, blue].map(|value| shine(value, alpha)))
            })
        } else {
            picture.to_rgb8()
        };
        Self { image }
    }

    /// Its pixels.
    #[must_use]
    pub fn image(&self) -> &RgbImage {
        &self.image
    }

    /// The same `factor` times smaller: means of squares of pixels.
    pub(crate) fn reduced(&self, factor: u32) -> ReducedCapture {
        let factor = factor.max(1);
        let (width, height) = ((self.image.width() / factor).max(1), (self.image.height() / factor).max(1));
        let row_bytes = self.image.width() as usize * 3;
        let share = 1.0 / (factor * factor) as f32;
        let mut pixels = vec![[0.0_f32; 3]; (width * height) as usize];
        let bytes = self.image.as_raw();
        for y in 0..(height * factor) as usize {
            let row = &bytes[y * row_bytes..][..(width * factor) as usize * 3];
            let out = &mut pixels[y / factor as usize * width as usize..][..width as usize];
            for (group, sum) in row.chunks_exact(3 * factor as usize).zip(out) {
                for pixel in group.chunks_exact(3) {
                    (0..3).for_each(|channel| sum[channel] += f32::from(pixel[channel]) * share);
                }
            }
        }
        ReducedCapture { width: width as usize, height: height as usize, factor: f64::from(factor), pixels }
    }
}

/// A capture made smaller.
#[derive(Clone, Debug)]
pub(crate) struct ReducedCapture {
    pub width: usize,
    pub height: usize,
    /// Capture pixels to one of these, either way.
    pub factor: f64,
    pub pixels: Vec<[f32; 3]>,
}

impl ReducedCapture {
    /// How bright it is: the mean of the three colours, so that none of them counts for nothing.
    pub fn brightness(&self) -> Plane {
        let data = self.pixels.iter().map(|[red, green, blue]| (red + green + blue) / 3.0).collect();
        Plane::new(self.width, self.height, data)
    }

    /// The colour between pixels, at a place in pixels of this size; outside, that of the nearest edge.
    pub fn sample(&self, x: f32, y: f32) -> [f32; 3] {
        let x = (x - 0.5).clamp(0.0, (self.width - 1) as f32);
        let y = (y - 0.5).clamp(0.0, (self.height - 1) as f32);
        let (ix, iy) = (x as usize, y as usize);
        let (right, below) = ((ix + 1).min(self.width - 1), (iy + 1).min(self.height - 1));
        let (x, y) = (x - ix as f32, y - iy as f32);
        let row = |line: usize| {
            let (a, b) = (self.pixels[line * self.width + ix], self.pixels[line * self.width + right]);
            [0, 1, 2].map(|channel| a[channel] * (1.0 - x) + b[channel] * x)
        };
        let (top, bottom) = (row(iy), row(below));
        [0, 1, 2].map(|channel| top[channel] * (1.0 - y) + bottom[channel] * y)
    }

    /// Whether a place lies inside.
    pub fn holds(&self, x: f64, y: f64) -> bool {
        x >= 0.0 && y >= 0.0 && x <= self.width as f64 && y <= self.height as f64
    }
}

fn animated_png(bytes: &[u8], format: Option<ImageFormat>) -> Option<Result<Vec<Capture>, CaptureError>> {
    if format != Some(ImageFormat::Png) {
        return None;
    }
    // One that is damaged is refused where it is read as a still one.
    let decoder = limited(PngDecoder::new(Cursor::new(bytes)).ok()?).ok()?;
    let animated = decoder.is_apng().ok()?.then(|| decoder.apng().ok()).flatten()?;
    Some(collect(animated.into_frames()))
}

fn frames<'a>(decoder: impl AnimationDecoder<'a>) -> Result<Vec<Capture>, CaptureError> {
    collect(decoder.into_frames())
}

fn collect(frames: Frames<'_>) -> Result<Vec<Capture>, CaptureError> {
    let captures: Result<Vec<_>, _> = frames
        .take(MOST_FRAMES)
        .map(|frame| frame.map(|frame| Capture::of(&DynamicImage::from(frame.into_buffer()))).map_err(refused))
        .collect();
    let captures = captures?;
    if captures.is_empty() { Err(CaptureError::Form) } else { Ok(captures) }
}

fn limited<D: ImageDecoder>(mut decoder: D) -> Result<D, CaptureError> {
    let (width, height) = decoder.dimensions();
    allowed(width, height)?;
    let mut limits = Limits::no_limits();
    limits.max_alloc = Some(MOST_BYTES);
    decoder.set_limits(limits).map_err(refused)?;
    Ok(decoder)
}

fn allowed(width: u32, height: u32) -> Result<(), CaptureError> {
    let fits = width.min(height) >= SMALLEST_SIDE
        && width.max(height) <= LONGEST_SIDE
        && u64::from(width) * u64::from(height) <= MOST_PIXELS;
    if fits { Ok(()) } else { Err(CaptureError::Size { width, height }) }
}

fn refused(error: ImageError) -> CaptureError {
    match error {
        ImageError::Unsupported(_) => CaptureError::Form,
        other => CaptureError::Damaged(other),
    }
}

#[cfg(test)]
mod tests {
    use image::codecs::gif::GifEncoder;
    use image::{Delay, Frame, Rgb};

    use super::*;

    /// Two colours one above the other, which every form keeps apart.
    fn picture() -> RgbImage {
        RgbImage::from_fn(96, 64, |_, y| if y < 32 { Rgb([200, 30, 40]) } else { Rgb([20, 60, 210]) })
    }

    fn encoded(form: ImageFormat) -> Vec<u8> {
        let mut bytes = Cursor::new(Vec::new());
        picture().write_to(&mut bytes, form).expect("encodes");
        bytes.into_inner()
    }

    fn is_red(pixel: &Rgb<u8>) -> bool {
        pixel.0[0] > 150 && pixel.0[2] < 90
    }

    #[test]
    fn every_form_is_read() {
        for form in [ImageFormat::Png, ImageFormat::Jpeg, ImageFormat::WebP, ImageFormat::Bmp, ImageFormat::Gif] {
            let captures = Capture::read(&encoded(form)).expect("readable");
            assert_eq!(captures.len(), 1);
            let image = captures[0].image();
            assert_eq!(image.dimensions(), (96, 64));
            assert!(is_red(image.get_pixel(48, 10)) && !is_red(image.get_pixel(48, 54)));
        }
    }

    #[test]
    fn a_photograph_is_turned_upright() {
        let plain = encoded(ImageFormat::Jpeg);
        // An EXIF block (CIPA DC-008): big-endian TIFF with one entry, orientation 6: turned a quarter.
        let tiff = b"MM\0\x2A\0\0\0\x08\0\x01\x01\x12\0\x03\0\0\0\x01\0\x06\0\0\0\0\0\0";
        let mut block = b"Exif\0\0".to_vec();
        block.extend(tiff);
        let mut bytes = plain[..2].to_vec();
        bytes.extend([0xFF, 0xE1]);
        bytes.extend((block.len() as u16 + 2).to_be_bytes());
        bytes.extend(block);
        bytes.extend(&plain[2..]);
        let captures = Capture::read(&bytes).expect("readable");
        let image = captures[0].image();
        assert_eq!(image.dimensions(), (64, 96));
        assert!(is_red(image.get_pixel(54, 48)) && !is_red(image.get_pixel(10, 48)), "the top is on the right");
    }

    #[test]
    fn an_animated_picture_gives_its_frames() {
        let mut bytes = Vec::new();
        let mut encoder = GifEncoder::new(&mut bytes);
        for _ in 0..MOST_FRAMES + 3 {
            let frame = DynamicImage::from(picture()).into_rgba8();
            let delay = Delay::from_numer_denom_ms(20, 1);
            encoder.encode_frame(Frame::from_parts(frame, 0, 0, delay)).expect("encodes");
        }
        drop(encoder);
        assert_eq!(Capture::read(&bytes).expect("readable").len(), MOST_FRAMES);
    }

    #[test]
    fn what_is_no_picture_is_refused() {
        assert!(matches!(Capture::read(b""), Err(CaptureError::Form)));
        assert!(matches!(Capture::read(b"no picture at all"), Err(CaptureError::Form)));
        for form in [ImageFormat::Png, ImageFormat::Jpeg, ImageFormat::WebP, ImageFormat::Bmp, ImageFormat::Gif] {
            let whole = encoded(form);
            for kept in 0..whole.len().min(200) {
                let _ = Capture::read(&whole[..kept]);
                let mut broken = whole.clone();
                broken[kept] ^= 0x5A;
                let _ = Capture::read(&broken);
            }
        }
        assert!(matches!(Capture::from_image(RgbImage::new(20, 400)), Err(CaptureError::Size { .. })));
    }

    #[test]
    fn a_smaller_capture_has_the_means_of_squares() {
        let capture =
            Capture::from_image(RgbImage::from_fn(66, 66, |x, y| Rgb([(x % 2 * 100) as u8, y as u8, 7]))).unwrap();
        let small = capture.reduced(2);
        assert_eq!((small.width, small.height), (33, 33));
        let [red, green, blue] = small.pixels[33 * 4 + 5];
        assert!((red - 50.0).abs() < 1e-3 && (green - 8.5).abs() < 1e-3 && (blue - 7.0).abs() < 1e-3);
    }
}
