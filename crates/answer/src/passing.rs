//! What a monitor gets while registers are set.

use backporch_adapter::{Adapter, Mode, Registers};
use backporch_signal::Monitor;
use backporch_workaround::transition::{Passing, Transition};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// The way from a mode's start-up values to a setting, state by state, held against a monitor.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct PassingAnswer {
    /// Port writes in all.
    pub writes: u32,
    /// Registers whose write changes the signal.
    pub signal_changes: u32,
    /// States between that the monitor would refuse if they stayed: why, in the order in which they come. Each lasts until
    /// the next write.
    pub outside: Vec<String>,
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
            outside: passing.outside.iter().map(|outside| outside.reason.clone()).collect(),
            says: passing.to_string(),
        })
    }

    /// A line to stand under a setting.
    pub(crate) fn brief(passing: Option<&Self>) -> String {
        passing.map_or_else(String::new, |passing| format!("    set up      {}\n", passing.says))
    }
}
