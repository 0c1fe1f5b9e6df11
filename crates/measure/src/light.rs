//! How colours of the picture come out in the capture: blur, colour, light and noise.
//!
//! A screen is blurred in light, not in the numbers of a picture file. What comes of it goes through the colours of tube
//! and camera (a curve a channel, and what the channels give to each other), is brighter here and darker there (a smooth
//! gain) and veiled by light on the glass (a smooth offset). All of it is fitted robustly: damaged lines do not count.

use crate::expected::{Expected, Rgb8};
use crate::least_squares::LeastSquares;

/// Red, green and blue; linear light from 0 to 1, or numbers as in a picture file from 0 to 255.
pub(crate) type Colour = [f32; 3];

/// The capture on the picture's own pixels.
#[derive(Clone, Debug)]
pub(crate) struct Rectified {
    pub width: usize,
    pub height: usize,
    pub pixels: Vec<Colour>,
    /// Whether a pixel lies inside the capture, and none of its colours is clipped.
    pub usable: Vec<bool>,
}

/// Numbers of a picture file as light (sRGB, IEC 61966-2-1).
pub(crate) struct LightTables {
    light: [f32; 256],
    coded: Vec<f32>,
}

const CODES: usize = 4096;

impl LightTables {
    pub fn new() -> Self {
        let light = |code: usize| {
            let value = code as f32 / 255.0;
            if value <= 0.040_45 { value / 12.92 } else { ((value + 0.055) / 1.055).powf(2.4) }
        };
        let code = |at: usize| {
            let light = at as f32 / (CODES - 1) as f32;
            255.0 * if light <= 0.003_130_8 { 12.92 * light } else { 1.055 * light.powf(1.0 / 2.4) - 0.055 }
        };
        Self { light: std::array::from_fn(light), coded: (0..CODES).map(code).collect() }
    }

    pub fn light(&self, colour: Rgb8) -> Colour {
        colour.map(|value| self.light[usize::from(value)])
    }

    pub fn coded(&self, light: Colour) -> Colour {
        light.map(|value| {
            let at = value.clamp(0.0, 1.0) * (CODES - 1) as f32;
            let first = at as usize;
            let next = (first + 1).min(CODES - 1);
            let share = at - first as f32;
            self.coded[first] * (1.0 - share) + self.coded[next] * share
        })
    }
}

/// A blur across and down, as weights from the middle outwards.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Blur {
    across: Vec<f32>,
    down: Vec<f32>,
    /// Standard deviations in picture pixels.
    pub sigma: (f64, f64),
}

impl Blur {
    pub fn new(across: f64, down: f64) -> Self {
        Self { across: weights(across), down: weights(down), sigma: (across, down) }
    }

    /// A line of light with its neighbours mixed in: `line` itself, and `near` at this many lines above and below.
    pub fn line<'a>(&self, line: &[Colour], near: impl Fn(i64) -> &'a [Colour], border: Colour) -> Vec<Colour> {
        let mut mixed: Vec<Colour> = line.iter().map(|colour| colour.map(|value| value * self.down[0])).collect();
        for (away, weight) in self.down.iter().enumerate().skip(1) {
            for neighbour in [near(-(away as i64)), near(away as i64)] {
                for (sum, colour) in mixed.iter_mut().zip(neighbour) {
                    (0..3).for_each(|channel| sum[channel] += weight * colour[channel]);
                }
            }
        }
        let reach = self.across.len() - 1;
        let mut padded = vec![border; mixed.len() + 2 * reach];
        padded[reach..reach + mixed.len()].copy_from_slice(&mixed);
        let mut blurred = vec![[0.0; 3]; mixed.len()];
        for (x, sum) in blurred.iter_mut().enumerate() {
            let middle = x + reach;
            for channel in 0..3 {
                let mut value = self.across[0] * padded[middle][channel];
                for (away, weight) in self.across.iter().enumerate().skip(1) {
                    value += weight * (padded[middle - away][channel] + padded[middle + away][channel]);
                }
                sum[channel] = value;
            }
        }
        blurred
    }
}

/// Weights of a Gaussian over whole pixels, from the middle outwards, both sides summing to one.
fn weights(sigma: f64) -> Vec<f32> {
    let reach = (2.5 * sigma).ceil() as usize;
    // Over a pixel's width, in tenths.
    let over = |at: f64| {
        (-5..=5).map(|part| (-(at + f64::from(part) / 10.0).powi(2) / (2.0 * sigma * sigma)).exp()).sum::<f64>()
    };
    let raw: Vec<f64> = (0..=reach).map(|away| over(away as f64)).collect();
    let sum: f64 = raw[0] + 2.0 * raw[1..].iter().sum::<f64>();
    raw.iter().map(|value| (value / sum) as f32).collect()
}

/// What a channel of the capture makes of a colour, before light: its three numbers, their squares and products, and one.
const FEATURES: usize = 10;
/// Terms of gain and of offset: a polynomial of the third degree over the picture.
const FIELD: usize = 10;

fn features(coded: Colour) -> [f64; FEATURES] {
    let [red, green, blue] = coded.map(|value| f64::from(value) / 255.0);
    [red, green, blue, red * red, green * green, blue * blue, red * green, green * blue, blue * red, 1.0]
}

fn field(x: f64, y: f64) -> [f64; FIELD] {
    let all = crate::warp::terms(x, y);
    std::array::from_fn(|at| all[at])
}

/// Light of one channel.
#[derive(Clone, Debug)]
struct Channel {
    map: [f64; FEATURES],
    gain: [f64; FIELD],
    offset: [f64; FIELD],
}

/// How the picture comes out in a capture.
#[derive(Clone, Debug)]
pub(crate) struct Light {
    channels: [Channel; 3],
    /// Gain and offset of every pixel and channel.
    gain: Vec<Colour>,
    offset: Vec<Colour>,
    /// Brightness of each line against its surroundings: an exposure shorter than a frame leaves dark bands.
    pub line_gain: Vec<f32>,
    width: usize,
}

impl Light {
    /// The number a channel is mapped to, before gain and offset.
    pub fn mapped(&self, coded: Colour) -> Colour {
        let features = features(coded);
        let value = |channel: usize| -> f64 {
            self.channels[channel].map.iter().zip(&features).map(|(weight, feature)| weight * feature).sum()
        };
        [value(0) as f32, value(1) as f32, value(2) as f32]
    }

    /// What a pixel of the capture should be where the picture has that colour.
    pub fn seen(&self, mapped: Colour, x: usize, y: usize) -> Colour {
        let at = y * self.width + x;
        let line = self.line_gain[y];
        std::array::from_fn(|channel| {
            (mapped[channel] * self.gain[at][channel] * line + self.offset[at][channel]).clamp(0.0, 255.0)
        })
    }

    /// How bright a pixel is: what its numbers are multiplied by.
    pub fn brightness(&self, x: usize, y: usize) -> Colour {
        self.gain[y * self.width + x].map(|gain| gain * self.line_gain[y])
    }

    /// What a seen colour would be without gain and offset.
    pub fn unlit(&self, seen: Colour, x: usize, y: usize) -> Colour {
        let at = y * self.width + x;
        let line = self.line_gain[y];
        std::array::from_fn(|channel| {
            (seen[channel] - self.offset[at][channel]) / (self.gain[at][channel] * line).max(0.05)
        })
    }

    /// How strongly each channel answers to its own colour, 0 to 255, the others being dark.
    pub fn own_response(&self) -> [f64; 3] {
        std::array::from_fn(|channel| {
            let map = &self.channels[channel].map;
            map[channel] + map[3 + channel]
        })
    }

    /// How strongly each channel answers to white, 0 to 255.
    pub fn white_response(&self) -> [f64; 3] {
        let (white, black) = (self.mapped([255.0; 3]), self.mapped([0.0; 3]));
        std::array::from_fn(|channel| f64::from(white[channel] - black[channel]))
    }

    /// Fits light to a capture under a blurred picture (coded numbers), by the pixels that fit.
    pub fn fit(seen: &Rectified, coded: &[Colour], rounds: usize, samples: usize) -> Self {
        let (width, height) = (seen.width, seen.height);
        // Every pixel is one too many: enough is taken.
        let stride = (width * height / samples).max(1) | 1;
        // What is clipped says nothing of how bright it would be.
        let open = |at: &usize| seen.usable[*at] && seen.pixels[*at].iter().all(|value| *value < 250.0);
        let taken: Vec<usize> = (0..width * height).step_by(stride).filter(open).collect();
        let place = |at: usize| {
            let (x, y) = (at % width, at / width);
            field(2.0 * (x as f64 + 0.5) / width as f64 - 1.0, 2.0 * (y as f64 + 0.5) / height as f64 - 1.0)
        };
        let fields: Vec<[f64; FIELD]> = taken.iter().map(|at| place(*at)).collect();
        let shapes: Vec<[f64; FEATURES]> = taken.iter().map(|at| features(coded[*at])).collect();
        let mut weights = vec![1.0_f64; taken.len()];
        let mut channels: [Channel; 3] = std::array::from_fn(|_| {
            let mut one = Channel { map: [0.0; FEATURES], gain: [0.0; FIELD], offset: [0.0; FIELD] };
            one.gain[0] = 1.0;
            one
        });
        let dot = |a: &[f64], b: &[f64]| a.iter().zip(b).map(|(a, b)| a * b).sum::<f64>();
        for round in 0..rounds {
            let mut sizes = vec![0.0_f64; taken.len()];
            for (number, channel) in channels.iter_mut().enumerate() {
                let value = |at: usize| f64::from(seen.pixels[taken[at]][number]);
                let map = solve(taken.len(), 1e-6, |at, row: &mut [f64; FEATURES]| {
                    let gain = dot(&fields[at], &channel.gain);
                    row.iter_mut().zip(&shapes[at]).for_each(|(row, shape)| *row = gain * shape);
                    (weights[at], value(at) - dot(&fields[at], &channel.offset))
                });
                if let Some(map) = map {
                    channel.map = map;
                }
                // What does not vary over the picture belongs to the map.
                let both = solve(taken.len(), 1e-4, |at, row: &mut [f64; 2 * FIELD]| {
                    let mapped = dot(&shapes[at], &channel.map);
                    for term in 0..FIELD {
                        row[term] = if term == 0 { 0.0 } else { mapped * fields[at][term] };
                        row[FIELD + term] = if term == 0 { 0.0 } else { 60.0 * fields[at][term] };
                    }
                    (weights[at], value(at) - mapped)
                });
                if let Some(both) = both {
                    for term in 1..FIELD {
                        channel.gain[term] = both[term];
                        channel.offset[term] = 60.0 * both[FIELD + term];
                    }
                }
                for (at, size) in sizes.iter_mut().enumerate() {
                    let fitted = dot(&shapes[at], &channel.map) * dot(&fields[at], &channel.gain)
                        + dot(&fields[at], &channel.offset);
                    *size += (value(at) - fitted).powi(2);
                }
            }
            let mut sorted = sizes.clone();
            let middle = sorted.len() / 2;
            if sorted.is_empty() {
                break;
            }
            let median = (*sorted.select_nth_unstable_by(middle, f64::total_cmp).1).max(4.0);
            // Tightens from round to round.
            let limit = median * if round + 1 < rounds { 9.0 } else { 6.0 };
            weights.iter_mut().zip(&sizes).for_each(|(weight, size)| *weight = 1.0 / (1.0 + size / limit).powi(2));
        }
        let mut light = Self {
            gain: Vec::with_capacity(width * height),
            offset: Vec::with_capacity(width * height),
            line_gain: vec![1.0; height],
            channels,
            width,
        };
        for at in 0..width * height {
            let terms = place(at);
            let of = |coefficients: &[f64; FIELD]| dot(coefficients, &terms) as f32;
            light.gain.push(std::array::from_fn(|channel| of(&light.channels[channel].gain).max(0.02)));
            light.offset.push(std::array::from_fn(|channel| of(&light.channels[channel].offset)));
        }
        light
    }

    /// Fits how bright each line is against the smooth gain, as far as its surroundings are alike.
    pub fn fit_lines(&mut self, seen: &Rectified, coded: &[Colour]) {
        let (width, height) = (seen.width, seen.height);
        self.line_gain = vec![1.0; height];
        let mut gains = Vec::with_capacity(height);
        for y in 0..height {
            let mut ratios: Vec<f32> = Vec::new();
            for x in 0..width {
                let at = y * width + x;
                if !seen.usable[at] {
                    continue;
                }
                let mapped = self.mapped(coded[at]);
                for (channel, value) in mapped.iter().enumerate() {
                    let lit = value * self.gain[at][channel];
                    if lit > 40.0 {
                        ratios.push((seen.pixels[at][channel] - self.offset[at][channel]) / lit);
                    }
                }
            }
            let enough = ratios.len() > width / 4;
            let middle = ratios.len() / 2;
            gains.push(enough.then(|| *ratios.select_nth_unstable_by(middle, f32::total_cmp).1));
        }
        for y in 0..height {
            let mut near: Vec<f32> = gains[y.saturating_sub(LINES_ALIKE)..(y + LINES_ALIKE + 1).min(height)]
                .iter()
                .flatten()
                .copied()
                .collect();
            if near.len() > LINES_ALIKE {
                let middle = near.len() / 2;
                let gain = *near.select_nth_unstable_by(middle, f32::total_cmp).1;
                self.line_gain[y] = gain.clamp(0.02, 3.0);
            }
        }
    }
}

/// Lines above and below within which brightness is taken to be alike.
const LINES_ALIKE: usize = 6;

/// Solves a weighted system of least squares of this many rows.
fn solve<const N: usize>(
    rows: usize,
    stiffness: f64,
    mut fill: impl FnMut(usize, &mut [f64; N]) -> (f64, f64),
) -> Option<[f64; N]> {
    let mut system = LeastSquares::new();
    let mut row = [0.0; N];
    for at in 0..rows {
        let (weight, value) = fill(at, &mut row);
        system.add(weight, &row, value);
    }
    system.solve(|_| stiffness)
}

/// The expected picture as light.
pub(crate) fn in_light(expected: &Expected, tables: &LightTables) -> Vec<Colour> {
    let (_, height) = expected.size();
    (0..height).flat_map(|line| expected.line(line).iter().map(|colour| tables.light(*colour))).collect()
}

/// A picture in light, blurred and coded.
pub(crate) fn blurred(
    light: &[Colour],
    (width, height): (usize, usize),
    border: Colour,
    blur: &Blur,
    tables: &LightTables,
) -> Vec<Colour> {
    let outside = vec![border; width];
    let mut out = Vec::with_capacity(width * height);
    for y in 0..height {
        let near = |away: i64| {
            let line = y as i64 + away;
            usize::try_from(line)
                .ok()
                .filter(|line| *line < height)
                .map_or(outside.as_slice(), |line| &light[line * width..(line + 1) * width])
        };
        let line = blur.line(&light[y * width..(y + 1) * width], near, border);
        out.extend(line.into_iter().map(|colour| tables.coded(colour)));
    }
    out
}

/// Standard deviations of blur that are tried, in picture pixels.
const SIGMAS: [f64; 8] = [0.2, 0.35, 0.5, 0.7, 0.95, 1.3, 1.8, 2.5];

/// The blur under which the capture fits the picture best.
pub(crate) fn find_blur(seen: &Rectified, light: &[Colour], border: Colour, tables: &LightTables) -> Blur {
    let size = (seen.width, seen.height);
    let misfit = |across: usize, down: usize| {
        let blur = Blur::new(SIGMAS[across], SIGMAS[down]);
        let coded = blurred(light, size, border, &blur, tables);
        let fitted = Light::fit(seen, &coded, 2, 4_000);
        let stride = (size.0 * size.1 / 16_000).max(1) | 1;
        let mut sizes: Vec<f32> = (0..size.0 * size.1)
            .step_by(stride)
            .filter(|at| seen.usable[*at])
            .map(|at| {
                let (x, y) = (at % size.0, at / size.0);
                let meant = fitted.seen(fitted.mapped(coded[at]), x, y);
                (0..3).map(|channel| (meant[channel] - seen.pixels[at][channel]).abs().min(60.0)).sum()
            })
            .collect();
        // The quarter that fits worst may be damaged.
        sizes.sort_by(f32::total_cmp);
        let kept = sizes.len() * 3 / 4;
        sizes[..kept].iter().sum::<f32>() / kept.max(1) as f32
    };
    let (mut across, mut down) = (2, 1);
    let mut best = misfit(across, down);
    let mut tried = vec![(across, down)];
    loop {
        let mut better = None;
        for (next_across, next_down) in
            [(across + 1, down), (across.wrapping_sub(1), down), (across, down + 1), (across, down.wrapping_sub(1))]
        {
            if next_across >= SIGMAS.len() || next_down >= SIGMAS.len() || tried.contains(&(next_across, next_down)) {
                continue;
            }
            tried.push((next_across, next_down));
            let found = misfit(next_across, next_down);
            if found < best {
                best = found;
                better = Some((next_across, next_down));
            }
        }
        match better {
            Some(next) => (across, down) = next,
            None => return Blur::new(SIGMAS[across], SIGMAS[down]),
        }
    }
}
