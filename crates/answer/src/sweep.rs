//! `sweep`: a verdict for every step, and the period of the damage.

use std::collections::BTreeMap;

use backporch_analysis::{Sweep, SweepStep, Verdict};
use backporch_bench::Bench;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::verdict::VerdictAnswer;
use crate::words;

/// Damaged steps listed in text, at most.
const MOST_STEPS: usize = 64;

/// Width of the column of settings, in characters, at least.
const LEAST_COLUMN: usize = 22;

/// Every step of a sweep against the plain board.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct SweepAnswer {
    /// The adapter profile.
    pub board: String,
    /// The quirks, in the order in which they act.
    pub quirks: Vec<String>,
    /// The steps, in order.
    pub steps: Vec<StepAnswer>,
    /// Steps after which the kind of damage comes again; null where it does not.
    pub repeats_every: Option<usize>,
}

/// One step of a sweep.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct StepAnswer {
    /// What the stepped registers hold.
    pub values: BTreeMap<String, u32>,
    /// How bad the frame is.
    pub verdict: VerdictAnswer,
    /// Picture lines whose fetched addresses or timing differ.
    pub damaged_lines: u32,
    /// Picture lines whose pixels differ in the picture at hand.
    pub visible_lines: u32,
    /// Lines from one bad line to the next; null where they follow no such pattern.
    pub line_period: Option<u32>,
    /// The first bad line, modulo the period; null where they follow no such pattern.
    pub line_phase: Option<u32>,
    /// First bad pixel from the left of the active area.
    pub x_from: Option<u32>,
    /// Last bad pixel from the left of the active area.
    pub x_to: Option<u32>,
}

impl SweepAnswer {
    /// The answer to a sweep of a bench.
    #[must_use]
    pub fn new(bench: &Bench, sweep: &Sweep) -> Self {
        Self {
            board: bench.adapter().name().to_string(),
            quirks: words::fault_names(bench),
            steps: sweep.steps.iter().map(|step| StepAnswer::new(&sweep.names, step)).collect(),
            repeats_every: sweep.repeats_every,
        }
    }

    /// A summary, and a line for every damaged step.
    #[must_use]
    pub fn text(&self) -> String {
        let count = |verdict: VerdictAnswer| self.steps.iter().filter(|step| step.verdict == verdict).count();
        let mut text = format!(
            "{}, {}: {} steps, {} clean, {} edge-damaged, {} broken\n",
            self.board,
            words::faults(&self.quirks),
            self.steps.len(),
            count(VerdictAnswer::Clean),
            count(VerdictAnswer::EdgeDamaged),
            count(VerdictAnswer::Broken),
        );
        if let Some(period) = self.repeats_every {
            text += &format!("the damage repeats every {period} steps\n");
        }
        let damaged: Vec<&StepAnswer> = self.steps.iter().filter(|step| step.verdict != VerdictAnswer::Clean).collect();
        let settings = |step: &&StepAnswer| words::settings(&step.values);
        let shown = &damaged[..damaged.len().min(MOST_STEPS)];
        let width = shown.iter().map(|step| settings(step).chars().count()).max().unwrap_or(0).max(LEAST_COLUMN);
        text.extend(shown.iter().map(|step| format!("  {:width$}  {}", settings(step), step.text())));
        if damaged.len() > MOST_STEPS {
            let left = damaged.len() - MOST_STEPS;
            text += &format!("  … and {left} more steps with damage; --format json has them all\n");
        }
        text
    }
}

impl StepAnswer {
    fn new(names: &[String], step: &SweepStep) -> Self {
        Self {
            values: names.iter().cloned().zip(step.values.iter().copied()).collect(),
            verdict: step.verdict.into(),
            damaged_lines: step.damage.damaged_lines(),
            visible_lines: step.damage.visible_lines(),
            line_period: step.pattern.map(|pattern| pattern.period),
            line_phase: step.pattern.map(|pattern| pattern.phase),
            x_from: step.damage.x.as_ref().map(|x| *x.start()),
            x_to: step.damage.x.as_ref().map(|x| *x.end()),
        }
    }

    fn text(&self) -> String {
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
            "{:12}  {} damaged, {} visible; {lines}{pixels}\n",
            Verdict::from(self.verdict).word(),
            self.damaged_lines,
            self.visible_lines
        )
    }
}
