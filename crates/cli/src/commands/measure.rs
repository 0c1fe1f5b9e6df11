//! `measure`: captures and photographs of a real screen, held against what the plain board shows.

mod card;
mod expected;
mod series;
mod steps;
mod video;
mod words;

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};

use anyhow::{Context, Result};
use backporch_adapter::{ADAPTERS, FieldId, Registers};
use backporch_answer::{MeasureAnswer, MeasuredCaptureAnswer, MeasuredLookAnswer, StepFoundAnswer};
use backporch_bench::{BENCHES, Bench};
use backporch_evidence::{ExperimentFile, SightingFile, SightingsFile};
use backporch_input::{InputError, Number, Range, Version1, read_bytes};
use backporch_measure::{Capture, Expected, MOST_FILE_BYTES, Measurement, annotated, measure, names_capture};
use clap::Args;
use thiserror::Error;

use self::steps::StartSteps;
use crate::args::{BenchArgs, range, value};
use crate::files::{self, OutputFiles};
use crate::output::{CheckResult, Output};
use crate::progress;

/// Pictures of a folder that are read.
const MOST_FILES: usize = 64;

#[derive(Debug, Args)]
#[command(mut_arg("bench", |arg| arg.long("bench").value_name("NAME|FILE")))]
pub struct MeasureArgs {
    /// Captures or photographs: PNG, JPEG, WebP, BMP or GIF files; a folder, an animated picture or a video (by ffmpeg) is
    /// several of one step; look-%d.png is every file numbered so
    #[arg(required = true, value_name = "CAPTURE")]
    pub captures: Vec<PathBuf>,
    #[command(flatten)]
    pub bench: BenchArgs,
    /// What the stepped register held: once for all captures, or once for each in their order [default: the start address
    /// is found from the picture; of other registers the bench's own]
    #[arg(long, value_name = "STEP", value_parser = value, value_delimiter = ',')]
    pub at: Vec<u64>,
    /// Steps among which the start address is looked for [default: all that the register can hold]
    #[arg(long, value_name = "RANGE", value_parser = range, conflicts_with = "at")]
    pub steps: Option<Range>,
    /// Captures show the test card of a session, whether its codes can be read or not
    #[arg(long)]
    pub card: bool,
    /// The register that is stepped [default: the start address]
    #[arg(long, value_name = "REGISTER")]
    pub over: Option<String>,
    /// Draw what was found on the captures; numbered where there are several
    #[arg(long, value_name = "PNG")]
    pub out: Option<PathBuf>,
    /// Write what was seen as sightings, for `diagnose`
    #[arg(long, value_name = "FILE")]
    pub sightings: Option<PathBuf>,
}

/// Captures of one step.
struct Look {
    step: u32,
    captures: Vec<Capture>,
    /// The file that each comes from.
    files: Vec<PathBuf>,
    /// How the step of each was found.
    found: Vec<Option<StepFoundAnswer>>,
}

/// A look, what was meant at it, and what the captures show.
struct Measured {
    look: Look,
    expected: Expected,
    measurement: Measurement,
}

/// Frames of one capture, each with the file it comes from.
type Frames = Vec<(PathBuf, Capture)>;

/// Captures show nothing of what they were held against.
#[derive(Debug, Error)]
#[error(transparent)]
struct NothingShown(InputError);

pub fn run(args: &MeasureArgs, output: &mut Output) -> Result<CheckResult> {
    files::expect_ending("--out", args.out.as_deref(), &["png"])?;
    files::expect_ending("--sightings", args.sightings.as_deref(), &["ron"])?;
    args.bench.refuse_routine("none: captures are held against a board at rest")?;
    if let Some(picture) = args.bench.picture.as_ref().filter(|_| args.sightings.is_some()) {
        let allowed = "a bench with that picture: sightings name no picture of their own";
        return Err(InputError::new("--picture", picture.display(), allowed).into());
    }
    let bench = args.bench.open()?;
    output.notes(&bench)?;
    let over = match &args.over {
        Some(name) => bench.field(name)?,
        None => bench.adapter().start_address(),
    };
    let captures = args.read()?;
    let code = card::code(&bench, captures.iter().flatten())?;
    let (shown, measured) = args.measured(bench, over, captures, code.is_some(), output)?;
    let bench = &shown.bench;
    let mut written = OutputFiles::default();
    let mut answers = Vec::new();
    let mut seen = Vec::new();
    let mut drawn = 0;
    let captures: usize = measured.iter().map(|one| one.look.captures.len()).sum();
    for Measured { look, expected, measurement } in &measured {
        let mut drawings = Vec::new();
        if let Some(out) = &args.out {
            for (capture, report) in look.captures.iter().zip(&measurement.captures) {
                drawn += 1;
                let path = if captures == 1 { out.clone() } else { numbered(out, drawn) };
                written.add_png(&path, &annotated(expected, capture, &report.geometry, &measurement.lines))?;
                drawings.push(path);
            }
        }
        let values = BTreeMap::from([(bench.adapter().field_info(over).name.clone(), look.step)]);
        let said = words::sightings(&measurement.lines, expected.size().0);
        let at = Some(Range::single(u64::from(look.step)));
        seen.extend(said.into_iter().map(|saw| SightingFile { at, saw }));
        answers.push(answer(expected, look, measurement, values, &drawings));
    }
    if let Some(path) = &args.sightings {
        written.add(path, args.sightings_text(&shown, over, seen));
    }
    written.write(output)?;
    let card = match measured.first().filter(|_| shown.is_card) {
        Some(first) => Some(card::answer(bench, &registers_at(bench, over, first.look.step)?, code)),
        None => None,
    };
    let answer = MeasureAnswer {
        board: bench.adapter().name().to_string(),
        mode: bench.mode().name.clone(),
        card,
        looks: answers,
        sightings: args.sightings.as_ref().map(|path| path.display().to_string()),
    };
    output.answer(&answer, MeasureAnswer::text)?;
    let wrong = answer.looks.iter().any(|look| look.wrong > 0);
    Ok(if wrong { CheckResult::Something } else { CheckResult::Nothing })
}

/// The bench with what captures show in its memory.
struct Shown {
    bench: Bench,
    /// It is the test card of a session.
    is_card: bool,
}

impl MeasureArgs {
    /// All captures that are named.
    fn read(&self) -> Result<Vec<Frames>> {
        series::with_series(&self.captures)?.iter().map(|path| read(path)).collect()
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
        if self.card || has_code {
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
                let (pixels, lines) = card::label(bench);
                expected = expected.with_unknown(0..pixels, 0..lines);
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
        let given = match &self.steps {
            Some(range) => {
                // The last one is the greatest.
                range.iter().next_back().map(|last| fits(last, "--steps")).transpose()?;
                Some(range.iter().filter_map(|step| u32::try_from(step).ok()).collect())
            }
            None => None,
        };
        match StartSteps::new(bench, given) {
            None if self.steps.is_some() => refused("--at: lines of this mode lie in no order that could be searched"),
            steps => Ok(steps),
        }
    }

    /// The sightings file.
    fn sightings_text(&self, Shown { bench, is_card }: &Shown, over: FieldId, seen: Vec<SightingFile>) -> String {
        // The file may be written anywhere: what it names is named by whole paths.
        let whole = |name: &str| {
            let path = fs::canonicalize(name).or_else(|_| std::path::absolute(name));
            path.map_or_else(|_| name.to_string(), |path| path.display().to_string())
        };
        let name =
            if BENCHES.contains(&self.bench.bench) { self.bench.bench.clone() } else { whole(&self.bench.bench) };
        let board = self.bench.board.as_deref();
        let board = board.map(|board| if ADAPTERS.contains(board) { board.to_string() } else { whole(board) });
        let experiment = ExperimentFile {
            board,
            mode: self.bench.mode.clone(),
            card: *is_card,
            registers: self.bench.set.iter().map(|(name, value)| (name.clone(), Number::from(*value))).collect(),
            seen,
            ..ExperimentFile::stepping(bench.adapter().field_info(over).name.clone())
        };
        let file = SightingsFile {
            version: Version1,
            title: "Measured on captures".to_string(),
            bench: name,
            observer_errors: None,
            experiments: vec![experiment],
        };
        file.to_text()
    }
}

/// The error itself, where captures show nothing.
fn plain_error(error: anyhow::Error) -> anyhow::Error {
    error.downcast::<NothingShown>().map_or_else(|error| error, |NothingShown(error)| error.into())
}

/// The bench's registers with one of them at a step.
fn registers_at(bench: &Bench, over: FieldId, step: u32) -> Result<Registers> {
    let mut registers = bench.registers().clone();
    let allowed = || format!("0..={}", bench.adapter().field_info(over).max());
    let set = bench.adapter().set(&mut registers, over, u64::from(step));
    set.map_err(|_| InputError::new("--at", step, allowed()))?;
    Ok(registers)
}

/// The pictures of a file or a folder, at least one, each with the file it comes from.
fn read(path: &Path) -> Result<Frames> {
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

fn numbered(path: &Path, number: usize) -> PathBuf {
    let stem = path.file_stem().map_or_else(|| "measured".into(), |stem| stem.to_string_lossy().into_owned());
    path.with_file_name(format!("{stem}-{number}.png"))
}

fn answer(
    expected: &Expected,
    look: &Look,
    measured: &Measurement,
    step: BTreeMap<String, u32>,
    drawings: &[PathBuf],
) -> MeasuredLookAnswer {
    let captures = look.files.iter().zip(&measured.captures).enumerate().map(|(at, (path, report))| {
        let drawing = drawings.get(at).map(|path| path.display().to_string());
        let found = look.found.get(at).cloned().flatten();
        MeasuredCaptureAnswer::new(&path.display().to_string(), report, found, drawing)
    });
    let saw = words::saw(&measured.lines, expected.size().0);
    MeasuredLookAnswer::new(step, captures.collect(), measured, saw)
}
