//! The size a picture has on a screen: pixels of a period monitor are not square.

use backporch_signal::Signal;
use image::RgbImage;

use crate::indexed::Colour;

/// Width over height of the active area of a mode with its start-up values, on a monitor set up for it
/// (common practice: it fills a screen of 4 to 3).
const SCREEN: f64 = 4.0 / 3.0;

/// Around a frame that is smaller than the recording.
const SURROUND: Colour = [0; 3];

/// How a picture is enlarged so that it looks as on a screen.
///
/// Every pixel becomes a whole number of pixels wide. Lines become as high as the aspect asks; where that is
/// no whole number, some lines are repeated once more than others. No colour is mixed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ScreenShape {
    times: u32,
    /// Height of a line in output pixels.
    line: f64,
}

impl ScreenShape {
    /// Square pixels, each `times` pixels wide and high (at least 1).
    #[must_use]
    pub fn square(times: u32) -> Self {
        let times = times.max(1);
        Self { times, line: f64::from(times) }
    }

    /// Pixels `times` pixels wide (at least 1) in a picture of `width` by `height` that is shaped `shape`,
    /// width over height, on the screen.
    #[must_use]
    pub fn shaped(times: u32, (width, height): (u32, u32), shape: f64) -> Self {
        let square = Self::square(times);
        let line = f64::from(square.times) * f64::from(width) / (f64::from(height) * shape);
        if line.is_finite() && line >= 1.0 / 16.0 {
            Self { line: line.min(64.0 * f64::from(square.times)), ..square }
        } else {
            square
        }
    }

    /// Shape of the active area, width over height, of the signal `now` on a monitor that shows the
    /// start-up values' signal `usual` as a full screen. The beam crosses the screen in the time of a
    /// line and comes down it in that of a frame, whatever their parts.
    #[must_use]
    pub fn shape(usual: &Signal, now: &Signal) -> f64 {
        let part = |active: u32, total: u32| f64::from(active) / f64::from(total.max(1));
        let across = |signal: &Signal| part(signal.horizontal.active(), signal.horizontal.total());
        let down = |signal: &Signal| part(signal.vertical.active(), signal.vertical.total());
        SCREEN * (across(now) / across(usual)) / (down(now) / down(usual))
    }

    /// The size of a picture on the screen.
    #[must_use]
    pub fn size(&self, (width, height): (u32, u32)) -> (u32, u32) {
        (width.saturating_mul(self.times), self.top(height))
    }

    /// The output row on which a line begins.
    fn top(&self, line: u32) -> u32 {
        (f64::from(line) * self.line).round() as u32
    }

    /// Enlarges a picture onto a frame of `room` pixels, its top left corner at the frame's.
    /// What does not fit is cut off, what is left over stays black.
    ///
    /// The pixels go row by row from the top left, `width` to a row.
    #[must_use]
    pub fn enlarge(&self, pixels: &[[u8; 4]], width: u32, room: (u32, u32)) -> RgbImage {
        let mut frame = RgbImage::from_pixel(room.0, room.1, image::Rgb(SURROUND));
        let row_bytes = room.0 as usize * 3;
        if width == 0 || row_bytes == 0 {
            return frame;
        }
        let bytes: &mut [u8] = &mut frame;
        for (row, line) in pixels.chunks_exact(width as usize).zip(0u32..) {
            let (top, end) = (self.top(line).min(room.1) as usize, self.top(line + 1).min(room.1) as usize);
            if top == end {
                continue;
            }
            let (first, rest) = bytes[top * row_bytes..end * row_bytes].split_at_mut(row_bytes);
            self.widen(row, first);
            rest.chunks_exact_mut(row_bytes).for_each(|copy| copy.copy_from_slice(first));
        }
        frame
    }

    fn widen(&self, row: &[[u8; 4]], room: &mut [u8]) {
        for (&[red, green, blue, _], wide) in row.iter().zip(room.chunks_mut(self.times as usize * 3)) {
            wide.chunks_exact_mut(3).for_each(|pixel| pixel.copy_from_slice(&[red, green, blue]));
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use backporch_signal::{Axis, Hertz};
    use proptest::prelude::*;

    fn signal(active: u32, total: u32, lines: u32) -> Signal {
        Signal {
            dot_clock: Hertz::new(25.175e6).expect("above zero"),
            horizontal: Axis::new(active, active + 8, 96, total).expect("fits"),
            vertical: Axis::new(lines, lines + 10, 2, 449).expect("fits"),
            polarity: None,
        }
    }

    #[test]
    fn the_start_up_picture_fills_the_screen() {
        let usual = signal(640, 800, 400);
        let screen = ScreenShape::shaped(2, (320, 200), ScreenShape::shape(&usual, &usual));
        assert_eq!(screen.size((320, 200)), (640, 480));
        assert_eq!(ScreenShape::shaped(1, (640, 200), 4.0 / 3.0).size((640, 200)), (640, 480));
    }

    #[test]
    fn a_narrower_area_is_narrower_by_as_much() {
        let (usual, narrow) = (signal(640, 800, 400), signal(512, 800, 400));
        let shape = ScreenShape::shape(&usual, &narrow);
        assert!((shape - 4.0 / 3.0 * 0.8).abs() < 1e-12);
        assert_eq!(ScreenShape::shaped(2, (256, 200), shape).size((256, 200)), (512, 480));
        // Halved, as a share of the line, when the line is twice as long.
        let long = signal(640, 1600, 400);
        assert!((ScreenShape::shape(&usual, &long) - 2.0 / 3.0).abs() < 1e-12);
    }

    proptest! {
        #[test]
        fn every_output_pixel_is_one_of_the_picture(
            (width, height) in (1u32..9, 1u32..9),
            times in 1u32..4,
            shape in 0.2f64..4.0,
            room in (0u32..40, 0u32..40),
        ) {
            let pixels: Vec<[u8; 4]> = (0..width * height).map(|at| [at as u8 + 1, 0, 9, 255]).collect();
            let screen = ScreenShape::shaped(times, (width, height), shape);
            let frame = screen.enlarge(&pixels, width, room);
            let (across, down) = screen.size((width, height));
            for (x, y, pixel) in frame.enumerate_pixels() {
                if x < across && y < down { let line = (0..height).find(|line| y < screen.top(line + 1)).unwrap_or(0);
                        let [red, green, blue, _] = pixels[(line * width + x / times) as usize];
                        prop_assert_eq!(pixel.0, [red, green, blue]); } else { prop_assert_eq!(pixel.0, SURROUND) }
            }
        }
    }
}
