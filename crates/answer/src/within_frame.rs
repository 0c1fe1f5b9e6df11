//! What a table of `workaround` has written beside the beam, and how much room that leaves.

use backporch_bench::Bench;
use backporch_workaround::{PhaseShare, StepTable};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::words::{self, counted};

/// A register that is written at chosen lines and restored after each of them.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct WithinFrameAnswer {
    /// The register.
    pub register: String,
    /// Its stored value everywhere else.
    pub rest: u32,
    /// Writes in a frame, at most.
    pub writes: u32,
    /// Lines of a frame that are written at, at most.
    pub lines: u32,
    /// Pixels that are not shown for it in the worst step.
    pub blanked_px: u32,
    /// First and last dot, counted from the first one of a line's first scan line, at which its value may be set, in the step
    /// with least room; null where no step writes.
    pub set_dots: Option<[i64; 2]>,
    /// First and last dot, counted from the first one of a line's last scan line, at which the register may be restored then.
    pub restore_dots: Option<[i64; 2]>,
    /// How often such a write falls inside its room, by processor.
    pub processors: Vec<PhaseShareAnswer>,
}

/// How often a write that waits for the beam by polling falls inside its room.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct PhaseShareAnswer {
    /// Processor model, on the bench's card.
    pub processor: String,
    /// Dots of one round of the polling loop.
    pub poll_dots: f64,
    /// Share of the loop's phases at which a write holds in the step with least room, 0 to 1.
    pub least: f64,
    /// The same on the average of the steps that write.
    pub mean: f64,
}

impl WithinFrameAnswer {
    /// What a table writes beside the beam, where it does.
    #[must_use]
    pub fn new(bench: &Bench, table: &StepTable) -> Option<Self> {
        let schedule = table.schedule.as_ref()?;
        let adapter = bench.adapter();
        let slack = schedule.least_slack();
        let share = |share: PhaseShare| PhaseShareAnswer {
            processor: share.processor,
            poll_dots: share.poll_dots,
            least: share.least,
            mean: share.mean,
        };
        Some(Self {
            register: adapter.field_info(schedule.field).name.clone(),
            rest: schedule.rest,
            writes: table.cost.line_writes,
            lines: table.cost.line_writes / 2,
            blanked_px: table.cost.blanked,
            set_dots: slack.map(|slack| [slack.set.from, slack.set.to]),
            restore_dots: slack.map(|slack| [slack.restore.from, slack.restore.to]),
            processors: schedule.phase_shares(adapter, &table.registers).into_iter().map(share).collect(),
        })
    }

    /// Share of the phases at which writes hold, in the step with least room and on the average, in words.
    #[must_use]
    pub fn shares(&self) -> String {
        let share = |one: &PhaseShareAnswer| {
            format!("{} {} (mean {})", one.processor, words::percent(one.least), words::percent(one.mean))
        };
        self.processors.iter().map(share).collect::<Vec<_>>().join(", ")
    }

    pub(crate) fn text(&self) -> String {
        let Self { register, rest, lines, .. } = self;
        let room = match (self.set_dots, self.restore_dots) {
            (Some([from, to]), Some([first, last])) => format!(
                "\x20   room        set at dots {from} to {to} of the line, restored at {first} to {last} of its last scan line, \
                 in the step with least\n"
            ),
            _ => String::new(),
        };
        format!(
            "\x20   in a frame  {register} written at up to {}, {rest} again after each\n{room}\
             \x20   holds at    phases of the polling loop, each write: {}\n",
            counted(u64::from(*lines), "line"),
            self.shares()
        )
    }
}
