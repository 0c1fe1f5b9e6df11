//! Pictures and files inside the page.

use backporch_picture::write::{WriteError, compact_png, jpeg};
use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use image::RgbImage;

/// A picture inside the page.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub struct EmbeddedPicture {
    form: PictureForm,
    base64: String,
    width: u32,
    height: u32,
}

/// The form of a picture's file.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
enum PictureForm {
    Png,
    Jpeg,
}

/// Quality at which thin lines drawn on a photograph stay sharp.
const QUALITY: u8 = 88;

impl EmbeddedPicture {
    /// Encodes pixels, row by row from the top left, red, green, blue and how solid, `width` to a row.
    ///
    /// # Errors
    /// For a picture without pixels.
    pub fn of(pixels: &[[u8; 4]], width: u32) -> Result<Self, WriteError> {
        let bytes = compact_png(pixels, width)?;
        let height = (pixels.len() / width.max(1) as usize) as u32;
        Ok(Self { form: PictureForm::Png, base64: STANDARD.encode(bytes), width, height })
    }

    /// Encodes a photograph, hardly any of it lost.
    ///
    /// # Errors
    /// For a picture without pixels, or of more than 65 535 a side.
    pub fn of_photograph(picture: &RgbImage) -> Result<Self, WriteError> {
        let (width, height) = picture.dimensions();
        let base64 = STANDARD.encode(jpeg(picture, QUALITY)?);
        Ok(Self { form: PictureForm::Jpeg, base64, width, height })
    }

    /// The file in base64: PNG, or JPEG of a photograph.
    #[must_use]
    pub fn base64(&self) -> &str {
        &self.base64
    }

    /// Pixels across.
    #[must_use]
    pub fn width(&self) -> u32 {
        self.width
    }

    /// Pixels down.
    #[must_use]
    pub fn height(&self) -> u32 {
        self.height
    }

    /// An address for `src` and `href`.
    #[must_use]
    pub fn address(&self) -> String {
        let form = match self.form {
            PictureForm::Png => "png",
            PictureForm::Jpeg => "jpeg",
        };
        format!("data:image/{form};base64,{}", self.base64)
    }
}

/// A file inside the page, to be saved under its name.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Embedded {
    /// Its name, without a folder.
    pub name: String,
    /// Its bytes.
    pub bytes: Vec<u8>,
}

impl Embedded {
    /// An address for `href`. The type keeps a browser from doing anything but saving it.
    #[must_use]
    pub fn address(&self) -> String {
        format!("data:application/octet-stream;base64,{}", STANDARD.encode(&self.bytes))
    }

    /// The text of it, where it is text that a person can read on the page.
    #[must_use]
    pub fn text(&self) -> Option<&str> {
        let text = std::str::from_utf8(&self.bytes).ok()?;
        let readable =
            text.len() <= 64 << 10 && !text.contains(|sign: char| sign.is_control() && !sign.is_whitespace());
        readable.then_some(text)
    }

    /// Its size for people.
    #[must_use]
    pub fn size(&self) -> String {
        match self.bytes.len() {
            bytes if bytes < 10_000 => format!("{bytes} bytes"),
            bytes => format!("{:.1} KiB", bytes as f64 / 1024.0),
        }
    }
}
