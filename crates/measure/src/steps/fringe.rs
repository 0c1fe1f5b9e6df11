//! The fringe of a picture, where two steps that show the same content beside its place differ: one has content there, the
//! other border.

use crate::expected::Rgb8;
use crate::plane::Plane;
use crate::register::Pyramid;
use crate::warp::Warp;

/// Numbers of brightness by which two predictions differ at least for a pixel to speak.
const LEAST_APART: f32 = 8.0;
/// Pixels that count as one: what is wrong with one is often so with its neighbours.
const TOGETHER: f64 = 10.0;
/// Pixels that must differ for anything to be said.
const FEWEST: usize = 40;

/// The picture of a step, and how far its frame stands right of and below that of the step that is laid over the capture.
#[derive(Clone, Copy)]
pub(super) struct Framed<'a> {
    pub picture: &'a [Rgb8],
    pub moved: (i32, i32),
}

/// A capture around the frame of a picture.
pub(super) struct Fringe {
    seen: Plane,
    size: (usize, usize),
    margin: i32,
    border: f32,
}

impl Fringe {
    /// The capture to this many pixels and lines around the frame of a picture of that size.
    pub fn new(pyramid: &Pyramid, warp: &Warp, size: (usize, usize), border: Rgb8, margin: i32) -> Self {
        let around = (size.0 + 2 * margin as usize, size.1 + 2 * margin as usize);
        let from = -f64::from(margin);
        let seen = pyramid.cells(&warp.moved((from, from)), around, (1.0, 1.0)).mean_around(1, 1);
        Self { seen, size, margin, border: brightness(border) }
    }

    /// By how many standard errors the capture speaks for one picture against another, both in their frames; nothing where
    /// one side of the picture contradicts the other: damage of a line at the edge looks like another frame.
    pub fn speaks(&self, one: Framed<'_>, other: Framed<'_>) -> f64 {
        let (planes, width) = ((self.laid(one), self.laid(other)), self.seen.width);
        let (one, other) = (&planes.0, &planes.1);
        let Some((gain, offset)) = light(&self.seen, one, other) else { return 0.0 };
        let sides = [false, true].map(|far| {
            let mut says = Vec::new();
            for (at, seen) in self.seen.data.iter().enumerate() {
                let (one, other) = (one.data[at], other.data[at]);
                // Beyond the diagonal: the right and the lower edge.
                let (x, y) = (at % width, at / width);
                let is_far = x * self.seen.height + y * width > width * self.seen.height;
                if is_far != far || (one - other).abs() <= LEAST_APART {
                    continue;
                }
                let off = |meant: f32| f64::from(*seen) - (gain * f64::from(meant) + offset);
                let apart = gain * f64::from(one - other);
                says.push(((off(other).powi(2) - off(one).powi(2)) / (apart * apart).max(1.0)).clamp(-1.0, 1.0));
            }
            sureness(&says)
        });
        let [near, far] = sides;
        let contradicts = near.min(far) < -1.0 && near.max(far) > 1.0;
        if contradicts {
            0.0
        } else {
            [near, far].into_iter().fold(0.0, |most, one| if one.abs() > f64::abs(most) { one } else { most })
        }
    }

    /// A picture in its frame, the border around it.
    fn laid(&self, Framed { picture, moved: (right, down) }: Framed<'_>) -> Plane {
        let (width, height) = self.size;
        let value = |x: usize, y: usize| {
            let inside = |at: usize, moved: i32, length: usize| {
                usize::try_from(at as i64 - i64::from(self.margin) - i64::from(moved)).ok().filter(|at| *at < length)
            };
            let pixel = inside(x, right, width).zip(inside(y, down, height));
            pixel.and_then(|(x, y)| picture.get(y * width + x)).map_or(self.border, |colour| brightness(*colour))
        };
        Plane::from_fn(self.seen.width, self.seen.height, value).mean_around(1, 1)
    }
}

/// Spread below which pixels say nothing more.
const LEAST_SPREAD: f64 = 0.1;

/// How many standard errors from nothing the mean of what pixels say is.
fn sureness(says: &[f64]) -> f64 {
    if says.len() < FEWEST {
        return 0.0;
    }
    let count = says.len() as f64;
    let mean = says.iter().sum::<f64>() / count;
    let spread = (says.iter().map(|value| (value - mean).powi(2)).sum::<f64>() / count).sqrt();
    mean / ((spread + LEAST_SPREAD) / (count / TOGETHER).sqrt())
}

fn brightness([red, green, blue]: Rgb8) -> f32 {
    (f32::from(red) + f32::from(green) + f32::from(blue)) / 3.0
}

/// How bright the capture shows what both predictions agree on: gain and offset.
fn light(seen: &Plane, one: &Plane, other: &Plane) -> Option<(f64, f64)> {
    let (mut count, mut x, mut y, mut xx, mut xy) = (0.0, 0.0, 0.0, 0.0, 0.0);
    for (seen, (one, other)) in seen.data.iter().zip(one.data.iter().zip(&other.data)) {
        if (one - other).abs() <= LEAST_APART {
            let (meant, seen) = (f64::from(*one), f64::from(*seen));
            count += 1.0;
            x += meant;
            y += seen;
            xx += meant * meant;
            xy += meant * seen;
        }
    }
    let determinant = count * xx - x * x;
    (determinant > 1.0).then(|| {
        let gain = (count * xy - x * y) / determinant;
        (gain, (y - gain * x) / count)
    })
}

#[cfg(test)]
mod tests {
    use image::{Rgb, RgbImage};

    use super::*;
    use crate::capture::Capture;
    use crate::measurement::pyramid;

    #[test]
    fn what_is_content_and_what_is_border_speaks() {
        // Content that goes on beyond the frame; the frame of the one begins at its row 5, that of the other at row 4, so
        // that a row more is shown above and one less below.
        let size = (64, 48);
        let content = |x: usize, y: usize| [(60 + x * 37 % 120 + y * 53 % 70) as u8; 3];
        let framed = |top: usize| -> Vec<Rgb8> {
            (0..size.1).flat_map(|y| (0..size.0).map(move |x| (x, y))).map(|(x, y)| content(x, y + top)).collect()
        };
        let (one, other) = (framed(5), framed(4));
        let shown = RgbImage::from_fn(240, 200, |x, y| {
            let pixel = (x as usize / 3).checked_sub(8).zip((y as usize / 3).checked_sub(8));
            let inside = pixel.filter(|(x, y)| *x < size.0 && *y < size.1);
            Rgb(inside.map_or([3; 3], |(x, y)| content(x, y + 5).map(|value| value / 2 + 20)))
        });
        let capture = Capture::from_image(shown).expect("a size that is read");
        let corners = [(24.0, 24.0), (216.0, 24.0), (216.0, 168.0), (24.0, 168.0)];
        let warp = Warp::of_corners(size, corners).expect("sound");
        let fringe = Fringe::new(&pyramid(&capture), &warp, size, [0; 3], 2);
        let (one, other) = (Framed { picture: &one, moved: (0, 0) }, Framed { picture: &other, moved: (0, -1) });
        assert!(fringe.speaks(one, other) > 3.0, "{}", fringe.speaks(one, other));
        assert!(fringe.speaks(other, one) < -3.0, "{}", fringe.speaks(other, one));
        assert_eq!(fringe.speaks(one, one), 0.0);
    }
}
