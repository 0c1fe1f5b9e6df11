//! Draws the built-in panorama at every height that is stored: `cargo run --example harbour -- assets/pictures`.

mod drawing;

use std::error::Error;
use std::path::PathBuf;

use backporch_picture::harbour::{WIDTH, stored_lines};
use image::ImageEncoder;
use image::codecs::png::{CompressionType, FilterType, PngEncoder};

fn main() -> Result<(), Box<dyn Error>> {
    let folder = PathBuf::from(std::env::args().nth(1).unwrap_or_else(|| ".".to_owned()));
    for lines in stored_lines() {
        let file = std::fs::File::create(folder.join(format!("harbour-{lines}.png")))?;
        let encoder = PngEncoder::new_with_quality(file, CompressionType::Best, FilterType::Adaptive);
        let drawn = drawing::harbour(WIDTH, lines);
        encoder.write_image(drawn.as_raw(), WIDTH, lines, image::ExtendedColorType::Rgb8)?;
    }
    Ok(())
}
