//! A harbour at dusk.
//!
//! The panorama is made for looking at scrolls. Masts, lamp posts, house edges and pilings give
//! every scan line upright edges all along its length, so a line that is out of place by two pixels
//! shows. Its right edge continues in its left one, as a scroll that wraps needs.
//!
//! The scene is composed in *units*: 200 of them make the height of any picture, and a picture is as
//! many units wide as its shape gives. From back to front:
//!
//! 1. `sky`: graded bands, sun, moon, stars, clouds, far hills;
//! 2. `shore`: headland and lighthouse, quay, warehouse fronts, cranes;
//! 3. `water`: mirrors all that, ripples, glints;
//! 4. `vessels`: the ships, each with its own reflection;
//! 5. `jetty`: planks, bollards, lamps and posts nearest to the eye.
//!
//! Only additions, multiplications, divisions and square roots are used, which IEEE 754 rounds in one way only,
//! so the picture is the same to the last bit on every machine.

mod canvas;
mod jetty;
mod shore;
mod sky;
mod vessels;
mod water;

use image::RgbImage;

use canvas::Canvas;

/// Height of the scene in units.
const SCENE_HEIGHT: f32 = 200.0;
/// Where sky and sea meet, in units from the top.
const HORIZON: f32 = 118.0;
/// The foot of the quay wall.
const QUAY_FOOT: f32 = 148.0;
/// The edge of the jetty nearest to the eye.
const JETTY_EDGE: f32 = 185.0;

/// Draws the panorama, `width` by `height` pixels; its columns continue round from the last to the
/// first. An empty picture comes of a width or height of 0.
#[must_use]
pub fn harbour(width: u32, height: u32) -> RgbImage {
    if width == 0 || height == 0 {
        return RgbImage::new(width, height);
    }
    let mut canvas = Canvas::new(width, height);
    let stretches = lay_out(canvas.period());
    sky::draw(&mut canvas, &stretches);
    let mut waterline = water::Waterline::open_sea(&canvas);
    for stretch in &stretches {
        shore::draw(&mut canvas, stretch, &mut waterline);
    }
    water::draw(&mut canvas, &waterline);
    vessels::draw(&mut canvas, &stretches);
    jetty::draw(&mut canvas);
    canvas.into_image()
}

/// What a stretch of the shore holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Place {
    /// Rocks with the lighthouse.
    Headland,
    /// Open water under the sun, a barque on it.
    Roads,
    /// A row of tall warehouse fronts, a brigantine before it.
    OldQuay,
    /// Two cranes.
    Cranes,
    /// A second row of fronts, a steamer before it.
    SteamerQuay,
}

impl Place {
    /// The order along the shore, with the width each place takes up in units.
    const ROUND: [(Self, f32); 5] = [
        (Self::Headland, 112.0),
        (Self::Roads, 176.0),
        (Self::OldQuay, 192.0),
        (Self::Cranes, 120.0),
        (Self::SteamerQuay, 168.0),
    ];

    const fn has_quay(self) -> bool {
        matches!(self, Self::OldQuay | Self::Cranes | Self::SteamerQuay)
    }
}

/// A place and where it lies, in units.
#[derive(Debug, Clone, Copy)]
struct Stretch {
    place: Place,
    from: f32,
    to: f32,
}

impl Stretch {
    /// The point a given part of the way along, 0 at the left end and 1 at the right.
    fn at(&self, part: f32) -> f32 {
        self.from + (self.to - self.from) * part
    }
}

/// Goes along the shore as many places as come nearest to `period` units, and spreads them over it.
fn lay_out(period: f32) -> Vec<Stretch> {
    let mut chosen = Vec::new();
    let mut natural = 0.0;
    for (place, width) in Place::ROUND.into_iter().cycle() {
        if !chosen.is_empty() && natural + width / 2.0 > period {
            break;
        }
        chosen.push((place, natural, natural + width));
        natural += width;
    }
    let spread = period / natural;
    chosen.into_iter().map(|(place, from, to)| Stretch { place, from: from * spread, to: to * spread }).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use image::Rgb;

    /// Size of the panorama that the built-in benches scroll through, in pixels.
    const DEFAULT_WIDTH: u32 = 768;
    const DEFAULT_HEIGHT: u32 = 200;

    fn default_picture() -> RgbImage {
        harbour(DEFAULT_WIDTH, DEFAULT_HEIGHT)
    }

    fn light(Rgb([red, green, blue]): Rgb<u8>) -> i32 {
        (i32::from(red) * 30 + i32::from(green) * 59 + i32::from(blue) * 11) / 100
    }

    /// Pixels of a line that a shift by `shift` pixels changes so much that one sees it.
    fn shown(picture: &RgbImage, line: u32, from: u32, width: u32, shift: u32) -> usize {
        let at = |x: u32| light(*picture.get_pixel(x % picture.width(), line));
        (from..from + width).filter(|&x| (at(x) - at(x + shift)).abs() > 24).count()
    }

    #[test]
    fn a_shift_of_two_pixels_shows_on_every_line_of_every_view() {
        let picture = default_picture();
        for from in (0..DEFAULT_WIDTH).step_by(32) {
            for line in 0..DEFAULT_HEIGHT {
                for shift in [2, 4, 64] {
                    let count = shown(&picture, line, from, 320, shift);
                    assert!(count >= 2, "line {line} from {from}, shift {shift}: {count}");
                }
            }
        }
    }

    #[test]
    fn the_last_column_goes_on_in_the_first() {
        let picture = default_picture();
        let step = |left: u32| -> i32 {
            let column = |x: u32| (0..DEFAULT_HEIGHT).map(move |y| (x % DEFAULT_WIDTH, y));
            let pairs = column(left).zip(column(left + 1));
            pairs.map(|(a, b)| (light(*picture.get_pixel(a.0, a.1)) - light(*picture.get_pixel(b.0, b.1))).abs()).sum()
        };
        let mut steps: Vec<i32> = (0..DEFAULT_WIDTH - 1).map(step).collect();
        steps.sort_unstable();
        let seam = step(DEFAULT_WIDTH - 1);
        assert!(seam <= steps[steps.len() * 9 / 10], "{seam}");
    }

    #[test]
    fn the_picture_is_the_same_everywhere() {
        // FNV-1a over the pixels; changes whenever the drawing is changed.
        let sum = default_picture()
            .as_raw()
            .iter()
            .fold(0xCBF2_9CE4_8422_2325u64, |sum, &byte| (sum ^ u64::from(byte)).wrapping_mul(0x0000_0100_0000_01B3));
        assert_eq!(sum, 0xFB4B_04EF_3F62_17F2);
    }

    #[test]
    fn any_size_is_drawn() {
        for (width, height) in [(0, 0), (0, 9), (1, 1), (7, 300), (300, 7), (320, 200), (641, 31), (2048, 200)] {
            assert_eq!(harbour(width, height).dimensions(), (width, height));
        }
    }
}
