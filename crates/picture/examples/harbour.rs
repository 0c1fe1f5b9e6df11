//! Writes the built-in panorama as `harbour.png`, and what is left of it in other palettes:
//! `cargo run --example harbour -- FOLDER [WIDTH HEIGHT]`.

use std::error::Error;
use std::path::PathBuf;

use backporch_picture::harbour::{DEFAULT_HEIGHT, DEFAULT_WIDTH, harbour};
use backporch_picture::quantise::{Dither, to_best_palette, to_palette};

fn main() -> Result<(), Box<dyn Error>> {
    let mut arguments = std::env::args().skip(1);
    let folder = PathBuf::from(arguments.next().unwrap_or_else(|| ".".to_owned()));
    let mut size = |otherwise: u32| arguments.next().map_or(Ok(otherwise), |text| text.parse());
    let panorama = harbour(size(DEFAULT_WIDTH)?, size(DEFAULT_HEIGHT)?);
    panorama.save(folder.join("harbour.png"))?;
    let best = to_best_palette(&panorama, 256, Dither::Off)?;
    best.to_rgb().save(folder.join("harbour-256.png"))?;
    // RGBI levels 00, AA, 55, FF (common practice).
    let high = [[0; 3], [0x55, 0xFF, 0xFF], [0xFF, 0x55, 0xFF], [0xFF; 3]];
    let warm = [[0; 3], [0x55, 0xFF, 0x55], [0xFF, 0x55, 0x55], [0xFF, 0xFF, 0x55]];
    let blue = [[0, 0, 0xAA], [0, 0xAA, 0xAA], [0xAA, 0, 0xAA], [0xAA; 3]];
    for (name, palette) in [("high", high), ("warm", warm), ("blue", blue)] {
        for (way, dither) in [("plain", Dither::Off), ("dithered", Dither::Ordered)] {
            let few = to_palette(&panorama, &palette, dither)?;
            few.to_rgb().save(folder.join(format!("harbour-{name}-{way}.png")))?;
        }
    }
    Ok(())
}
