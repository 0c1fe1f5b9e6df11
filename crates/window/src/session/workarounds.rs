//! Workarounds searched for from here, and tried on the boards.
//!
//! A search may take a while, so it runs as a background task.

use backporch_bench::Bench;
use backporch_workaround::{Candidate, Requirements, SuspectedFault, search};

use super::background::TaskProgress;

/// Candidates listed at most.
const MOST: usize = 12;

/// Register settings that are said to hold against the quirks on the board.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Workaround {
    /// Registers to write, by name, and their stored values.
    pub registers: Vec<(String, u64)>,
    /// Size, and how many start addresses are clean.
    pub words: String,
    /// What it costs.
    pub cost: String,
    /// Whether every start address is clean.
    pub holds: bool,
    /// Whether totals or sync differ: then the caution has to be read.
    pub moves_sync: bool,
}

/// What a search found, or why nothing was searched.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct LiveWorkarounds {
    /// Settings, the best first.
    pub list: Vec<Workaround>,
    /// The outcome in a line.
    pub summary: String,
}

impl LiveWorkarounds {
    /// Searches for settings that hold against all of the bench's quirks together.
    pub(crate) fn search(bench: &Bench, progress: &TaskProgress) -> Self {
        let names: Vec<&str> = bench.quirks().iter().map(|quirk| quirk.name()).collect();
        let suspect = SuspectedFault { name: names.join(" + "), tap: bench.stack(), probability: 1.0 };
        let suspects = if names.is_empty() { Vec::new() } else { vec![suspect] };
        let found = match search(bench, &Requirements::default(), &suspects, &|done, all| progress.set(done, all)) {
            Ok(found) => found,
            Err(impossible) => return Self { list: Vec::new(), summary: impossible.to_string() },
        };
        let listed = if found.holds() { &found.candidates } else { &found.partial };
        let list: Vec<Workaround> =
            listed.iter().take(MOST).map(|candidate| Workaround::new(bench, candidate)).collect();
        let summary = if found.holds() {
            format!("{} settings hold, of {} judged", list.len(), found.settings)
        } else if list.is_empty() {
            format!("none of {} settings holds", found.settings)
        } else {
            format!("none of {} settings holds everywhere; the nearest to it", found.settings)
        };
        Self { list, summary }
    }
}

impl Workaround {
    fn new(bench: &Bench, candidate: &Candidate) -> Self {
        let changes = candidate.changes(bench.adapter(), bench.registers());
        let moves_sync = bench.adapter().changes_signal(bench.registers(), &candidate.registers);
        Self {
            registers: changes.into_iter().map(|(name, value)| (name, u64::from(value))).collect(),
            words: format!(
                "{} x {}, {} of {} starts clean",
                candidate.width, candidate.height, candidate.clean_starts, candidate.of_starts
            ),
            cost: cost(candidate),
            holds: candidate.failing.is_none(),
            moves_sync,
        }
    }
}

/// What a candidate gives up, in words.
fn cost(candidate: &Candidate) -> String {
    let cost = &candidate.cost;
    let mut parts = vec![format!("{} bytes redrawn a step", cost.redraw_bytes)];
    if cost.pixels_lost > 0 {
        parts.insert(0, format!("{} pixels fewer", cost.pixels_lost));
    }
    if cost.off_centre > 0 {
        parts.push(format!("{} dots and lines off the middle", cost.off_centre));
    }
    parts.join(", ")
}
