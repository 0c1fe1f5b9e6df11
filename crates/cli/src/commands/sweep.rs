//! `sweep`: a verdict a step, the period, and a contact sheet.

use std::path::PathBuf;

use anyhow::Result;
use backporch_analysis::{Sweep, SweepAxis, SweepStep, Verdict, sweep};
use backporch_answer::SweepAnswer;
use backporch_bench::Bench;
use backporch_input::Range;
use backporch_picture::mark::Mark;
use backporch_picture::sheet::{Sheet, SheetCell};
use backporch_raster::View;
use clap::Args;

use crate::args::{BenchArgs, known, ranging, steps_over};
use crate::output::{CheckResult, Output};
use crate::{files, progress};

#[derive(Debug, Args)]
pub struct SweepArgs {
    #[command(flatten)]
    pub bench: BenchArgs,
    /// Register and range (twice for two registers)
    #[arg(long, value_name = "REGISTER=RANGE", value_parser = known::register(ranging), hide_possible_values = true, default_value = "start_address=0..64")]
    pub over: Vec<(String, Range)>,
    /// Frames a step is shown before it is judged
    #[arg(long, value_name = "FRAMES", default_value_t = 1, value_parser = clap::value_parser!(u32).range(1..=1000))]
    pub hold: u32,
    /// Where the contact sheet goes; none is drawn if left out
    #[arg(long, value_name = "PNG")]
    pub out: Option<PathBuf>,
}

/// Cells a contact sheet holds at most; of longer sweeps it shows every n-th step.
const MOST_CELLS: usize = 128;

pub fn run(args: &SweepArgs, output: &mut Output) -> Result<CheckResult> {
    files::expect_ending("--out", args.out.as_deref(), &["png"])?;
    args.bench.refuse_routine("frame, record, hazards or run for a routine: a sweep sets the registers itself")?;
    let bench = args.bench.open()?;
    output.notes(&bench)?;
    if let Some(routine) = bench.routine() {
        output.line(format!("note: {routine} does not run while the sweep sets the registers"))?;
    }
    let over = steps_over(&bench, &args.over)?;
    let swept = swept(&bench, &over, args.hold, output)?;
    if let Some(path) = &args.out {
        files::write_png(output, path, &sheet(&bench, &over, &swept).draw())?;
    }
    output.answer(&SweepAnswer::new(&bench, &swept), |answer| {
        let sheet = args.out.as_ref().map(|path| format!("contact sheet: {}\n", path.display()));
        answer.text() + &sheet.unwrap_or_default()
    })?;
    let bad = swept.bad().next().is_some();
    Ok(if bad { CheckResult::Something } else { CheckResult::Nothing })
}

/// Sweeps with progress.
pub fn swept(bench: &Bench, over: &[SweepAxis], hold: u32, output: &Output) -> Result<Sweep> {
    let steps = over.iter().map(|over| over.values().len() as u64).product();
    let bar = progress::bar(output, "sweeping", steps);
    let swept = sweep(bench, over, hold, &|| bar.inc(1))?;
    bar.finish_and_clear();
    Ok(swept)
}

/// The contact sheet of a sweep: every step's frame with its bad lines marked.
pub fn sheet(bench: &Bench, over: &[SweepAxis], sweep: &Sweep) -> Sheet {
    let every = sweep.steps.len().div_ceil(MOST_CELLS);
    let cell = |step: &SweepStep| {
        let mut registers = bench.registers().clone();
        for (over, value) in over.iter().zip(&step.values) {
            // The sweep has set the same values before.
            if let Ok(field) = bench.field(over.name()) {
                let _ = bench.adapter().set(&mut registers, field, u64::from(*value));
            }
        }
        let frame = bench.faulty(&registers).run_frame();
        let label: Vec<String> = step.values.iter().map(ToString::to_string).collect();
        SheetCell {
            thumb: files::image_of(&frame.picture(View::Picture), 1),
            label: label.join(" / "),
            mark: mark(step.verdict),
            damaged: bad_lines(step),
            x_range: step.damage.x.as_ref().map(|x| (*x.start(), *x.end())),
        }
    };
    let board = bench.adapter().name();
    let fault = super::frame::caption(bench);
    Sheet {
        title: format!("{board}, {fault}: {} from {}", sweep.names.join(" and "), range_text(over)),
        summary: summary(sweep, every),
        cells: sweep.steps.iter().step_by(every).map(cell).collect(),
        columns: sweep
            .repeats_every
            .filter(|period| every == 1 && (4..=16).contains(period))
            .map(|period| period as u32),
    }
}

/// How a verdict looks.
pub fn mark(verdict: Verdict) -> Mark {
    match verdict {
        Verdict::Clean => Mark::Clean,
        Verdict::EdgeDamaged => Mark::EdgeDamaged,
        Verdict::Broken => Mark::Broken,
    }
}

fn bad_lines(step: &SweepStep) -> Vec<bool> {
    let pairs = step.damage.damaged.iter().zip(&step.damage.visible);
    pairs.map(|(damaged, visible)| *damaged || *visible).collect()
}

fn range_text(over: &[SweepAxis]) -> String {
    let range = |over: &SweepAxis| match (over.values().first(), over.values().last()) {
        (Some(first), Some(last)) => format!("{first} to {last}"),
        _ => String::new(),
    };
    over.iter().map(range).collect::<Vec<_>>().join(", ")
}

fn summary(sweep: &Sweep, every: usize) -> Vec<String> {
    let bad = sweep.bad().count();
    let mut lines = vec![format!("{} of {} steps clean", sweep.steps.len() - bad, sweep.steps.len())];
    if let Some(period) = sweep.repeats_every {
        lines.push(format!("the damage repeats every {period} steps"));
    }
    if let Some(pattern) = sweep.bad().find_map(|step| step.pattern) {
        lines.push(match pattern.period {
            1 => "it strikes every line".to_string(),
            period => format!("it strikes every {period} lines"),
        });
    }
    if every > 1 {
        lines.push(format!("every {every}th step is shown"));
    }
    lines
}
