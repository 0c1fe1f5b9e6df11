//! `sweep`: a verdict a step, the period, and a contact sheet.

use std::collections::BTreeMap;
use std::path::Path;

use anyhow::Result;
use backporch_analysis::{Step, Sweep, SweepAxis, Verdict, sweep};
use backporch_bench::Bench;
use backporch_picture::mark::Mark;
use backporch_picture::sheet::{Cell, Sheet};
use backporch_raster::View;
use serde::Serialize;

use crate::answer::{Answer, Found};
use crate::args::SweepArgs;
use crate::{files, progress};

/// Cells a contact sheet holds at most; of longer sweeps it shows every n-th step.
const MOST_CELLS: usize = 128;

/// The JSON form.
#[derive(Debug, Serialize)]
pub struct SweepAnswer {
    board: String,
    quirks: Vec<String>,
    steps: Vec<StepAnswer>,
    repeats_every: Option<usize>,
}

#[derive(Debug, Serialize)]
struct StepAnswer {
    values: BTreeMap<String, u32>,
    verdict: Verdict,
    damaged_lines: u32,
    visible_lines: u32,
    line_period: Option<u32>,
    line_phase: Option<u32>,
    x_from: Option<u32>,
    x_to: Option<u32>,
}

pub fn run(args: &SweepArgs, answer: &mut Answer) -> Result<Found> {
    let bench = Bench::open(&args.bench.bench, &args.bench.overrides())?;
    super::frame::say_notes(&bench, answer)?;
    if let Some(routine) = bench.routine() {
        answer.say(format!("note: {routine} rests while the sweep sets the registers"))?;
    }
    let mut over = Vec::new();
    for (name, range) in &args.over {
        let field = bench.field(name)?;
        over.push(SweepAxis::new(bench.adapter(), field, range.iter())?);
    }
    let swept = swept(&bench, &over, args.hold, answer)?;
    if let Some(path) = &args.out {
        files::write_png(answer, path, &sheet(&bench, &over, &swept).draw())?;
    }
    answer.give(&SweepAnswer::new(&bench, &swept), |told| told.text(args.out.as_deref()))?;
    let bad = swept.bad().next().is_some();
    Ok(if bad { Found::Something } else { Found::Nothing })
}

/// Sweeps with progress.
pub fn swept(bench: &Bench, over: &[SweepAxis], hold: u32, answer: &Answer) -> Result<Sweep> {
    let steps = over.iter().map(|over| over.values().len() as u64).product();
    let bar = progress::bar(answer, "sweeping", steps);
    let swept = sweep(bench, over, hold, &|| bar.inc(1))?;
    bar.finish_and_clear();
    Ok(swept)
}

impl SweepAnswer {
    pub fn new(bench: &Bench, sweep: &Sweep) -> Self {
        Self {
            board: bench.adapter().name().to_string(),
            quirks: bench.quirks().iter().map(|quirk| quirk.name().to_string()).collect(),
            steps: sweep.steps.iter().map(|step| StepAnswer::new(&sweep.names, step)).collect(),
            repeats_every: sweep.repeats_every,
        }
    }

    /// A summary, and a line for every stretch of steps that are alike.
    pub fn text(&self, sheet: Option<&Path>) -> String {
        let quirks = if self.quirks.is_empty() { "healthy".to_string() } else { self.quirks.join(", ") };
        let count = |verdict: Verdict| self.steps.iter().filter(|step| step.verdict == verdict).count();
        let mut text = format!(
            "{}, {quirks}: {} steps, {} clean, {} edge-damaged, {} broken\n",
            self.board,
            self.steps.len(),
            count(Verdict::Clean),
            count(Verdict::EdgeDamaged),
            count(Verdict::Broken),
        );
        if let Some(period) = self.repeats_every {
            text += &format!("the damage repeats every {period} steps\n");
        }
        for step in self.steps.iter().filter(|step| step.verdict != Verdict::Clean).take(64) {
            text += &step.text();
        }
        let left = self.steps.iter().filter(|step| step.verdict != Verdict::Clean).count().saturating_sub(64);
        if left > 0 {
            text += &format!("  … and {left} more steps with damage; --format json has them all\n");
        }
        if let Some(path) = sheet {
            text += &format!("contact sheet: {}\n", path.display());
        }
        text
    }
}

impl StepAnswer {
    fn new(names: &[String], step: &Step) -> Self {
        Self {
            values: names.iter().cloned().zip(step.values.iter().copied()).collect(),
            verdict: step.verdict,
            damaged_lines: step.damage.damaged_lines(),
            visible_lines: step.damage.visible_lines(),
            line_period: step.pattern.map(|pattern| pattern.period),
            line_phase: step.pattern.map(|pattern| pattern.phase),
            x_from: step.damage.x.as_ref().map(|x| *x.start()),
            x_to: step.damage.x.as_ref().map(|x| *x.end()),
        }
    }

    fn text(&self) -> String {
        let values: Vec<String> = self.values.iter().map(|(name, value)| format!("{name} {value}")).collect();
        let lines = match (self.line_period, self.line_phase) {
            (Some(1), _) => "every line".to_string(),
            (Some(period), Some(phase)) => format!("lines {phase} mod {period}"),
            _ => "no regular lines".to_string(),
        };
        let pixels = match (self.x_from, self.x_to) {
            (Some(from), Some(to)) => format!(", pixels {from} to {to}"),
            _ => String::new(),
        };
        format!(
            "  {:24}{:14}{} damaged, {} visible; {lines}{pixels}\n",
            values.join(", "),
            self.verdict.word(),
            self.damaged_lines,
            self.visible_lines
        )
    }
}

/// The contact sheet of a sweep: every step's frame with its bad lines marked.
pub fn sheet(bench: &Bench, over: &[SweepAxis], sweep: &Sweep) -> Sheet {
    let every = sweep.steps.len().div_ceil(MOST_CELLS);
    let cell = |step: &Step| {
        let mut registers = bench.registers().clone();
        for (over, value) in over.iter().zip(&step.values) {
            // The sweep has set the same values before.
            if let Ok(field) = bench.field(over.name()) {
                let _ = bench.adapter().set(&mut registers, field, u64::from(*value));
            }
        }
        let frame = bench.faulty(&registers).run_frame();
        let label: Vec<String> = step.values.iter().map(ToString::to_string).collect();
        Cell {
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

fn bad_lines(step: &Step) -> Vec<bool> {
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
