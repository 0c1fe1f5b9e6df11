//! How a verdict looks: a word, a colour and a shape each, so that no one has to tell them apart by colour.

use image::{Rgb, RgbImage};

use crate::indexed::Colour;
use crate::plate::{PlateArea, RULE, fill};

/// The verdict on a frame.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Mark {
    /// No line is damaged: a ring.
    Clean,
    /// Every damaged line is right in its left half: a square, its right half full.
    EdgeDamaged,
    /// Anything more: a cross.
    Broken,
}

/// Pixels across and down that a shape takes.
pub const SHAPE_SIDE: u32 = 16;

impl Mark {
    /// All of them, from the best to the worst.
    pub const ALL: [Self; 3] = [Self::Clean, Self::EdgeDamaged, Self::Broken];

    /// The word for it.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Clean => "clean",
            Self::EdgeDamaged => "edge-damaged",
            Self::Broken => "broken",
        }
    }

    /// The colour for it. The three also differ in lightness.
    #[must_use]
    pub const fn colour(self) -> Colour {
        match self {
            Self::Clean => [72, 152, 186],
            Self::EdgeDamaged => [250, 204, 84],
            Self::Broken => [236, 92, 150],
        }
    }

    /// Draws the shape for it, [`SHAPE_SIDE`] pixels square, its top left at `left`, `top`.
    pub fn draw(self, picture: &mut RgbImage, (left, top): (u32, u32)) {
        for row in 0..SHAPE_SIDE {
            for column in 0..SHAPE_SIDE {
                let (x, y) = (left.saturating_add(column), top.saturating_add(row));
                if self.covers(column, row) && x < picture.width() && y < picture.height() {
                    picture.put_pixel(x, y, Rgb(self.colour()));
                }
            }
        }
    }

    /// Whether a pixel of the shape's square belongs to the shape.
    fn covers(self, column: u32, row: u32) -> bool {
        // Half pixels from the middle.
        let across = (2 * column + 1).abs_diff(SHAPE_SIDE);
        let down = (2 * row + 1).abs_diff(SHAPE_SIDE);
        match self {
            Self::Clean => (110..230).contains(&(across * across + down * down)),
            Self::EdgeDamaged => {
                let inside = across.max(down) < 14;
                inside && (across.max(down) > 10 || column >= SHAPE_SIDE / 2)
            }
            Self::Broken => across.max(down) < 14 && across.abs_diff(down) < 4,
        }
    }
}

/// Marks the damaged lines of a picture along an upright bar, first line on top. A row of the bar that
/// stands for several lines is marked where any of them is damaged.
pub(crate) fn line_bar(picture: &mut RgbImage, area: PlateArea, damaged: &[bool], colour: Colour) {
    fill(picture, area, RULE);
    let lines = damaged.len() as u64;
    for row in 0..area.height {
        let first = u64::from(row) * lines / u64::from(area.height);
        let end = u64::from(row + 1) * lines / u64::from(area.height);
        let end = end.max(first + 1).min(lines);
        let hit = damaged.get(first as usize..end as usize).is_some_and(|part| part.contains(&true));
        if hit {
            fill(picture, PlateArea::new(area.x, area.y + row, area.width, 1), colour);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    // Relative luminance and contrast ratio by WCAG 2.2; 3 : 1 is what it asks of graphics.
    #[test]
    fn marks_stand_out_from_the_ground() {
        let luminance = |colour: Colour| {
            let [r, g, b] = crate::perceptual::linear(colour);
            0.2126 * r + 0.7152 * g + 0.0722 * b
        };
        for mark in Mark::ALL {
            let ratio = (luminance(mark.colour()) + 0.05) / (luminance(crate::plate::GROUND) + 0.05);
            assert!(ratio > 3.0, "{mark:?} {ratio}");
        }
    }

    #[test]
    fn shapes_differ_without_colour() {
        let shape = |mark: Mark| -> Vec<bool> {
            (0..SHAPE_SIDE * SHAPE_SIDE).map(|at| mark.covers(at % SHAPE_SIDE, at / SHAPE_SIDE)).collect()
        };
        let [clean, edge, broken] = Mark::ALL.map(shape);
        for (a, b) in [(&clean, &edge), (&edge, &broken), (&clean, &broken)] {
            let differing = a.iter().zip(b).filter(|(a, b)| a != b).count();
            assert!(differing > 64, "{differing} of 256 pixels");
        }
    }

    proptest! {
        #[test]
        fn no_damaged_line_is_lost(damaged in prop::collection::vec(any::<bool>(), 0..300), height in 1u32..300) {
            let mut picture = RgbImage::new(1, height);
            line_bar(&mut picture, PlateArea::new(0, 0, 1, height), &damaged, [255; 3]);
            let lit = picture.pixels().filter(|pixel| pixel.0 == [255; 3]).count();
            let lines = damaged.iter().filter(|line| **line).count();
            prop_assert_eq!(lit == 0, lines == 0);
            if height as usize == damaged.len() {
                prop_assert_eq!(lit, lines);
            }
        }
    }
}
