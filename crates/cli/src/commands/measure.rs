//! `measure`: captures and photographs of a real screen, held against what the plain board shows.

mod expected;
mod words;

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};

use anyhow::{Context, Result};
use backporch_adapter::{ADAPTERS, FieldId, Registers};
use backporch_answer::{MeasureAnswer, MeasuredCaptureAnswer, MeasuredLookAnswer};
use backporch_bench::{BENCHES, Bench};
use backporch_evidence::{ExperimentFile, SightingFile, SightingsFile};
use backporch_input::{InputError, Number, Range, Version1, read_bytes};
use backporch_measure::{Capture, Expected, MOST_FILE_BYTES, Measurement, annotated, measure, names_capture};
use clap::Args;

use crate::args::{BenchArgs, value};
use crate::files::{self, Files};
use crate::output::{Found, Output};
use crate::progress;

/// Pictures of a folder that are read.
const MOST_FILES: usize = 64;

#[derive(Debug, Args)]
#[command(mut_arg("bench", |arg| arg.long("bench").value_name("NAME|FILE")))]
pub struct MeasureArgs {
    /// Captures or photographs: PNG, JPEG, WebP, BMP or GIF files; a folder or an animated picture is several of one step
    #[arg(required = true, value_name = "CAPTURE")]
    pub captures: Vec<PathBuf>,
    #[command(flatten)]
    pub bench: BenchArgs,
    /// What the stepped register held: once for all captures, or once for each in their order [default: the bench's own]
    #[arg(long, value_name = "STEP", value_parser = value, value_delimiter = ',')]
    pub at: Vec<u64>,
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
}

pub fn run(args: &MeasureArgs, output: &mut Output) -> Result<Found> {
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
    let looks = args.looks(&bench, over)?;
    let bar = progress::bar(output, "measuring", looks.len() as u64);
    let mut written = Files::default();
    let mut answers = Vec::new();
    let mut seen = Vec::new();
    let mut drawn = 0;
    let captures: usize = looks.iter().map(|look| look.captures.len()).sum();
    for look in &looks {
        let registers = registers_at(&bench, over, look.step)?;
        let expected = expected::expected(&bench, &registers).context("what the plain board shows")?;
        let measured = measured(&expected, look)?;
        let mut drawings = Vec::new();
        if let Some(out) = &args.out {
            for (capture, report) in look.captures.iter().zip(&measured.captures) {
                drawn += 1;
                let path = if captures == 1 { out.clone() } else { numbered(out, drawn) };
                written.add_png(&path, &annotated(&expected, capture, &report.geometry, &measured.lines))?;
                drawings.push(path);
            }
        }
        let values = BTreeMap::from([(bench.adapter().field_info(over).name.clone(), look.step)]);
        let said = words::sightings(&measured.lines, expected.size().0);
        let at = Some(Range::single(u64::from(look.step)));
        seen.extend(said.into_iter().map(|saw| SightingFile { at, saw }));
        answers.push(answer(&expected, look, &measured, values, &drawings));
        bar.inc(1);
    }
    bar.finish_and_clear();
    if let Some(path) = &args.sightings {
        written.add(path, args.sightings_text(&bench, over, seen));
    }
    written.write(output)?;
    let answer = MeasureAnswer {
        board: bench.adapter().name().to_string(),
        mode: bench.mode().name.clone(),
        looks: answers,
        sightings: args.sightings.as_ref().map(|path| path.display().to_string()),
    };
    output.answer(&answer, MeasureAnswer::text)?;
    let wrong = answer.looks.iter().any(|look| look.wrong > 0);
    Ok(if wrong { Found::Something } else { Found::Nothing })
}

impl MeasureArgs {
    /// The captures, by the steps they are of, in order.
    fn looks(&self, bench: &Bench, over: FieldId) -> Result<Vec<Look>> {
        let own = bench.adapter().get(bench.registers(), over);
        if self.at.len() > 1 && self.at.len() != self.captures.len() {
            let allowed = format!("1 or {}, as there are captures", self.captures.len());
            return Err(InputError::new("--at", format!("{} steps", self.at.len()), allowed).into());
        }
        let mut looks: Vec<Look> = Vec::new();
        for (number, path) in self.captures.iter().enumerate() {
            let step = match self.at.get(number).or(self.at.first()) {
                Some(step) => {
                    let max = bench.adapter().field_info(over).max();
                    let fits = u32::try_from(*step).ok().filter(|step| *step <= max);
                    fits.ok_or_else(|| InputError::new("--at", step, format!("0..={max}")))?
                }
                None => own,
            };
            let known = looks.iter().position(|look| look.step == step).unwrap_or_else(|| {
                looks.push(Look { step, captures: Vec::new(), files: Vec::new() });
                looks.len() - 1
            });
            looks[known].read(path)?;
        }
        Ok(looks)
    }

    /// The sightings file.
    fn sightings_text(&self, bench: &Bench, over: FieldId, seen: Vec<SightingFile>) -> String {
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

/// The bench's registers with one of them at a step.
fn registers_at(bench: &Bench, over: FieldId, step: u32) -> Result<Registers> {
    let mut registers = bench.registers().clone();
    let allowed = || format!("0..={}", bench.adapter().field_info(over).max());
    let set = bench.adapter().set(&mut registers, over, u64::from(step));
    set.map_err(|_| InputError::new("--at", step, allowed()))?;
    Ok(registers)
}

impl Look {
    /// Takes in the pictures of a file or a folder.
    fn read(&mut self, path: &Path) -> Result<()> {
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
        for file in files {
            let bytes = read_bytes(&file, MOST_FILE_BYTES)?;
            let frames = Capture::read(&bytes).map_err(|error| {
                InputError::new(file.display().to_string(), error, "a capture or photograph of the screen")
            })?;
            self.files.extend(std::iter::repeat_n(file, frames.len()));
            self.captures.extend(frames);
        }
        Ok(())
    }
}

fn measured(expected: &Expected, look: &Look) -> Result<Measurement> {
    Ok(measure(expected, &look.captures).map_err(|(at, error)| {
        let file = look.files.get(at).map_or_else(String::new, |path| path.display().to_string());
        InputError::new(file, error, "a capture or photograph of the picture that the bench shows")
    })?)
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
        MeasuredCaptureAnswer::new(&path.display().to_string(), report, drawing)
    });
    let saw = words::saw(&measured.lines, expected.size().0);
    MeasuredLookAnswer::new(step, captures.collect(), measured, saw)
}
