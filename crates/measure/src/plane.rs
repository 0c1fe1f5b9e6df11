//! Planes of numbers: sampling, halving, means over a window.

/// A rectangle of numbers, row by row. The centre of its first element lies at (0.5, 0.5).
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Plane {
    pub width: usize,
    pub height: usize,
    pub data: Vec<f32>,
}

impl Plane {
    pub fn new(width: usize, height: usize, data: Vec<f32>) -> Self {
        debug_assert_eq!(data.len(), width * height);
        Self { width, height, data }
    }

    /// A plane computed element by element.
    pub fn from_fn(width: usize, height: usize, mut value: impl FnMut(usize, usize) -> f32) -> Self {
        let data = (0..height).flat_map(|y| (0..width).map(move |x| (x, y))).map(|(x, y)| value(x, y)).collect();
        Self { width, height, data }
    }

    pub fn at(&self, x: usize, y: usize) -> f32 {
        self.data[y * self.width + x]
    }

    /// The value between elements; outside, that of the nearest edge.
    pub fn sample(&self, x: f32, y: f32) -> f32 {
        let (x, ix, right) = between(x, self.width);
        let (y, iy, below) = between(y, self.height);
        let (upper, lower) = (iy * self.width, below * self.width);
        let top = self.data[upper + ix] * (1.0 - x) + self.data[upper + right] * x;
        let bottom = self.data[lower + ix] * (1.0 - x) + self.data[lower + right] * x;
        top * (1.0 - y) + bottom * y
    }

    /// Half the size: means of two by two.
    pub fn halved(&self) -> Self {
        let (width, height) = ((self.width / 2).max(1), (self.height / 2).max(1));
        Self::from_fn(width, height, |x, y| {
            let (right, below) = ((2 * x + 1).min(self.width - 1), (2 * y + 1).min(self.height - 1));
            let (x, y) = (2 * x, 2 * y);
            (self.at(x, y) + self.at(right, y) + self.at(x, below) + self.at(right, below)) / 4.0
        })
    }

    /// The mean over the part of a window around each element that lies inside.
    pub fn mean_around(&self, across: usize, down: usize) -> Self {
        let rows = windowed(self.width, across, self.height, |line, at| self.data[line * self.width + at]);
        let columns = windowed(self.height, down, self.width, |column, at| rows[at * self.width + column]);
        // `columns` stands on its side.
        Self::from_fn(self.width, self.height, |x, y| columns[x * self.height + y])
    }

    /// What stands out of its surroundings, in units of how much those vary: light and contrast fall away.
    pub fn relief(&self, across: usize, down: usize) -> Self {
        let mean = self.mean_around(across, down);
        let out = Self { data: self.data.iter().zip(&mean.data).map(|(value, mean)| value - mean).collect(), ..*self };
        let squares = Self { data: out.data.iter().map(|value| value * value).collect(), ..*self };
        let local = squares.mean_around(across, down);
        let whole = squares.data.iter().sum::<f32>() / squares.data.len().max(1) as f32;
        let floor = FLATTEST * whole + f32::EPSILON;
        Self {
            data: out.data.iter().zip(&local.data).map(|(out, local)| out / (local + floor).sqrt()).collect(),
            ..out
        }
    }
}

/// Share of the picture's own variance below which a neighbourhood counts as flat: noise is not blown up.
const FLATTEST: f32 = 0.1;

/// The place between two elements: share of the second, and both positions.
fn between(at: f32, length: usize) -> (f32, usize, usize) {
    let at = (at - 0.5).clamp(0.0, (length - 1) as f32);
    let first = at as usize;
    (at - first as f32, first, (first + 1).min(length - 1))
}

/// Means along the lines of a rectangle over windows of `radius` to either side.
fn windowed(length: usize, radius: usize, lines: usize, value: impl Fn(usize, usize) -> f32) -> Vec<f32> {
    let mut means = Vec::with_capacity(length * lines);
    let mut sums = vec![0.0_f64; length + 1];
    for line in 0..lines {
        for at in 0..length {
            sums[at + 1] = sums[at] + f64::from(value(line, at));
        }
        for at in 0..length {
            let (from, to) = (at.saturating_sub(radius), (at + radius + 1).min(length));
            means.push(((sums[to] - sums[from]) / (to - from) as f64) as f32);
        }
    }
    means
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_slope_is_sampled_as_a_slope() {
        let plane = Plane::from_fn(8, 6, |x, y| x as f32 + 10.0 * y as f32);
        assert!((plane.sample(3.25, 2.75) - (2.75 + 22.5)).abs() < 1e-4);
        assert_eq!(plane.sample(-5.0, 99.0), 50.0);
        assert!((plane.halved().at(1, 1) - (2.5 + 25.0)).abs() < 1e-4);
        let mean = plane.mean_around(1, 2);
        assert!((mean.at(3, 2) - 23.0).abs() < 1e-4, "{}", mean.at(3, 2));
    }

    #[test]
    fn light_falls_out_of_the_relief() {
        let shape = |x: usize, y: usize| if (x / 3 + y / 3).is_multiple_of(2) { 20.0 } else { 60.0 };
        let even = Plane::from_fn(48, 36, shape).relief(6, 6);
        let lit = Plane::from_fn(48, 36, |x, y| shape(x, y) * (0.5 + x as f32 / 60.0) + y as f32).relief(6, 6);
        let worst = even.data.iter().zip(&lit.data).map(|(a, b)| (a - b).abs()).fold(0.0, f32::max);
        assert!(worst < 0.75, "{worst}");
    }
}
