//! What a routine writes beside the beam: a register at chosen lines, and how much room each write has.
//!
//! A write falls somewhere after the poll that waited for its moment: the loop may have looked at the status port anywhere
//! between just before and one round before the beam came by. So a write holds at those phases of the loop that put it inside
//! its window, and at no others.

use std::sync::Arc;

use backporch_adapter::{Adapter, FieldId, Registers};
use backporch_script::{Cpu, CpuModel, NORMAL_SPEED, PROCESSORS};

/// The value a register gets for one picture line.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct LineValue {
    /// Picture line, counted from the top.
    pub line: u32,
    /// Stored value.
    pub value: u32,
    /// Character clocks that the line shows then.
    pub displayed: u32,
}

/// Moments at which a write does the same.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct WriteWindow {
    /// The first of them, in dots from the first dot of a scan line, negative before it.
    pub from: i64,
    /// The last of them.
    pub to: i64,
}

/// The moments of a step's two kinds of write.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Slack {
    /// Of the write that sets a line's value, from the first dot of its first scan line.
    pub set: WriteWindow,
    /// Of the write that restores the register, from the first dot of its last scan line.
    pub restore: WriteWindow,
}

/// What is written in one step of a table.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct StepWrites {
    /// From the top.
    pub lines: Vec<LineValue>,
    /// Pixels that are not shown for it.
    pub blanked: u32,
    /// How much room the writes have, whatever line; `None` where nothing is written or it was not measured.
    pub slack: Option<Slack>,
}

/// A register written at chosen lines of each step's frames, and restored after each of them.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct FrameSchedule {
    /// The register.
    pub field: FieldId,
    /// Its stored value everywhere else.
    pub rest: u32,
    /// One for each step of the table.
    pub steps: Vec<StepWrites>,
}

/// How often the writes of a schedule fall inside their windows.
#[derive(Clone, Debug, PartialEq)]
pub struct PhaseShare {
    /// Processor model.
    pub processor: String,
    /// Dots of one round of the polling loop, port wait states included.
    pub poll_dots: f64,
    /// Share of the loop's phases, 0 to 1, at which a write of the step with least room holds.
    pub least: f64,
    /// The same, on the average of the steps that write.
    pub mean: f64,
}

impl WriteWindow {
    /// Dots it is long.
    #[must_use]
    pub fn dots(&self) -> u64 {
        (self.to - self.from + 1).max(0) as u64
    }

    /// What lies in both.
    pub(crate) fn and(self, other: Self) -> Self {
        Self { from: self.from.max(other.from), to: self.to.min(other.to) }
    }
}

impl Slack {
    /// What lies in both.
    pub(crate) fn and(self, other: Self) -> Self {
        Self { set: self.set.and(other.set), restore: self.restore.and(other.restore) }
    }

    /// Dots of the tighter window.
    #[must_use]
    pub fn dots(&self) -> u64 {
        self.set.dots().min(self.restore.dots())
    }
}

impl FrameSchedule {
    /// Writes beside the beam in a frame of a step: one sets, one restores.
    #[must_use]
    pub fn writes(&self, step: usize) -> u32 {
        self.steps.get(step).map_or(0, |step| 2 * step.lines.len() as u32)
    }

    /// The room of the step that has least, of those that write.
    #[must_use]
    pub fn least_slack(&self) -> Option<Slack> {
        self.steps.iter().filter_map(|step| step.slack).min_by_key(Slack::dots)
    }

    /// For each built-in processor on the board: at which share of the phases of its polling loop a write falls inside its
    /// window, with the delay after the poll that suits the window best.
    #[must_use]
    pub fn phase_shares(&self, adapter: &Adapter, registers: &Registers) -> Vec<PhaseShare> {
        let dots_per_second = adapter.dot_clock_of(registers).get();
        let slack: Vec<f64> = self.steps.iter().filter_map(|step| Some(step.slack?.dots() as f64)).collect();
        let share = |name: &str| {
            let model = CpuModel::built_in(name)?;
            let dots_per_clock = dots_per_second / model.clock.hertz();
            let cpu = Cpu::new(Arc::new(model), adapter, registers, NORMAL_SPEED);
            let poll_dots = f64::from(cpu.poll_round()) * dots_per_clock;
            let shares = || slack.iter().map(|dots| (dots / poll_dots).min(1.0));
            let mean = shares().sum::<f64>() / slack.len().max(1) as f64;
            Some(PhaseShare { processor: name.to_string(), poll_dots, least: shares().fold(1.0, f64::min), mean })
        };
        PROCESSORS.names().filter_map(share).collect()
    }
}
