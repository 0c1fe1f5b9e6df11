//! What stands on land: the headland with its lighthouse, the quay, the warehouse fronts, the cranes.

use backporch_picture::dither::threshold;

use super::canvas::{Canvas, Colour, chance, mixed, swell};
use super::water::{self, Waterline};
use super::{HORIZON, Place, QUAY_FOOT, Stretch};

/// The top of the quay, on which everything stands.
const QUAY_TOP: f32 = 136.0;

const ROCK: Colour = [44, 30, 60];
const ROCK_LIT: Colour = [112, 62, 88];
const TOWER_WHITE: Colour = [244, 222, 206];
const TOWER_RED: Colour = [176, 44, 56];
const LANTERN: Colour = [255, 244, 186];
const IRON: Colour = [22, 18, 36];
const IRON_LIT: Colour = [148, 84, 92];
const STONE: Colour = [92, 74, 92];
const STONE_LIT: Colour = [144, 112, 116];
const JOINT: Colour = [46, 36, 60];
const TIMBER: Colour = [34, 24, 40];
const TIMBER_LIT: Colour = [128, 84, 80];
const TRIM: Colour = [210, 160, 140];
const DARK_PANE: Colour = [26, 22, 48];
const LIT_PANE: Colour = [255, 208, 108];
const WARM_PANE: Colour = [255, 158, 70];
const SHUTTER: Colour = [40, 70, 84];
const BRICKS: [Colour; 7] =
    [[132, 58, 56], [86, 54, 88], [164, 92, 62], [74, 66, 104], [112, 46, 66], [144, 76, 84], [96, 74, 82]];

pub(super) fn draw(canvas: &mut Canvas, stretch: &Stretch, waterline: &mut Waterline) {
    if stretch.place.has_quay() {
        let ends = [stretch.from, stretch.to];
        waterline.lower(canvas, ends, QUAY_FOOT);
        water::far(canvas, ends, QUAY_TOP);
    }
    match stretch.place {
        Place::Headland => headland(canvas, stretch, waterline),
        Place::Roads => {}
        Place::OldQuay => fronts(canvas, [stretch.at(0.02), stretch.at(0.98)], 0),
        Place::Cranes => {
            yard(canvas, stretch);
            crane(canvas, stretch.at(0.28), -1.0);
            crane(canvas, stretch.at(0.80), -1.0);
        }
        Place::SteamerQuay => {
            fronts(canvas, [stretch.at(0.03), stretch.at(0.86)], 40);
            beacon(canvas, stretch.at(0.95));
        }
    }
    if stretch.place.has_quay() {
        quay(canvas, stretch);
    }
}

fn headland(canvas: &mut Canvas, stretch: &Stretch, waterline: &mut Waterline) {
    let (left, right) = (canvas.pixel(stretch.from), canvas.pixel(stretch.to));
    for column in left..right {
        let part = (column - left) as f32 / (right - left).max(1) as f32;
        let bulk = (part * (1.0 - part) * 4.0).sqrt();
        let foot = HORIZON + 12.0 * bulk;
        let ends = [canvas.units(column) - 0.5, canvas.units(column) + 0.5];
        waterline.lower(canvas, ends, foot);
        water::far(canvas, ends, foot);
        rock(canvas, column, part, [foot, bulk]);
    }
    cottage(canvas, stretch.at(0.72));
    lighthouse(canvas, stretch.at(0.46));
}

/// One column of rock, `part` of the way along the headland, up from `foot` as high as its bulk allows.
fn rock(canvas: &mut Canvas, column: i64, part: f32, [foot, bulk]: [f32; 2]) {
    let crag = swell(part * 22.0, 1000, 31) * 7.0 + swell(part * 7.0, 1000, 32) * 6.0;
    let top = canvas.pixel(foot - bulk * (20.0 + crag));
    for row in top..canvas.pixel(foot) {
        let facet = swell(part * 22.0 + (row - top) as f32 * 0.16, 1000, 33);
        let lit = facet > 0.52 + threshold(column, row) * 0.22;
        canvas.set(column, row, if lit { ROCK_LIT } else { ROCK });
    }
}

fn cottage(canvas: &mut Canvas, x: f32) {
    let (top, foot) = (99.0, 112.0);
    canvas.fill([x - 9.0, x + 9.0], [top, foot], TOWER_WHITE);
    canvas.fill([x + 2.0, x + 9.0], [top, foot], mixed(TOWER_WHITE, ROCK_LIT, 0.5));
    canvas.shape([top - 7.0, top], TOWER_RED, |y| {
        let half = (y - top + 7.0) * 0.7 + 5.5;
        [x - half, x + half]
    });
    canvas.fill([x + 4.0, x + 7.0], [top - 12.0, top - 4.0], ROCK);
    canvas.fill([x - 6.0, x - 3.0], [top + 3.0, top + 7.0], LIT_PANE);
    canvas.fill([x + 3.0, x + 6.0], [top + 3.0, top + 7.0], WARM_PANE);
    canvas.fill([x - 1.0, x + 1.0], [top + 4.0, foot], ROCK);
}

fn lighthouse(canvas: &mut Canvas, x: f32) {
    let (top, foot) = (34.0, 112.0);
    beams(canvas, x, top - 7.0);
    let half = |y: f32| 5.5 + (y - top) / (foot - top) * 4.5;
    for band in 0..6 {
        let from = top + (foot - top) * band as f32 / 6.0;
        let to = top + (foot - top) * (band + 1) as f32 / 6.0;
        let colour = if band % 2 == 0 { TOWER_WHITE } else { TOWER_RED };
        canvas.shape([from, to], colour, |y| [x - half(y), x + half(y)]);
        canvas.shape([from, to], mixed(colour, ROCK, 0.45), |y| [x + half(y) * 0.35, x + half(y)]);
        canvas.shape([from, to], mixed(colour, ROCK, 0.68), |y| [x + half(y) * 0.75, x + half(y)]);
    }
    for sill in [48.0, 74.0, 100.0] {
        canvas.fill([x - 2.0, x], [sill, sill + 5.0], DARK_PANE);
    }
    canvas.fill([x - 9.0, x + 9.0], [top - 2.0, top], IRON);
    for rail in [-8.0, -5.0, 4.0, 7.0] {
        canvas.fill([x + rail, x + rail + 1.0], [top - 6.0, top], IRON);
    }
    canvas.fill([x - 4.0, x + 4.0], [top - 13.0, top - 2.0], LANTERN);
    canvas.fill([x - 4.0, x - 3.0], [top - 13.0, top - 2.0], IRON);
    canvas.fill([x + 3.0, x + 4.0], [top - 13.0, top - 2.0], IRON);
    canvas.fill([x - 0.5, x + 0.5], [top - 13.0, top - 2.0], TOWER_RED);
    canvas.shape([top - 19.0, top - 13.0], TOWER_RED, |y| {
        let half = (y - top + 19.0) * 0.9;
        [x - half, x + half]
    });
    canvas.fill([x - 0.5, x + 0.5], [3.0, top - 18.0], IRON);
}

/// Two wedges of light from the lantern, fading outwards in dithered steps.
fn beams(canvas: &mut Canvas, x: f32, y: f32) {
    let reach = 120.0_f32.min(canvas.period() * 0.4);
    let (near, far) = (canvas.pixel(x - reach), canvas.pixel(x + reach));
    for column in near..far {
        let out = (canvas.units(column) - x).abs();
        let half = 1.0 + out * 0.075;
        let lift = out * 0.05;
        for row in canvas.pixel(y - lift - half)..canvas.pixel(y - lift + half) {
            let part = (1.0 - out / reach) * 0.5;
            let step = (part * 6.0 + threshold(column, row) - 0.5).round() / 6.0;
            canvas.mix(column, row, LANTERN, step);
        }
    }
}

/// Tall fronts side by side between two points, `seed` choosing their looks.
fn fronts(canvas: &mut Canvas, [from, to]: [f32; 2], seed: i64) {
    let mut x = from;
    let mut house = seed;
    loop {
        let width = 20.0 + (chance(house, 41) * 3.0).floor() * 4.0;
        if x + width > to {
            break;
        }
        front(canvas, x, width, house);
        x += width;
        house += 1;
    }
}

fn front(canvas: &mut Canvas, x: f32, width: f32, house: i64) {
    let wall = BRICKS[house.rem_euclid(BRICKS.len() as i64) as usize];
    let eaves = 74.0 + (chance(house, 42) * 5.0).floor() * 5.0;
    let (left, right) = (x + 0.5, x + width - 0.5);
    canvas.fill([left, right], [eaves, QUAY_TOP], wall);
    canvas.fill([left, left + 1.0], [eaves, QUAY_TOP], mixed(wall, TRIM, 0.55));
    canvas.fill([right - 2.0, right], [eaves, QUAY_TOP], mixed(wall, IRON, 0.55));
    gable(canvas, [left, right], eaves, wall, house);
    windows(canvas, [left, right], eaves, house);
    let middle = (left + right) / 2.0;
    canvas.fill([middle - 3.0, middle + 3.0], [QUAY_TOP - 13.0, QUAY_TOP], mixed(wall, TRIM, 0.7));
    canvas.fill([middle - 2.0, middle + 2.0], [QUAY_TOP - 12.0, QUAY_TOP], TIMBER);
}

fn gable(canvas: &mut Canvas, [left, right]: [f32; 2], eaves: f32, wall: Colour, house: i64) {
    let (middle, half) = ((left + right) / 2.0, (right - left) / 2.0);
    let trim = mixed(wall, TRIM, 0.75);
    let (top, outline): (f32, Box<dyn Fn(f32) -> f32>) = match house.rem_euclid(4) {
        // Stepped.
        0 => (eaves - 18.0, Box::new(move |down| ((down / 4.5).floor() + 1.0) / 4.5 * half)),
        // Necked: narrow above, spreading to the shoulders.
        1 => (
            eaves - 18.0,
            Box::new(move |down| if down < 10.0 { half * 0.5 } else { half * (0.5 + 0.5 * ((down - 10.0) / 8.0)) }),
        ),
        // Pointed.
        2 => (eaves - 20.0, Box::new(move |down| down / 20.0 * half + 1.0)),
        // Flat with a cornice.
        _ => (eaves - 7.0, Box::new(move |_| half)),
    };
    canvas.shape([top, eaves], trim, |y| {
        let reach = outline(y - top).min(half);
        [middle - reach, middle + reach]
    });
    canvas.shape([top + 2.0, eaves], wall, |y| {
        let reach = outline(y - top - 2.0).min(half) - 1.5;
        [middle - reach, middle + reach]
    });
    canvas.fill([left, right], [eaves - 1.0, eaves], trim);
    canvas.fill([middle - 2.0, middle + 2.0], [eaves - 8.0, eaves - 3.0], pane(house, 90));
    // The hoist: a beam over the water side and its rope.
    canvas.fill([middle, middle + 1.0], [top - 5.0 - chance(house, 43) * 22.0, top], IRON);
    if house % 3 == 1 {
        canvas.fill([left + 2.0, left + 5.0], [top - 4.0, eaves], mixed(wall, IRON, 0.4));
    }
}

fn pane(house: i64, window: i64) -> Colour {
    match (chance(house, 300 + window) * 10.0) as u8 {
        0..=2 => LIT_PANE,
        3..=4 => WARM_PANE,
        _ => DARK_PANE,
    }
}

fn windows(canvas: &mut Canvas, [left, right]: [f32; 2], eaves: f32, house: i64) {
    let columns = if right - left > 23.0 { 3 } else { 2 };
    let pitch = (right - left - 2.0) / columns as f32;
    let mut top = eaves + 4.0;
    let mut storey = 0;
    while top + 8.0 < QUAY_TOP - 13.0 {
        for column in 0..columns {
            let middle = left + 0.5 + pitch * (column as f32 + 0.5);
            let glass = pane(house, storey * 4 + column);
            canvas.fill([middle - 2.5, middle + 2.5], [top - 1.0, top + 8.0], mixed(TRIM, IRON, 0.35));
            canvas.fill([middle - 1.5, middle + 1.5], [top, top + 7.0], glass);
            canvas.fill([middle - 2.0, middle + 2.0], [top + 3.0, top + 4.0], mixed(TRIM, IRON, 0.35));
            if house % 2 == 0 && glass == DARK_PANE {
                canvas.fill([middle - 1.5, middle], [top, top + 7.0], SHUTTER);
            }
        }
        top += 12.0;
        storey += 1;
    }
}

/// A portal crane; `way` is 1 with the jib to the right, -1 to the left.
fn crane(canvas: &mut Canvas, x: f32, way: f32) {
    let (head, knee) = (42.0, 104.0);
    lattice(canvas, x, [head, knee], 10.0);
    for leg in [-15.0, -11.0, 9.0, 13.0] {
        canvas.pole(x + leg, 2.0, [knee, QUAY_TOP], IRON, IRON_LIT);
    }
    canvas.fill([x - 16.0, x + 16.0], [knee - 2.0, knee + 3.0], IRON);
    canvas.fill([x - 16.0, x + 16.0], [knee - 2.0, knee - 1.0], IRON_LIT);
    canvas.stroke((x - 13.0, QUAY_TOP), (x + 13.0, knee + 2.0), IRON);
    canvas.stroke((x + 13.0, QUAY_TOP), (x - 13.0, knee + 2.0), IRON);
    canvas.fill([x - 8.0, x + 8.0], [head - 6.0, head + 6.0], IRON);
    canvas.fill([x - 8.0, x - 7.0], [head - 6.0, head + 6.0], IRON_LIT);
    canvas.fill([x - 4.0, x + 1.0], [head - 3.0, head + 2.0], LIT_PANE);
    jib(canvas, (x + 5.0 * way, head - 2.0), (x + 42.0 * way, 5.0));
    canvas.stroke((x - 6.0 * way, head - 20.0), (x + 42.0 * way, 5.0), IRON);
    canvas.pole(x - 6.0 * way, 2.0, [head - 22.0, head], IRON, IRON_LIT);
    canvas.stroke((x - 6.0 * way, head - 20.0), (x - 17.0 * way, head + 2.0), IRON);
    canvas.fill(
        [(x - 17.0 * way).min(x - 11.0 * way), (x - 17.0 * way).max(x - 11.0 * way)],
        [head - 1.0, head + 7.0],
        IRON,
    );
    canvas.fill([x + 42.0 * way, x + 42.0 * way + 1.0], [5.0, 90.0], IRON);
    canvas.fill([x + 42.0 * way - 4.0, x + 42.0 * way + 5.0], [90.0, 98.0], TIMBER);
    canvas.fill([x + 42.0 * way - 4.0, x + 42.0 * way - 3.0], [90.0, 98.0], TIMBER_LIT);
}

/// A braced mast about `x`, `width` units over its legs.
fn lattice(canvas: &mut Canvas, x: f32, [top, foot]: [f32; 2], width: f32) {
    let half = width / 2.0;
    let mut y = foot;
    while y > top {
        let next = (y - width).max(top);
        canvas.stroke((x - half, y), (x + half, next), IRON);
        canvas.stroke((x + half, y), (x - half, next), IRON);
        y = next;
    }
    canvas.pole(x - half, 2.0, [top, foot], IRON, IRON_LIT);
    canvas.pole(x + half - 1.0, 2.0, [top, foot], IRON, IRON_LIT);
}

/// Two chords that meet at the tip, with bracing between.
fn jib(canvas: &mut Canvas, foot: (f32, f32), tip: (f32, f32)) {
    let along = |part: f32, drop: f32| {
        (foot.0 + (tip.0 - foot.0) * part, foot.1 + (tip.1 - foot.1) * part + drop * (1.0 - part))
    };
    canvas.stroke(along(0.0, 0.0), tip, IRON);
    canvas.stroke(along(0.0, 9.0), tip, IRON);
    for brace in 0..8 {
        let (part, next) = (brace as f32 / 8.0, (brace + 1) as f32 / 8.0);
        canvas.stroke(along(part, 0.0), along(next, 9.0), IRON);
        canvas.stroke(along(part, 9.0), along(part, 0.0), IRON_LIT);
    }
}

/// Goods between the cranes, and a low shed behind.
fn yard(canvas: &mut Canvas, stretch: &Stretch) {
    let (left, right) = (stretch.at(0.03), stretch.at(0.97));
    canvas.fill([left, right], [116.0, QUAY_TOP], mixed(BRICKS[3], IRON, 0.45));
    canvas.fill([left, right], [113.0, 116.0], IRON);
    let mut x = left + 2.0;
    while x + 5.0 < right {
        canvas.fill([x, x + 1.0], [116.0, QUAY_TOP], mixed(BRICKS[3], TRIM, 0.30));
        canvas.fill([x + 3.0, x + 6.0], [119.0, 124.0], pane((x * 3.0) as i64, 7));
        x += 8.0;
    }
    let mut stack = 0;
    let mut x = left + 4.0;
    while x + 12.0 < right {
        let height = 5.0 + (chance(stack, 61) * 3.0).floor() * 4.0;
        let colour = mixed(BRICKS[2], TIMBER, chance(stack, 62) * 0.6);
        canvas.fill([x, x + 9.0], [QUAY_TOP - height, QUAY_TOP], colour);
        canvas.fill([x, x + 1.0], [QUAY_TOP - height, QUAY_TOP], TRIM);
        canvas.fill([x + 8.0, x + 9.0], [QUAY_TOP - height, QUAY_TOP], TIMBER);
        canvas.fill([x + 4.0, x + 5.0], [QUAY_TOP - height, QUAY_TOP], TIMBER);
        x += 12.0 + (chance(stack, 63) * 10.0).floor();
        stack += 1;
    }
}

/// The light at the end of the quay.
fn beacon(canvas: &mut Canvas, x: f32) {
    lattice(canvas, x, [60.0, QUAY_TOP], 8.0);
    canvas.fill([x - 6.0, x + 7.0], [58.0, 60.0], IRON);
    canvas.fill([x - 3.0, x + 4.0], [48.0, 58.0], [255, 96, 84]);
    canvas.fill([x - 3.0, x - 2.0], [48.0, 58.0], IRON);
    canvas.fill([x + 3.0, x + 4.0], [48.0, 58.0], IRON);
    canvas.fill([x - 4.0, x + 5.0], [46.0, 48.0], IRON);
    canvas.fill([x, x + 1.0], [10.0, 46.0], IRON);
}

/// The wall that the shore buildings stand on, with courses of stone and timber fenders.
fn quay(canvas: &mut Canvas, stretch: &Stretch) {
    let (left, right) = (stretch.from, stretch.to);
    canvas.fill([left, right], [QUAY_TOP, QUAY_FOOT], STONE);
    canvas.fill([left, right], [QUAY_TOP, QUAY_TOP + 2.0], STONE_LIT);
    for course in 0..3 {
        let y = QUAY_TOP + 2.0 + course as f32 * 4.0;
        canvas.fill([left, right], [y + 3.0, y + 4.0], JOINT);
        let mut x = left + if course % 2 == 0 { 5.0 } else { 1.0 };
        while x < right {
            canvas.fill([x, x + 1.0], [y, y + 3.0], JOINT);
            x += 9.0;
        }
    }
    let mut x = left + 6.0;
    while x + 4.0 < right {
        canvas.pole(x, 4.0, [QUAY_TOP - 4.0, QUAY_FOOT], TIMBER, TIMBER_LIT);
        x += 21.0;
    }
}
