//! Writes a contact sheet and a comparison, with damage made up on the built-in panorama:
//! `cargo run --example sheet -- FOLDER`.

use std::error::Error;
use std::path::PathBuf;

use backporch_picture::difference::{Captions, Extent, side_by_side};
use backporch_picture::harbour::harbour;
use backporch_picture::mark::Mark;
use backporch_picture::sheet::{Sheet, SheetCell};
use backporch_picture::write::png;
use image::{RgbImage, imageops};

fn main() -> Result<(), Box<dyn Error>> {
    let folder = PathBuf::from(std::env::args().nth(1).unwrap_or_else(|| ".".to_owned()));
    let panorama = harbour(200);
    let cells: Vec<SheetCell> = (0..64).map(|step| cell(&panorama, step)).collect();
    let sheet = Sheet {
        title: "start address 0 to 63, row damage made up".to_owned(),
        summary: vec!["Damage repeats every 32 steps; the first step of each period is clean.".to_owned()],
        cells,
        columns: None,
    };
    std::fs::write(folder.join("sheet.png"), png(&sheet.draw())?)?;
    let (healthy, faulty) = (view(&panorama, 20), damaged(&panorama, 20));
    let captions = Captions { right: "plain board", wrong: "row damage, step 20" };
    std::fs::write(folder.join("comparison.png"), png(&side_by_side(&healthy, &faulty, captions))?)?;
    Ok(())
}

/// The frame at a step of two pixels to the right.
fn view(panorama: &RgbImage, step: u32) -> RgbImage {
    imageops::crop_imm(panorama, step * 2, 0, 320, 200).to_image()
}

/// The same with every fourth line out of place at its right end, or all along.
fn damaged(panorama: &RgbImage, step: u32) -> RgbImage {
    let mut frame = view(panorama, step);
    let phase = step % 32;
    let from = if phase > 24 { 0 } else { 320 - phase * 2 };
    for y in (3..200).step_by(4) {
        for x in from..320 {
            frame.put_pixel(x, y, *panorama.get_pixel((x + step * 2 + 256) % 768, y - 1));
        }
    }
    frame
}

fn cell(panorama: &RgbImage, step: u32) -> SheetCell {
    let thumb = damaged(panorama, step);
    let extent = Extent::between(&view(panorama, step), &thumb);
    let mark = match extent.x_range {
        None => Mark::Clean,
        Some((first, _)) if first >= 160 => Mark::EdgeDamaged,
        Some(_) => Mark::Broken,
    };
    SheetCell { thumb, label: format!("start {step}"), mark, damaged: extent.lines, x_range: extent.x_range }
}
