//! Everything behind the shore: the graded sky with sun, moon, stars and clouds, and the far hills.

use backporch_picture::dither::threshold;

use super::canvas::{Canvas, Colour, chance, mixed, swell};
use super::{HORIZON, Place, Stretch};

/// The sky from the zenith (0) to the horizon (1).
const SKY: [(f32, Colour); 8] = [
    (0.00, [12, 14, 50]),
    (0.22, [32, 28, 88]),
    (0.42, [78, 40, 118]),
    (0.60, [146, 56, 124]),
    (0.76, [212, 88, 100]),
    (0.88, [246, 142, 84]),
    (0.96, [255, 192, 108]),
    (1.00, [255, 222, 150]),
];
/// Bands the sky is graded in; neighbours are dithered into each other.
const BANDS: f32 = 22.0;

const SUN: Colour = [255, 236, 170];
const SUN_LOW: Colour = [255, 176, 92];
const SUN_RADIUS: f32 = 21.0;
const SUN_HEIGHT: f32 = 86.0;
const GLOW: Colour = [255, 214, 140];
const MOON: Colour = [236, 232, 214];
const STAR: Colour = [222, 220, 240];
const CLOUD_TOP: Colour = [92, 52, 112];
const CLOUD_LIT: Colour = [255, 158, 118];
const FAR_HILLS: Colour = [132, 66, 112];
const NEAR_HILLS: Colour = [78, 44, 92];
const TOWN: Colour = [54, 34, 76];
const TOWN_LIGHT: Colour = [255, 204, 116];

pub(super) fn draw(canvas: &mut Canvas, stretches: &[Stretch]) {
    let sun = place_of(stretches, Place::Roads, 0.55);
    bands(canvas, sun);
    stars(canvas);
    if let Some(moon) = place_of(stretches, Place::Cranes, 0.92) {
        crescent(canvas, moon);
    }
    clouds(canvas);
    if let Some(sun) = sun {
        sun_disc(canvas, sun);
    }
    hills(canvas, 7.0, 96.0, 14.0, FAR_HILLS, 11);
    hills(canvas, 13.0, 106.0, 10.0, NEAR_HILLS, 12);
    town(canvas);
}

fn place_of(stretches: &[Stretch], place: Place, part: f32) -> Option<f32> {
    let stretch = stretches.iter().find(|stretch| stretch.place == place)?;
    Some(stretch.at(part))
}

/// The colour `part` of the way down a list of stops.
fn graded(stops: &[(f32, Colour)], part: f32) -> Colour {
    for pair in stops.windows(2) {
        let [(from, above), (to, below)] = [pair[0], pair[1]];
        if part <= to {
            return mixed(above, below, (part - from) / (to - from));
        }
    }
    stops.last().map_or([0; 3], |stop| stop.1)
}

/// Distance from one point to another the shorter way round.
fn apart(canvas: &Canvas, a: f32, b: f32) -> f32 {
    let gap = (a - b).abs();
    gap.min(canvas.period() - gap)
}

fn bands(canvas: &mut Canvas, sun: Option<f32>) {
    for row in 0..canvas.pixel(HORIZON) {
        let y = canvas.units(row);
        for column in 0..canvas.columns() {
            let dither = threshold(column, row);
            let band = (y / HORIZON * BANDS + dither).floor() / BANDS;
            let mut colour = graded(&SKY, band);
            if let Some(sun) = sun {
                let across = apart(canvas, canvas.units(column), sun) / 1.5;
                let up = SUN_HEIGHT - y;
                let near = 1.0 - (across * across + up * up).sqrt() / 72.0;
                let step = (near.max(0.0) * 8.0 + threshold(column + 3, row + 5) - 0.5).round() / 8.0;
                colour = mixed(colour, GLOW, step.max(0.0) * 0.75);
            }
            canvas.set(column, row, colour);
        }
    }
}

fn stars(canvas: &mut Canvas) {
    let count = canvas.period() as i64 / 5;
    for star in 0..count {
        let x = chance(star, 1) * canvas.period();
        let depth = chance(star, 2);
        let y = depth * depth * 62.0;
        let bright = 0.35 + 0.6 * chance(star, 3) * (1.0 - y / 70.0);
        let (column, row) = (canvas.pixel(x), canvas.pixel(y));
        canvas.mix(column, row, STAR, bright);
        if star % 9 == 0 {
            for (across, down) in [(1, 0), (-1, 0), (0, 1), (0, -1)] {
                canvas.mix(column + across, row + down, STAR, bright * 0.4);
            }
        }
    }
}

fn crescent(canvas: &mut Canvas, x: f32) {
    let (y, radius) = (24.0, 7.5);
    canvas.disc((x, y), radius, |canvas, column, row| {
        let (across, down) = (canvas.units(column) - (x - 3.4), canvas.units(row) - (y - 1.8));
        if across * across + down * down > radius * radius {
            canvas.set(column, row, MOON);
        }
    });
}

fn sun_disc(canvas: &mut Canvas, x: f32) {
    canvas.disc((x, SUN_HEIGHT), SUN_RADIUS, |canvas, column, row| {
        let down = canvas.units(row) - SUN_HEIGHT;
        // Thin bars of haze, denser towards the horizon.
        let haze = down > 0.0 && (down / 3.5).fract() < 0.10 + down / 44.0;
        if !haze {
            let low = (down / SUN_RADIUS * 0.5 + 0.5) * 6.0;
            let part = (low + threshold(column, row)).floor() / 6.0;
            canvas.set(column, row, mixed(SUN, SUN_LOW, part * 0.8));
        }
    });
}

fn clouds(canvas: &mut Canvas) {
    let cells = |size: f32| (canvas.period() / size).round().max(1.0) as i64;
    let (wide, fine) = (cells(64.0), cells(19.0));
    let per_unit = |cells: i64| cells as f32 / canvas.period();
    let (wide_step, fine_step) = (per_unit(wide), per_unit(fine));
    for row in canvas.pixel(22.0)..canvas.pixel(98.0) {
        let y = canvas.units(row);
        // Long streaks: each height has its own drift, heights next to each other share most of it.
        let layer = (y / 6.5).floor();
        let within = (y / 6.5).fract();
        let lens = 1.0 - (2.0 * within - 1.0) * (2.0 * within - 1.0);
        for column in 0..canvas.columns() {
            let x = canvas.units(column);
            let drift = swell(x * wide_step, wide, 100 + layer as i64) * 0.72
                + swell(x * fine_step, fine, 200 + layer as i64) * 0.28;
            let body = drift * (0.55 + 0.45 * lens) - 0.56;
            let edge = (threshold(column, row) - 0.5) * 0.10;
            if body + edge > 0.0 {
                let lit = ((within - 0.35) * 1.5 + (threshold(column + 1, row + 2) - 0.5) * 0.5).clamp(0.0, 1.0);
                let colour = mixed(CLOUD_TOP, CLOUD_LIT, lit * (0.25 + 0.75 * y / 98.0));
                canvas.mix(column, row, colour, 0.80);
            }
        }
    }
}

fn hills(canvas: &mut Canvas, cells: f32, top: f32, rise: f32, colour: Colour, seed: i64) {
    let count = (cells * canvas.period() / 768.0).round().max(1.0) as i64;
    let per_unit = count as f32 / canvas.period();
    for column in 0..canvas.columns() {
        let at = canvas.units(column) * per_unit;
        let height = swell(at, count, seed) * 0.75 + swell(at * 4.0, count * 4, seed + 50) * 0.25;
        let first = canvas.pixel(top + rise * (1.0 - height));
        for row in first..canvas.pixel(HORIZON) {
            let part = (row - first) as f32 / (canvas.pixel(HORIZON) - first).max(1) as f32;
            let misty = (part * 5.0 + threshold(column, row)).floor() / 5.0 * 0.28;
            canvas.set(column, row, mixed(colour, GLOW, misty));
        }
    }
}

/// Roofs and spires along the far shore.
fn town(canvas: &mut Canvas) {
    let mut x = 3.0;
    let mut house = 0;
    while x + 9.0 < canvas.period() {
        let width = 4.0 + chance(house, 21) * 6.0;
        let height = 4.0 + chance(house, 22) * 7.0;
        canvas.fill([x, x + width], [HORIZON - height, HORIZON], TOWN);
        if house % 7 == 3 {
            let tower = HORIZON - height - 9.0;
            canvas.fill([x + 1.0, x + 4.0], [tower, HORIZON], TOWN);
            canvas.shape([tower - 9.0, tower], TOWN, |y| {
                let half = (y - tower + 9.0) / 9.0 * 2.0;
                [x + 2.5 - half, x + 2.5 + half]
            });
        }
        if chance(house, 23) > 0.45 {
            let (column, row) = (canvas.pixel(x + 2.0), canvas.pixel(HORIZON - height / 2.0));
            canvas.set(column, row, TOWN_LIGHT);
        }
        x += width + chance(house, 24) * 5.0;
        house += 1;
    }
}
