//! `hazards`: a routine's mistakes of timing and order, how often they strike, and when to write instead.

use std::path::Path;
use std::sync::Arc;

use anyhow::{Context, Result};
use backporch_bench::Bench;
use backporch_drive::{Driver, Keep, Start, Watch, layout};
use backporch_hazards::{Fit, Hazard, HazardKind, Inspector, Layout, beam_chart, beam_chart_image, loader_hazards};
use backporch_input::InputError;
use backporch_pc::Stop;
use backporch_quirk::QuirkStack;
use backporch_script::{DotTime, FrameRecord, TraceUnit};

use self::answer::{BudgetAnswer, HazardsAnswer};
use crate::answer::{Answer, Found};
use crate::args::HazardsArgs;
use crate::files;

mod answer;
mod margins;
pub mod named;

use self::named::HazardAnswer;

/// Largest memory image that is read.
const LARGEST_IMAGE: u64 = 1 << 20;

/// What the plain run showed.
pub struct Looked {
    pub hazards: Vec<HazardAnswer>,
    pub frames: u64,
    pub fit: Option<Fit>,
    watch: Watch<QuirkStack>,
}

pub fn run(args: &HazardsArgs, answer: &mut Answer) -> Result<Found> {
    let bench = Bench::open(&args.bench.bench, &args.bench.overrides())?;
    super::frame::say_notes(&bench, answer)?;
    let driver = Driver::of(&bench)?;
    let mut told = HazardsAnswer::new(&bench, driver.as_ref());
    if let Some(path) = &args.image {
        told.hazards.extend(of_image(&bench, path)?);
    }
    match &driver {
        Some(driver) => of_driver(args, &bench, driver, &mut told, answer)?,
        None if args.image.is_some() => {}
        None => {
            let allowed = "one with a routine (routine: in the bench, or --routine)";
            return Err(InputError::new(bench.name(), "a bench without a routine", allowed).into());
        }
    }
    let found = if told.is_clean() { Found::Nothing } else { Found::Something };
    answer.give(&told, HazardsAnswer::text)?;
    Ok(found)
}

fn of_driver(
    args: &HazardsArgs,
    bench: &Bench,
    driver: &Driver,
    told: &mut HazardsAnswer,
    answer: &mut Answer,
) -> Result<()> {
    let looked = look(bench, driver, args.frames, args.trace.is_some())?;
    told.frames = looked.frames;
    told.hazards.extend(looked.hazards.into_iter().filter(|hazard| hazard.frame >= args.from));
    told.trouble = looked.watch.played.as_ref().and_then(|played| match played.ended() {
        Some(Stop::Trouble(report)) => Some(format!("at {} the program {}", report.at, report.trouble)),
        _ => None,
    });
    if let Some(path) = &args.trace {
        let unit = if args.nanoseconds { TraceUnit::Nanosecond } else { TraceUnit::Dot };
        let csv = looked.watch.trace.to_csv(unit, DotTime::new(bench.adapter().dot_clock()));
        files::write(answer, path, csv.as_bytes())?;
        told.files.push(path.display().to_string());
    }
    if let Some(path) = &args.chart {
        let first = told.hazards.first().map_or(args.frames - 1, |hazard| hazard.frame);
        let number = args.chart_frame.unwrap_or(first.min(args.frames - 1));
        chart(bench, driver, number, path, answer)?;
        told.files.push(path.display().to_string());
    }
    if args.phases > 0 {
        margins::fill(args, bench, driver, told, answer)?;
    }
    told.budgets = BudgetAnswer::all(bench, driver, args.budgets)?;
    told.fit = looked.fit.map(Into::into);
    Ok(())
}

/// Runs the driver once and names its mistakes.
pub fn look(bench: &Bench, driver: &Driver, frames: u64, trace: bool) -> Result<Looked> {
    let mut inspector: Inspector = driver.inspector(bench);
    let mut fit = None::<Fit>;
    let cpu = match driver {
        Driver::Script(script) => Some(script.cpu(bench)),
        Driver::Trace(_) | Driver::Program(_) => None,
    };
    let mut see = |record: FrameRecord| {
        let passed = cpu.as_ref().and_then(|cpu| Fit::of(std::slice::from_ref(&record), cpu));
        fit = [fit, passed].into_iter().flatten().max_by_key(|fit| fit.busiest_pass);
        inspector.see(record);
    };
    let keep = Keep { trace, signals: false };
    let watch = driver.watch(bench, bench.faulty(bench.registers()), (Start::default(), frames, keep), &mut see)?;
    let hazards: Vec<Hazard> = inspector.finish(watch.waiting);
    let hazards = match &watch.played {
        Some(played) => named::of_program(hazards, played.machine()),
        None => hazards.into_iter().map(|hazard| HazardAnswer::new(hazard, None)).collect(),
    };
    Ok(Looked { hazards, frames, fit, watch })
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
fn chart(bench: &Bench, driver: &Driver, number: u64, path: &Path, answer: &mut Answer) -> Result<()> {
    let ending = path.extension().map(|ending| ending.to_string_lossy().to_lowercase());
    let record =
        record_of(bench, driver, number)?.with_context(|| format!("--chart-frame: found no frame {number}"))?;
    match ending.as_deref() {
        Some("svg") => files::write(answer, path, beam_chart(&record, bench.adapter()).as_bytes()),
        Some("png") => files::write_png(answer, path, &beam_chart_image(&record, bench.adapter())),
        other => {
            let found = other.map_or_else(|| "no ending".to_string(), |ending| format!(".{ending}"));
            Err(InputError::new("--chart", found, ".svg or .png").into())
        }
    }
}

/// Where a memory image shows the bench's picture displaced.
fn of_image(bench: &Bench, path: &Path) -> Result<Vec<HazardAnswer>> {
    let shown = path.display().to_string();
    let size = std::fs::metadata(path).with_context(|| shown.clone())?.len();
    if size > LARGEST_IMAGE {
        return Err(InputError::new(shown, format!("{size} bytes"), format!("at most {LARGEST_IMAGE}")).into());
    }
    let image = std::fs::read(path).with_context(|| shown.clone())?;
    let Some(Layout { pitch, .. }) = layout(&bench) else {
        return Err(InputError::new("--image", "a bench without a picture", "one with the picture it should be").into());
    };
    let hazards = loader_hazards(&image, &bench.memory(bench.registers()), pitch);
    Ok(hazards.into_iter().map(|hazard| HazardAnswer::new(hazard, None)).collect())
}

/// Kinds that another moment of the write can cure.
fn is_of_timing(kind: HazardKind) -> bool {
    use HazardKind::{ColumnEarly, ColumnLate, LateStart, NearLatch, Tear, TornStart};
    matches!(kind, TornStart | LateStart | NearLatch | ColumnEarly | ColumnLate | Tear)
}

/// The adapter, shared.
fn adapter_of(bench: &Bench) -> Arc<backporch_adapter::Adapter> {
    Arc::clone(bench.adapter())
}
