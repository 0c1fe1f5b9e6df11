//! Readers of bytes.

use std::io::Cursor;
use std::sync::LazyLock;

use backporch_input::{Case, Holds};
use backporch_measure::Capture;
use backporch_pc::ProgramImage;
use fastrand::Rng;
use image::{ImageFormat, RgbImage};

use crate::mutated;

/// A small picture with something in it, in every form that is written here.
static PICTURES: LazyLock<Vec<Vec<u8>>> = LazyLock::new(|| {
    let picture = RgbImage::from_fn(24, 16, |x, y| image::Rgb([x as u8 * 10, y as u8 * 15, (x * y) as u8]));
    let forms = [ImageFormat::Png, ImageFormat::Bmp, ImageFormat::Gif, ImageFormat::Pnm, ImageFormat::Jpeg];
    let written = |form: &ImageFormat| {
        let mut bytes = Cursor::new(Vec::new());
        picture.write_to(&mut bytes, *form).ok().map(|()| bytes.into_inner())
    };
    forms.iter().filter_map(written).collect()
});

pub fn picture(rng: &mut Rng) {
    let _ = backporch_picture::load::load(&mutated(rng, &PICTURES));
}

pub fn capture(rng: &mut Rng) {
    let _ = Capture::read(&mutated(rng, &PICTURES));
}

/// A packed case; its own writer made it.
pub fn case(rng: &mut Rng) {
    const PACKED: &[u8] = include_bytes!("../corpus/pier.case.zip");
    static CORPUS: LazyLock<Vec<Vec<u8>>> = LazyLock::new(|| vec![PACKED.to_vec()]);
    let bytes = mutated(rng, &CORPUS);
    let Ok(file) = tempfile::Builder::new().suffix(".case.zip").tempfile() else {
        return;
    };
    if std::fs::write(file.path(), bytes).is_ok()
        && let Ok(case) = Case::open(file.path())
    {
        let names = case.holding(Holds::Bench).chain(case.holding(Holds::Sightings)).map(|file| file.name.clone());
        names.for_each(|name| drop(case.read(&name, 1 << 16)));
    }
}

/// An executable with a header and two relocations.
pub fn image(rng: &mut Rng) {
    static CORPUS: LazyLock<Vec<Vec<u8>>> = LazyLock::new(|| {
        let words: [u16; 16] = [0x5A4D, 96, 1, 2, 3, 0, 0xFFFF, 0, 256, 0, 0, 0, 28, 0, 4, 0];
        let mut bytes: Vec<u8> = words.iter().flat_map(|word| word.to_le_bytes()).collect();
        bytes.resize(96, 0x90);
        vec![bytes, vec![0xB8, 0x13, 0x00, 0xCD, 0x10, 0xC3]]
    });
    if let Ok(image) = ProgramImage::parse(&mutated(rng, &CORPUS)) {
        let _ = image.at_segment(rng.u16(..));
    }
}
