//! What the harbour is drawn on: a picture that continues round from its last column to its first,
//! addressed in units, with the few strokes the scene is made of, and repeatable chance.

use image::{Rgb, RgbImage};

use super::SCENE_HEIGHT;

/// Red, green and blue, 0 to 255 each.
pub(super) type Colour = [u8; 3];

/// The picture under way.
#[derive(Clone)]
pub(super) struct Canvas {
    image: RgbImage,
    /// Pixels per unit, both ways.
    scale: f32,
}

impl Canvas {
    /// A black canvas; `width` and `height` in pixels, neither 0.
    pub(super) fn new(width: u32, height: u32) -> Self {
        Self { image: RgbImage::new(width, height), scale: height as f32 / SCENE_HEIGHT }
    }

    pub(super) fn into_image(self) -> RgbImage {
        self.image
    }

    /// Units after which the scene repeats.
    pub(super) fn period(&self) -> f32 {
        self.image.width() as f32 / self.scale
    }

    pub(super) fn columns(&self) -> i64 {
        i64::from(self.image.width())
    }

    pub(super) fn rows(&self) -> i64 {
        i64::from(self.image.height())
    }

    /// The pixel column or row in which a point lies.
    pub(super) fn pixel(&self, units: f32) -> i64 {
        (units * self.scale).round() as i64
    }

    /// The middle of a pixel column or row.
    pub(super) fn units(&self, pixel: i64) -> f32 {
        (pixel as f32 + 0.5) / self.scale
    }

    /// The colour at a pixel; columns continue round, rows stop at the edges.
    pub(super) fn colour(&self, column: i64, row: i64) -> Colour {
        let row = row.clamp(0, self.rows() - 1) as u32;
        self.image.get_pixel(self.wrapped(column), row).0
    }

    /// Sets one pixel; columns continue round, rows beyond the edges are left out.
    pub(super) fn set(&mut self, column: i64, row: i64, colour: Colour) {
        if (0..self.rows()).contains(&row) {
            let column = self.wrapped(column);
            self.image.put_pixel(column, row as u32, Rgb(colour));
        }
    }

    fn wrapped(&self, column: i64) -> u32 {
        column.rem_euclid(self.columns()) as u32
    }

    /// Mixes `part` (0 to 1) of a colour into a pixel.
    pub(super) fn mix(&mut self, column: i64, row: i64, colour: Colour, part: f32) {
        let mixed = mixed(self.colour(column, row), colour, part);
        self.set(column, row, mixed);
    }

    /// Fills a rectangle of at least one pixel.
    pub(super) fn fill(&mut self, x: [f32; 2], y: [f32; 2], colour: Colour) {
        let (left, right) = self.span(x);
        let (top, bottom) = self.span(y);
        for row in top..bottom {
            for column in left..right {
                self.set(column, row, colour);
            }
        }
    }

    /// The pixels from one point to another, one at least.
    fn span(&self, [from, to]: [f32; 2]) -> (i64, i64) {
        let first = self.pixel(from);
        (first, self.pixel(to).max(first + 1))
    }

    /// Fills a shape between two rows, given its left and right edge at each height.
    pub(super) fn shape(&mut self, y: [f32; 2], colour: Colour, edges: impl Fn(f32) -> [f32; 2]) {
        let (top, bottom) = self.span(y);
        for row in top..bottom {
            let [left, right] = edges(self.units(row));
            if right > left {
                for column in self.pixel(left)..self.pixel(right) {
                    self.set(column, row, colour);
                }
            }
        }
    }

    /// Visits the pixels of a disc.
    pub(super) fn disc(&mut self, (x, y): (f32, f32), radius: f32, mut visit: impl FnMut(&mut Self, i64, i64)) {
        for row in self.pixel(y - radius)..=self.pixel(y + radius) {
            let down = self.units(row) - y;
            let half = (radius * radius - down * down).max(0.0).sqrt();
            for column in self.pixel(x - half)..self.pixel(x + half) {
                visit(self, column, row);
            }
        }
    }

    /// A thin straight stroke, one unit wide and one pixel at least.
    pub(super) fn stroke(&mut self, from: (f32, f32), to: (f32, f32), colour: Colour) {
        let brush = self.pixel(1.0).max(1);
        let (x0, y0) = (self.pixel(from.0), self.pixel(from.1));
        let (x1, y1) = (self.pixel(to.0), self.pixel(to.1));
        let steps = (x1 - x0).abs().max((y1 - y0).abs()).max(1);
        for step in 0..=steps {
            let along = |a: i64, b: i64| a + ((b - a) * step * 2 + steps * (b - a).signum()) / (2 * steps);
            let (x, y) = (along(x0, x1), along(y0, y1));
            for row in y..y + brush {
                for column in x..x + brush {
                    self.set(column, row, colour);
                }
            }
        }
    }

    /// An upright with its lit side to the left.
    pub(super) fn pole(&mut self, x: f32, width: f32, y: [f32; 2], dark: Colour, lit: Colour) {
        self.fill([x, x + width], y, dark);
        self.fill([x, x + 1.0], y, lit);
    }
}

/// `part` (0 to 1) of the way from one colour to another.
pub(super) fn mixed(from: Colour, to: Colour, part: f32) -> Colour {
    let part = part.clamp(0.0, 1.0);
    std::array::from_fn(|i| {
        let (a, b) = (f32::from(from[i]), f32::from(to[i]));
        (a + (b - a) * part).round() as u8
    })
}

/// A repeatable number from 0 up to 1 for a pair of integers.
pub(super) fn chance(a: i64, b: i64) -> f32 {
    let mut bits = (a as u64).wrapping_mul(0x9E37_79B9_7F4A_7C15) ^ (b as u64).wrapping_mul(0xC2B2_AE3D_27D4_EB4F);
    bits = (bits ^ bits >> 31).wrapping_mul(0xD6E8_FEB8_6659_FD93);
    bits ^= bits >> 29;
    (bits >> 40 & 0xFFFF) as f32 / 65536.0
}

/// Smooth chance along one way that repeats after `cells` cells, 0 to 1; `at` counts cells.
pub(super) fn swell(at: f32, cells: i64, seed: i64) -> f32 {
    let cell = at.floor();
    let within = at - cell;
    let eased = within * within * (3.0 - 2.0 * within);
    let value = |offset: i64| chance((cell as i64 + offset).rem_euclid(cells.max(1)), seed);
    value(0) + (value(1) - value(0)) * eased
}
