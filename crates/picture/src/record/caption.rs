//! The caption strip below a recorded frame: what was set, and the verdict.

use image::RgbImage;

use crate::mark::{Mark, SHAPE_SIDE};
use crate::plate::{FAINT_INK, INK, Lettering, PANEL, PlateArea, fill, shortened};

const PADDING: u32 = 8;

/// What the strip says.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Caption {
    /// What was set, such as `step 12  start_address 12`.
    pub setting: String,
    /// The verdict.
    pub mark: Mark,
    /// What led to it, such as `50 of 200 lines, pixels 296 to 319`.
    pub finding: String,
}

impl Caption {
    /// Pixels that the strip takes down, whatever it says.
    pub const HEIGHT: u32 = 3 * PADDING + 2 * SHAPE_SIDE;

    /// Draws the strip along the lower edge of a frame.
    pub fn draw(&self, frame: &mut RgbImage) {
        let top = frame.height().saturating_sub(Self::HEIGHT);
        let width = frame.width();
        fill(frame, PlateArea::new(0, top, width, Self::HEIGHT), PANEL);
        let room = width.saturating_sub(2 * PADDING);
        line(frame, (PADDING, top + PADDING), room, INK, &self.setting);
        let below = top + 2 * PADDING + SHAPE_SIDE;
        self.mark.draw(frame, (PADDING, below));
        let word = PADDING + SHAPE_SIDE + PADDING;
        let room = width.saturating_sub(word + PADDING);
        let taken = line(frame, (word, below), room, self.mark.colour(), self.mark.word()) + 2 * PADDING;
        line(frame, (word + taken, below), room.saturating_sub(taken), FAINT_INK, &self.finding);
    }
}

/// Writes one line as large as fits in `room` pixels, and says how many it took.
fn line(frame: &mut RgbImage, (x, y): (u32, u32), room: u32, colour: [u8; 3], text: &str) -> u32 {
    let large = Lettering { scale: 2, colour };
    let lettering = if large.width(text) <= room { large } else { Lettering { scale: 1, ..large } };
    let text = shortened(text, lettering.fitting(room));
    lettering.write(frame, (x, y + (SHAPE_SIDE.saturating_sub(lettering.height())) / 2), &text);
    lettering.width(&text)
}

#[cfg(test)]
mod tests {
    use super::*;
    use image::Rgb;
    use proptest::prelude::*;

    fn caption(mark: Mark, setting: &str) -> Caption {
        Caption { setting: setting.to_owned(), mark, finding: "50 of 200 lines".to_owned() }
    }

    #[test]
    fn the_picture_above_stays_and_the_verdict_shows() {
        let mut frame = RgbImage::from_pixel(640, 480 + Caption::HEIGHT, Rgb([9; 3]));
        caption(Mark::EdgeDamaged, "start_address 12").draw(&mut frame);
        let rows = frame.rows().take(480);
        assert!(rows.flatten().all(|pixel| pixel.0 == [9; 3]));
        let marked = frame.pixels().filter(|pixel| pixel.0 == Mark::EdgeDamaged.colour()).count();
        assert!(marked > 100, "{marked}");
    }

    proptest! {
        #[test]
        fn any_frame_takes_a_caption(width in 0u32..700, height in 0u32..200, text in ".{0,90}") {
            caption(Mark::Broken, &text).draw(&mut RgbImage::new(width, height));
        }
    }
}
