//! The test card of a session: recognised by its codes, or by what it shows where those cannot be read.

use std::path::PathBuf;

use anyhow::Result;
use backporch_adapter::Registers;
use backporch_answer::TestCardAnswer;
use backporch_bench::{Bench, CARD_VERSION};
use backporch_input::InputError;
use backporch_measure::Capture;
use backporch_raster::View;
use image::{Rgb, RgbImage};

use super::boards::CandidateBoard;
use super::looks::Suspect;

/// Times by which a drawn frame is enlarged for its codes to be read.
const ENLARGED: u32 = 3;

/// What the codes on captures say of the bench's card; `None` where there are none of a card.
///
/// Refuses a card of another board, mode or setting.
pub fn code<'a>(bench: &Bench, captures: impl Iterator<Item = &'a (PathBuf, Capture)>) -> Result<Option<String>> {
    let own = bench.card_text();
    let mut read = None;
    for (file, capture) in captures {
        for text in capture.codes().into_iter().filter(|text| text.starts_with(CARD_VERSION)) {
            if text != own {
                let allowed = format!("{own}, as the bench is set: --board, --mode and --set change it");
                return Err(
                    InputError::new(file.display().to_string(), format!("a test card of {text}"), allowed).into()
                );
            }
            read = Some(text);
        }
    }
    Ok(read)
}

/// What is said of a card: with no code read, the boards on which none can be.
pub fn answer(bench: &Bench, registers: &Registers, code: Option<String>, suspects: &[Suspect]) -> TestCardAnswer {
    let unreadable = |frame: &backporch_raster::Frame| {
        let picture = frame.picture(View::Picture);
        let pixel = |x: u32, y: u32| {
            let [red, green, blue, _] = picture.row((y / ENLARGED) as usize)[(x / ENLARGED) as usize];
            Rgb([red, green, blue])
        };
        let drawn = RgbImage::from_fn(picture.width * ENLARGED, picture.height * ENLARGED, pixel);
        Capture::from_image(drawn).is_ok_and(|drawn| !drawn.codes().iter().any(|text| text.starts_with(CARD_VERSION)))
    };
    let unreadable_on = match code {
        Some(_) => Vec::new(),
        None => {
            let boards = CandidateBoard::all(bench, suspects).into_iter();
            boards.filter(|board| unreadable(&board.frame(bench, registers))).map(|board| board.name).collect()
        }
    };
    TestCardAnswer { code, unreadable_on }
}
