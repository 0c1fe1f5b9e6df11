//! Lays the expected picture over a capture, from a rough guess to a fraction of a pixel.
//!
//! Both are compared by their [relief](Plane::relief), in which light does not count, on grids that become finer. On each
//! the warp is bettered by least squares over all cells at once, cells that do not fit counting little: what is damaged
//! does not pull. First the perspective is fitted, then the bend.

use nalgebra::Matrix3;

use crate::capture::ReducedCapture;
use crate::expected::Expected;
use crate::least_squares::LeastSquares;
use crate::plane::Plane;
use crate::warp::{Point, TERMS, Warp, terms};

/// A capture at several sizes, each half of the one before.
pub(crate) struct Pyramid {
    levels: Vec<Plane>,
    /// Capture pixels to one of the first level.
    factor: f64,
}

impl Pyramid {
    pub fn new(reduced: &ReducedCapture) -> Self {
        let mut levels = vec![reduced.brightness()];
        while let Some(last) = levels.last().filter(|last| last.width.min(last.height) > 48) {
            let next = last.halved();
            levels.push(next);
        }
        Self { levels, factor: reduced.factor }
    }

    /// The level at which a step of that many capture pixels is one to two pixels, and how many capture pixels one of its
    /// pixels is.
    pub fn for_step(&self, step: f64) -> (&Plane, f64) {
        let level = (step / self.factor).max(1.0).log2().floor() as usize;
        let level = level.min(self.levels.len() - 1);
        (&self.levels[level], self.factor * f64::from(1u32 << level))
    }

    /// What the capture shows in cells of a picture, each this many picture pixels wide and high, under a warp.
    pub fn cells(&self, warp: &Warp, (columns, rows): (usize, usize), (step_x, step_y): (f64, f64)) -> Plane {
        let scale = warp.scale();
        // Several places a cell: scan lines and masks would beat with single ones.
        let (level, factor) = self.for_step((scale.0 * step_x).min(scale.1 * step_y) / 2.0);
        let corners: Vec<(f32, f32)> = (0..=rows)
            .flat_map(|y| (0..=columns).map(move |x| (x, y)))
            .map(|(x, y)| {
                let (u, v) = warp.at((x as f64 * step_x, y as f64 * step_y));
                ((u / factor) as f32, (v / factor) as f32)
            })
            .collect();
        Plane::from_fn(columns, rows, |x, y| {
            let corner = |right: usize, down: usize| corners[(y + down) * (columns + 1) + x + right];
            let (a, b, c, d) = (corner(0, 0), corner(1, 0), corner(0, 1), corner(1, 1));
            let mut sum = 0.0;
            for down in PLACES {
                for right in PLACES {
                    let mix = |a: f32, b: f32, c: f32, d: f32| {
                        (a * (1.0 - right) + b * right) * (1.0 - down) + (c * (1.0 - right) + d * right) * down
                    };
                    sum += level.sample(mix(a.0, b.0, c.0, d.0), mix(a.1, b.1, c.1, d.1));
                }
            }
            sum / 9.0
        })
    }

    /// Whether a place lies in the capture.
    pub fn holds(&self, (x, y): Point) -> bool {
        let level = &self.levels[0];
        x >= 0.0 && y >= 0.0 && x <= level.width as f64 * self.factor && y <= level.height as f64 * self.factor
    }

    /// The level of about this many pixels across, and how many capture pixels one of its pixels is.
    pub fn of_width(&self, width: usize) -> (&Plane, f64) {
        let level = self.levels.iter().position(|level| level.width <= width).unwrap_or(self.levels.len() - 1);
        (&self.levels[level], self.factor * f64::from(1u32 << level))
    }
}

/// The expected picture on a grid.
pub(crate) struct ExpectedGrid {
    relief: Plane,
    window: (usize, usize),
    /// Both are smoothed, so that the blur of a camera makes less of a difference.
    smooth: bool,
    size: (f64, f64),
}

/// Places within a cell that are looked at, either way.
const PLACES: [f32; 3] = [1.0 / 6.0, 0.5, 5.0 / 6.0];

/// Grid cells across and down of the coarsest target.
const COARSEST: (usize, usize) = (40, 30);

impl ExpectedGrid {
    /// The picture on a grid `level` times twice as fine as the coarsest, never finer than its pixels.
    pub fn new(expected: &Expected, level: u32) -> Self {
        let brightness = |x: usize, y: usize| {
            let [red, green, blue] = expected.line(y)[x];
            (f32::from(red) + f32::from(green) + f32::from(blue)) / 3.0
        };
        Self::of_brightness(expected.size(), brightness, level)
    }

    /// The same of what was shown, in numbers as of a picture file.
    pub fn of_shown(size: (usize, usize), shown: &[[f32; 3]], level: u32) -> Self {
        Self::of_brightness(size, |x, y| shown[y * size.0 + x].iter().sum::<f32>() / 3.0, level)
    }

    fn of_brightness((width, height): (usize, usize), brightness: impl Fn(usize, usize) -> f32, level: u32) -> Self {
        let cells = ((COARSEST.0 << level).min(width), (COARSEST.1 << level).min(height));
        let brightness = Plane::from_fn(width, height, brightness);
        let plane = shrunk(&brightness, cells);
        let smooth = level >= 2;
        let plane = if smooth { plane.mean_around(1, 1) } else { plane };
        let window = ((cells.0 / 8).max(2), (cells.1 / 8).max(2));
        Self { relief: plane.relief(window.0, window.1), window, smooth, size: (width as f64, height as f64) }
    }

    /// The relief of what the capture shows on the grid.
    fn seen(&self, pyramid: &Pyramid, warp: &Warp) -> Plane {
        let (columns, rows) = (self.relief.width, self.relief.height);
        let step = (self.size.0 / columns as f64, self.size.1 / rows as f64);
        let seen = pyramid.cells(warp, (columns, rows), step);
        let seen = if self.smooth { seen.mean_around(1, 1) } else { seen };
        seen.relief(self.window.0, self.window.1)
    }

    /// Which cells lie in the capture; `None` where all of them do.
    fn inside(&self, pyramid: &Pyramid, warp: &Warp) -> Option<Vec<bool>> {
        let (columns, rows) = (self.relief.width, self.relief.height);
        let place = |x: f64, y: f64| warp.at((x * self.size.0, y * self.size.1));
        let rim = (0..=8).map(|at| f64::from(at) / 8.0);
        let mut rim = rim.flat_map(|at| [place(at, 0.0), place(at, 1.0), place(0.0, at), place(1.0, at)]);
        if rim.all(|at| pyramid.holds(at)) {
            return None;
        }
        let middle = |at: usize, count: usize| (at as f64 + 0.5) / count as f64;
        let cells = (0..rows).flat_map(|y| (0..columns).map(move |x| (x, y)));
        Some(cells.map(|(x, y)| pyramid.holds(place(middle(x, columns), middle(y, rows)))).collect())
    }

    /// The share of the picture that lies in the capture.
    pub fn share_inside(&self, pyramid: &Pyramid, warp: &Warp) -> f64 {
        let share = |inside: Vec<bool>| inside.iter().filter(|one| **one).count() as f64 / inside.len().max(1) as f64;
        self.inside(pyramid, warp).map_or(1.0, share)
    }

    /// How far the capture agrees with the picture: the correlation of the reliefs, 1 where they are the same; of what of it
    /// lies in the capture, and 0 where that is too little.
    pub fn agreement(&self, pyramid: &Pyramid, warp: &Warp) -> f64 {
        let seen = self.seen(pyramid, warp);
        let inside = self.inside(pyramid, warp);
        let is_inside = |at: usize| inside.as_ref().is_none_or(|inside| inside[at]);
        let count = (0..seen.data.len()).filter(|at| is_inside(*at)).count();
        if (count as f64) < LEAST_INSIDE * seen.data.len() as f64 {
            return 0.0;
        }
        let mut sums = [0.0_f64; 3];
        for (at, (a, b)) in seen.data.iter().zip(&self.relief.data).enumerate() {
            if !is_inside(at) {
                continue;
            }
            let (a, b) = (f64::from(*a), f64::from(*b));
            sums = [sums[0] + a * b, sums[1] + a * a, sums[2] + b * b];
        }
        sums[0] / (sums[1] * sums[2]).sqrt().max(1e-9)
    }

    /// Betters the perspective of a warp by this many steps, ending early where nothing moves any more.
    pub fn fit_perspective(&self, pyramid: &Pyramid, warp: &mut Warp, steps: usize) {
        for _ in 0..steps {
            let parameters =
                |x: f64, y: f64| ([1.0, x, y, 0.0, 0.0, 0.0, x * x, x * y], [0.0, 0.0, 0.0, 1.0, x, y, x * y, y * y]);
            let Some(found) = self.solve::<8>(pyramid, warp, parameters, |_| 1e-4, Units::Halves, NEAR) else { return };
            let f = found.map(|value| value.clamp(-0.15, 0.15));
            let before = Matrix3::new(1.0 + f[1], f[2], f[0], f[4], 1.0 + f[5], f[3], -f[6], -f[7], 1.0);
            let mut next = warp.clone();
            next.compose(&before);
            if !next.is_sound() {
                return;
            }
            *warp = next;
            if f.iter().all(|value| value.abs() < 1e-4) {
                return;
            }
        }
    }

    /// Betters the bend of a warp, up to a degree.
    pub fn fit_bend(&self, pyramid: &Pyramid, warp: &mut Warp, degree: usize, (steps, beside): (usize, f64)) {
        let used = (degree + 1) * (degree + 2) / 2;
        for _ in 0..steps {
            let parameters = |x: f64, y: f64| {
                let terms = terms(x, y);
                let mut both = ([0.0; 2 * TERMS], [0.0; 2 * TERMS]);
                both.0[..used].copy_from_slice(&terms[..used]);
                both.1[TERMS..TERMS + used].copy_from_slice(&terms[..used]);
                both
            };
            let stiffness = |at: usize| if at % TERMS < 3 { 1e-6 } else { 1e-4 };
            let Some(found) = self.solve::<{ 2 * TERMS }>(pyramid, warp, parameters, stiffness, Units::Pixels, beside)
            else {
                return;
            };
            let mut next = warp.clone();
            for (at, value) in found.iter().enumerate() {
                next.bend[at / TERMS][at % TERMS] += value.clamp(-3.0, 3.0);
            }
            if !next.is_sound() {
                return;
            }
            *warp = next;
            if found.iter().all(|value| value.abs() < 3e-3) {
                return;
            }
        }
    }

    /// Solves for the movement of the picture over the capture that brings them together, as coefficients of what moves
    /// places to the right and down.
    fn solve<const N: usize>(
        &self,
        pyramid: &Pyramid,
        warp: &Warp,
        parameters: impl Fn(f64, f64) -> ([f64; N], [f64; N]),
        stiffness: impl Fn(usize) -> f64,
        units: Units,
        beside: f64,
    ) -> Option<[f64; N]> {
        let seen = self.seen(pyramid, warp);
        let (columns, rows) = (seen.width, seen.height);
        let inside = self.inside(pyramid, warp);
        let is_inside = |at: usize| inside.as_ref().is_none_or(|inside| inside[at]);
        let limit = self.usual_misfit(&seen, is_inside);
        let per_unit = match units {
            Units::Halves => (columns as f64 / 2.0, rows as f64 / 2.0),
            Units::Pixels => (columns as f64 / self.size.0, rows as f64 / self.size.1),
        };
        // Of a fine grid half of the cells are enough, as on a board of draughts.
        let step = if rows >= 150 { 2 } else { 1 };
        let mut system = LeastSquares::new();
        let mean = |x: usize, y: usize| f64::from(seen.at(x, y) + self.relief.at(x, y)) / 2.0;
        for y in 1..rows - 1 {
            let ny = 2.0 * (y as f64 + 0.5) / rows as f64 - 1.0;
            for x in (1 + y % step..columns - 1).step_by(step) {
                if !is_inside(y * columns + x) {
                    continue;
                }
                let across = (mean(x + 1, y) - mean(x - 1, y)) / 2.0 * per_unit.0;
                let down = (mean(x, y + 1) - mean(x, y - 1)) / 2.0 * per_unit.1;
                let misfit = f64::from(self.relief.at(x, y) - seen.at(x, y));
                let weight = weight(misfit, limit, (across / per_unit.0, down / per_unit.1), beside);
                let (to_right, to_below) = parameters(2.0 * (x as f64 + 0.5) / columns as f64 - 1.0, ny);
                let mut slope = [0.0; N];
                for at in 0..N {
                    slope[at] = across * to_right[at] + down * to_below[at];
                }
                system.add(weight, &slope, misfit);
            }
        }
        system.solve(stiffness)
    }

    /// The misfit beyond which a cell of those in the capture counts little.
    fn usual_misfit(&self, seen: &Plane, is_inside: impl Fn(usize) -> bool) -> f64 {
        let pairs = seen.data.iter().zip(&self.relief.data).enumerate();
        spread(pairs.filter(|(at, _)| is_inside(*at)).map(|(_, (seen, meant))| meant - seen))
    }

    /// How far parts of the picture still lie beside their places, in picture pixels, part by part: where a part has
    /// shapes by which it can be recognised.
    pub fn residuals(&self, pyramid: &Pyramid, warp: &Warp) -> Vec<f64> {
        let seen = self.seen(pyramid, warp);
        let (columns, rows) = (seen.width, seen.height);
        let inside = self.inside(pyramid, warp);
        let is_inside = |at: usize| inside.as_ref().is_none_or(|inside| inside[at]);
        let limit = self.usual_misfit(&seen, is_inside);
        let (step_x, step_y) = (self.size.0 / columns as f64, self.size.1 / rows as f64);
        let mean = |x: usize, y: usize| f64::from(seen.at(x, y) + self.relief.at(x, y)) / 2.0;
        let mut residuals = Vec::new();
        for part in 0..PARTS.0 * PARTS.1 {
            let (px, py) = (part % PARTS.0, part / PARTS.0);
            let (mut xx, mut xy, mut yy, mut xr, mut yr) = (0.0, 0.0, 0.0, 0.0, 0.0);
            for y in (py * rows / PARTS.1).max(1)..((py + 1) * rows / PARTS.1).min(rows - 1) {
                for x in (px * columns / PARTS.0).max(1)..((px + 1) * columns / PARTS.0).min(columns - 1) {
                    if !is_inside(y * columns + x) {
                        continue;
                    }
                    let across = (mean(x + 1, y) - mean(x - 1, y)) / 2.0 / step_x;
                    let down = (mean(x, y + 1) - mean(x, y - 1)) / 2.0 / step_y;
                    let misfit = f64::from(self.relief.at(x, y) - seen.at(x, y));
                    let weight = weight(misfit, limit, (across * step_x, down * step_y), NEAR);
                    xx += weight * across * across;
                    xy += weight * across * down;
                    yy += weight * down * down;
                    xr += weight * across * misfit;
                    yr += weight * down * misfit;
                }
            }
            let determinant = xx * yy - xy * xy;
            if xx.min(yy) > 1.0 && determinant > 0.05 * xx * yy {
                let (right, down) = ((yy * xr - xy * yr) / determinant, (xx * yr - xy * xr) / determinant);
                residuals.push(right.hypot(down));
            }
        }
        residuals
    }
}

/// Share of the picture that a capture must hold.
const LEAST_INSIDE: f64 = 0.4;

/// Parts of the picture, across and down, whose places are checked.
const PARTS: (usize, usize) = (8, 6);

/// How much a cell counts: little where the misfit is more than usual, and more than what a steep cell shows that lies
/// not quite in its place.
fn weight(misfit: f64, usual: f64, (across, down): (f64, f64), beside: f64) -> f64 {
    let expected = usual * usual + beside * beside * (across * across + down * down);
    1.0 / (1.0 + misfit * misfit / expected).powi(2)
}

/// Cells by which a cell may lie beside its place and count almost in full: while the warp is still rough, and once it is
/// good.
pub(crate) const NEAR: f64 = 0.8;
pub(crate) const NEAREST: f64 = 0.5;

/// Units of a movement: halves of the picture's size, or its pixels.
#[derive(Clone, Copy)]
enum Units {
    Halves,
    Pixels,
}

/// The size of a misfit beyond which a cell counts little: twice the usual one.
fn spread(misfits: impl Iterator<Item = f32>) -> f64 {
    let mut sizes: Vec<f32> = misfits.map(f32::abs).collect();
    if sizes.is_empty() {
        return 2.0;
    }
    let middle = sizes.len() / 2;
    let (_, median, _) = sizes.select_nth_unstable_by(middle, f32::total_cmp);
    (2.0 * f64::from(*median)).clamp(0.05, 2.0)
}

/// A plane on fewer cells: means over what each covers.
fn shrunk(plane: &Plane, (columns, rows): (usize, usize)) -> Plane {
    let edge = |at: usize, cells: usize, length: usize| at as f64 * length as f64 / cells as f64;
    Plane::from_fn(columns, rows, |x, y| {
        let (left, right) = (edge(x, columns, plane.width), edge(x + 1, columns, plane.width));
        let (top, bottom) = (edge(y, rows, plane.height), edge(y + 1, rows, plane.height));
        let (mut sum, mut area) = (0.0, 0.0);
        for py in top as usize..(bottom.ceil() as usize).min(plane.height) {
            let high = (bottom.min(py as f64 + 1.0) - top.max(py as f64)).max(0.0);
            for px in left as usize..(right.ceil() as usize).min(plane.width) {
                let share = high * (right.min(px as f64 + 1.0) - left.max(px as f64)).max(0.0);
                sum += share * f64::from(plane.at(px, py));
                area += share;
            }
        }
        (sum / area.max(1e-9)) as f32
    })
}
