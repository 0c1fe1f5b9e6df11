//! Captures by the steps they are of, each held against what was meant there.

use std::fs;
use std::path::{Path, PathBuf};

use anyhow::{Context, Result};
use backporch_adapter::{FieldId, Registers};
use backporch_answer::{DiagnoseAnswer, StepFoundAnswer, TestCardAnswer};
use backporch_bench::Bench;
use backporch_input::{InputError, Range, read_bytes};
use backporch_measure::{Capture, Expected, MOST_FILE_BYTES, Measurement, measure, names_capture};
use backporch_quirk::QuirkStack;
use thiserror::Error;

use super::steps::StartSteps;
use super::{card, expected, series, video};
use crate::commands::suspects::{self, ReadDocument};
use crate::output::Output;
use crate::progress;

/// Pictures of a folder that are read.
const MOST_FILES: usize = 64;

/// Which captures are read, and what is known of them beforehand.
#[derive(Clone, Copy, Debug)]
pub struct CaptureSettings<'a> {
    /// Files and folders.
    pub captures: &'a [PathBuf],
    /// What the stepped register held: nothing, one value for all, or one for each.
    pub at: &'a [u64],
    /// Steps among which the start address is looked for.
    pub steps: Option<&'a Range>,
    /// They show the test card of a session.
    pub is_card: bool,
    /// Faults that come into question besides those of the bench.
    pub suspects: &'a [Suspect],
}

/// A fault that comes into question.
#[derive(Clone, Debug)]
pub struct Suspect {
    /// What it is called.
    pub name: String,
    /// What the board does under it.
    pub tap: QuirkStack,
}

/// Suspects taken, at most.
const MOST_SUSPECTS: usize = 6;

/// The likeliest suspects of a diagnosis.
pub fn likeliest(bench: &Bench, diagnosis: &ReadDocument<DiagnoseAnswer>) -> Result<Vec<Suspect>> {
    let faults = suspects::faults(bench, Some(diagnosis))?.suspects.into_iter();
    let named = faults.map(|fault| Suspect { name: fault.name.trim().to_string(), tap: fault.tap });
    Ok(named.filter(|suspect| suspect.name != suspects::BY_DESIGN).take(MOST_SUSPECTS).collect())
}

/// Captures of one step.
pub struct Look {
    pub step: u32,
    pub captures: Vec<Capture>,
    /// The file that each comes from.
    pub files: Vec<PathBuf>,
    /// How the step of each was found.
    pub found: Vec<Option<StepFoundAnswer>>,
}

/// A look, what was meant at it, and what the captures show.
pub struct Measured {
    pub look: Look,
    pub expected: Expected,
    pub measurement: Measurement,
}

/// The bench with what captures show in its memory.
pub struct Shown {
    pub bench: Bench,
    /// It is the test card of a session.
    pub is_card: bool,
}

/// What was read of captures.
pub struct Reading {
    pub shown: Shown,
    pub measured: Vec<Measured>,
    /// What a code of the test card says, where one could be read.
    code: Option<String>,
    suspects: Vec<Suspect>,
}

/// Frames of one capture, each with the file it comes from.
pub(super) type Frames = Vec<(PathBuf, Capture)>;

/// Captures show nothing of what they were held against.
#[derive(Debug, Error)]
#[error(transparent)]
pub struct NothingShown(pub InputError);

impl Reading {
    /// What is said of the test card, where captures show it.
    pub fn card(&self, over: FieldId) -> Result<Option<TestCardAnswer>> {
        let Some(first) = self.measured.first().filter(|_| self.shown.is_card) else { return Ok(None) };
        let registers = registers_at(&self.shown.bench, over, first.look.step)?;
        Ok(Some(card::answer(&self.shown.bench, &registers, self.code.clone(), &self.suspects)))
    }
}

impl CaptureSettings<'_> {
    /// Reads the captures that are named: the bench's picture, or the test card where they are said to show it, or show
    /// nothing else.
    pub fn reading(&self, bench: Bench, over: FieldId, output: &Output) -> Result<Reading> {
        let captures: Vec<Frames> =
            series::with_series(self.captures)?.iter().map(|path| read(path)).collect::<Result<_>>()?;
        let code = card::code(&bench, captures.iter().flatten())?;
        let (shown, measured) = self.measured(bench, over, captures, code.is_some(), output)?;
        Ok(Reading { shown, measured, code, suspects: self.suspects.to_vec() })
    }

    /// What captures show: the bench's picture, or the test card where they are said to, or show nothing else.
    fn measured(
        &self,
        bench: Bench,
        over: FieldId,
        captures: Vec<Frames>,
        has_code: bool,
        output: &Output,
    ) -> Result<(Shown, Vec<Measured>)> {
        let card = bench.with_test_card().with_quirks(bench.quirks().to_vec());
        let card = Shown { bench: card, is_card: true };
        if self.is_card || has_code {
            let measured = self.measured_on(&card, over, &captures, output).map_err(plain_error)?;
            return Ok((card, measured));
        }
        let own = Shown { bench, is_card: false };
        match self.measured_on(&own, over, &captures, output) {
            Ok(measured) => Ok((own, measured)),
            Err(error) if error.is::<NothingShown>() => {
                // A card whose codes are damaged.
                let measured = self.measured_on(&card, over, &captures, output).map_err(|_| plain_error(error))?;
                Ok((card, measured))
            }
            Err(error) => Err(error),
        }
    }

    fn measured_on(&self, shown: &Shown, over: FieldId, captures: &[Frames], output: &Output) -> Result<Vec<Measured>> {
        let bench = &shown.bench;
        let looks = self.looks(bench, over, captures, output)?;
        let bar = progress::bar(output, "measuring", looks.len() as u64);
        let mut measured = Vec::new();
        for look in looks {
            let registers = registers_at(bench, over, look.step)?;
            let mut expected = expected::expected(bench, &registers).context("what the plain board shows")?;
            if shown.is_card {
                let (pixels, lines) = bench.card_label();
                expected = expected.with_unknown(0..pixels as usize, 0..lines as usize);
            }
            let measurement = measure(&expected, &look.captures).map_err(|(at, error)| {
                let file = look.files.get(at).map_or_else(String::new, |path| path.display().to_string());
                let allowed = "a capture or photograph of the picture that the bench shows";
                NothingShown(InputError::new(file, error, allowed))
            })?;
            measured.push(Measured { look, expected, measurement });
            bar.inc(1);
        }
        bar.finish_and_clear();
        Ok(measured)
    }

    /// The captures, by the steps they are of, in order.
    fn looks(&self, bench: &Bench, over: FieldId, captures: &[Frames], output: &Output) -> Result<Vec<Look>> {
        if self.at.len() > 1 && self.at.len() != captures.len() {
            let allowed = format!("1 or {}, as there are captures", captures.len());
            return Err(InputError::new("--at", format!("{} steps", self.at.len()), allowed).into());
        }
        let max = bench.adapter().field_info(over).max();
        let fits = |step: u64, name: &str| {
            let fits = u32::try_from(step).ok().filter(|step| *step <= max);
            fits.ok_or_else(|| InputError::new(name, step, format!("0..={max}")))
        };
        let steps = if self.at.is_empty() { self.steps_of(bench, over, fits)? } else { None };
        let bar = progress::bar(output, "telling steps", captures.len() as u64);
        let mut looks: Vec<Look> = Vec::new();
        for (number, frames) in captures.iter().enumerate() {
            let (step, found) = match (self.at.get(number).or(self.at.first()), &steps, frames.first()) {
                (Some(step), ..) => (fits(*step, "--at")?, None),
                (None, Some(steps), Some((file, capture))) => {
                    let (step, found) = steps.find(capture, file)?;
                    (step, Some(found))
                }
                (None, ..) => (bench.adapter().get(bench.registers(), over), None),
            };
            let known = looks.iter().position(|look| look.step == step).unwrap_or_else(|| {
                looks.push(Look { step, captures: Vec::new(), files: Vec::new(), found: Vec::new() });
                looks.len() - 1
            });
            let look = &mut looks[known];
            for (file, capture) in frames {
                look.files.push(file.clone());
                look.captures.push(capture.clone());
                look.found.push(found.clone());
            }
            bar.inc(1);
        }
        bar.finish_and_clear();
        Ok(looks)
    }

    /// The steps among which those of captures are looked for; `None` where the bench's own is taken.
    fn steps_of<'a>(
        &self,
        bench: &'a Bench,
        over: FieldId,
        fits: impl Fn(u64, &str) -> Result<u32, InputError>,
    ) -> Result<Option<StartSteps<'a>>> {
        let refused = |allowed: &str| Err(InputError::new("--steps", "steps to look among", allowed).into());
        if over != bench.adapter().start_address() {
            return match self.steps {
                Some(_) => refused("--at: steps are found of the start address only"),
                None => Ok(None),
            };
        }
        let given = match self.steps {
            Some(range) => {
                // The last one is the greatest.
                range.iter().next_back().map(|last| fits(last, "--steps")).transpose()?;
                Some(range.iter().filter_map(|step| u32::try_from(step).ok()).collect())
            }
            None => None,
        };
        match StartSteps::new(bench, given, self.suspects) {
            None if self.steps.is_some() => refused("--at: lines of this mode lie in no order that could be searched"),
            steps => Ok(steps),
        }
    }
}

/// The error itself, where captures show nothing.
fn plain_error(error: anyhow::Error) -> anyhow::Error {
    error.downcast::<NothingShown>().map_or_else(|error| error, |NothingShown(error)| error.into())
}

/// The bench's registers with one of them at a step.
pub fn registers_at(bench: &Bench, over: FieldId, step: u32) -> Result<Registers> {
    let mut registers = bench.registers().clone();
    let allowed = || format!("0..={}", bench.adapter().field_info(over).max());
    let set = bench.adapter().set(&mut registers, over, u64::from(step));
    set.map_err(|_| InputError::new("--at", step, allowed()))?;
    Ok(registers)
}

/// The pictures of a file or a folder, at least one, each with the file it comes from.
pub(super) fn read(path: &Path) -> Result<Frames> {
    let mut files = Vec::new();
    if path.is_dir() {
        for entry in fs::read_dir(path).with_context(|| path.display().to_string())? {
            let file = entry.with_context(|| path.display().to_string())?.path();
            if names_capture(&file) {
                files.push(file);
            }
        }
        files.sort();
        if files.is_empty() || files.len() > MOST_FILES {
            let found = format!("{} pictures", files.len());
            let allowed = format!("1 to {MOST_FILES} PNG, JPEG, WebP, BMP or GIF files");
            return Err(InputError::new(path.display().to_string(), found, allowed).into());
        }
    } else {
        files.push(path.to_path_buf());
    }
    let mut captures = Vec::new();
    for file in files {
        if video::is_video(&file) {
            captures.extend(video::frames(&file)?.into_iter().map(|frame| (file.clone(), frame)));
            continue;
        }
        let bytes = read_bytes(&file, MOST_FILE_BYTES)?;
        let frames = Capture::read(&bytes).map_err(|error| {
            InputError::new(file.display().to_string(), error, "a capture or photograph of the screen")
        })?;
        captures.extend(frames.into_iter().map(|frame| (file.clone(), frame)));
    }
    if captures.is_empty() {
        let allowed = "a picture with a frame at least";
        return Err(InputError::new(path.display().to_string(), "no frame", allowed).into());
    }
    Ok(captures)
}
