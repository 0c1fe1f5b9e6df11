//! A start address for every step: where no setting holds everywhere, a table often does.
//!
//! ```text
//! Setting, suspects ──► displacement ──► start choice ──► ways ──► proof ──► StepTables
//!                       how far off      the best start   borders,  every     that no other
//!                       each byte is     address for      copies,   distinct  covers
//!                       fetched          each position    jumps     step
//! ```
//!
//! For each position of the scroll every start address is tried, not only the obvious one; where the best still leaves
//! pixels wrong, five things are tried: living with them, hiding them in a border of one colour, leaving such positions
//! out, keeping several copies of the picture in memory of which the clean one is shown, and making lines shorter by writes
//! beside the beam. None of this knows what the fault is:
//! only where each byte comes from.

mod description;
mod displacement;
mod frame_schedule;
mod laid_copies;
mod proof;
mod scheduled;
mod start_choice;
mod table_search;
mod timed_register;
mod ways;

use backporch_adapter::{Adapter, Registers};

pub use self::description::StepView;
pub use self::frame_schedule::{FrameSchedule, LineValue, PhaseShare, Slack, StepWrites, WriteWindow};
pub use self::start_choice::Wrong;
pub use self::table_search::{TableSearch, step_tables};
use crate::signal_fit::SignalFit;
use crate::transition::Transition;

/// One step of a table.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct TableStep {
    /// Where the picture's first copy begins in memory, in address units.
    pub position: u32,
    /// Address units from there to the start address that is shown, wrapping around at the ring.
    pub ahead: u32,
    /// Which copy of the picture that shows, counted from 0.
    pub copy: u32,
    /// What is wrong then, under the likeliest suspect.
    pub wrong: Wrong,
    /// Whether the scroll leaves this position out.
    pub skipped: bool,
}

/// Columns at the edges that are kept in one colour in memory.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Border {
    /// Columns at the left edge.
    pub left: u32,
    /// Columns at the right edge.
    pub right: u32,
    /// Rows of memory above the picture in which they are kept, too.
    pub rows_above: u32,
    /// Rows below it.
    pub rows_below: u32,
}

/// What a table gives up, each the less the better.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TableCost {
    /// Pixels that are wrong in the worst step shown.
    pub worst_wrong: u32,
    /// Pixels that are wrong in a step, on the average of those shown.
    pub mean_wrong: f64,
    /// Steps taken at once where positions are left out, at most; 1 where none are.
    pub jump: u32,
    /// Picture lines shown below the picture, of other memory.
    pub lines_below: u32,
    /// Pixels a frame shows fewer than the bench's, border included.
    pub pixels_lost: u32,
    /// Bytes of video memory in use.
    pub memory_bytes: u32,
    /// Bytes redrawn a frame.
    pub redraw_bytes: u32,
    /// Pixels that the worst step shown does not show, on lines that are made shorter.
    pub blanked: u32,
    /// Writes beside the beam in a frame, at most.
    pub line_writes: u32,
}

/// Registers, and a start address for every step.
#[derive(Clone, Debug)]
pub struct StepTable {
    /// Registers, the start address that of the first step.
    pub registers: Registers,
    /// The signal around them.
    pub fit: SignalFit,
    /// Pixels across, border included.
    pub width: u32,
    /// Picture lines.
    pub height: u32,
    /// Pixels across without the border.
    pub clear_width: u32,
    /// Bytes from one row of memory to the next.
    pub pitch_bytes: u32,
    /// Address units of a step.
    pub stride: u32,
    /// Pixels a step moves the picture across, and picture lines down.
    pub step: (u32, u32),
    /// Positions of the board that differ.
    pub ring: u32,
    /// Address units after which the table repeats; `ahead` and `copy` are the same from there on.
    pub every: u32,
    /// The distinct steps, in the order they are shown.
    pub steps: Vec<TableStep>,
    /// Steps in all.
    pub of_steps: u32,
    /// Address units of each copy beyond the position; the first is 0.
    pub copies: Vec<u32>,
    /// The border.
    pub border: Border,
    /// What is written beside the beam, where anything is.
    pub schedule: Option<FrameSchedule>,
    /// What is given up.
    pub cost: TableCost,
    /// Suspects under which no step is worse than stated, by position.
    pub holds_under: Vec<usize>,
    /// Their probabilities together, 0 to 1.
    pub probability: f64,
}

impl StepTable {
    /// Whether every step is shown, and nothing is wrong in any, whatever the moment of a write.
    #[must_use]
    pub fn is_clean(&self) -> bool {
        let TableCost { worst_wrong, jump, lines_below, line_writes, .. } = self.cost;
        (worst_wrong, jump, lines_below, line_writes) == (0, 1, 0, 0)
    }

    /// The start address shown for a position of the scroll.
    #[must_use]
    pub fn start(&self, step: &TableStep) -> u32 {
        step.position.wrapping_add(step.ahead) & (self.ring - 1)
    }

    /// The registers at a start address; `None` where it is none of the register's.
    #[must_use]
    pub fn registers_at(&self, adapter: &Adapter, start: u32) -> Option<Registers> {
        let mut registers = self.registers.clone();
        adapter.set(&mut registers, adapter.start_address(), start.into()).ok().map(|()| registers)
    }

    /// Whether the signal stays as it is from each step to the next, as it does where nothing but the start address is written.
    #[must_use]
    pub fn steps_keep_signal(&self, adapter: &Adapter) -> bool {
        let steps = self.steps.iter().filter(|step| !step.skipped);
        let shown: Vec<Registers> = steps.filter_map(|step| self.registers_at(adapter, self.start(step))).collect();
        let around = shown.iter().skip(1).chain(shown.first());
        shown.iter().zip(around).all(|(from, to)| !Transition::new(adapter, from, to).changes_signal)
    }

    /// What is written beside the beam in a step, where anything is.
    #[must_use]
    pub fn writes_of(&self, step: &TableStep) -> Option<&StepWrites> {
        let schedule = self.schedule.as_ref()?;
        let at = self.steps.iter().position(|one| one.position == step.position)?;
        schedule.steps.get(at)
    }

    /// Pixels that are not shown in a step, on the average of those shown.
    fn mean_blanked(&self) -> f64 {
        let shown = || self.steps.iter().filter(|step| !step.skipped);
        let blanked = shown().filter_map(|step| self.writes_of(step)).map(|writes| f64::from(writes.blanked));
        blanked.sum::<f64>() / shown().count().max(1) as f64
    }

    /// Whether some step shows another start address than the obvious one.
    #[must_use]
    pub fn makes_detours(&self) -> bool {
        self.steps.iter().any(|step| !step.skipped && step.ahead != 0)
    }

    /// Whether this is at least as good as another in every way.
    fn covers(&self, other: &Self) -> bool {
        let (one, two) = (&self.cost, &other.cost);
        self.probability >= other.probability
            && self.fit.accepted() >= other.fit.accepted()
            && one.worst_wrong <= two.worst_wrong
            && one.mean_wrong <= two.mean_wrong
            && one.jump <= two.jump
            && one.lines_below <= two.lines_below
            && one.pixels_lost <= two.pixels_lost
            && one.memory_bytes <= two.memory_bytes
            && one.redraw_bytes <= two.redraw_bytes
            && one.blanked <= two.blanked
            && one.line_writes <= two.line_writes
    }

    /// Sorts those with least wrong first, then those without jumps, then the largest.
    fn sort(tables: &mut [Self]) {
        tables.sort_by(|one, other| {
            let key = |one: &Self| {
                let TableCost { worst_wrong, jump, lines_below, pixels_lost, redraw_bytes, blanked, .. } = one.cost;
                (jump, lines_below, worst_wrong, blanked, pixels_lost, redraw_bytes)
            };
            let likelier = other.probability.total_cmp(&one.probability);
            let wrong = || one.cost.mean_wrong.total_cmp(&other.cost.mean_wrong);
            likelier.then_with(wrong).then_with(|| key(one).cmp(&key(other)))
        });
    }

    /// Those tables that no other covers: those with least wrong first, then those without jumps, then the largest.
    fn front(mut tables: Vec<Self>) -> Vec<Self> {
        Self::sort(&mut tables);
        let mut kept: Vec<Self> = Vec::new();
        for table in tables {
            if !kept.iter().any(|better| better.covers(&table)) {
                kept.push(table);
            }
        }
        kept
    }
}
