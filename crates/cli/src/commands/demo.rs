//! `demo`: the whole story on built-in data.

use std::fs;
use std::path::{Path, PathBuf};

use anyhow::{Context, Result};
use backporch_adapter::Role;
use backporch_analysis::{Sweep, SweepAxis, Verdict};
use backporch_bench::{Bench, Overrides};
use backporch_input::{InputError, InputErrorKind};
use backporch_raster::View;
use clap::{Args, Parser};
use image::RgbImage;

use crate::args::Arguments;
use crate::commands::{Command, compare, diagnose, frame, report, sweep, workaround};
use crate::files;
use crate::output::{Found, Output};

#[derive(Debug, Args)]
pub struct DemoArgs {
    /// Folder for the results; made if it is not there
    #[arg(long, value_name = "FOLDER", default_value = "backporch-demo")]
    pub out: PathBuf,
}

/// Start addresses of two periods of the demo's fault.
const STEPS: u64 = 64;

pub fn run(args: &DemoArgs, output: &mut Output) -> Result<Found> {
    make_folder(&args.out)?;
    let mut story = Story { folder: &args.out, output, written: Vec::new() };
    let plain = Bench::open("harbour-256-plain", &Overrides::default())?;
    let faulty = Bench::open("harbour-256-rows", &Overrides::default())?;
    let colour_graphics = Bench::open("harbour-cg", &Overrides::default())?;

    story.line(
        "A picture that scrolls by start address tears on one board. Is it the routine, the timing or the adapter?\n",
    )?;
    story.line("1  The routine as it is meant: the harbour on a plain board.")?;
    story.picture("harbour.png", &shown(&plain, 0, View::Picture, 2)?)?;
    story.line("   The same frame with border, blanking and sync made visible.")?;
    story.picture("harbour-raster.png", &shown(&plain, 0, View::Raster, 1)?)?;

    story.line("\n2  The start address stepped through two periods on the suspected board.")?;
    let swept = swept(&faulty, story.output)?;
    story.picture("sweep-faulty.png", &sheet(&faulty, &swept)?.draw())?;
    story.line(format!("   {}", findings(&swept)))?;

    story.line("\n3  One bad step close to: plain, faulty, difference.")?;
    story.picture("step-29.png", &beside(&faulty, 29)?)?;
    story.line(format!("   {}", provenance(&faulty, 29, 319, 67)?))?;

    story.line("\n4  The same sweep on plain boards.")?;
    for bench in [&plain, &colour_graphics] {
        let clean = self::swept(bench, story.output)?;
        let bad = clean.bad().count();
        let verdict = if bad == 0 { "every step is clean".to_string() } else { format!("{bad} steps are bad") };
        story.line(format!("   {:16} {verdict}", bench.adapter().name()))?;
    }
    story.picture("harbour-colour-graphics.png", &shown(&colour_graphics, 0, View::Picture, 2)?)?;
    story.line("   So it is not the routine: the registers and the memory are the same. It is this adapter.")?;

    story.line("\n5  The same picture laid out again at other widths, at start address 0.")?;
    story.line(format!("   {}", widths(&faulty, story.output)?))?;

    story.line("\n6  The scrolling routine itself, frame by frame, on the suspected board and on others.")?;
    let differs = args.out.join("comparison.png");
    also(&["compare", "harbour-256-rows", "--out", &differs.to_string_lossy()], story.output)?;
    story.written.push(differs);

    story.line("\n7  Which fault is it? A few looks at the machine in plain words, and what may be behind them.")?;
    also(&["diagnose", "harbour-glance", "--most", "3", "--probes", "1"], story.output)?;

    story.line("\n8  A way round it: every start address by steps of 2 pixels, what has to be given up?")?;
    also(&["workaround", "harbour-256-rows", "--most", "1"], story.output)?;

    story.line("\n9  All of it as one page.")?;
    let page = args.out.join("report.html");
    let typed = ["report", "harbour-256-rows", "--sightings", "harbour-glance", "--out", &page.to_string_lossy()];
    also(&typed, story.output)?;
    story.written.push(page);

    story.line(format!("\nEverything lies in {}:", args.out.display()))?;
    for path in std::mem::take(&mut story.written) {
        story.line(format!("   {}", path.display()))?;
    }
    story.line("\nGo on with:\n   backporch sweep harbour-256-rows --out sheet.png\n   backporch frame harbour-256-rows --start 29 --at 319,67\n   backporch boards linear-256")?;
    Ok(Found::Nothing)
}

/// Runs another command as a user would type it.
fn also(typed: &[&str], output: &mut Output) -> Result<()> {
    let arguments = Arguments::try_parse_from(std::iter::once(&"backporch").chain(typed))?;
    match &arguments.command {
        Command::Compare(args) => compare::run(args, output)?,
        Command::Diagnose(args) => diagnose::run(args, output)?,
        Command::Workaround(args) => workaround::run(args, output)?,
        Command::Report(args) => report::run(args, output)?,
        _ => Found::Nothing,
    };
    Ok(())
}

fn make_folder(folder: &Path) -> Result<(), InputError> {
    fs::create_dir_all(folder).map_err(|error| {
        InputError::new(folder.display().to_string(), error, "a folder that can be made")
            .of_kind(InputErrorKind::Machine)
    })
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
    let (plain, faulty) = (bench.plain(&registers).run_frame(), bench.faulty(&registers).run_frame());
    Ok(frame::beside(&plain, &faulty, &frame::caption(bench), 1))
}

fn over(bench: &Bench) -> Result<[SweepAxis; 1]> {
    Ok([SweepAxis::new(bench.adapter(), bench.adapter().start_address(), 0..STEPS)?])
}

fn swept(bench: &Bench, output: &Output) -> Result<Sweep> {
    sweep::swept(bench, &over(bench)?, 1, output)
}

fn sheet(bench: &Bench, swept: &Sweep) -> Result<backporch_picture::sheet::Sheet> {
    Ok(sweep::sheet(bench, &over(bench)?, swept))
}

/// What a sweep found, in a sentence.
fn findings(swept: &Sweep) -> String {
    let bad = swept.bad().count();
    let mut text = format!("{bad} of {} steps are damaged", swept.steps.len());
    if let Some(period) = swept.repeats_every {
        text += &format!("; it repeats every {period} steps");
    }
    if let Some(pattern) = swept.bad().find_map(|step| step.pattern) {
        text += &format!(", on every {}th line", pattern.period);
    }
    let edge = swept.bad().all(|step| step.verdict == Verdict::EdgeDamaged);
    text += if edge { ", from the right-hand end." } else { "." };
    text
}

fn provenance(bench: &Bench, start: u64, x: u32, line: u32) -> Result<String> {
    let mut board = bench.faulty(&at(bench, start)?);
    let frame = board.run_frame();
    let found = board.provenance(&frame, x, line).context("the demo points inside the active area")?;
    let who = found.address_changes.first().map_or("nothing", |change| change.quirk.as_str());
    Ok(format!(
        "Pixel {x} of line {line} comes from {:05X}h where {:05X}h was meant: {} rows of 256 bytes begin on this line, \
         and {who} changed the address.",
        found.address, found.plain_address, found.crossings
    ))
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
