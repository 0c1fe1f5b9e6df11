//! Tables of `workaround`: registers and a start address for every step.

use std::collections::BTreeMap;

use backporch_bench::Bench;
use backporch_workaround::{StepTable, TableStep};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::passing::PassingAnswer;
use crate::signal::SignalAnswer;
use crate::within_frame::WithinFrameAnswer;
use crate::words::{self, counted};

/// Runs of steps that are named in words.
const MOST_RUNS: usize = 6;

/// Registers, and a start address for every step.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct StepTableAnswer {
    /// Registers that differ from the bench's, and the start address of the first step.
    pub registers: BTreeMap<String, u32>,
    /// Pixels across, border included.
    pub width_px: u32,
    /// Picture lines down.
    pub height_px: u32,
    /// Pixels across that are left inside the border.
    pub clear_width_px: u32,
    /// Columns at the left and at the right that are kept in one colour in memory.
    pub border_px: [u32; 2],
    /// Rows of memory above and below the picture in which they are kept, too.
    pub border_rows: [u32; 2],
    /// Bytes from one row of memory to the next.
    pub pitch_bytes: u32,
    /// Pixels by which a step moves the picture across.
    pub step_px: u32,
    /// Picture lines by which a step moves it down.
    pub step_lines: u32,
    /// Address units of a step.
    pub stride: u32,
    /// Steps in all.
    pub of_steps: u32,
    /// Address units after which the table comes again, so much further on.
    pub every: u32,
    /// The steps that differ, in the order they are shown.
    pub steps: Vec<TableStepAnswer>,
    /// Address units of each copy of the picture beyond its position.
    pub copies: Vec<u32>,
    /// Steps taken at once where positions are left out, at most; 1 where none are.
    pub jump_steps: u32,
    /// Picture lines shown below the picture, of other memory.
    pub lines_below: u32,
    /// Pixels wrong in the worst step.
    pub worst_wrong_px: u32,
    /// Pixels wrong in a step, on the average.
    pub mean_wrong_px: f64,
    /// Bytes of video memory in use.
    pub memory_bytes: u32,
    /// Bytes that a step has to redraw.
    pub redraw_bytes: u32,
    /// Whether every step is shown and nothing is wrong in any.
    pub clean: bool,
    /// Probability that no step is worse than stated.
    pub probability: f64,
    /// The signal, held against the monitor.
    pub signal: SignalAnswer,
    /// What the monitor gets while the registers are set; null without a monitor.
    #[serde(default)]
    pub passing: Option<PassingAnswer>,
    /// Whether the signal stays as it is from each step to the next.
    #[serde(default)]
    pub steps_keep_signal: bool,
    /// What is written beside the beam; null where nothing is.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub within_frame: Option<WithinFrameAnswer>,
    /// What is given up, in words.
    pub cost: String,
}

/// One step of a table.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct TableStepAnswer {
    /// Where the picture's first copy begins in memory, in address units.
    pub position: u32,
    /// The start address that is shown.
    pub start: u32,
    /// The copy that it shows, counted from 0.
    pub copy: u32,
    /// Pixels that are wrong then.
    pub wrong_px: u32,
    /// Columns from the left edge in which those of the left half lie.
    pub wrong_left_px: u32,
    /// Columns from the right edge in which those of the right half lie.
    pub wrong_right_px: u32,
    /// Whether the scroll leaves this position out.
    pub skipped: bool,
    /// What is written beside the beam: picture line and stored value.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub writes: Vec<(u32, u32)>,
}

/// Picture lines and the values they get in a step that is shown.
fn written(table: &StepTable, step: &TableStep) -> Vec<(u32, u32)> {
    let writes = table.writes_of(step).filter(|_| !step.skipped);
    writes.map_or(Vec::new(), |writes| writes.lines.iter().map(|one| (one.line, one.value)).collect())
}

impl StepTableAnswer {
    /// A table found on a bench.
    #[must_use]
    pub fn new(bench: &Bench, table: &StepTable) -> Self {
        let (adapter, own) = (bench.adapter(), bench.registers());
        let changed = adapter.fields().filter(|(field, _)| {
            *field == adapter.start_address() || adapter.get(&table.registers, *field) != adapter.get(own, *field)
        });
        let step = |step: &TableStep| TableStepAnswer {
            position: step.position,
            start: table.start(step),
            copy: step.copy,
            wrong_px: step.wrong.pixels,
            wrong_left_px: step.wrong.left,
            wrong_right_px: step.wrong.right,
            skipped: step.skipped,
            writes: written(table, step),
        };
        Self {
            registers: changed.map(|(field, info)| (info.name.clone(), adapter.get(&table.registers, field))).collect(),
            width_px: table.width,
            height_px: table.height,
            clear_width_px: table.clear_width,
            border_px: [table.border.left, table.border.right],
            border_rows: [table.border.rows_above, table.border.rows_below],
            pitch_bytes: table.pitch_bytes,
            step_px: table.step.0,
            step_lines: table.step.1,
            stride: table.stride,
            of_steps: table.of_steps,
            every: table.every,
            steps: table.steps.iter().map(step).collect(),
            copies: table.copies.clone(),
            jump_steps: table.cost.jump,
            lines_below: table.cost.lines_below,
            worst_wrong_px: table.cost.worst_wrong,
            mean_wrong_px: table.cost.mean_wrong,
            memory_bytes: table.cost.memory_bytes,
            redraw_bytes: table.cost.redraw_bytes,
            clean: table.is_clean(),
            probability: table.probability,
            signal: SignalAnswer::new(bench, &table.fit.signal),
            passing: PassingAnswer::new(adapter, bench.mode(), bench.monitor(), &table.registers),
            steps_keep_signal: table.steps_keep_signal(adapter),
            within_frame: WithinFrameAnswer::new(bench, table),
            cost: table.gives_up(),
        }
    }

    /// How far a step moves the picture, in words.
    #[must_use]
    pub fn step(&self) -> String {
        match (self.step_px, self.step_lines) {
            (_, 0) => counted(u64::from(self.step_px), "pixel"),
            (0, _) => counted(u64::from(self.step_lines), "line"),
            _ => format!("{} pixels and {} lines", self.step_px, self.step_lines),
        }
    }

    pub(crate) fn text(&self) -> String {
        let step = self.step();
        let wrong = match self.worst_wrong_px {
            0 => format!("nothing wrong at any of {} steps", self.of_steps),
            worst => format!(
                "at most {worst} pixels wrong{}, {:.0} on the average of {} steps",
                self.worst_place(),
                self.mean_wrong_px,
                self.of_steps
            ),
        };
        format!(
            "{} x {} pixels by steps of {step}: {wrong}, probability {:.3}\n\
             \x20   gives up    {}\n\
             \x20   registers   {}\n\
             \x20   table       {}\n\
             {}{}{}\
             \x20   memory      {} bytes\n\
             \x20   a step      redraws {} bytes{}\n",
            self.clear_width_px,
            self.height_px,
            self.probability,
            self.cost,
            words::settings(&self.registers),
            self.table_in_words(),
            self.within_frame.as_ref().map_or_else(String::new, WithinFrameAnswer::text),
            self.signal.brief(),
            PassingAnswer::brief(self.passing.as_ref()),
            self.memory_bytes,
            self.redraw_bytes,
            if self.steps_keep_signal { "; the signal stays as it is" } else { "; it CHANGES the signal" },
        )
    }

    /// Where the wrong pixels of all steps lie.
    fn worst_place(&self) -> String {
        let shown = || self.steps.iter().filter(|step| !step.skipped);
        let left = shown().map(|step| step.wrong_left_px).max().unwrap_or(0);
        let right = shown().map(|step| step.wrong_right_px).max().unwrap_or(0);
        match (left, right) {
            (left, right) if left + right >= self.width_px => String::new(),
            (left, 0) => format!(" in the {left} columns at the left"),
            (0, right) => format!(" in the {right} columns at the right"),
            (left, right) => format!(" in the {left} columns at the left and the {right} at the right"),
        }
    }

    /// Which positions show what.
    fn table_in_words(&self) -> String {
        // Neighbours that show equally far from their positions, as a first and last position.
        let mut runs: Vec<(u32, u32, String)> = Vec::new();
        for step in &self.steps {
            let says = self.says(step);
            match runs.last_mut() {
                Some((_, last, known)) if *known == says && step.position == *last + self.stride => {
                    *last = step.position;
                }
                _ => runs.push((step.position, step.position, says)),
            }
        }
        let worded = runs.iter().filter(|(_, _, says)| !says.is_empty());
        let words: Vec<String> = worded
            .clone()
            .take(MOST_RUNS)
            .map(|(first, last, says)| {
                let to = if first == last { String::new() } else { format!(" to {last}") };
                format!("{first}{to} {says}")
            })
            .collect();
        let more = match worded.count().saturating_sub(MOST_RUNS) {
            0 => String::new(),
            more => format!("; and {more} more runs"),
        };
        let all = if words.is_empty() { "every position shows itself".to_string() } else { words.join("; ") };
        let again = if (self.steps.len() as u32) < self.of_steps {
            format!(", and so on every {} start addresses", self.every)
        } else {
            String::new()
        };
        format!("position {all}{more}{again}")
    }

    /// What a step shows, where that is not its position.
    fn says(&self, step: &TableStepAnswer) -> String {
        let off = i64::from(step.start) - i64::from(step.position);
        match (step.skipped, off) {
            (true, _) => "left out".to_string(),
            (_, 0) => String::new(),
            (_, off) if step.copy > 0 => format!("shows copy {} ({off:+})", step.copy + 1),
            (_, off) => format!("shows {off:+}"),
        }
    }
}
