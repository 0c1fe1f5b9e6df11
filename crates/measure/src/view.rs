//! One capture on the picture's own pixels, and how likely it makes what a line may have shown.

use crate::capture::ReducedCapture;
use crate::expected::Expected;
use crate::light::{Blur, Colour, Light, LightTables, Rectified, blurred, find_blur, in_light};
use crate::warp::Warp;

/// The power of its numbers that the light of a picture file goes by, about (sRGB, IEC 61966-2-1).
const GAMMA: f64 = 2.2;
/// Share of pixels that nothing explains, whatever a line shows.
const ODD: f64 = 0.01;

/// How far a capture may be off the fitted picture.
#[derive(Clone, Debug)]
struct Noise {
    /// Variance of each channel where the picture is even.
    floor: Colour,
    /// Variance more for a squared step of brightness from pixel to pixel: the place is known to a fraction of a pixel.
    slope: f32,
    /// Mean and variance of what the picture shows anywhere, mapped.
    mean: Colour,
    spread: Colour,
    /// Pixels that count as one: their errors go together.
    together: f32,
}

/// A capture ready to be asked.
pub(crate) struct PreparedCapture {
    seen: Rectified,
    light: Light,
    pub blur: Blur,
    noise: Noise,
    border: Colour,
    /// What the fitted picture looks like in the capture.
    fitted: Vec<Colour>,
}

/// The capture on the picture's pixels: each the mean of nine places.
pub(crate) fn rectified(expected: &Expected, reduced: &ReducedCapture, warp: &Warp) -> Rectified {
    let (width, height) = expected.size();
    // The warp is smooth: it is worked out at the pixels' corners.
    let corners: Vec<(f32, f32)> = (0..=height)
        .flat_map(|y| (0..=width).map(move |x| (x, y)))
        .map(|(x, y)| {
            let (u, v) = warp.at((x as f64, y as f64));
            ((u / reduced.factor) as f32, (v / reduced.factor) as f32)
        })
        .collect();
    let mut pixels = Vec::with_capacity(width * height);
    let mut usable = Vec::with_capacity(width * height);
    for y in 0..height {
        for x in 0..width {
            let corner = |right: usize, down: usize| corners[(y + down) * (width + 1) + x + right];
            let (a, b, c, d) = (corner(0, 0), corner(1, 0), corner(0, 1), corner(1, 1));
            let mut sum = [0.0; 3];
            for down in PLACES {
                for right in PLACES {
                    let mix = |a: f32, b: f32, c: f32, d: f32| {
                        (a * (1.0 - right) + b * right) * (1.0 - down) + (c * (1.0 - right) + d * right) * down
                    };
                    let colour = reduced.sample(mix(a.0, b.0, c.0, d.0), mix(a.1, b.1, c.1, d.1));
                    (0..3).for_each(|channel| sum[channel] += colour[channel] / 9.0);
                }
            }
            let middle = (f64::from(a.0 + d.0) / 2.0, f64::from(a.1 + d.1) / 2.0);
            let clipped = sum.iter().all(|value| *value > 252.0);
            usable.push(reduced.holds(middle.0, middle.1) && !clipped && expected.is_known(x, y));
            pixels.push(sum);
        }
    }
    Rectified { width, height, pixels, usable }
}

/// Places within a pixel that are looked at, either way.
const PLACES: [f32; 3] = [1.0 / 6.0, 0.5, 5.0 / 6.0];

impl PreparedCapture {
    /// Fits light and noise to a capture, and its blur where that is not known.
    pub fn new(seen: Rectified, expected: &Expected, blur: Option<Blur>, tables: &LightTables) -> Self {
        let light = in_light(expected, tables);
        let border = tables.light(expected.border());
        let blur = blur.unwrap_or_else(|| find_blur(&seen, &light, border, tables));
        let size = (seen.width, seen.height);
        let coded = blurred(&light, size, border, &blur, tables);
        let fit = Light::fit(&seen, &coded, 1, 1_000);
        let noise = Noise { floor: [1.0; 3], slope: 0.0, mean: [0.0; 3], spread: [1.0; 3], together: 1.0 };
        let mut view = Self { seen, light: fit, blur, noise, border, fitted: coded };
        view.refit(&light, tables);
        view
    }

    /// Fits light and noise anew, under a picture in light that is nearer to what was shown.
    pub fn refit(&mut self, light: &[Colour], tables: &LightTables) {
        let size = (self.seen.width, self.seen.height);
        let coded = blurred(light, size, self.border, &self.blur, tables);
        self.light = Light::fit(&self.seen, &coded, 4, 12_000);
        self.light.fit_lines(&self.seen, &coded);
        self.fitted = (0..coded.len())
            .map(|at| self.light.seen(self.light.mapped(coded[at]), at % size.0, at / size.0))
            .collect();
        self.measure_noise(&coded);
    }

    fn measure_noise(&mut self, coded: &[Colour]) {
        let (width, height) = (self.seen.width, self.seen.height);
        let mut mean = [0.0_f64; 3];
        let mut square = [0.0_f64; 3];
        for colour in coded {
            let mapped = self.light.mapped(*colour);
            for channel in 0..3 {
                mean[channel] += f64::from(mapped[channel]) / coded.len() as f64;
                square[channel] += f64::from(mapped[channel]).powi(2) / coded.len() as f64;
            }
        }
        self.noise.mean = mean.map(|value| value as f32);
        self.noise.spread = std::array::from_fn(|channel| ((square[channel] - mean[channel].powi(2)) as f32).max(16.0));
        // Even places first, then steep ones.
        let mut places: Vec<(f32, usize)> = (1..height - 1)
            .flat_map(|y| (1..width - 1).map(move |x| y * width + x))
            .filter(|at| self.seen.usable[*at])
            .map(|at| (self.steepness(at, &self.fitted[at - 1], &self.fitted[at + 1]), at))
            .collect();
        if places.len() < 64 {
            return;
        }
        places.sort_by(|(one, _), (other, _)| one.total_cmp(other));
        let variance = |places: &[(f32, usize)], channel: usize| {
            let misfit = |(_, at): &(f32, usize)| (self.seen.pixels[*at][channel] - self.fitted[*at][channel]).abs();
            let mut misfits: Vec<f32> = places.iter().map(misfit).collect();
            let middle = misfits.len() / 2;
            (1.4826 * *misfits.select_nth_unstable_by(middle, f32::total_cmp).1).powi(2)
        };
        let (even, steep) = (&places[..places.len() / 2], &places[places.len() * 4 / 5..]);
        let floor: Colour = std::array::from_fn(|channel| variance(even, channel).max(2.0));
        let extra: f32 = (0..3).map(|channel| (variance(steep, channel) - floor[channel]).max(0.0)).sum::<f32>() / 3.0;
        self.noise.slope = (extra / steep[steep.len() / 2].0.max(1.0)).clamp(0.002, 1.0);
        self.noise.floor = floor;
        self.noise.together = self.together();
    }

    /// The squared step of brightness around a pixel, both ways, a third of the sum over channels.
    fn steepness(&self, at: usize, before: &Colour, after: &Colour) -> f32 {
        let (width, height) = (self.seen.width, self.seen.height);
        let line = at / width;
        let above = &self.fitted[if line == 0 { at } else { at - width }];
        let below = &self.fitted[if line + 1 == height { at } else { at + width }];
        let step = |a: &Colour, b: &Colour| (0..3).map(|channel| (a[channel] - b[channel]).powi(2) / 4.0).sum::<f32>();
        (step(before, after) + step(above, below)) / 3.0
    }

    /// For how many numbers errors go together: along the line, and among the channels.
    fn together(&self) -> f32 {
        let (width, height) = (self.seen.width, self.seen.height);
        let misfit = |at: usize| -> Option<Colour> {
            let steep =
                self.steepness(at, &self.fitted[at.saturating_sub(1)], &self.fitted[(at + 1) % self.fitted.len()]);
            let scaled = std::array::from_fn(|channel| {
                let variance = self.noise.floor[channel] + self.noise.slope * steep;
                (self.seen.pixels[at][channel] - self.fitted[at][channel]) / variance.sqrt()
            });
            let fits = self.seen.usable[at] && scaled.iter().all(|value: &f32| value.abs() < 3.5);
            fits.then_some(scaled)
        };
        const FAR: usize = 6;
        let (mut square, mut channels) = (0.0_f64, 0.0_f64);
        let mut lags = [0.0_f64; FAR];
        for y in (0..height).step_by(3) {
            let line: Vec<Option<Colour>> = (0..width).map(|x| misfit(y * width + x)).collect();
            for x in 0..width - FAR {
                let Some(here) = line[x] else { continue };
                square += here.iter().map(|value| f64::from(value * value)).sum::<f64>() / 3.0;
                channels += f64::from(here[0] * here[1] + here[1] * here[2] + here[0] * here[2]) / 3.0;
                for (lag, sum) in lags.iter_mut().enumerate() {
                    if let Some(there) = line[x + lag + 1] {
                        *sum += (0..3).map(|channel| f64::from(here[channel] * there[channel])).sum::<f64>() / 3.0;
                    }
                }
            }
        }
        let square = square.max(1e-9);
        let along = 1.0 + 2.0 * lags.iter().map(|sum| (sum / square).clamp(0.0, 1.0)).sum::<f64>();
        let among = 1.0 + 2.0 * (channels / square).clamp(0.0, 1.0);
        (along * among).max(2.0) as f32
    }

    /// For each pixel of a line how much likelier the capture is (natural logarithm) if the line shows `content` than if
    /// it shows anything at all. `near` are the lines around it.
    pub fn logs<'a>(
        &self,
        line: usize,
        content: &[Colour],
        near: impl Fn(i64) -> &'a [Colour],
        tables: &LightTables,
        recoloured: Option<&[[f32; 4]; 3]>,
    ) -> Vec<f32> {
        let width = self.seen.width;
        let coded = self.blur.line(content, near, self.border);
        let meant: Vec<Colour> = coded
            .into_iter()
            .enumerate()
            .map(|(x, light)| {
                let mut mapped = self.light.mapped(tables.coded(light));
                if let Some(colours) = recoloured {
                    let [red, green, blue] = mapped;
                    mapped = colours.map(|[r, g, b, one]| r * red + g * green + b * blue + one);
                }
                self.light.seen(mapped, x, line)
            })
            .collect();
        (0..width)
            .map(|x| {
                let at = line * width + x;
                if !self.seen.usable[at] {
                    return 0.0;
                }
                let steep = self.steepness(at, &meant[x.saturating_sub(1)], &meant[(x + 1).min(width - 1)]);
                let anything = self.light.seen(self.noise.mean, x, line);
                let brightness = self.light.brightness(x, line);
                let mut gain = 0.0_f64;
                for channel in 0..3 {
                    let narrow = f64::from(self.noise.floor[channel] + self.noise.slope * steep);
                    let brightness = f64::from(brightness[channel]);
                    let wide = f64::from(self.noise.floor[channel])
                        + f64::from(self.noise.spread[channel]) * brightness * brightness;
                    let seen = f64::from(self.seen.pixels[at][channel]);
                    let near = (seen - f64::from(meant[x][channel])).powi(2) / narrow;
                    let far = (seen - f64::from(anything[channel])).powi(2) / wide;
                    gain += (far - near + (wide / narrow).ln()) / 2.0;
                }
                let odd = ODD.ln();
                let known = (1.0 - ODD).ln() + gain;
                let (most, least) = (known.max(odd), known.min(odd));
                ((most + (least - most).exp().ln_1p()) as f32) / self.noise.together
            })
            .collect()
    }

    /// The colours of a line without light, as far as they can be used, and those meant, mapped alike.
    pub fn unlit(&self, line: usize) -> Vec<Option<Colour>> {
        let width = self.seen.width;
        let at = |x: usize| line * width + x;
        (0..width)
            .map(|x| self.seen.usable[at(x)].then(|| self.light.unlit(self.seen.pixels[at(x)], x, line)))
            .collect()
    }

    /// The mapped colours of a line of light alone.
    pub fn mapped(&self, content: &[Colour], tables: &LightTables) -> Vec<Colour> {
        let alone = |_: i64| content;
        let blurred = self.blur.line(content, alone, self.border);
        blurred.into_iter().map(|light| self.light.mapped(tables.coded(light))).collect()
    }

    /// How strongly each channel answers to its own colour.
    pub fn own_response(&self) -> [f64; 3] {
        self.light.own_response()
    }

    /// How strongly each channel answers to white.
    pub fn white_response(&self) -> [f64; 3] {
        self.light.white_response()
    }

    /// Usual error of a pixel, in numbers of the capture (0 to 255).
    pub fn noise(&self) -> f64 {
        let floor = self.noise.floor;
        f64::from((floor[0] + floor[1] + floor[2]) / 3.0).sqrt()
    }

    /// How much light each line has, whatever it shows.
    pub fn line_light(&self) -> Vec<f64> {
        let (width, height) = (self.seen.width, self.seen.height);
        let bright =
            |x: usize, y: usize| self.light.brightness(x, y).iter().map(|value| f64::from(*value)).sum::<f64>();
        let mean = |y: usize| (0..width).map(|x| bright(x, y)).sum::<f64>() / (3 * width) as f64;
        (0..height).map(|y| mean(y).max(0.0).powf(GAMMA)).collect()
    }

    /// How bright each line is against its surroundings in the capture: where an exposure shows part of a frame.
    pub fn line_gain(&self) -> &[f32] {
        &self.light.line_gain
    }
}
