//! `measure`: captures and photographs of a real screen, held against what the plain board shows.

mod boards;
mod card;
mod expected;
mod looks;
mod series;
mod steps;
mod video;
mod words;

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};

use anyhow::Result;
use backporch_adapter::{ADAPTERS, FieldId};
use backporch_answer::{MeasureAnswer, MeasuredCaptureAnswer, MeasuredLookAnswer};
use backporch_bench::{BENCHES, Bench};
use backporch_evidence::{ExperimentFile, SightingFile, SightingsFile};
use backporch_input::{InputError, Number, Range, Source, Version1};
use backporch_measure::{LONGEST_DRAWN, annotated};
use clap::Args;

use self::looks::Shown;
pub use self::looks::{CaptureSettings, Measured, Reading, Suspect, likeliest, registers_at};
pub use self::series::with_series;
pub use self::video::is_video;
use super::diagnose::DiagnoseArgs;
use super::suspects::{self, ReadDocument};
use crate::args::{BenchArgs, range, value};
use crate::files::{self, OutputFiles};
use crate::output::{CheckResult, Output};

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
    /// Faults that come into question besides those of the bench, to tell the step and what the board does to a test card's
    /// codes: the JSON answer of `diagnose`, or sightings
    #[arg(long, value_name = "NAME|FILE")]
    pub suspects: Option<String>,
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
    let suspects = args.suspects(&bench, output)?;
    let settings = CaptureSettings {
        captures: &args.captures,
        at: &args.at,
        steps: args.steps.as_ref(),
        is_card: args.card,
        suspects: &suspects,
    };
    let reading = settings.reading(bench, over, output)?;
    let mut written = OutputFiles::default();
    let mut answers = Vec::new();
    let mut seen = Vec::new();
    let mut drawn = 0;
    let captures: usize = reading.measured.iter().map(|one| one.look.captures.len()).sum();
    for one in &reading.measured {
        let Measured { look, expected, measurement } = one;
        let mut drawings = Vec::new();
        if let Some(out) = &args.out {
            for (capture, report) in look.captures.iter().zip(&measurement.captures) {
                drawn += 1;
                let path = if captures == 1 { out.clone() } else { numbered(out, drawn) };
                let drawing = annotated(expected, capture, &report.geometry, &measurement.lines, LONGEST_DRAWN);
                written.add_png(&path, &drawing)?;
                drawings.push(path);
            }
        }
        let said = words::sightings(&measurement.lines, expected.size().0);
        let at = Some(Range::single(u64::from(look.step)));
        seen.extend(said.into_iter().map(|saw| SightingFile { at, saw }));
        answers.push(one.answer(&reading.shown.bench, over, &drawings));
    }
    if let Some(path) = &args.sightings {
        written.add(path, args.sightings_text(&reading.shown, over, seen));
    }
    written.write(output)?;
    let answer = MeasureAnswer {
        board: reading.shown.bench.adapter().name().to_string(),
        mode: reading.shown.bench.mode().name.clone(),
        card: reading.card(over)?,
        looks: answers,
        sightings: args.sightings.as_ref().map(|path| path.display().to_string()),
    };
    output.answer(&answer, MeasureAnswer::text)?;
    let wrong = answer.looks.iter().any(|look| look.wrong > 0);
    Ok(if wrong { CheckResult::Something } else { CheckResult::Nothing })
}

impl Measured {
    /// The answer for the look; `drawings` are the files its captures were drawn into, where they were.
    pub fn answer(&self, bench: &Bench, over: FieldId, drawings: &[PathBuf]) -> MeasuredLookAnswer {
        let Self { look, expected, measurement } = self;
        let step = BTreeMap::from([(bench.adapter().field_info(over).name.clone(), look.step)]);
        let captures = look.files.iter().zip(&measurement.captures).enumerate().map(|(at, (path, report))| {
            let drawing = drawings.get(at).map(|path| path.display().to_string());
            let found = look.found.get(at).cloned().flatten();
            MeasuredCaptureAnswer::new(&path.display().to_string(), report, found, drawing)
        });
        let saw = words::saw(&measurement.lines, expected.size().0);
        MeasuredLookAnswer::new(step, captures.collect(), measurement, saw)
    }
}

impl MeasureArgs {
    /// The suspects that are named.
    fn suspects(&self, bench: &Bench, output: &Output) -> Result<Vec<Suspect>> {
        let Some(name) = &self.suspects else { return Ok(Vec::new()) };
        let diagnosis = if Path::new(name).extension().is_some_and(|ending| ending.eq_ignore_ascii_case("json")) {
            suspects::document(Path::new(name), "diagnose")?
        } else {
            let answer = DiagnoseArgs::of(name).diagnosis(output)?;
            ReadDocument { source: Source::built_in(name, ""), answer }
        };
        likeliest(bench, &diagnosis)
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

fn numbered(path: &Path, number: usize) -> PathBuf {
    let stem = path.file_stem().map_or_else(|| "measured".into(), |stem| stem.to_string_lossy().into_owned());
    path.with_file_name(format!("{stem}-{number}.png"))
}
