//! Files a command writes: whole or not at all.

use std::path::{Path, PathBuf};

use anyhow::Result;
use backporch_input::write_whole;
use backporch_picture::write::png;
use backporch_raster::Picture;
use image::RgbImage;

use crate::output::Output;

/// A board's picture as an image, every pixel `scale` times as large.
pub fn image_of(picture: &Picture, scale: u32) -> RgbImage {
    let pixel = |x: u32, y: u32| {
        let [red, green, blue, _] = picture.rgba[(y * picture.width + x) as usize];
        image::Rgb([red, green, blue])
    };
    RgbImage::from_fn(picture.width * scale, picture.height * scale, |x, y| pixel(x / scale, y / scale))
}

/// Writes a PNG; `-` is standard output.
pub fn write_png(output: &mut Output, path: &Path, image: &RgbImage) -> Result<()> {
    write(output, path, &png(image)?)
}

/// Writes bytes; `-` is standard output.
pub fn write(output: &mut Output, path: &Path, bytes: &[u8]) -> Result<()> {
    if path.as_os_str() == "-" { Ok(output.bytes(bytes)?) } else { Ok(write_whole(path, bytes)?) }
}

/// `NAME.png` in the working folder, for a bench opened by name or path.
pub fn beside(bench: &str, ending: &str) -> PathBuf {
    let name = Path::new(bench).file_name().map_or_else(|| bench.into(), |name| name.to_string_lossy().into_owned());
    let stem = name.split('.').next().filter(|stem| !stem.is_empty()).unwrap_or("bench").to_string();
    PathBuf::from(format!("{stem}{ending}"))
}
