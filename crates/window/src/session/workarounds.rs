//! Workarounds searched for from here, and tried on the boards.
//!
//! A search may take a while, so it runs as a background task.

use backporch_bench::Bench;
use backporch_quirk::QuirkStack;
use backporch_workaround::{Candidate, Requirements, StepTable, SuspectedFault, search, step_tables};

use super::background::TaskProgress;

/// Candidates listed at most.
const MOST: usize = 12;
/// Tables listed at most.
const MOST_TABLES: usize = 6;

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
    /// Searches for settings, and for tables with a start address for every step, that hold against all that the board does
    /// beyond the plain one: by design and by the bench's quirks together.
    pub(crate) fn search(bench: &Bench, progress: &TaskProgress) -> Self {
        let suspect = || SuspectedFault { name: String::new(), tap: bench.stack(), probability: 1.0 };
        let suspects: Vec<SuspectedFault<QuirkStack>> =
            if bench.layers().is_plain() { Vec::new() } else { vec![suspect()] };
        let requirements = Requirements::default();
        let found = match search(bench, &requirements, &suspects, &|done, all| progress.set(done, all)) {
            Ok(found) => found,
            Err(impossible) => return Self { list: Vec::new(), summary: impossible.to_string() },
        };
        let listed = if found.holds() { &found.candidates } else { &found.partial };
        let mut list: Vec<Workaround> =
            listed.iter().take(MOST).map(|candidate| Workaround::new(bench, candidate)).collect();
        let mut summary = if found.holds() {
            format!("{} settings hold, of {} judged", list.len(), found.settings)
        } else if list.is_empty() {
            format!("none of {} settings holds", found.settings)
        } else {
            format!("none of {} settings holds everywhere; the nearest to it", found.settings)
        };
        // Whatever hinders a setting hinders a table, and was reported already.
        if let Ok(found) = step_tables(bench, &requirements, &suspects, &|done, all| progress.set(done, all)) {
            let numbered = (1..).zip(found.tables.iter().take(MOST_TABLES));
            let tables: Vec<Workaround> =
                numbered.filter_map(|(number, table)| Workaround::of_table(bench, number, table)).collect();
            if !tables.is_empty() {
                summary += &format!(", then {} tables of starts", tables.len());
            }
            list.extend(tables);
        }
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

impl Workaround {
    /// A table, tried in a step that shows the obvious start address, with least wrong in it: others are right for a picture
    /// that lies in memory otherwise, and would look wrong in the one at hand.
    fn of_table(bench: &Bench, number: u32, table: &StepTable) -> Option<Self> {
        let (adapter, own) = (bench.adapter(), bench.registers());
        let shown = table.steps.iter().filter(|step| !step.skipped);
        let tried = shown.min_by_key(|step| (step.ahead != 0, step.wrong.pixels))?;
        let registers = table.registers_at(adapter, table.start(tried))?;
        let differing = adapter.fields().filter(|(field, _)| {
            *field == adapter.start_address() || adapter.get(&registers, *field) != adapter.get(own, *field)
        });
        let wrong = match table.cost.worst_wrong {
            0 => "nothing wrong".to_string(),
            pixels => format!("{pixels} pixels wrong at worst"),
        };
        Some(Self {
            registers: differing
                .map(|(field, info)| (info.name.clone(), u64::from(adapter.get(&registers, field))))
                .collect(),
            words: format!("{} x {}, {} starts by table, {wrong}", table.clear_width, table.height, table.steps.len()),
            cost: format!("gives up: {}; emit --table {number} --as routine writes its scroller", table.gives_up()),
            holds: table.is_clean(),
            moves_sync: adapter.changes_signal(own, &registers),
        })
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
