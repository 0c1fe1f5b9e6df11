//! Files a command writes: all of them, whole, or none; and never over a file that was read.

use std::path::{Path, PathBuf};

use anyhow::Result;
use backporch_input::{InputError, write_group};
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

/// Files that are written together.
#[derive(Debug, Default)]
pub struct OutputFiles {
    files: Vec<(PathBuf, Vec<u8>)>,
}

impl OutputFiles {
    /// Adds a file; `-` is standard output.
    pub fn add(&mut self, path: &Path, bytes: impl Into<Vec<u8>>) {
        self.files.push((path.to_owned(), bytes.into()));
    }

    /// Adds a PNG.
    pub fn add_png(&mut self, path: &Path, image: &RgbImage) -> Result<()> {
        self.add(path, png(image)?);
        Ok(())
    }

    /// Writes all files, or none of them.
    pub fn write(self, output: &mut Output) -> Result<()> {
        let (out, files): (Vec<_>, Vec<_>) = self.files.iter().partition(|(path, _)| path.as_os_str() == "-");
        if out.len() > 1 {
            let found = format!("standard output for {} files", out.len());
            return Err(InputError::new("-", found, "standard output for one file").into());
        }
        for (path, bytes) in &files {
            output.overwrite().check(path, Some(bytes))?;
        }
        let group: Vec<(&Path, &[u8])> = files.iter().map(|(path, bytes)| (path.as_path(), bytes.as_slice())).collect();
        write_group(&group)?;
        files.iter().try_for_each(|(path, _)| output.wrote(path))?;
        Ok(out.iter().try_for_each(|(_, bytes)| output.bytes(bytes))?)
    }
}

/// Writes a PNG; `-` is standard output.
pub fn write_png(output: &mut Output, path: &Path, image: &RgbImage) -> Result<()> {
    write(output, path, &png(image)?)
}

/// Writes bytes; `-` is standard output.
pub fn write(output: &mut Output, path: &Path, bytes: &[u8]) -> Result<()> {
    let mut files = OutputFiles::default();
    files.add(path, bytes);
    files.write(output)
}

/// Endings of forms that are known here: a file with one of them is taken for what it says.
const FORMS: [&str; 32] = [
    "png", "apng", "gif", "bmp", "pnm", "ppm", "pgm", "pbm", "jpg", "jpeg", "webp", "tif", "tiff", "svg", "html",
    "htm", "csv", "json", "vcd", "com", "exe", "ron", "c", "h", "cpp", "asm", "inc", "lst", "pdf", "zip", "wav", "mp4",
];

/// Refuses an ending that says another form than what is written; one that says nothing is left alone.
pub fn expect_ending(option: &str, path: Option<&Path>, allowed: &[&str]) -> Result<(), InputError> {
    let ending = path.and_then(Path::extension).map(|ending| ending.to_string_lossy().to_lowercase());
    let Some(ending) = ending.filter(|ending| FORMS.contains(&ending.as_str())) else { return Ok(()) };
    if allowed.contains(&ending.as_str()) {
        return Ok(());
    }
    let endings: Vec<String> = allowed.iter().map(|ending| format!(".{ending}")).collect();
    Err(InputError::new(option, format!(".{ending}"), format!("{}, which is what is written", endings.join(" or "))))
}

/// Whether a path ends so.
pub fn ends_in(path: Option<&Path>, ending: &str) -> bool {
    path.and_then(Path::extension).is_some_and(|own| own.eq_ignore_ascii_case(ending))
}

/// `NAME.png` in the working folder, for a bench opened by name or path; `NAME-out.png` where the first was read as input.
pub fn beside(bench: &str, ending: &str) -> PathBuf {
    let name = Path::new(bench).file_name().map_or_else(|| bench.into(), |name| name.to_string_lossy().into_owned());
    let stem = name.split('.').next().filter(|stem| !stem.is_empty()).unwrap_or("bench").to_string();
    let usual = PathBuf::from(format!("{stem}{ending}"));
    if backporch_input::was_read(&usual) { PathBuf::from(format!("{stem}-out{ending}")) } else { usual }
}
