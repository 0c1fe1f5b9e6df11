//! The ships: a barque at anchor in the roads, a brigantine and a steamer alongside, small craft.

use super::canvas::{Canvas, Colour, chance, mixed};
use super::water::Mirror;
use super::{Place, Stretch};

const HULL: Colour = [26, 20, 38];
const HULL_LIT: Colour = [96, 54, 72];
const STRAKE: Colour = [226, 188, 162];
const SPAR: Colour = [34, 22, 36];
const SPAR_LIT: Colour = [186, 112, 88];
const ROPE: Colour = [48, 32, 54];
const SAIL: Colour = [232, 190, 168];
const SAIL_SHADE: Colour = [164, 112, 124];
const DECKHOUSE: Colour = [222, 196, 188];
const FUNNEL: Colour = [150, 48, 54];
const PORTHOLE: Colour = [255, 208, 108];
const SMOKE: Colour = [74, 54, 98];
const SMOKE_LIT: Colour = [138, 92, 122];
const PENNANTS: [Colour; 3] = [[214, 62, 66], [244, 196, 92], [86, 150, 176]];

pub(super) fn draw(canvas: &mut Canvas, stretches: &[Stretch]) {
    let without = canvas.clone();
    let berths: Vec<Berth> = stretches.iter().flat_map(berths).collect();
    for berth in &berths {
        (berth.ship)(canvas, berth.x, berth.foot);
    }
    let mirror = Mirror::new(without, canvas);
    for berth in &berths {
        mirror.draw(canvas, [berth.x - REACH, berth.x + REACH], berth.foot);
    }
}

/// Units to either side of its middle within which a ship and its ripples lie.
const REACH: f32 = 90.0;

/// A ship and the place where it lies.
struct Berth {
    ship: fn(&mut Canvas, f32, f32),
    /// Its middle.
    x: f32,
    /// Where its hull meets the water.
    foot: f32,
}

/// The ships of a stretch.
fn berths(stretch: &Stretch) -> Vec<Berth> {
    let berth = |ship, part, foot| Berth { ship, x: stretch.at(part), foot };
    match stretch.place {
        Place::Headland => vec![berth(smack, 0.2, 158.0)],
        Place::Roads => vec![berth(barque, 0.22, 146.0), berth(smack, 0.84, 153.0)],
        Place::OldQuay => vec![berth(brigantine, 0.5, 160.0)],
        Place::Cranes => vec![berth(barge, 0.5, 163.0)],
        Place::SteamerQuay => vec![berth(steamer, 0.48, 161.0)],
    }
}

/// Three masts, sails set aloft.
fn barque(canvas: &mut Canvas, x: f32, foot: f32) {
    let masts = [(0.2, 12.0), (0.47, 4.0), (0.76, 10.0)];
    sailing_ship(canvas, x, 88.0, foot, &masts, 2);
}

/// Two tall masts, sails furled.
fn brigantine(canvas: &mut Canvas, x: f32, foot: f32) {
    sailing_ship(canvas, x, 116.0, foot, &[(0.3, 6.0), (0.68, 3.0)], 0);
}

/// A hull that floats at `foot`: pointed bow to the right, raised stern, `height` from water to rail.
fn hull(canvas: &mut Canvas, x: f32, length: f32, foot: f32, height: f32) {
    let (stern, bow) = (x - length / 2.0, x + length / 2.0);
    canvas.shape([foot - height - 4.0, foot - height], HULL, |_| [stern, stern + length * 0.16]);
    canvas.shape([foot - height, foot], HULL, |y| {
        let down = (y - foot + height) / height;
        [stern + down * down * 5.0, bow - down * 9.0]
    });
    canvas.fill([stern, bow], [foot - height, foot - height + 1.0], STRAKE);
    canvas.shape([foot - height + 3.0, foot - height + 5.0], HULL_LIT, |_| [stern + 2.0, bow - 5.0]);
    let mut port = stern + 7.0;
    while port < bow - 12.0 {
        canvas.fill([port, port + 2.0], [foot - height + 3.0, foot - height + 5.0], STRAKE);
        port += 7.0;
    }
}

/// Masts are given as their place along the hull (0 stern, 1 bow) and the height of their tops;
/// the sails of the `set` uppermost yards are set, the others furled.
fn sailing_ship(canvas: &mut Canvas, x: f32, length: f32, foot: f32, masts: &[(f32, f32)], set: usize) {
    let (height, stern) = (12.0, x - length / 2.0);
    let rail = foot - height;
    let bow = stern + length;
    hull(canvas, x, length, foot, height);
    canvas.stroke((bow - 4.0, rail - 1.0), (bow + 18.0, rail - 12.0), SPAR);
    canvas.stroke((bow - 4.0, rail), (bow + 18.0, rail - 11.0), SPAR_LIT);
    let mut forward = (bow + 18.0, rail - 12.0);
    for (index, &(part, top)) in masts.iter().enumerate().rev() {
        let mast = stern + length * part;
        canvas.stroke((mast, top + 12.0), forward, ROPE);
        canvas.stroke((mast, top + 44.0), (forward.0, forward.1.max(top + 60.0)), ROPE);
        shrouds(canvas, mast, top + 46.0, rail);
        yards(canvas, mast, [top, rail], set);
        canvas.pole(mast - 1.0, 2.0, [top, rail], SPAR, SPAR_LIT);
        pennant(canvas, mast + 1.0, top, index);
        forward = (mast, top + 12.0);
    }
}

/// The yards of a mast, each with its sail below it.
fn yards(canvas: &mut Canvas, mast: f32, [top, rail]: [f32; 2], set: usize) {
    let widest = (rail - top) * 0.13;
    let reach = |storey: usize| widest * (0.58 + 0.25 * storey as f32);
    for storey in 0..4 {
        let y = top + 15.0 + 26.0 * storey as f32;
        if y > rail - 22.0 {
            break;
        }
        if storey < set {
            sail(canvas, mast, y, [reach(storey) - 1.0, reach(storey + 1) - 2.0]);
        } else {
            furled(canvas, mast, y, reach(storey) - 1.0);
        }
        canvas.fill([mast - reach(storey), mast + reach(storey)], [y, y + 1.0], SPAR);
    }
}

/// A square sail under a yard, filled by the wind, half as wide as given at its head and foot.
fn sail(canvas: &mut Canvas, mast: f32, y: f32, [head, foot]: [f32; 2]) {
    let depth = 23.0;
    let half = |at: f32| head + (foot - head) * (at - y) / depth;
    canvas.shape([y + 1.0, y + depth], SAIL, |at| [mast - half(at), mast + half(at)]);
    canvas.shape([y + 1.0, y + depth], SAIL_SHADE, |at| [mast + half(at) * 0.45, mast + half(at)]);
    for seam in [-0.5, 0.0] {
        canvas.shape([y + 1.0, y + depth - 2.0], mixed(SAIL, SAIL_SHADE, 0.5), |at| {
            [mast + half(at) * seam, mast + half(at) * seam + 1.0]
        });
    }
}

/// Bundles of canvas tied along a yard.
fn furled(canvas: &mut Canvas, mast: f32, y: f32, reach: f32) {
    let mut x = mast - reach;
    while x + 3.0 < mast + reach {
        canvas.fill([x, x + 2.0], [y + 1.0, y + 3.0], SAIL);
        canvas.fill([x + 2.0, x + 3.0], [y + 1.0, y + 2.0], SAIL_SHADE);
        x += 3.0;
    }
}

/// The ropes that hold a mast sideways, with their steps.
fn shrouds(canvas: &mut Canvas, mast: f32, top: f32, rail: f32) {
    for side in [-1.0, 1.0] {
        for foot in [5.0, 8.0, 11.0] {
            canvas.stroke((mast, top), (mast + foot * side, rail), ROPE);
        }
        let mut y = top + 18.0;
        while y < rail - 2.0 {
            let part = (y - top) / (rail - top);
            canvas.stroke((mast + 5.0 * part * side, y), (mast + 11.0 * part * side, y), ROPE);
            y += 5.0;
        }
    }
}

fn pennant(canvas: &mut Canvas, x: f32, y: f32, seed: usize) {
    canvas.shape([y, y + 5.0], PENNANTS[seed % PENNANTS.len()], |at| {
        let tail = 9.0 - (at - y - 2.5).abs() * 2.4;
        [x, x + tail]
    });
}

/// A coaster with one funnel, smoke up.
fn steamer(canvas: &mut Canvas, x: f32, foot: f32) {
    let (length, height) = (124.0, 15.0);
    let stern = x - length / 2.0;
    let rail = foot - height;
    smoke(canvas, x + 2.0, rail - 48.0);
    hull(canvas, x, length, foot, height);
    canvas.fill([stern + 6.0, stern + 34.0], [rail - 10.0, rail], DECKHOUSE);
    canvas.fill([x - 18.0, x + 30.0], [rail - 12.0, rail], DECKHOUSE);
    canvas.fill([x - 10.0, x + 22.0], [rail - 21.0, rail - 12.0], DECKHOUSE);
    canvas.fill([x - 12.0, x + 24.0], [rail - 22.0, rail - 21.0], HULL);
    canvas.fill([x - 20.0, x + 32.0], [rail - 13.0, rail - 12.0], HULL);
    for (from, to, y) in
        [(stern + 9.0, stern + 32.0, rail - 8.0), (x - 15.0, x + 28.0, rail - 9.0), (x - 8.0, x + 20.0, rail - 18.0)]
    {
        let mut pane = from;
        while pane + 3.0 <= to {
            canvas.fill([pane, pane + 3.0], [y, y + 4.0], if chance(pane as i64, 84) > 0.4 { PORTHOLE } else { HULL });
            pane += 6.0;
        }
    }
    canvas.fill([x - 3.0, x + 7.0], [rail - 46.0, rail - 22.0], FUNNEL);
    canvas.fill([x - 3.0, x - 1.0], [rail - 46.0, rail - 22.0], mixed(FUNNEL, STRAKE, 0.4));
    canvas.fill([x + 5.0, x + 7.0], [rail - 46.0, rail - 22.0], mixed(FUNNEL, HULL, 0.6));
    canvas.fill([x - 3.0, x + 7.0], [rail - 46.0, rail - 41.0], HULL);
    canvas.fill([x - 3.0, x + 7.0], [rail - 38.0, rail - 35.0], STRAKE);
    for (mast, top) in [(stern + 40.0, 8.0), (stern + length - 24.0, 5.0)] {
        canvas.stroke((mast, top + 8.0), (mast - 30.0, rail), ROPE);
        canvas.stroke((mast, top + 8.0), (mast + 22.0, rail), ROPE);
        canvas.stroke((mast, rail - 12.0), (mast + 17.0, top + 50.0), SPAR);
        canvas.pole(mast - 1.0, 2.0, [top, rail], SPAR, SPAR_LIT);
        pennant(canvas, mast + 1.0, top, mast as usize);
    }
}

/// Puffs that drift off to the left, wider and thinner as they go.
fn smoke(canvas: &mut Canvas, x: f32, y: f32) {
    for puff in 0..8 {
        let along = puff as f32;
        let middle = (x - along * 6.0 - along * along * 0.5, y - along * 4.6 + along * along * 0.1);
        let radius = 3.0 + along * 0.8 + chance(puff, 85) * 2.0;
        let thinning = 0.62 - along * 0.06;
        canvas.disc(middle, radius, |canvas, column, row| {
            let lit = canvas.units(row) < middle.1 - radius * 0.3;
            let colour = if lit { SMOKE_LIT } else { SMOKE };
            canvas.mix(column, row, colour, thinning);
        });
    }
}

/// A fishing boat under one tanned sail.
fn smack(canvas: &mut Canvas, x: f32, foot: f32) {
    let top = foot - 62.0;
    canvas.shape([top + 6.0, foot - 8.0], [178, 78, 62], |y| [x + 1.0, x + 1.0 + (y - top) * 0.36]);
    canvas.shape([top + 6.0, foot - 8.0], [120, 52, 58], |y| [x + (y - top) * 0.24, x + 1.0 + (y - top) * 0.36]);
    canvas.shape([top + 14.0, foot - 9.0], SAIL, |y| [x - 2.0 - (y - top - 12.0) * 0.26, x - 2.0]);
    canvas.pole(x - 1.0, 2.0, [top - 6.0, foot - 5.0], SPAR, SPAR_LIT);
    pennant(canvas, x + 1.0, top - 6.0, 1);
    canvas.shape([foot - 6.0, foot], HULL, |y| [x - 17.0 + (y - foot + 6.0), x + 20.0 - (y - foot + 6.0) * 1.2]);
    canvas.fill([x - 17.0, x + 20.0], [foot - 6.0, foot - 5.0], STRAKE);
}

/// A flat barge with casks.
fn barge(canvas: &mut Canvas, x: f32, foot: f32) {
    for cask in 0..7 {
        let left = x - 34.0 + cask as f32 * 9.0;
        let high = 7.0 + chance(cask, 86) * 6.0;
        canvas.fill([left, left + 7.0], [foot - 8.0 - high, foot - 6.0], [142, 84, 62]);
        canvas.fill([left, left + 1.0], [foot - 8.0 - high, foot - 6.0], STRAKE);
        canvas.fill([left + 5.0, left + 7.0], [foot - 8.0 - high, foot - 6.0], HULL_LIT);
    }
    canvas.pole(x + 34.0, 2.0, [foot - 74.0, foot - 6.0], SPAR, SPAR_LIT);
    canvas.stroke((x + 35.0, foot - 72.0), (x - 38.0, foot - 8.0), ROPE);
    pennant(canvas, x + 36.0, foot - 74.0, 2);
    canvas.shape([foot - 8.0, foot], HULL, |y| [x - 44.0 + (y - foot + 8.0), x + 46.0 - (y - foot + 8.0)]);
    canvas.fill([x - 44.0, x + 46.0], [foot - 8.0, foot - 7.0], STRAKE);
}
