//! From places in the picture to places in the capture: a perspective, and a smooth bend on top of it.
//!
//! The perspective is that of a flat screen seen from anywhere. The bend takes what is left: a curved tube, a barrel or
//! cushion of the deflection or of the lens. It is a polynomial of the fifth degree over the picture.

use nalgebra::{Matrix3, SMatrix, SVector, Vector3};

/// Terms of a polynomial of the fifth degree in two variables.
pub(crate) const TERMS: usize = 21;

/// A place: pixels to the right of the left edge and below the upper one.
pub type Point = (f64, f64);

/// How the picture lies in a capture.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Warp {
    width: f64,
    height: f64,
    /// From places in the picture, -1 to 1 either way, to capture pixels.
    pub perspective: Matrix3<f64>,
    /// Picture pixels by which places are moved before, to the right and down, as coefficients of the [`terms`].
    pub bend: [[f64; TERMS]; 2],
}

/// The terms of a bend at a place of the picture, -1 to 1 either way: products of Legendre polynomials, lowest first.
pub(crate) fn terms(x: f64, y: f64) -> [f64; TERMS] {
    let (xs, ys) = (legendre(x), legendre(y));
    let mut terms = [0.0; TERMS];
    let mut at = 0;
    for degree in 0..6 {
        for down in 0..=degree {
            terms[at] = xs[degree - down] * ys[down];
            at += 1;
        }
    }
    terms
}

fn legendre(x: f64) -> [f64; 6] {
    let s = x * x;
    [
        1.0,
        x,
        (3.0 * s - 1.0) / 2.0,
        (5.0 * s - 3.0) * x / 2.0,
        ((35.0 * s - 30.0) * s + 3.0) / 8.0,
        ((63.0 * s - 70.0) * s + 15.0) * x / 8.0,
    ]
}

impl Warp {
    /// The warp that puts the corners of a picture of that size at these places: upper left, upper right, lower right,
    /// lower left. `None` where they span no area.
    pub fn of_corners((width, height): (usize, usize), corners: [Point; 4]) -> Option<Self> {
        let mut left = SMatrix::<f64, 8, 8>::zeros();
        let mut right = SVector::<f64, 8>::zeros();
        let ends = [(-1.0, -1.0), (1.0, -1.0), (1.0, 1.0), (-1.0, 1.0)];
        for (at, ((x, y), (u, v))) in ends.into_iter().zip(corners).enumerate() {
            let rows = [[x, y, 1.0, 0.0, 0.0, 0.0, -u * x, -u * y], [0.0, 0.0, 0.0, x, y, 1.0, -v * x, -v * y]];
            for (add, (row, value)) in rows.into_iter().zip([u, v]).enumerate() {
                row.into_iter().enumerate().for_each(|(column, value)| left[(2 * at + add, column)] = value);
                right[2 * at + add] = value;
            }
        }
        let h = left.lu().solve(&right)?;
        let perspective = Matrix3::new(h[0], h[1], h[2], h[3], h[4], h[5], h[6], h[7], 1.0);
        let warp = Self { width: width as f64, height: height as f64, perspective, bend: [[0.0; TERMS]; 2] };
        warp.is_sound().then_some(warp)
    }

    /// Where a place of the picture lies in the capture.
    pub fn at(&self, (x, y): Point) -> Point {
        let (nx, ny) = (2.0 * x / self.width - 1.0, 2.0 * y / self.height - 1.0);
        let terms = terms(nx, ny);
        let [right, down] = self.bend.map(|bend| bend.iter().zip(&terms).map(|(c, t)| c * t).sum::<f64>());
        self.flat(nx + 2.0 * right / self.width, ny + 2.0 * down / self.height)
    }

    fn flat(&self, nx: f64, ny: f64) -> Point {
        let place = self.perspective * Vector3::new(nx, ny, 1.0);
        let depth = if place.z.abs() < 1e-9 { 1e-9 } else { place.z };
        (place.x / depth, place.y / depth)
    }

    /// The picture's corners in the capture: upper left, upper right, lower right, lower left.
    pub fn corners(&self) -> [Point; 4] {
        [(0.0, 0.0), (self.width, 0.0), (self.width, self.height), (0.0, self.height)].map(|corner| self.at(corner))
    }

    /// Takes another perspective before its own.
    pub fn compose(&mut self, before: &Matrix3<f64>) {
        let next = self.perspective * before;
        let scale = next[(2, 2)];
        if scale.abs() > 1e-6 && next.iter().all(|value| value.is_finite()) {
            self.perspective = next / scale;
        }
    }

    /// The same with the whole picture moved by this many of its pixels, to the right and down.
    pub fn moved(&self, (right, down): Point) -> Self {
        let mut moved = self.clone();
        moved.bend[0][0] += right;
        moved.bend[1][0] += down;
        moved
    }

    /// Capture pixels a picture pixel is wide and high, in the middle.
    pub fn scale(&self) -> Point {
        let (x, y) = (self.width / 2.0, self.height / 2.0);
        let length = |(a, b): (Point, Point)| (a.0 - b.0).hypot(a.1 - b.1);
        (length((self.at((x + 0.5, y)), self.at((x - 0.5, y)))), length((self.at((x, y + 0.5)), self.at((x, y - 0.5)))))
    }

    /// Whether the corners are those of a rectangle seen from in front, not a mirror image, a sliver or a knot.
    pub fn is_sound(&self) -> bool {
        let corners = self.corners();
        if corners.iter().any(|(x, y)| !x.is_finite() || !y.is_finite()) {
            return false;
        }
        let turn = |a: Point, b: Point, c: Point| (b.0 - a.0) * (c.1 - b.1) - (b.1 - a.1) * (c.0 - b.0);
        let convex = (0..4).all(|at| turn(corners[at], corners[(at + 1) % 4], corners[(at + 2) % 4]) > 0.0);
        let length = |a: Point, b: Point| (a.0 - b.0).hypot(a.1 - b.1);
        let [top, right, bottom, left] = [0, 1, 2, 3].map(|at| length(corners[at], corners[(at + 1) % 4]));
        let alike = |a: f64, b: f64| a < 2.5 * b && b < 2.5 * a;
        let aspect = (top + bottom) / (left + right).max(1e-9);
        convex
            && alike(top, bottom)
            && alike(left, right)
            && (0.6..3.2).contains(&aspect)
            && corners[1].0 > corners[0].0
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn corners_go_where_they_were_put() {
        let corners = [(10.0, 12.0), (310.0, 8.0), (300.0, 220.0), (5.0, 231.0)];
        let warp = Warp::of_corners((320, 200), corners).expect("sound");
        for (found, meant) in warp.corners().into_iter().zip(corners) {
            assert!((found.0 - meant.0).hypot(found.1 - meant.1) < 1e-6, "{found:?} {meant:?}");
        }
        let moved = warp.moved((2.0, 1.0));
        let (there, here) = (moved.at((100.0, 50.0)), warp.at((102.0, 51.0)));
        assert!((there.0 - here.0).hypot(there.1 - here.1) < 1e-6);
    }

    #[test]
    fn mirrors_slivers_and_knots_are_none() {
        let size = (320, 200);
        assert!(Warp::of_corners(size, [(0.0, 0.0); 4]).is_none());
        assert!(Warp::of_corners(size, [(300.0, 0.0), (0.0, 0.0), (0.0, 200.0), (300.0, 200.0)]).is_none());
        assert!(Warp::of_corners(size, [(0.0, 0.0), (300.0, 0.0), (0.0, 200.0), (300.0, 200.0)]).is_none());
        assert!(Warp::of_corners(size, [(0.0, 0.0), (300.0, 0.0), (300.0, 9.0), (0.0, 9.0)]).is_none());
    }
}
