//! A capture with what was found drawn on it.

use image::{Rgb, RgbImage};

use crate::capture::Capture;
use crate::expected::Expected;
use crate::lines::{Finding, LineEvidence};
use crate::measurement::Geometry;
use crate::warp::Point;

/// The longest side of a drawn picture that is looked at by itself, in pixels.
pub const LONGEST_DRAWN: u32 = 1600;

/// Colour of the frame of the active area.
const FRAME: [u8; 3] = [0, 200, 255];

/// The colour of a finding; lines as meant are not marked.
#[must_use]
pub fn colour(finding: Finding) -> Option<[u8; 3]> {
    match finding {
        Finding::AsMeant => None,
        Finding::Displaced { .. } => Some([255, 170, 0]),
        Finding::Elsewhere { .. } => Some([255, 40, 40]),
        Finding::WrongColours => Some([255, 0, 255]),
        Finding::SomethingElse => Some([255, 255, 0]),
        Finding::CouldNotTell => Some([150, 150, 150]),
    }
}

/// The capture, made smaller where a side is longer than `longest` pixels, with the frame of the active area, a mark beside
/// each line that is not as meant, and its stretches.
#[must_use]
pub fn annotated(
    expected: &Expected,
    capture: &Capture,
    geometry: &Geometry,
    lines: &[LineEvidence],
    longest: u32,
) -> RgbImage {
    let factor = capture.image().width().max(capture.image().height()).div_ceil(longest.max(1));
    let small = capture.reduced(factor);
    let mut drawing = Drawing {
        image: RgbImage::from_fn(small.width as u32, small.height as u32, |x, y| {
            let colour = small.pixels[y as usize * small.width + x as usize];
            Rgb(colour.map(|value| value.round().clamp(0.0, 255.0) as u8))
        }),
        factor: f64::from(factor),
        geometry,
    };
    let (width, height) = (expected.size().0 as f64, expected.size().1 as f64);
    for (line, evidence) in lines.iter().enumerate() {
        let Some(colour) = colour(evidence.finding) else { continue };
        let middle = line as f64 + 0.5;
        let mark = width / 40.0;
        drawing.stroke((-mark, middle), (-1.5, middle), colour, 1.0);
        drawing.stroke((width + 1.5, middle), (width + mark, middle), colour, 1.0);
        for stretch in &evidence.stretches {
            drawing.stroke((stretch.from as f64, middle), (stretch.to as f64 + 1.0, middle), colour, 0.6);
        }
    }
    let corners = [(0.0, 0.0), (width, 0.0), (width, height), (0.0, height)];
    for at in 0..4 {
        drawing.stroke(corners[at], corners[(at + 1) % 4], FRAME, 1.0);
    }
    drawing.image
}

struct Drawing<'a> {
    image: RgbImage,
    factor: f64,
    geometry: &'a Geometry,
}

impl Drawing<'_> {
    /// A line from place to place of the picture, bent as the picture is.
    fn stroke(&mut self, from: Point, to: Point, colour: [u8; 3], cover: f32) {
        let there = |share: f64| {
            let place = (from.0 + (to.0 - from.0) * share, from.1 + (to.1 - from.1) * share);
            let (x, y) = self.geometry.place(place);
            (x / self.factor, y / self.factor)
        };
        let (a, b) = (there(0.0), there(1.0));
        let steps = (((a.0 - b.0).hypot(a.1 - b.1) * 1.2).ceil()).clamp(1.0, 8192.0) as u32;
        let places: Vec<Point> = (0..=steps).map(|step| there(f64::from(step) / f64::from(steps))).collect();
        let mut last = None;
        for (x, y) in places {
            if x < 0.0 || y < 0.0 || x >= f64::from(self.image.width()) || y >= f64::from(self.image.height()) {
                continue;
            }
            let at = (x as u32, y as u32);
            if last == Some(at) {
                continue;
            }
            last = Some(at);
            let pixel = self.image.get_pixel_mut(at.0, at.1);
            for (value, ink) in pixel.0.iter_mut().zip(colour) {
                *value = (f32::from(*value) * (1.0 - cover) + f32::from(ink) * cover).round() as u8;
            }
        }
    }
}
