//! The water: what is above it upside down, drawn out and rippled, with glints of the sky.

use backporch_picture::dither::threshold;

use super::canvas::{Canvas, Colour, chance, mixed, swell};
use super::{HORIZON, JETTY_EDGE, SCENE_HEIGHT};

const NEAR_WATER: Colour = [10, 14, 44];
const FAR_WATER: Colour = [62, 44, 104];
const GLINT: Colour = [255, 206, 148];

/// Units of the scene that one unit of reflection shows.
const FORESHORTENING: f32 = 2.1;

/// Where the water begins, column by column.
pub(super) struct Waterline {
    rows: Vec<i64>,
}

impl Waterline {
    /// Water up to the horizon everywhere.
    pub(super) fn open_sea(canvas: &Canvas) -> Self {
        let columns = usize::try_from(canvas.columns()).unwrap_or(0);
        Self { rows: vec![canvas.pixel(HORIZON); columns] }
    }

    /// Land down to `foot` between two points.
    pub(super) fn lower(&mut self, canvas: &Canvas, [from, to]: [f32; 2], foot: f32) {
        for column in canvas.pixel(from)..canvas.pixel(to) {
            let index = column.rem_euclid(canvas.columns()) as usize;
            if let Some(row) = self.rows.get_mut(index) {
                *row = canvas.pixel(foot);
            }
        }
    }
}

pub(super) fn draw(canvas: &mut Canvas, waterline: &Waterline) {
    let bottom = water_end(canvas);
    let above = canvas.clone();
    for (column, &top) in (0..).zip(&waterline.rows) {
        for row in top..bottom {
            let (x, y) = source(canvas, column, row, top);
            veil(canvas, column, row, above.colour(x, y));
        }
    }
    glints(canvas, waterline);
}

/// Open water as seen far off, from the horizon down to `foot`, where land hides its reflections.
pub(super) fn far(canvas: &mut Canvas, [from, to]: [f32; 2], foot: f32) {
    for row in canvas.pixel(HORIZON)..canvas.pixel(foot) {
        for column in canvas.pixel(from)..canvas.pixel(to) {
            let bright = chance(column / 3, row) * 0.35;
            canvas.set(column, row, mixed(FAR_WATER, GLINT, bright * bright * 4.0));
        }
    }
}

/// A scene before and after the ships were drawn into it, to tell their pixels from the others.
pub(super) struct Mirror {
    without: Canvas,
    with: Canvas,
}

impl Mirror {
    pub(super) fn new(without: Canvas, with: &Canvas) -> Self {
        let with = with.clone();
        Self { without, with }
    }

    fn is_ship(&self, column: i64, row: i64) -> bool {
        self.with.colour(column, row) != self.without.colour(column, row)
    }

    /// Draws the reflection of a ship that floats at `foot` between two points: only those ripples
    /// change that show a part of it.
    pub(super) fn draw(&self, canvas: &mut Canvas, [from, to]: [f32; 2], foot: f32) {
        let top = canvas.pixel(foot);
        for row in top..water_end(canvas) {
            for column in canvas.pixel(from)..canvas.pixel(to) {
                let (x, y) = source(canvas, column, row, top);
                if self.is_ship(x, y) && !self.is_ship(column, row) {
                    veil(canvas, column, row, self.with.colour(x, y));
                }
            }
        }
    }
}

fn water_end(canvas: &Canvas) -> i64 {
    canvas.pixel(JETTY_EDGE).min(canvas.rows())
}

/// How far towards the eye a row lies, 0 at the horizon.
fn nearness(canvas: &Canvas, row: i64) -> f32 {
    (canvas.units(row) - HORIZON) / (SCENE_HEIGHT - HORIZON)
}

/// The pixel whose reflection is seen at a place on water that begins at row `top`.
fn source(canvas: &Canvas, column: i64, row: i64, top: i64) -> (i64, i64) {
    let depth = canvas.units(row) - canvas.units(top);
    let near = nearness(canvas, row);
    // A ripple is as tall as it is near; its pixels lean alike.
    let ripple = (canvas.units(row) / (1.0 + near * 2.2)).floor() as i64;
    let cells = (canvas.period() / 24.0).round().max(1.0) as i64;
    let along = canvas.units(column) * cells as f32 / canvas.period();
    let lean = (swell(along, cells, ripple) - 0.5) * (1.5 + near * 6.0);
    let up = top - 1 - canvas.pixel(depth * FORESHORTENING);
    (column + canvas.pixel(lean), up)
}

/// Sets a pixel to what is seen in the water there, under the colour of the water itself.
fn veil(canvas: &mut Canvas, column: i64, row: i64, seen: Colour) {
    let near = nearness(canvas, row);
    let water = mixed(FAR_WATER, NEAR_WATER, near * 1.1);
    let steps = 6.0;
    let part = ((0.22 + near * 0.42) * steps + threshold(column, row) - 0.5).round() / steps;
    canvas.set(column, row, mixed(seen, water, part));
}

/// Short level strokes that catch the sky, thinner and closer far away.
fn glints(canvas: &mut Canvas, waterline: &Waterline) {
    let count = canvas.period() as i64 * 2;
    for glint in 0..count {
        let x = chance(glint, 71) * canvas.period();
        let far = chance(glint, 72);
        let y = HORIZON + 2.0 + far * far * (JETTY_EDGE - HORIZON - 2.0);
        let row = canvas.pixel(y);
        let length = 2.0 + nearness(canvas, row) * 9.0 * chance(glint, 73);
        let first = canvas.pixel(x);
        for column in first..=canvas.pixel(x + length) {
            let index = column.rem_euclid(canvas.columns()) as usize;
            let is_water = waterline.rows.get(index).is_some_and(|top| row > *top + 1);
            if is_water {
                let here = canvas.colour(column, row);
                // Bright where the water is bright already: the sun's path sparkles most.
                let bright = f32::from(here[0]) / 255.0;
                canvas.mix(column, row, GLINT, 0.10 + bright * 0.55);
            }
        }
    }
}
