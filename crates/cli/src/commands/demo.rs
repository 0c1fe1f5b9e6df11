//! `demo`: the whole story on built-in data.

use std::fs;
use std::path::{Path, PathBuf};

use anyhow::{Context, Result, anyhow};
use backporch_adapter::{Adapter, Role};
use backporch_analysis::{Damage, Sweep, SweepAxis, SweepStep, Verdict};
use backporch_answer::{DemoAnswer, Document, PixelAnswer};
use backporch_bench::{Bench, Overrides};
use backporch_input::{InputError, cannot_write};
use backporch_raster::View;
use clap::{Args, Parser};
use image::RgbImage;
use serde::de::DeserializeOwned;
use serde_json::Value;

use crate::args::Arguments;
use crate::commands::{CliCommand, compare, diagnose, frame, report, sweep};
use crate::files;
use crate::output::{CheckResult, Output};

#[derive(Debug, Args)]
pub struct DemoArgs {
    /// Folder for the results; made if it is not there
    #[arg(long, value_name = "FOLDER", default_value = "backporch-demo")]
    pub out: PathBuf,
}

/// Start addresses of two periods at 320 pixels a line.
const STEPS: u64 = 64;
/// Start addresses of two periods at 256 pixels a line.
const NARROW_STEPS: u64 = 256;
/// Words from one memory row to the next.
const ROW_WORDS: u64 = 128;

pub fn run(args: &DemoArgs, output: &mut Output) -> Result<CheckResult> {
    if !output.is_json() {
        story(args, output)?;
        return Ok(CheckResult::Nothing);
    }
    let mut gathering = output.gathering();
    let written = story(args, &mut gathering)?;
    let [comparison, diagnosis, report] = <[Value; 3]>::try_from(gathering.into_gathered())
        .map_err(|answers| anyhow!("the demo has three answers, not {}", answers.len()))?;
    let answer = DemoAnswer {
        folder: args.out.display().to_string(),
        files: written.iter().map(|path| path.display().to_string()).collect(),
        comparison: answer_in(comparison)?,
        diagnosis: answer_in(diagnosis)?,
        report: answer_in(report)?,
    };
    output.answer(&answer, |_| String::new())?;
    Ok(CheckResult::Nothing)
}

/// The answer in another command's document.
fn answer_in<T: DeserializeOwned>(document: Value) -> Result<T> {
    Ok(serde_json::from_value::<Document<T>>(document)?.answer)
}

/// Register values of the 64 KiB class with 256 pixels a line, and sync moved so that they stand in the middle.
fn centred(adapter: &Adapter) -> Vec<(String, u64)> {
    let values = [(Role::HorizontalDisplayed, 31), (Role::HorizontalSyncStart, 38)];
    let named = |(role, value)| Some((adapter.field_info(adapter.field_with(role)?).name.clone(), value));
    values.into_iter().filter_map(named).collect()
}

/// Tells the story and gives the files written.
fn story(args: &DemoArgs, output: &mut Output) -> Result<Vec<PathBuf>> {
    make_folder(&args.out)?;
    let mut story = Story { folder: &args.out, output, written: Vec::new() };
    let built = Bench::open("harbour-256", &Overrides::default())?;
    let plain = Bench::open("harbour-256-plain", &Overrides::default())?;
    let colour_graphics = Bench::open("harbour-cg", &Overrides::default())?;
    let narrow = Bench::open("harbour-256", &Overrides { set: centred(built.adapter()), ..Overrides::default() })?;

    story.line(
        "A picture scrolls by start address; at most steps every fourth line is displaced. Is it the routine, the timing, \
         this board, or every board of its class?\n",
    )?;
    story.line(
        "1  What is meant: the harbour on the plain board, which counts addresses as a programmer's manual tells.",
    )?;
    story.picture("harbour.png", &shown(&plain, 0, View::Picture, 2)?)?;
    story.line("   The same frame with border, blanking and sync made visible.")?;
    story.picture("harbour-raster.png", &shown(&plain, 0, View::Raster, 1)?)?;

    story.line("\n2  The start address stepped through two periods on a board as its class is built.")?;
    let by_step = swept(&built, STEPS, story.output)?;
    story.picture("sweep.png", &sheet(&built, STEPS, &by_step)?.draw())?;
    story.line(format!("   {}", regimes(&by_step)))?;

    story.line("\n3  One bad step close to: plain, as built, difference.")?;
    story.picture("step-4.png", &beside(&built, 4)?)?;
    story.line(format!("   {}", provenance(&built, 4, 100, 67)?))?;

    story.line("\n4  The same sweep on the plain board and on a board of another class.")?;
    for bench in [&plain, &colour_graphics] {
        story.line(format!("   {:17} {}", bench.adapter().name(), regimes(&swept(bench, STEPS, story.output)?)))?;
    }
    story.picture("harbour-colour-graphics.png", &shown(&colour_graphics, 0, View::Picture, 2)?)?;
    story
        .line("   So it is not the routine: the registers and the memory are the same. Nor is it this board alone:")?;
    let differs = args.out.join("comparison.png");
    also(&["compare", "harbour-256", "--out", &differs.to_string_lossy()], story.output)?;
    story.written.push(differs);

    story.line("\n5  The same picture laid out again at other widths, at start address 0.")?;
    story.line(format!("   {}", widths(&built, story.output)?))?;

    story.line("\n6  256 pixels are as wide as a memory row: there it scrolls, but it bounces.")?;
    let by_step = swept(&narrow, NARROW_STEPS, story.output)?;
    story.picture("step-126.png", &beside(&narrow, 126)?)?;
    story.line(format!("   {}", regimes(&by_step)))?;
    story.line(format!("   {}", provenance(&narrow, 126, 100, 67)?))?;

    story.line("\n7  A cure: in the bouncing steps the start address one memory row further on.")?;
    story.line("   step   lines displaced   with the cure")?;
    for step in by_step.steps.iter().take(ROW_WORDS as usize).filter(|step| step.verdict == Verdict::Broken) {
        let start = u64::from(step.values[0]);
        story.line(format!("   {start:4}   {:15}   {}", extent(&step.damage), extent(&one_row_on(&narrow, start)?)))?;
    }
    story.line(
        "   Or two copies of a lower picture, half a memory row apart, showing always the one that is clear of the bad steps.",
    )?;

    story.line(
        "\n8  Asked the other way round: a few looks at the machine in plain words, and what may be behind them.",
    )?;
    also(&["diagnose", "harbour-as-built", "--most", "3", "--probes", "1"], story.output)?;

    story.line("\n9  All of it as one page.")?;
    let page = args.out.join("report.html");
    let typed = ["report", "harbour-256", "--sightings", "harbour-as-built", "--out", &page.to_string_lossy()];
    also(&typed, story.output)?;
    story.written.push(page);

    story.line(format!("\nEverything lies in {}:", args.out.display()))?;
    let written = std::mem::take(&mut story.written);
    for path in &written {
        story.line(format!("   {}", path.display()))?;
    }
    story.line(
        "\nGo on with:\n   backporch sweep harbour-256 --out sheet.png\n   backporch frame harbour-256 --start 4 --at 100,67\n   \
         backporch boards linear-256",
    )?;
    Ok(written)
}

/// Runs another command as a user would type it.
fn also(typed: &[&str], output: &mut Output) -> Result<()> {
    let arguments = Arguments::try_parse_from(std::iter::once(&"backporch").chain(typed))?;
    match &arguments.command {
        CliCommand::Compare(args) => compare::run(args, output)?,
        CliCommand::Diagnose(args) => diagnose::run(args, output)?,
        CliCommand::Report(args) => report::run(args, output)?,
        _ => CheckResult::Nothing,
    };
    Ok(())
}

fn make_folder(folder: &Path) -> Result<(), InputError> {
    fs::create_dir_all(folder).map_err(|error| cannot_write(folder, &error))
}

/// What is printed and written, in order.
struct Story<'a> {
    folder: &'a Path,
    output: &'a mut Output,
    written: Vec<PathBuf>,
}

impl Story<'_> {
    fn line(&mut self, line: impl std::fmt::Display) -> Result<()> {
        Ok(self.output.line(line)?)
    }

    fn picture(&mut self, name: &str, image: &RgbImage) -> Result<()> {
        let path = self.folder.join(name);
        files::write_png(self.output, &path, image)?;
        self.written.push(path);
        Ok(())
    }
}

/// The bench at a start address.
fn at(bench: &Bench, start: u64) -> Result<backporch_adapter::Registers> {
    let mut registers = bench.registers().clone();
    bench.adapter().set(&mut registers, bench.adapter().start_address(), start)?;
    Ok(registers)
}

fn shown(bench: &Bench, start: u64, view: View, scale: u32) -> Result<RgbImage> {
    let frame = bench.faulty(&at(bench, start)?).run_frame();
    Ok(files::image_of(&frame.picture(view), scale))
}

fn beside(bench: &Bench, start: u64) -> Result<RgbImage> {
    let registers = at(bench, start)?;
    let (plain, built) = (bench.plain(&registers).run_frame(), bench.faulty(&registers).run_frame());
    Ok(frame::beside(&plain, &built, &frame::caption(bench), 1))
}

fn over(bench: &Bench, steps: u64) -> Result<[SweepAxis; 1]> {
    Ok([SweepAxis::new(bench.adapter(), bench.adapter().start_address(), 0..steps)?])
}

fn swept(bench: &Bench, steps: u64, output: &Output) -> Result<Sweep> {
    sweep::swept(bench, &over(bench, steps)?, 1, output)
}

fn sheet(bench: &Bench, steps: u64, swept: &Sweep) -> Result<backporch_picture::sheet::Sheet> {
    Ok(sweep::sheet(bench, &over(bench, steps)?, swept))
}

/// The verdicts of a sweep, steps that follow one another taken together, within one period.
fn regimes(swept: &Sweep) -> String {
    let period = &swept.steps[..swept.repeats_every.unwrap_or(swept.steps.len())];
    let alike = |one: &SweepStep, next: &SweepStep| {
        one.verdict == next.verdict && one.pattern.is_some() == next.pattern.is_some()
    };
    let runs = period.chunk_by(alike).map(|run| {
        let (first, last) = (&run[0], &run[run.len() - 1]);
        let steps = match run.len() {
            1 => format!("step {}", first.values[0]),
            _ => format!("steps {} to {}", first.values[0], last.values[0]),
        };
        let lines = first.pattern.filter(|_| first.verdict != Verdict::Clean).map(|pattern| match pattern.period {
            1 => ", every line".to_string(),
            period => format!(", one line in {period}"),
        });
        format!("{steps} {}{}", first.verdict.word(), lines.unwrap_or_default())
    });
    let text = runs.collect::<Vec<_>>().join("; ");
    match swept.repeats_every {
        Some(1) | None => text,
        Some(period) => format!("{text}; again every {period} steps"),
    }
}

/// Lines and pixels of damage, in a few words.
fn extent(damage: &Damage) -> String {
    match &damage.x {
        Some(x) => format!("pixels {} to {}", x.start(), x.end()),
        None => "none".to_string(),
    }
}

/// What is displaced where the start address is one memory row further on than the picture in memory was laid for,
/// against what was meant.
fn one_row_on(bench: &Bench, start: u64) -> Result<Damage> {
    let meant = at(bench, start)?;
    let mut cured = bench.under(&at(bench, start + ROW_WORDS)?, bench.stack());
    cured.load(&bench.memory(&meant));
    Ok(Damage::between(&bench.plain(&meant).run_frame(), &cured.run_frame()))
}

/// Where a pixel comes from, and what made it so.
fn provenance(bench: &Bench, start: u64, x: u32, line: u32) -> Result<String> {
    let mut board = bench.faulty(&at(bench, start)?);
    let frame = board.run_frame();
    let found = board.provenance(&frame, x, line).context("the demo points inside the active area")?;
    Ok(format!("Step {start}: {}", PixelAnswer::from(found).text().trim_end().replace('\n', "\n   ")))
}

/// Damaged lines at each number of characters, in a line.
fn widths(bench: &Bench, output: &Output) -> Result<String> {
    let displayed =
        bench.adapter().field_with(Role::HorizontalDisplayed).context("every controller has this register")?;
    let values: Vec<u64> = (31..=39).rev().collect();
    let over = [SweepAxis::new(bench.adapter(), displayed, values)?];
    let swept = sweep::swept(bench, &over, 1, output)?;
    let widths: Vec<String> = swept
        .steps
        .iter()
        .map(|step| format!("{}: {}", (step.values[0] + 1) * 8, step.damage.damaged_lines()))
        .collect();
    Ok(format!("damaged lines by width in pixels: {}", widths.join(", ")))
}
