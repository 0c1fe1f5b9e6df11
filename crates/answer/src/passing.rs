//! What a monitor gets while registers are set.

use backporch_adapter::{Adapter, Mode, Registers};
use backporch_signal::Monitor;
use backporch_workaround::transition::{Intervals, Passing, Transition};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// The way from a mode's start-up values to a setting, state by state, held against a monitor.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct PassingAnswer {
    /// Port writes in all.
    pub writes: u32,
    /// Registers whose write changes the signal.
    pub signal_changes: u32,
    /// States between that the monitor would refuse if they stayed: why, in the order in which they come. Each lasts until
    /// the next write.
    pub outside: Vec<String>,
    /// Shortest and longest time from one horizontal sync to the next meanwhile, in microseconds, the writes beginning with
    /// vertical retrace; null where there are fewer than two.
    pub line_us: Option<[f64; 2]>,
    /// The same of vertical sync, in milliseconds.
    pub frame_ms: Option<[f64; 2]>,
    /// The same in words.
    pub says: String,
}

impl PassingAnswer {
    /// The way from a mode's start-up values, in the order that is best for the monitor; `None` without a monitor.
    #[must_use]
    pub fn new(adapter: &Adapter, mode: &Mode, monitor: Option<&Monitor>, to: &Registers) -> Option<Self> {
        let (monitor, from) = (monitor?, adapter.start_up(mode));
        let transition = Transition::on(Some(monitor), adapter, &from, to);
        let passing = Passing::new(adapter, &from, &transition, monitor);
        Some(Self {
            writes: passing.writes,
            signal_changes: passing.changes,
            line_us: between(passing.pulses.lines, 1.0),
            frame_ms: between(passing.pulses.frames, 1e3),
            outside: passing.outside.iter().map(|outside| outside.reason.clone()).collect(),
            says: passing.to_string(),
        })
    }

    /// A line to stand under a setting.
    pub(crate) fn brief(passing: Option<&Self>) -> String {
        passing.map_or_else(String::new, |passing| format!("    set up      {}\n", passing.says))
    }
}

/// The shortest and the longest of some intervals, in units of this many microseconds.
fn between(intervals: Option<Intervals>, unit_us: f64) -> Option<[f64; 2]> {
    intervals.map(|Intervals { shortest_us, longest_us }| [shortest_us / unit_us, longest_us / unit_us])
}
