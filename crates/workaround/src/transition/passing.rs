//! What a monitor gets while registers are on their way from one set to another.

use std::fmt;

use backporch_adapter::{Adapter, Bank, Registers, Timing};
use backporch_signal::{Monitor, SYNC_CAUTION};

use super::{Intervals, Pulses, Transition};

/// A state on the way that the monitor would refuse if it stayed.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct RefusedState {
    /// Bank and number of the register whose write leads to it.
    pub after: (Bank, u8),
    /// Why the monitor would refuse it.
    pub reason: String,
}

/// The states between two sets of registers, each held against a monitor.
///
/// Each lasts from one write to the next: some microseconds, and where the signal changes in vertical retrace. A controller
/// whose registers are spread over several bytes cannot always be taken from one signal to another without a state outside
/// the limits; what this says is how many there are in the best order that was found.
#[derive(Clone, Debug, PartialEq)]
pub struct Passing {
    /// Port writes in all.
    pub writes: u32,
    /// Registers whose write changes the signal.
    pub changes: u32,
    /// States between, the last one left out, that the monitor would refuse.
    pub outside: Vec<RefusedState>,
    /// The pulses that are sent, from before the first write to after the last.
    pub pulses: Pulses,
}

impl Passing {
    /// Goes through a transition that begins at `from`.
    #[must_use]
    pub fn new(adapter: &Adapter, from: &Registers, transition: &Transition, monitor: &Monitor) -> Self {
        let (changes, outside) = between(adapter, from, transition, monitor);
        let writes = transition.ports().count() as u32;
        Self { writes, changes, outside, pulses: Pulses::sent(adapter, from, transition) }
    }

    /// Whether every state between is one that the monitor takes.
    #[must_use]
    pub fn stays_inside(&self) -> bool {
        self.outside.is_empty()
    }

    /// What has to be read before a real monitor gets it; `None` where the signal never changes.
    #[must_use]
    pub fn caution(&self) -> Option<&'static str> {
        (self.changes > 0).then_some(SYNC_CAUTION)
    }
}

impl fmt::Display for Passing {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Self { writes, changes, outside, pulses } = self;
        write!(f, "{writes} port writes, ")?;
        match (changes, outside.as_slice()) {
            (0, _) => return write!(f, "none of which changes the signal"),
            (changes, []) => {
                write!(f, "{changes} registers change the signal, and the monitor would take every state between")?;
            }
            (changes, [first, ..]) => write!(
                f,
                "{changes} registers change the signal; states between that the monitor would refuse, each until the next \
                 write: {}, the first for {}",
                outside.len(),
                first.reason
            )?,
        }
        let bounds = |intervals: Option<Intervals>, unit: f64| {
            intervals.map(|Intervals { shortest_us, longest_us }| (shortest_us / unit, longest_us / unit))
        };
        if let (Some(lines), Some(frames)) = (bounds(pulses.lines, 1.0), bounds(pulses.frames, 1e3)) {
            write!(f, "; meanwhile lines take {:.2} to {:.2} us, ", lines.0, lines.1)?;
            write!(f, "frames {:.2} to {:.2} ms", frames.0, frames.1)?;
        }
        Ok(())
    }
}

/// Registers whose write changes the signal, and the states between that a monitor would refuse.
pub(super) fn between(
    adapter: &Adapter,
    from: &Registers,
    transition: &Transition,
    monitor: &Monitor,
) -> (u32, Vec<RefusedState>) {
    let (mut now, mut changes, mut outside) = (from.clone(), 0, Vec::new());
    for write in transition.stages.iter().flat_map(|stage| &stage.cells) {
        let before = now.clone();
        now.set_cell(write.cell, write.byte);
        if !adapter.changes_signal(&before, &now) {
            continue;
        }
        changes += 1;
        outside.extend(refuses(adapter, monitor, &now).map(|reason| RefusedState { after: write.place(), reason }));
    }
    // Where the last change leads is no state between: it is judged with the setting itself.
    if !takes(adapter, monitor, &now) {
        outside.pop();
    }
    (changes, outside)
}

/// Why a monitor would refuse what these registers make; `None` where it takes it.
fn refuses(adapter: &Adapter, monitor: &Monitor, registers: &Registers) -> Option<String> {
    match adapter.signal(registers) {
        Err(error) => Some(error.to_string()),
        Ok(signal) => monitor.judge(&signal).reasons().into_iter().next(),
    }
}

/// Whether a monitor takes what these registers make.
pub(super) fn takes(adapter: &Adapter, monitor: &Monitor, registers: &Registers) -> bool {
    adapter.signal(registers).is_ok_and(|signal| monitor.judge(&signal).accepts())
}

/// Whether horizontal sync lies beyond the end of the line.
pub(super) fn line_too_short(timing: &Timing) -> bool {
    u32::from(timing.sync_start) + timing.sync_chars() > timing.chars()
}

/// Whether vertical sync lies beyond the end of the frame.
pub(super) fn frame_too_short(timing: &Timing) -> bool {
    timing.sync_line() + timing.sync_lines() > timing.lines()
}
