//! Which of several pictures stands in the upper left corner of a screen: the number that a test card's label shows.

use crate::capture::{Capture, ReducedCapture};
use crate::expected::Rgb8;
use crate::measurement::{Geometry, kept};

/// A picture that may stand in the corner, row by row from the top.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Corner {
    width: usize,
    pixels: Vec<Rgb8>,
}

impl Corner {
    /// A corner of rows of that width; `None` where they are not whole, or nothing.
    #[must_use]
    pub fn new(width: usize, pixels: Vec<Rgb8>) -> Option<Self> {
        let is_whole = width > 0 && !pixels.is_empty() && pixels.len().is_multiple_of(width);
        is_whole.then_some(Self { width, pixels })
    }

    fn height(&self) -> usize {
        self.pixels.len() / self.width
    }
}

/// One corner among others, found in captures.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FoundCorner {
    /// Its position among those that were asked for.
    pub at: usize,
    /// Natural logarithm of how much likelier it makes the capture than the next best does.
    pub margin: f64,
}

/// Pixels and lines beside its place at which a corner is tried: content may have moved as a whole.
const BESIDE: (usize, usize) = (24, 3);
/// Samples whose errors go together.
const TOGETHER: f64 = 6.0;
/// Correlation below which a corner is not there.
const LEAST_CORRELATION: f64 = 0.25;

/// Finds which of several corners, all of one size, a capture shows whose picture has been found; `None` where it shows none of
/// them.
#[must_use]
pub fn which_corner(corners: &[Corner], capture: &Capture, geometry: &Geometry) -> Option<FoundCorner> {
    let first = corners.first()?;
    let (width, height) = (first.width, first.height());
    let alike = corners.iter().all(|corner| corner.width == width && corner.height() == height);
    if !alike {
        return None;
    }
    let seen = Seen::new(&kept(capture, geometry), geometry, (width + 2 * BESIDE.0, height + 2 * BESIDE.1));
    let mut fits: Vec<(f64, usize)> = corners.iter().map(|corner| seen.fit(corner)).zip(0..).collect();
    fits.sort_by(|(one, _), (other, _)| other.total_cmp(one));
    let &(best, at) = fits.first().filter(|(best, _)| *best >= LEAST_CORRELATION)?;
    let next = fits.get(1).map_or(0.0, |(next, _)| *next);
    // What is left unexplained, in either case.
    let left = |correlation: f64| (1.0 - correlation * correlation).max(1e-6);
    let samples = (3 * width * height) as f64 / TOGETHER;
    Some(FoundCorner { at, margin: samples / 2.0 * (left(next) / left(best)).ln() })
}

/// The upper left corner of a picture and what lies around it, as a capture shows it.
struct Seen {
    width: usize,
    pixels: Vec<[f32; 3]>,
}

impl Seen {
    fn new(capture: &ReducedCapture, geometry: &Geometry, (width, height): (usize, usize)) -> Self {
        let inner = [1.0 / 6.0, 0.5, 5.0 / 6.0];
        let pixel = |x: usize, y: usize| {
            let mut sum = [0.0_f32; 3];
            for (right, down) in inner.iter().flat_map(|down| inner.iter().map(move |right| (right, down))) {
                let at = (x as f64 - BESIDE.0 as f64 + right, y as f64 - BESIDE.1 as f64 + down);
                let (u, v) = geometry.place(at);
                let colour = capture.sample((u / capture.factor) as f32, (v / capture.factor) as f32);
                (0..3).for_each(|channel| sum[channel] += colour[channel] / 9.0);
            }
            sum
        };
        let pixels = (0..height).flat_map(|y| (0..width).map(move |x| (x, y))).map(|(x, y)| pixel(x, y)).collect();
        Self { width, pixels }
    }

    /// The greatest correlation of a corner with what is seen at its place or beside it.
    fn fit(&self, corner: &Corner) -> f64 {
        let places = (0..=2 * BESIDE.1).flat_map(|down| (0..=2 * BESIDE.0).map(move |right| (right, down)));
        places.map(|place| self.correlation(corner, place)).fold(0.0, f64::max)
    }

    fn correlation(&self, corner: &Corner, (right, down): (usize, usize)) -> f64 {
        let rows = corner.pixels.chunks(corner.width).zip(self.pixels.chunks(self.width).skip(down));
        let pairs = || rows.clone().flat_map(|(wanted, seen)| wanted.iter().zip(&seen[right..]));
        let count = corner.pixels.len() as f64;
        let (mut both, mut ours, mut theirs) = (0.0, 0.0, 0.0);
        for channel in 0..3 {
            let values = || pairs().map(|(one, other)| (f64::from(one[channel]), f64::from(other[channel])));
            let (one, other) = values().fold((0.0, 0.0), |(a, b), (one, other)| (a + one / count, b + other / count));
            for (a, b) in values() {
                both += (a - one) * (b - other);
                ours += (a - one).powi(2);
                theirs += (b - other).powi(2);
            }
        }
        if ours > 0.0 && theirs > 0.0 { both / (ours * theirs).sqrt() } else { 0.0 }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::expected::Expected;
    use crate::measurement::find;
    use image::{Rgb, RgbImage};

    const WIDTH: usize = 160;
    const HEIGHT: usize = 100;

    fn ground(x: usize, y: usize) -> Rgb8 {
        [(x * 7 % 256) as u8, (x / 16 * y * 11 % 256) as u8, (y * 5 % 256) as u8]
    }

    /// Some mark of eight by eight pixels that differs from number to number.
    fn is_lit(number: usize, x: usize, y: usize) -> bool {
        x < 8 && y < 8 && (number * 37 + x * 5 + y * 11).is_multiple_of(3)
    }

    fn pixel(number: usize, x: usize, y: usize) -> Rgb8 {
        let colour = ground(x, y);
        if is_lit(number, x, y) { colour.map(|channel| channel ^ 0x80) } else { colour }
    }

    /// A capture three times as large, the content `moved` pixels to the right.
    fn capture(number: usize, moved: usize) -> Capture {
        let image = RgbImage::from_fn(560, 380, |x, y| {
            let inside = x.checked_sub(40).zip(y.checked_sub(40)).map(|(x, y)| (x as usize / 3, y as usize / 3));
            match inside.filter(|(x, y)| *x < WIDTH && *y < HEIGHT) {
                Some((x, y)) => Rgb(x.checked_sub(moved).map_or([0; 3], |x| pixel(number, x, y))),
                None => Rgb([0; 3]),
            }
        });
        Capture::from_image(image).unwrap()
    }

    #[test]
    fn each_number_is_told_from_the_others_wherever_it_stands() {
        let pixels = (0..HEIGHT).flat_map(|y| (0..WIDTH).map(move |x| ground(x, y))).collect();
        let expected = Expected::new((WIDTH, HEIGHT), pixels, [0; 3], None).unwrap();
        let corner = |number: usize| {
            let pixels = (0..8).flat_map(|y| (0..8).map(move |x| pixel(number, x, y))).collect();
            Corner::new(8, pixels).unwrap()
        };
        // Numbers three apart light the same pixels.
        let corners: Vec<Corner> = (0..3).map(corner).collect();
        for (number, moved) in [(0, 0), (1, 0), (2, 0), (1, 2)] {
            let capture = capture(number, moved);
            let geometry = find(&expected, &capture).unwrap();
            let found = which_corner(&corners, &capture, &geometry).unwrap();
            assert_eq!(found.at, number, "moved by {moved}");
            assert!(found.margin > 3.0, "{found:?}");
        }
    }

    #[test]
    fn a_corner_that_is_none_is_refused() {
        assert_eq!(Corner::new(0, vec![[0; 3]]), None);
        assert_eq!(Corner::new(3, vec![[0; 3]; 4]), None);
        assert_eq!(Corner::new(3, Vec::new()), None);
    }
}
