//! Bringing the canvas to the display's pixels on the processor: a software driver takes several times as long over it.
//!
//! Each pixel of the display shows the mean of what of the canvas lies under it, so that canvas pixels keep their edges
//! at any size.

use crate::session::Canvas;

/// Parts of a weight: all of it.
const WHOLE: u32 = 256;

/// What of the canvas lies under each pixel of one axis of the display.
#[derive(Debug)]
struct Axis {
    /// For each pixel of the display: the first pixel of the canvas under it, and where its weights are.
    under: Vec<(u32, std::ops::Range<usize>)>,
    weights: Vec<u32>,
}

impl Axis {
    /// `count` pixels of the canvas from `from` to `to`, in pixels of the display; those of it whose middle is there.
    fn new(count: u32, from: f32, to: f32) -> (u32, Self) {
        let (first, end) = ((from - 0.5).ceil().max(0.0), (to - 0.5).ceil().max(0.0));
        let scale = f64::from(count) / f64::from(to - from).max(f64::MIN_POSITIVE);
        let (mut under, mut weights) = (Vec::new(), Vec::new());
        let most = f64::from(count);
        for at in first as u32..end as u32 {
            let place = |edge: f64| ((edge - f64::from(from)) * scale).clamp(0.0, most);
            let (left, right) = (place(f64::from(at)), place(f64::from(at) + 1.0));
            let begin = (left.floor() as u32).min(count.saturating_sub(1));
            let last = (right.ceil() as u32).clamp(begin + 1, count.max(1));
            let begins = weights.len();
            let share = |one: u32| right.min(f64::from(one) + 1.0) - left.max(f64::from(one));
            let whole: f64 = (begin..last).map(share).sum();
            weights.extend((begin..last).map(|one| (share(one) / whole * f64::from(WHOLE)).round() as u32));
            // Rounded, they are made to be one whole again.
            let sum: u32 = weights[begins..].iter().sum();
            if let Some(greatest) = weights[begins..].iter_mut().max() {
                *greatest = (*greatest + WHOLE).saturating_sub(sum);
            }
            under.push((begin, begins..weights.len()));
        }
        (first as u32, Self { under, weights })
    }

    /// The only canvas pixel under one of the display, where there is only one.
    fn alone(&self, at: usize) -> Option<u32> {
        let (first, range) = &self.under[at];
        let weights = &self.weights[range.clone()];
        weights.iter().position(|weight| *weight == WHOLE).map(|beyond| first + beyond as u32)
    }
}

/// Brings canvases of one size to one area of the display.
#[derive(Debug)]
pub(super) struct Scaler {
    size: (u32, u32),
    area: [f32; 4],
    across: Axis,
    down: Axis,
    corner: (u32, u32),
    /// Rows of the canvas as wide as the area, blue first.
    rows: Vec<[u8; 4]>,
    bytes: Vec<u8>,
}

impl Scaler {
    /// From canvases of `size` pixels to an area: left, top, width, height in pixels of the display.
    pub fn new(size: (u32, u32), area: [f32; 4]) -> Self {
        let [left, top, width, height] = area;
        let (x, across) = Axis::new(size.0, left, left + width);
        let (y, down) = Axis::new(size.1, top, top + height);
        Self { size, area, across, down, corner: (x, y), rows: Vec::new(), bytes: Vec::new() }
    }

    /// Whether it brings canvases of that size to that area.
    pub fn is_for(&self, size: (u32, u32), area: [f32; 4]) -> bool {
        self.size == size && self.area == area
    }

    /// The corner of what it makes, in pixels of the display.
    pub fn corner(&self) -> (u32, u32) {
        self.corner
    }

    /// Pixels across and down of what it makes.
    pub fn made(&self) -> (u32, u32) {
        (self.across.under.len() as u32, self.down.under.len() as u32)
    }

    /// The canvas at the display's size: blue, green, red and opacity of each pixel, row by row.
    pub fn scale(&mut self, canvas: &Canvas) -> &[u8] {
        let wide = self.across.under.len();
        self.bytes.clear();
        if (canvas.width, canvas.height) != self.size || wide == 0 {
            return &self.bytes;
        }
        self.rows.clear();
        for line in canvas.rgba.chunks_exact(self.size.0.max(1) as usize) {
            widen(&self.across, line, &mut self.rows);
        }
        let rows = &self.rows;
        let row = |at: u32| &rows[at as usize * wide..][..wide];
        for at in 0..self.down.under.len() {
            if let Some(alone) = self.down.alone(at) {
                self.bytes.extend_from_slice(row(alone).as_flattened());
                continue;
            }
            let (first, range) = &self.down.under[at];
            match &self.down.weights[range.clone()] {
                // Over an edge, which is what there is where the canvas is made larger.
                [one, other] => {
                    let (above, below) = (row(*first).as_flattened(), row(first + 1).as_flattened());
                    let both = above.iter().zip(below);
                    self.bytes.extend(both.map(|(above, below)| of_two(*one, *above, *other, *below)));
                }
                weights => {
                    for x in 0..wide {
                        let parts = weights.iter().zip(*first..).map(|(weight, line)| (*weight, row(line)[x]));
                        self.bytes.extend_from_slice(&mean(parts));
                    }
                }
            }
        }
        &self.bytes
    }
}

/// A line of the canvas at the width of the display, blue first.
fn widen(axis: &Axis, line: &[[u8; 4]], rows: &mut Vec<[u8; 4]>) {
    let turned = |[red, green, blue, opacity]: [u8; 4]| [blue, green, red, opacity];
    for (first, range) in &axis.under {
        let weights = &axis.weights[range.clone()];
        let under = &line[*first as usize..];
        rows.push(match weights {
            [_] => turned(under[0]),
            [one, other] => {
                let (left, right) = (under[0], under[1]);
                turned(std::array::from_fn(|part| of_two(*one, left[part], *other, right[part])))
            }
            weights => turned(mean(weights.iter().copied().zip(under.iter().copied()))),
        });
    }
}

/// The mean of two levels.
#[inline]
fn of_two(weight: u32, level: u8, other_weight: u32, other: u8) -> u8 {
    ((weight * u32::from(level) + other_weight * u32::from(other) + WHOLE / 2) / WHOLE) as u8
}

fn mean(parts: impl Iterator<Item = (u32, [u8; 4])>) -> [u8; 4] {
    let mut sums = [WHOLE / 2; 4];
    for (weight, levels) in parts {
        sums.iter_mut().zip(levels).for_each(|(sum, level)| *sum += weight * u32::from(level));
    }
    sums.map(|sum| (sum / WHOLE) as u8)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn canvas(width: u32, height: u32) -> Canvas {
        let rgba = (0..width * height).map(|at| [at as u8, (at * 7) as u8, (at * 13) as u8, 255]).collect();
        Canvas { width, height, rgba, ..Canvas::default() }
    }

    #[test]
    fn whole_pixels_are_repeated_as_they_are() {
        let canvas = canvas(5, 3);
        let mut scaler = Scaler::new((5, 3), [10.0, 20.0, 15.0, 6.0]);
        assert_eq!((scaler.corner(), scaler.made()), ((10, 20), (15, 6)));
        let made = scaler.scale(&canvas).to_vec();
        for (at, pixel) in made.chunks_exact(4).enumerate() {
            let (x, y) = (at / 3 % 5, at / 15 / 2);
            let [red, green, blue, opacity] = canvas.rgba[y * 5 + x];
            assert_eq!(pixel, [blue, green, red, opacity], "pixel {at}");
        }
    }

    #[test]
    fn a_pixel_over_an_edge_is_the_mean_of_both_sides() {
        let mut canvas = canvas(2, 1);
        canvas.rgba = vec![[0, 0, 0, 255], [200, 100, 40, 255]];
        // Two pixels over three: the middle one lies over both by half.
        let mut scaler = Scaler::new((2, 1), [0.0, 0.0, 3.0, 1.0]);
        assert_eq!(scaler.scale(&canvas), [0, 0, 0, 255, 20, 50, 100, 255, 40, 100, 200, 255]);
        // Made smaller, each is the mean of all under it: none of the light is lost.
        let mut smaller = Scaler::new((2, 1), [0.0, 0.0, 1.0, 1.0]);
        assert_eq!(smaller.scale(&canvas), [20, 50, 100, 255]);
    }

    #[test]
    fn any_size_and_place_is_filled_whole() {
        for (size, area) in [
            ((320, 200), [3.0, 7.0, 1093.3, 819.9]),
            ((320, 200), [0.5, 0.5, 101.2, 77.7]),
            ((1, 1), [4.0, 4.0, 9.5, 0.2]),
            ((640, 350), [12.25, 9.0, 640.0, 480.0]),
        ] {
            let canvas = canvas(size.0, size.1);
            let mut scaler = Scaler::new(size, area);
            let (wide, high) = scaler.made();
            assert!((wide as f32 - area[2]).abs() <= 1.0 && (high as f32 - area[3]).abs() <= 1.0);
            let made = scaler.scale(&canvas);
            assert_eq!(made.len(), (wide * high * 4) as usize, "{size:?} to {area:?}");
            assert!(made.chunks_exact(4).all(|pixel| pixel[3] == 255), "opacity stays whole");
        }
        assert!(Scaler::new((2, 2), [0.0, 0.0, 4.0, 4.0]).scale(&canvas(3, 3)).is_empty(), "of another size");
    }
}
