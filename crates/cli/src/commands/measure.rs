//! `measure`: captures and photographs of a real screen, held against what the plain board shows.

mod boards;
mod card;
mod expected;
mod looks;
mod series;
mod session;
mod steps;
mod video;
mod words;

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};

use anyhow::Result;
use backporch_adapter::{ADAPTERS, FieldId};
use backporch_answer::{MeasureAnswer, MeasuredCaptureAnswer, MeasuredLookAnswer, TestCardAnswer};
use backporch_bench::{BENCHES, Bench};
use backporch_evidence::{Experiment, ExperimentFile, SightingFile, SightingsFile};
use backporch_input::{InputError, Number, Range, Source, Version1};
use backporch_measure::{LONGEST_DRAWN, annotated};
use clap::Args;

use self::looks::Shown;
pub use self::looks::{CaptureSettings, Measured, Reading, Suspect, likeliest, registers_at};
pub use self::series::with_series;
use self::session::SessionPictures;
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
    /// Captures show looks of the session of this sheet, or of these answers: which ones, the numbers at their upper left tell
    #[arg(long, value_name = "FILE", conflicts_with_all = ["at", "steps", "card", "over", "suspects"])]
    pub session: Option<PathBuf>,
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
    if let Some(session) = &args.session {
        return run_session(args, session, output);
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
    let mut drawings = Drawings::of(args, reading.measured.iter());
    for one in &reading.measured {
        seen.extend(one.sightings());
        answers.push(one.answer(&reading.shown.bench, over, &drawings.draw(one, &mut written)?));
    }
    if let Some(path) = &args.sightings {
        let Shown { bench, is_card } = &reading.shown;
        let experiment =
            ExperimentFile { card: *is_card, seen, ..args.experiment(bench.adapter().field_info(over).name.clone()) };
        written.add(path, args.sightings_text(vec![experiment]));
    }
    written.write(output)?;
    args.say(&reading.shown.bench, reading.card(over)?, answers, output)
}

/// The looks of a session.
fn run_session(args: &MeasureArgs, session: &Path, output: &mut Output) -> Result<CheckResult> {
    let looks = SessionPictures::open(session, &args.bench)?.measured(&args.captures, output)?;
    let mut written = OutputFiles::default();
    let mut answers = Vec::new();
    let mut experiments: Vec<(&Experiment, ExperimentFile)> = Vec::new();
    let mut drawings = Drawings::of(args, looks.iter().map(|one| &one.measured));
    for one in &looks {
        let (bench, experiment) = (one.bench(), &one.look.experiment);
        let drawn = drawings.draw(&one.measured, &mut written)?;
        let mut answer = one.measured.answer(bench, experiment.over, &drawn);
        let name = |field| bench.adapter().field_info(field).name.clone();
        let settings = || experiment.settings.iter().filter(|(field, _)| *field != experiment.over);
        answer.step.extend(settings().map(|(field, value)| (name(*field), *value)));
        answer.look = Some(one.found.clone());
        answers.push(answer);
        let at = experiments.iter().position(|(known, _)| known.same_as(experiment)).unwrap_or_else(|| {
            let base = args.experiment(name(experiment.over));
            let set = settings().map(|(field, value)| (name(*field), Number::from(u64::from(*value))));
            let file = ExperimentFile {
                title: experiment.title.clone(),
                mode: Some(bench.mode().name.clone()),
                card: true,
                specimen: experiment.conditions.specimen,
                moment: experiment.conditions.moment,
                registers: base.registers.clone().into_iter().chain(set).collect(),
                ..base
            };
            experiments.push((experiment, file));
            experiments.len() - 1
        });
        experiments[at].1.seen.extend(one.measured.sightings());
    }
    if let Some(path) = &args.sightings {
        written.add(path, args.sightings_text(experiments.into_iter().map(|(_, file)| file).collect()));
    }
    written.write(output)?;
    let Some(first) = looks.first() else { return Ok(CheckResult::Nothing) };
    args.say(first.bench(), None, answers, output)
}

/// The files that captures are drawn into.
struct Drawings<'a> {
    out: Option<&'a Path>,
    /// Whether there is but one.
    is_one: bool,
    drawn: usize,
}

impl<'a> Drawings<'a> {
    fn of<'m>(args: &'a MeasureArgs, measured: impl Iterator<Item = &'m Measured>) -> Self {
        let captures: usize = measured.map(|one| one.look.captures.len()).sum();
        Self { out: args.out.as_deref(), is_one: captures == 1, drawn: 0 }
    }

    /// Draws what was found on the captures of a look; the files they go into.
    fn draw(&mut self, one: &Measured, written: &mut OutputFiles) -> Result<Vec<PathBuf>> {
        let Some(out) = self.out else { return Ok(Vec::new()) };
        let Measured { look, expected, measurement } = one;
        let mut files = Vec::new();
        for (capture, report) in look.captures.iter().zip(&measurement.captures) {
            self.drawn += 1;
            let path = if self.is_one { out.to_owned() } else { numbered(out, self.drawn) };
            let drawing = annotated(expected, capture, &report.geometry, &measurement.lines, LONGEST_DRAWN);
            written.add_png(&path, &drawing)?;
            files.push(path);
        }
        Ok(files)
    }
}

impl Measured {
    /// What the captures show, as sightings say it.
    fn sightings(&self) -> impl Iterator<Item = SightingFile> {
        let at = Some(Range::single(u64::from(self.look.step)));
        let said = words::sightings(&self.measurement.lines, self.expected.size().0);
        said.into_iter().map(move |saw| SightingFile { at, saw })
    }

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

    /// An experiment on the bench as it was set up, nothing seen yet.
    fn experiment(&self, over: String) -> ExperimentFile {
        let board = self.bench.board.as_deref();
        let board = board.map(|board| if ADAPTERS.contains(board) { board.to_string() } else { whole(board) });
        ExperimentFile {
            board,
            mode: self.bench.mode.clone(),
            registers: self.bench.set.iter().map(|(name, value)| (name.clone(), Number::from(*value))).collect(),
            ..ExperimentFile::stepping(over)
        }
    }

    /// The sightings file.
    fn sightings_text(&self, experiments: Vec<ExperimentFile>) -> String {
        let bench =
            if BENCHES.contains(&self.bench.bench) { self.bench.bench.clone() } else { whole(&self.bench.bench) };
        let file = SightingsFile {
            version: Version1,
            title: "Measured on captures".to_string(),
            bench,
            observer_errors: None,
            experiments,
        };
        file.to_text()
    }

    /// Prints the answer.
    fn say(
        &self,
        bench: &Bench,
        card: Option<TestCardAnswer>,
        looks: Vec<MeasuredLookAnswer>,
        output: &mut Output,
    ) -> Result<CheckResult> {
        let answer = MeasureAnswer {
            board: bench.adapter().name().to_string(),
            mode: bench.mode().name.clone(),
            card,
            looks,
            sightings: self.sightings.as_ref().map(|path| path.display().to_string()),
        };
        output.answer(&answer, MeasureAnswer::text)?;
        let wrong = answer.looks.iter().any(|look| look.wrong > 0);
        Ok(if wrong { CheckResult::Something } else { CheckResult::Nothing })
    }
}

/// What a file that may be written anywhere names: a whole path.
fn whole(name: &str) -> String {
    let path = fs::canonicalize(name).or_else(|_| std::path::absolute(name));
    path.map_or_else(|_| name.to_string(), |path| path.display().to_string())
}

fn numbered(path: &Path, number: usize) -> PathBuf {
    let stem = path.file_stem().map_or_else(|| "measured".into(), |stem| stem.to_string_lossy().into_owned());
    path.with_file_name(format!("{stem}-{number}.png"))
}
