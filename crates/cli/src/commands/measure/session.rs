//! Photographs of a session's looks: the number at the upper left of the card tells which look each shows.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use anyhow::{Context, Result};
use backporch_adapter::Registers;
use backporch_answer::LookFoundAnswer;
use backporch_bench::{Bench, Overrides};
use backporch_evidence::{Answers, Experiment, SessionLook};
use backporch_input::{InputError, Source};
use backporch_measure::{Capture, Corner, Expected, FoundCorner, Geometry, Rgb8, find, measure_at, which_corner};
use backporch_picture::card::{NUMBER, label_mask, number_is_lit};
use backporch_picture::lay::bits_per_pixel;
use backporch_raster::{Plain, QuietFrame};

use super::looks::{Look, Measured, NothingShown, read};
use super::series::with_series;
use super::{card, expected};
use crate::args::BenchArgs;
use crate::output::Output;
use crate::progress;

/// Natural logarithm of how much likelier a number must be than any other.
const LEAST_MARGIN: f64 = 3.0;

/// The looks of a session as pictures.
pub struct SessionPictures {
    looks: Vec<KnownLook>,
    /// The number in the label of each, on its card.
    corners: Vec<Corner>,
}

/// One look, and what was meant at it.
struct KnownLook {
    look: SessionLook,
    expected: Expected,
}

/// The look that a capture shows.
struct FoundLook {
    at: usize,
    /// By how much its number is likelier than the next, a natural logarithm.
    margin: f64,
    /// Where its card lies.
    geometry: Geometry,
}

/// A look of which there are captures.
struct CapturedLook {
    at: usize,
    found: LookFoundAnswer,
    look: Look,
    geometries: Vec<Geometry>,
}

/// A look, measured.
pub struct MeasuredSessionLook {
    pub look: SessionLook,
    pub measured: Measured,
    pub found: LookFoundAnswer,
}

impl MeasuredSessionLook {
    /// The bench with the card.
    pub fn bench(&self) -> &Bench {
        &self.look.experiment.bench
    }
}

impl SessionPictures {
    /// The looks that a session's sheet, or its answers, ask for, on the bench that is named.
    pub fn open(path: &Path, bench: &BenchArgs) -> Result<Self> {
        let in_mode = |mode: Option<&str>| {
            let mode = mode.map(str::to_string).or_else(|| bench.mode.clone());
            let overrides = Overrides { no_quirks: true, quirks: Vec::new(), mode, ..bench.overrides() };
            Bench::open(&bench.bench, &overrides).map(Arc::new)
        };
        let answers = Answers::from_source(&Source::read(path)?, &in_mode(None)?, &|mode| in_mode(Some(mode)))?;
        let known = |(at, look): (usize, SessionLook)| {
            let refused = |found: &str| {
                let allowed = "looks in modes of pixels: the numbers of others cannot be read";
                InputError::new(path.display().to_string(), found, allowed).in_field(format!("look {}.mode", at + 1))
            };
            KnownLook::new(look, at as u32 + 1, refused)
        };
        let looks = answers.asked_looks().enumerate().map(known).collect::<Result<Vec<_>>>()?;
        if looks.is_empty() {
            return Err(InputError::new(path.display().to_string(), "no look", "a session's sheet or answers").into());
        }
        let (looks, corners) = looks.into_iter().unzip();
        Ok(Self { looks, corners })
    }

    /// What the captures show, look by look.
    pub fn measured(&self, captures: &[PathBuf], output: &Output) -> Result<Vec<MeasuredSessionLook>> {
        let files = with_series(captures)?;
        let bar = progress::bar(output, "telling looks", files.len() as u64);
        let mut looks: Vec<CapturedLook> = Vec::new();
        for path in &files {
            let frames = read(path)?;
            let Some((file, first)) = frames.first() else { continue };
            let FoundLook { at, margin, geometry } = self.find(first, file)?;
            let KnownLook { look: asked, expected } = &self.looks[at];
            // Cards of other boards look much alike; where their codes can be read, those tell.
            card::code(&asked.experiment.bench, frames.iter())?;
            let others = frames.iter().skip(1);
            let others = others.map(|(file, frame)| find(expected, frame).map_err(|error| shows_nothing(file, error)));
            let others = others.collect::<Result<Vec<_>>>()?;
            let known = looks.iter().position(|known| known.at == at).unwrap_or_else(|| {
                let look = Look { step: asked.step, captures: Vec::new(), files: Vec::new(), found: Vec::new() };
                let found = LookFoundAnswer::new(at as u32 + 1, margin);
                looks.push(CapturedLook { at, found, look, geometries: Vec::new() });
                looks.len() - 1
            });
            let CapturedLook { found, look, geometries, .. } = &mut looks[known];
            *found = LookFoundAnswer::new(found.number, found.margin.min(margin));
            geometries.extend([geometry].into_iter().chain(others));
            for (file, capture) in frames {
                look.files.push(file);
                look.captures.push(capture);
                look.found.push(None);
            }
            bar.inc(1);
        }
        bar.finish_and_clear();
        looks.sort_by_key(|look| look.at);
        let measured = looks.into_iter().filter_map(|CapturedLook { at, found, look, geometries }| {
            let KnownLook { look: asked, expected } = &self.looks[at];
            let measurement = measure_at(expected, &look.captures, geometries)?;
            let measured = Measured { look, expected: expected.clone(), measurement };
            Some(MeasuredSessionLook { look: asked.clone(), measured, found })
        });
        Ok(measured.collect())
    }

    /// The look that a capture shows.
    fn find(&self, capture: &Capture, file: &Path) -> Result<FoundLook> {
        let mut nothing = None;
        let mut unread = false;
        // Where the picture lies is much the same at every step, but not in every setting.
        for first in self.first_looks() {
            let geometry = match find(&self.looks[first].expected, capture) {
                Ok(geometry) => geometry,
                Err(error) => {
                    nothing.get_or_insert(error);
                    continue;
                }
            };
            let Some(found) = self.numbered(capture, &geometry) else {
                unread = true;
                continue;
            };
            if found.at == first {
                return Ok(FoundLook { at: first, margin: found.margin, geometry });
            }
            // The card of that look has to be there, and to show the number where it was meant.
            let own = find(&self.looks[found.at].expected, capture).ok();
            let own = own.and_then(|geometry| Some((self.numbered(capture, &geometry)?, geometry)));
            match own.filter(|(own, _)| own.at == found.at) {
                Some((own, geometry)) => return Ok(FoundLook { at: own.at, margin: own.margin, geometry }),
                None => unread = true,
            }
        }
        match nothing.filter(|_| !unread) {
            Some(error) => Err(shows_nothing(file, error)),
            None => {
                let allowed = "a capture on which the number at the upper left can be read; without --session, --at says the step";
                Err(InputError::new(file.display().to_string(), "a card whose number cannot be read", allowed).into())
            }
        }
    }

    /// The number that stands in the corner, where it is beyond doubt.
    fn numbered(&self, capture: &Capture, geometry: &Geometry) -> Option<FoundCorner> {
        which_corner(&self.corners, capture, geometry).filter(|found| found.margin >= LEAST_MARGIN)
    }

    /// The first look of each setting.
    fn first_looks(&self) -> Vec<usize> {
        let experiment = |at: usize| &self.looks[at].look.experiment;
        let is_first = |at: &usize| !(0..*at).any(|before| is_same_setting(experiment(before), experiment(*at)));
        (0..self.looks.len()).filter(is_first).collect()
    }
}

/// Whether two experiments show pictures of the same size in the same place.
fn is_same_setting(one: &Experiment, other: &Experiment) -> bool {
    Arc::ptr_eq(&one.bench, &other.bench) && one.over == other.over && one.registers(0) == other.registers(0)
}

fn shows_nothing(file: &Path, error: backporch_measure::MeasureError) -> anyhow::Error {
    let allowed = "a capture or photograph of a look of this session";
    NothingShown(InputError::new(file.display().to_string(), error, allowed)).0.into()
}

impl KnownLook {
    /// A look and the number of it on its card.
    fn new(look: SessionLook, number: u32, refused: impl Fn(&str) -> InputError) -> Result<(Self, Corner)> {
        let bench = &look.experiment.bench;
        let registers = look.experiment.registers(look.step);
        let (pixels, lines) = bench.card_label();
        let expected = expected::expected(bench, &registers).context("what the plain board shows")?;
        let expected = expected.with_unknown(0..pixels as usize, 0..lines as usize);
        let corner = corner(bench, &registers, number).ok_or_else(|| refused(&bench.mode().name))?;
        Ok((Self { look, expected }, corner))
    }
}

/// The card's upper left corner with the number of a look on it; `None` in text.
fn corner(bench: &Bench, registers: &Registers, number: u32) -> Option<Corner> {
    let bits = bits_per_pixel(&QuietFrame::new(bench.adapter(), registers, &Plain)).ok()?;
    let frame = bench.plain(registers).run_frame();
    let colours = &frame.palettes.first()?.colours;
    let (width, height) = NUMBER;
    let pixel = |x: u32, y: u32| -> Option<Rgb8> {
        let lit = if number_is_lit(number, x, y) { label_mask(bits) } else { 0 };
        let [red, green, blue, _] = *colours.get(usize::from(frame.value_at(x, y)? ^ lit))?;
        Some([red, green, blue])
    };
    let places = (0..height).flat_map(|y| (0..width).map(move |x| (x, y)));
    Corner::new(width as usize, places.map(|(x, y)| pixel(x, y)).collect::<Option<_>>()?)
}
