//! Nearest to the eye: the planked jetty, its bollards and lamps, and mooring posts in the water.

use backporch_picture::dither::threshold;

use super::canvas::{Canvas, Colour, chance, mixed};
use super::{JETTY_EDGE, SCENE_HEIGHT};

const PLANK: Colour = [104, 66, 66];
const PLANK_DARK: Colour = [66, 42, 56];
const GAP: Colour = [22, 16, 30];
const EDGE: Colour = [166, 110, 92];
const POST: Colour = [30, 22, 38];
const POST_LIT: Colour = [156, 96, 84];
const ROPE_COLOUR: Colour = [214, 170, 122];
const IRON: Colour = [20, 16, 32];
const IRON_LIT: Colour = [132, 92, 108];
const FLAME: Colour = [255, 232, 160];

/// Units from one lamp to the next, about.
const LAMP_PITCH: f32 = 128.0;

pub(super) fn draw(canvas: &mut Canvas) {
    let bays = (canvas.period() / LAMP_PITCH).round().max(1.0);
    let pitch = canvas.period() / bays;
    for bay in 0..bays as i64 {
        let left = bay as f32 * pitch;
        for (part, top) in [(0.16, 166.0), (0.205, 158.0), (0.25, 170.0), (0.72, 164.0), (0.765, 172.0)] {
            let height = top + chance(bay, (part * 100.0) as i64) * 6.0;
            post(canvas, left + pitch * part, height);
        }
    }
    planks(canvas);
    for bay in 0..bays as i64 {
        let left = bay as f32 * pitch;
        bollard(canvas, left + pitch * 0.36);
        bollard(canvas, left + pitch * 0.88);
        coil(canvas, left + pitch * 0.62);
        lamp(canvas, left + pitch * 0.5);
    }
}

fn planks(canvas: &mut Canvas) {
    let count = (canvas.period() / 7.0).round().max(1.0);
    let width = canvas.period() / count;
    for plank in 0..count as i64 {
        let left = plank as f32 * width;
        let colour = mixed(PLANK, PLANK_DARK, chance(plank, 91));
        canvas.fill([left, left + width], [JETTY_EDGE, SCENE_HEIGHT], colour);
        canvas.fill([left + 1.0, left + 2.0], [JETTY_EDGE + 3.0, SCENE_HEIGHT], mixed(colour, EDGE, 0.35));
        canvas.fill([left, left + 1.0], [JETTY_EDGE + 2.0, SCENE_HEIGHT], GAP);
    }
    let period = canvas.period();
    canvas.fill([0.0, period], [JETTY_EDGE, JETTY_EDGE + 1.0], EDGE);
    for plank in 0..count as i64 {
        let left = plank as f32 * width;
        canvas.fill([left, left + 1.0], [JETTY_EDGE, JETTY_EDGE + 1.0], GAP);
    }
}

fn post(canvas: &mut Canvas, x: f32, top: f32) {
    canvas.pole(x, 5.0, [top, JETTY_EDGE], POST, POST_LIT);
    canvas.fill([x, x + 5.0], [top, top + 1.0], POST_LIT);
    canvas.fill([x, x + 5.0], [top + 5.0, top + 7.0], ROPE_COLOUR);
    canvas.fill([x + 2.0, x + 3.0], [top + 5.0, top + 7.0], POST);
}

fn bollard(canvas: &mut Canvas, x: f32) {
    let foot = SCENE_HEIGHT - 4.0;
    canvas.fill([x - 4.0, x + 4.0], [foot - 15.0, foot], IRON);
    canvas.fill([x - 4.0, x - 2.0], [foot - 15.0, foot], IRON_LIT);
    canvas.fill([x - 6.0, x + 6.0], [foot - 18.0, foot - 13.0], IRON);
    canvas.fill([x - 6.0, x + 6.0], [foot - 18.0, foot - 17.0], IRON_LIT);
    canvas.fill([x - 6.0, x + 6.0], [foot - 2.0, foot], IRON);
    for turn in [6.0, 9.0] {
        canvas.fill([x - 5.0, x + 5.0], [foot - turn, foot - turn + 2.0], ROPE_COLOUR);
    }
}

fn coil(canvas: &mut Canvas, x: f32) {
    for turn in 0..4 {
        let half = 9.0 - turn as f32;
        let y = SCENE_HEIGHT - 4.0 - turn as f32 * 2.0;
        canvas.fill([x - half, x + half], [y, y + 1.0], ROPE_COLOUR);
        canvas.fill([x - half, x + half], [y + 1.0, y + 2.0], mixed(ROPE_COLOUR, GAP, 0.6));
    }
}

fn lamp(canvas: &mut Canvas, x: f32) {
    let top = 132.0;
    glow(canvas, x + 1.0, top - 5.0);
    canvas.pole(x, 2.0, [top, SCENE_HEIGHT - 2.0], IRON, IRON_LIT);
    canvas.fill([x - 2.0, x + 4.0], [SCENE_HEIGHT - 12.0, SCENE_HEIGHT - 2.0], IRON);
    canvas.fill([x - 2.0, x - 1.0], [SCENE_HEIGHT - 12.0, SCENE_HEIGHT - 2.0], IRON_LIT);
    canvas.fill([x - 4.0, x + 6.0], [top - 1.0, top], IRON);
    canvas.shape([top - 10.0, top - 1.0], FLAME, |y| {
        let half = 2.5 + (top - 1.0 - y) * 0.15;
        [x + 1.0 - half, x + 1.0 + half]
    });
    canvas.fill([x - 3.0, x - 2.0], [top - 10.0, top], IRON);
    canvas.fill([x + 4.0, x + 5.0], [top - 10.0, top], IRON);
    canvas.fill([x - 4.0, x + 6.0], [top - 12.0, top - 10.0], IRON);
    canvas.fill([x, x + 2.0], [top - 15.0, top - 12.0], IRON);
}

/// Light round a lamp, in dithered steps.
fn glow(canvas: &mut Canvas, x: f32, y: f32) {
    let radius = 15.0;
    for row in canvas.pixel(y - radius)..canvas.pixel(y + radius) {
        for column in canvas.pixel(x - radius)..canvas.pixel(x + radius) {
            let (across, down) = (canvas.units(column) - x, canvas.units(row) - y);
            let near = 1.0 - (across * across + down * down).sqrt() / radius;
            let step = (near * 5.0 + threshold(column, row) - 0.5).round() / 5.0;
            canvas.mix(column, row, FLAME, step.max(0.0) * 0.6);
        }
    }
}
