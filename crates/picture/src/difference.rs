//! Two frames compared: how far they differ, and a picture of both with their difference.

use image::{Rgb, RgbImage, imageops};

use crate::mark::{Mark, line_bar};
use crate::plate::{FAINT_INK, GROUND, INK, Lettering, PlateArea, fill, shortened};

/// Where two frames differ. What one frame has and the other lacks counts as different.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Extent {
    /// For each line, from the top, whether any of its pixels differs.
    pub lines: Vec<bool>,
    /// Pixels that differ.
    pub pixels: u64,
    /// The first and the last column with a difference, from 0 at the left.
    pub x_range: Option<(u32, u32)>,
}

impl Extent {
    /// Compares two frames pixel by pixel.
    #[must_use]
    pub fn between(a: &RgbImage, b: &RgbImage) -> Self {
        let (width, height) = common_size(a, b);
        let mut extent = Self { lines: vec![false; height as usize], pixels: 0, x_range: None };
        for (y, line) in (0..height).zip(&mut extent.lines) {
            for x in (0..width).filter(|&x| differs(a, b, x, y)) {
                *line = true;
                extent.pixels += 1;
                let (first, last) = extent.x_range.unwrap_or((x, x));
                extent.x_range = Some((first.min(x), last.max(x)));
            }
        }
        extent
    }

    /// Lines with a difference.
    #[must_use]
    pub fn damaged_lines(&self) -> usize {
        self.lines.iter().filter(|line| **line).count()
    }

    /// The extent in words, such as `50 of 200 lines differ, 100 pixels, x 318 to 319`.
    #[must_use]
    pub fn words(&self) -> String {
        match self.x_range {
            None => format!("no difference in {} lines", self.lines.len()),
            Some((first, last)) => format!(
                "{} of {} lines differ, {} pixels, x {first} to {last}",
                self.damaged_lines(),
                self.lines.len(),
                self.pixels
            ),
        }
    }
}

/// The size that holds both frames.
fn common_size(a: &RgbImage, b: &RgbImage) -> (u32, u32) {
    (a.width().max(b.width()), a.height().max(b.height()))
}

fn differs(a: &RgbImage, b: &RgbImage, x: u32, y: u32) -> bool {
    a.get_pixel_checked(x, y) != b.get_pixel_checked(x, y)
}

/// What stands over the three pictures.
#[derive(Debug, Clone, Copy)]
pub struct Captions<'a> {
    /// Over the frame that is right.
    pub right: &'a str,
    /// Over the frame that is not.
    pub wrong: &'a str,
}

const MARGIN: u32 = 24;
const GAP: u32 = 20;
const BAR_WIDTH: u32 = 10;
const CAPTION: Lettering = Lettering { scale: 2, colour: INK };
const WORDS: Lettering = Lettering { scale: 2, colour: FAINT_INK };
/// Frames are enlarged by whole numbers as long as three of them stay within this.
const ROOM: u32 = 2000;
const MOST_ZOOM: u32 = 4;

/// What is right, what is wrong and their difference side by side under their captions, a bar of the lines that differ,
/// and the extent in words. In the difference, what is equal is dim and grey, what differs stands out.
#[must_use]
pub fn side_by_side(right: &RgbImage, wrong: &RgbImage, captions: Captions) -> RgbImage {
    let (width, height) = common_size(right, wrong);
    let zoom = (ROOM / width.saturating_mul(3).max(1)).clamp(1, MOST_ZOOM);
    let extent = Extent::between(right, wrong);
    let top = MARGIN + CAPTION.height() + GAP / 2;
    let left = |panel: u32| MARGIN + panel * (width * zoom + GAP);
    let bar = PlateArea::new(left(3) - GAP / 2, top, BAR_WIDTH, height * zoom);
    let words = extent.words();
    let across = (bar.x + BAR_WIDTH).max(MARGIN + WORDS.width(&words)) + MARGIN;
    let down = top + height * zoom + GAP + WORDS.height() + MARGIN;
    let mut picture = RgbImage::from_pixel(across, down, Rgb(GROUND));
    let difference = marked(right, wrong);
    let panels = [(captions.right, right), (captions.wrong, wrong), ("difference", &difference)];
    for (panel, (caption, frame)) in (0..).zip(panels) {
        let caption = shortened(caption, CAPTION.fitting(width * zoom));
        CAPTION.write(&mut picture, (left(panel), MARGIN), &caption);
        place(&mut picture, frame, (left(panel), top), zoom);
    }
    line_bar(&mut picture, bar, &extent.lines, Mark::Broken.colour());
    WORDS.write(&mut picture, (MARGIN, top + height * zoom + GAP), &words);
    picture
}

/// Draws a frame, each pixel `zoom` pixels square.
fn place(picture: &mut RgbImage, frame: &RgbImage, (left, top): (u32, u32), zoom: u32) {
    if zoom == 1 {
        imageops::replace(picture, frame, i64::from(left), i64::from(top));
        return;
    }
    for (x, y, pixel) in frame.enumerate_pixels() {
        fill(picture, PlateArea::new(left + x * zoom, top + y * zoom, zoom, zoom), pixel.0);
    }
}

/// The right frame, dim and grey, with every differing pixel lit.
fn marked(right: &RgbImage, wrong: &RgbImage) -> RgbImage {
    let (width, height) = common_size(right, wrong);
    RgbImage::from_fn(width, height, |x, y| {
        if differs(right, wrong, x, y) {
            return Rgb(Mark::Broken.colour());
        }
        let [red, green, blue] = right.get_pixel_checked(x, y).map_or([0; 3], |pixel| pixel.0);
        let light = (u32::from(red) * 2 + u32::from(green) * 5 + u32::from(blue)) / 8;
        Rgb([(20 + light * 2 / 7) as u8; 3])
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::harbour::small;
    use proptest::prelude::*;

    const CAPTIONS: Captions = Captions { right: "plain", wrong: "faulty" };

    #[test]
    fn the_extent_is_found_and_said() {
        let healthy = RgbImage::new(320, 200);
        let mut faulty = healthy.clone();
        for line in (3..200).step_by(4) {
            faulty.put_pixel(318, line, Rgb([9; 3]));
            faulty.put_pixel(319, line, Rgb([9; 3]));
        }
        let extent = Extent::between(&healthy, &faulty);
        assert_eq!(extent.words(), "50 of 200 lines differ, 100 pixels, x 318 to 319");
        assert_eq!(extent.lines.iter().position(|line| *line), Some(3));
        assert_eq!(Extent::between(&healthy, &healthy).words(), "no difference in 200 lines");
    }

    #[test]
    fn every_differing_pixel_is_lit_and_no_other() {
        let healthy = small(96, 25);
        let mut faulty = healthy.clone();
        faulty.put_pixel(95, 24, Rgb([1, 2, 3]));
        let picture = marked(&healthy, &faulty);
        let lit = |pixel: &Rgb<u8>| pixel.0 == Mark::Broken.colour();
        assert!(lit(picture.get_pixel(95, 24)));
        assert_eq!(picture.pixels().filter(|pixel| lit(pixel)).count(), 1);
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(32))]
        #[test]
        fn frames_of_any_size_are_compared(sizes in prop::array::uniform4(0u32..40)) {
            let [a, b, c, d] = sizes;
            let (one, other) = (RgbImage::new(a, b), RgbImage::new(c, d));
            let extent = Extent::between(&one, &other);
            let (both, union) = (u64::from(a.min(c) * b.min(d)), u64::from(a * b + c * d));
            // Black frames differ just where only one of them has a pixel.
            prop_assert_eq!(extent.pixels, union - 2 * both);
            prop_assert!(side_by_side(&one, &other, CAPTIONS).width() > 0);
        }
    }
}
