//! `hazards`: a routine's mistakes of timing and order, how often they strike, and when to write instead.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use anyhow::{Context, Result};
use backporch_answer::{BudgetAnswer, HazardAnswer, HazardsAnswer};
use backporch_bench::Bench;
use backporch_drive::{Driver, Keep, Start, Watch, layout};
use backporch_hazards::{
    Budget, BudgetFit, Hazard, HazardKind, Inspector, MeantLayout, beam_chart, beam_chart_image, displaced,
    loader_hazards,
};
use backporch_input::{InputError, Range, read_bytes};
use backporch_pc::Stop;
use backporch_quirk::QuirkStack;
use backporch_script::{Cpu, CpuModel, DotTime, FrameRecord, NORMAL_SPEED, PROCESSORS, TraceUnit};
use clap::Args;
use clap::builder::PossibleValuesParser;

use crate::args::{BenchArgs, range};
use crate::files;
use crate::output::{CheckResult, Output};

mod margins;
pub mod named;

#[derive(Debug, Args)]
pub struct HazardsArgs {
    #[command(flatten)]
    pub bench: BenchArgs,
    /// Frames that are looked at
    #[arg(long, value_name = "NUMBER", default_value_t = 60, value_parser = clap::value_parser!(u64).range(3..=100_000))]
    pub frames: u64,
    /// Pass over what happens before this frame, while a routine sets itself up
    #[arg(long, value_name = "FRAME", default_value_t = 0)]
    pub from: u64,
    /// Tell this kind of mistake alone (again for more)
    #[arg(long, value_name = "KIND", value_parser = PossibleValuesParser::new(HazardKind::ALL.map(HazardKind::name)))]
    pub only: Vec<String>,
    /// Start phases tried at each speed, or moments that a trace is moved to; 0 leaves the margins out
    #[arg(long, value_name = "NUMBER", default_value_t = 70, value_parser = clap::value_parser!(u32).range(..=100_000))]
    pub phases: u32,
    /// Speeds tried, in hundredths of the processor's own
    #[arg(long, value_name = "RANGE", value_parser = range, default_value = "95..=105/5")]
    pub speeds: Range,
    /// Frames counted in each of these runs
    #[arg(long, value_name = "NUMBER", default_value_t = 6, value_parser = clap::value_parser!(u64).range(1..=10_000))]
    pub frames_each: u64,
    /// Frames at the beginning of each of them that are not counted
    #[arg(long, value_name = "NUMBER", default_value_t = 2, value_parser = clap::value_parser!(u64).range(..=10_000))]
    pub settling: u64,
    /// Do not look for a moment of the write that holds
    #[arg(long)]
    pub no_advice: bool,
    /// Where the routine goes, turned to write at the advised moment
    #[arg(long, value_name = "RON", conflicts_with = "no_advice")]
    pub advised: Option<PathBuf>,
    /// Print the budget of every built-in CPU model
    #[arg(long)]
    pub budgets: bool,
    /// Write all that reached the board, as a write trace
    #[arg(long, value_name = "CSV")]
    pub trace: Option<PathBuf>,
    /// Times of the trace in nanoseconds, not dots
    #[arg(long, requires = "trace")]
    pub nanoseconds: bool,
    /// Draw the beam's way through a frame with every write and wait
    #[arg(long, value_name = "SVG|PNG")]
    pub chart: Option<PathBuf>,
    /// The frame drawn [default: that of the first hazard]
    #[arg(long, value_name = "FRAME", requires = "chart", value_parser = clap::value_parser!(u64).range(..=100_000))]
    pub chart_frame: Option<u64>,
    /// Hold a memory image against the bench's picture: where a loader displaced it
    #[arg(long, value_name = "FILE")]
    pub image: Option<PathBuf>,
}

impl HazardsArgs {
    fn is_asked_for(&self, kind: &str) -> bool {
        self.only.is_empty() || self.only.iter().any(|only| only == kind)
    }
}

/// Largest memory image that is read.
const LARGEST_IMAGE: u64 = 1 << 20;

/// An image of which less than one byte in this many is the picture's, and no stretch of it displaced, is another one.
const LEAST_AGREEING: usize = 4;

/// What the plain run showed.
pub struct PlainRun {
    pub hazards: Vec<HazardAnswer>,
    pub frames: u64,
    pub fit: Option<BudgetFit>,
    watch: Watch<QuirkStack>,
}

pub fn run(args: &HazardsArgs, output: &mut Output) -> Result<CheckResult> {
    files::expect_ending("--advised", args.advised.as_deref(), &["ron"])?;
    files::expect_ending("--trace", args.trace.as_deref(), &["csv"])?;
    files::expect_ending("--chart", args.chart.as_deref(), &["svg", "png"])?;
    let bench = args.bench.open()?;
    output.notes(&bench)?;
    let driver = Driver::of(&bench)?;
    let mut answer = unfilled(&bench, driver.as_ref());
    if let Some(path) = &args.image {
        answer.hazards.extend(of_image(&bench, path)?);
    }
    match &driver {
        Some(driver) => of_driver(args, &bench, driver, &mut answer, output)?,
        None if args.image.is_some() => {}
        None => {
            let allowed = "one with a routine (routine: in the bench, or --routine)";
            return Err(InputError::new(bench.name(), "a bench without a routine", allowed).into());
        }
    }
    let found = if answer.is_clean() { CheckResult::Nothing } else { CheckResult::Something };
    output.answer(&answer, HazardsAnswer::text)?;
    Ok(found)
}

/// The answer before anything was looked at.
fn unfilled(bench: &Bench, driver: Option<&Driver>) -> HazardsAnswer {
    let cpu = match driver {
        Some(Driver::Script(script)) => Some(script.model.name.clone()),
        Some(Driver::Program(program)) => {
            let (model, clock) = (program.setup.model, program.setup.clock);
            Some(format!("{} at {:.2} MHz", model.name(), clock.hertz() / 1e6))
        }
        Some(Driver::Trace(_)) | None => None,
    };
    HazardsAnswer {
        board: bench.adapter().name().to_string(),
        mode: bench.mode().name.clone(),
        quirks: bench.quirks().iter().map(|quirk| quirk.name().to_string()).collect(),
        routine: bench.routine().map(ToString::to_string),
        cpu,
        ..HazardsAnswer::default()
    }
}

/// The budget of the script's processor, or of every built-in one.
fn budgets(bench: &Bench, driver: &Driver, every: bool) -> Vec<BudgetAnswer> {
    let own = match driver {
        Driver::Script(script) => Some(script.cpu(bench)),
        Driver::Trace(_) | Driver::Program(_) => None,
    };
    let own_name = own.as_ref().map(|cpu| cpu.model().name.clone());
    let others = PROCESSORS.names().filter(|name| every && own_name.as_deref() != Some(*name));
    let others = others.filter_map(CpuModel::built_in);
    let others = others.map(|model| Cpu::new(model.into(), bench.adapter(), bench.registers(), NORMAL_SPEED));
    // Registers without a stable signal leave no time to share out.
    let budget = |cpu: Cpu| {
        let budget = Budget::new(bench.adapter(), bench.registers(), &cpu).ok()?;
        Some(BudgetAnswer::new(&cpu, &budget))
    };
    own.into_iter().chain(others).filter_map(budget).collect()
}

fn of_driver(
    args: &HazardsArgs,
    bench: &Bench,
    driver: &Driver,
    answer: &mut HazardsAnswer,
    output: &mut Output,
) -> Result<()> {
    let looked = look(bench, driver, args.frames, args.trace.is_some())?;
    answer.frames = looked.frames;
    let is_asked_for = |hazard: &HazardAnswer| hazard.frame >= args.from && args.is_asked_for(&hazard.kind);
    answer.hazards.extend(looked.hazards.into_iter().filter(is_asked_for));
    answer.trouble = looked.watch.played.as_ref().and_then(|played| match played.ended() {
        Some(Stop::Trouble(report)) => Some(format!("at {} the program {}", report.at, report.trouble)),
        _ => None,
    });
    if let Some(path) = &args.trace {
        let unit = if args.nanoseconds { TraceUnit::Nanosecond } else { TraceUnit::Dot };
        let csv = looked.watch.trace.to_csv(unit, DotTime::new(bench.dot_clock()));
        files::write(output, path, csv.as_bytes())?;
        answer.files.push(path.display().to_string());
    }
    if let Some(path) = &args.chart {
        let first = answer.hazards.first().map_or(args.frames - 1, |hazard| hazard.frame);
        let number = args.chart_frame.unwrap_or(first.min(args.frames - 1));
        chart(bench, driver, number, path, output)?;
        answer.files.push(path.display().to_string());
    }
    if args.phases > 0 {
        margins::fill(args, bench, driver, answer, output)?;
    }
    if let Some(margins) = answer.margins.as_mut() {
        margins.kinds.retain(|margin| args.is_asked_for(&margin.kind));
    }
    answer.budgets = budgets(bench, driver, args.budgets);
    answer.fit = looked.fit.map(Into::into);
    Ok(())
}

/// Runs the driver once and names its mistakes.
pub fn look(bench: &Bench, driver: &Driver, frames: u64, trace: bool) -> Result<PlainRun> {
    let mut inspector: Inspector = driver.inspector(bench);
    let mut fit = None::<BudgetFit>;
    let cpu = match driver {
        Driver::Script(script) => Some(script.cpu(bench)),
        Driver::Trace(_) | Driver::Program(_) => None,
    };
    let mut see = |record: FrameRecord| {
        let passed = cpu.as_ref().and_then(|cpu| BudgetFit::of(std::slice::from_ref(&record), cpu));
        fit = [fit, passed].into_iter().flatten().max_by_key(|fit| fit.busiest_pass);
        inspector.see(record);
    };
    let keep = Keep { trace, signals: false };
    let watch = driver.watch(bench, bench.faulty(bench.registers()), (Start::default(), frames, keep), &mut see)?;
    let hazards: Vec<Hazard> = inspector.finish(watch.waiting);
    let hazards = match &watch.played {
        Some(played) => hazards.into_iter().map(|hazard| named::of_program(hazard, played.machine())).collect(),
        None => hazards.into_iter().map(|hazard| HazardAnswer::new(hazard, None)).collect(),
    };
    Ok(PlainRun { hazards, frames, fit, watch })
}

/// The record of one frame; runs are the same every time.
pub fn record_of(bench: &Bench, driver: &Driver, number: u64) -> Result<Option<FrameRecord>> {
    let mut found = None;
    let mut see = |record: FrameRecord| {
        if record.frame.number == number {
            found = Some(record);
        }
    };
    let run = (Start::default(), number + 1, Keep::default());
    driver.watch(bench, bench.faulty(bench.registers()), run, &mut see)?;
    Ok(found)
}

/// Draws the beam's way through a frame, as SVG or PNG by the file's ending.
fn chart(bench: &Bench, driver: &Driver, number: u64, path: &Path, output: &mut Output) -> Result<()> {
    let ending = path.extension().map(|ending| ending.to_string_lossy().to_lowercase());
    let record =
        record_of(bench, driver, number)?.with_context(|| format!("--chart-frame: found no frame {number}"))?;
    match ending.as_deref() {
        Some("svg") => files::write(output, path, beam_chart(&record, bench.adapter()).as_bytes()),
        Some("png") => files::write_png(output, path, &beam_chart_image(&record, bench.adapter())),
        other => {
            let found = other.map_or_else(|| "no ending".to_string(), |ending| format!(".{ending}"));
            Err(InputError::new("--chart", found, ".svg or .png").into())
        }
    }
}

/// Where a memory image shows the bench's picture displaced.
fn of_image(bench: &Bench, path: &Path) -> Result<Vec<HazardAnswer>> {
    let image = read_bytes(path, LARGEST_IMAGE)?;
    let Some(MeantLayout { pitch, .. }) = layout(bench) else {
        return Err(InputError::new("--image", "a bench without a picture", "one with the picture it should be").into());
    };
    let picture = bench.memory(bench.registers());
    let hazards = loader_hazards(&image, &picture, pitch);
    let agreeing = image.iter().zip(picture.iter()).filter(|(one, two)| one == two).count();
    let is_displaced = !displaced(&image, &picture).is_empty();
    if !is_displaced && agreeing < image.len() / LEAST_AGREEING || image.is_empty() {
        let found = format!("{} bytes, of which {agreeing} are where the bench's picture has them", image.len());
        let allowed = "video memory with the bench's picture in it, in place or displaced";
        return Err(InputError::new(path.display().to_string(), found, allowed).into());
    }
    Ok(hazards.into_iter().map(|hazard| HazardAnswer::new(hazard, None)).collect())
}

/// The adapter, shared.
fn adapter_of(bench: &Bench) -> Arc<backporch_adapter::Adapter> {
    Arc::clone(bench.adapter())
}
