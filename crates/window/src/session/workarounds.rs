//! Workarounds searched for from here, and tried on the boards.
//!
//! A search may take a while, so it runs as a background task.

use std::sync::Arc;

use backporch_adapter::Rgba;
use backporch_bench::Bench;
use backporch_emit::Routine;
use backporch_picture::mark::Mark;
use backporch_quirk::QuirkStack;
use backporch_workaround::{Candidate, Requirements, StepTable, SuspectedFault, TableStep, search, step_tables};

use super::background::TaskProgress;

/// Candidates listed at most.
const MOST: usize = 12;
/// Steps of a filmstrip at most.
const MOST_STEPS: usize = 4;
/// Pixels of a step of the filmstrip across at most.
const FILM_WIDTH: u32 = 160;
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
    /// Its scroller as a program; none of a setting, and of a table no routine is made for.
    pub program: Option<Arc<[u8]>>,
    /// The worst steps of a table.
    pub film: Arc<[LiveFilmStep]>,
}

/// A step as it looks on the suspected board.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct LiveFilmStep {
    /// Which step it is, and what is wrong in it.
    pub says: String,
    /// Pixels across.
    pub width: u32,
    /// Pixels down.
    pub height: u32,
    /// Colour of each pixel; what is not as meant has the colour of damage.
    pub rgba: Vec<Rgba>,
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
            program: None,
            film: Arc::default(),
        }
    }
}

impl Workaround {
    /// A table, tried in a step that shows the obvious start address, with least wrong in it: others are right for a picture
    /// that lies in memory otherwise, and would look wrong in the one at hand.
    fn of_table(bench: &Bench, number: u32, table: &StepTable) -> Option<Self> {
        let (adapter, own) = (bench.adapter(), bench.registers());
        let shown = table.steps.iter().filter(|step| !step.skipped);
        let writes = |step: &TableStep| table.writes_of(step).is_some_and(|writes| !writes.lines.is_empty());
        let tried = shown.min_by_key(|step| (step.ahead != 0, writes(step), step.wrong.pixels))?;
        let registers = table.registers_at(adapter, table.start(tried))?;
        let differing = adapter.fields().filter(|(field, _)| {
            *field == adapter.start_address() || adapter.get(&registers, *field) != adapter.get(own, *field)
        });
        let wrong = match table.cost.worst_wrong {
            0 => "nothing wrong".to_string(),
            pixels => format!("{pixels} pixels wrong at worst"),
        };
        let program = Routine::new(adapter, bench.mode(), table, bench.monitor());
        let program = program.and_then(|routine| routine.to_program(None));
        let scroller = match &program {
            Ok(_) => format!("emit --table {number} --as routine writes its scroller"),
            Err(error) => format!("no scroller: {error}"),
        };
        Some(Self {
            film: film(bench, table),
            program: program.ok().map(Arc::from),
            registers: differing
                .map(|(field, info)| (info.name.clone(), u64::from(adapter.get(&registers, field))))
                .collect(),
            words: format!("{} x {}, {} starts by table, {wrong}", table.clear_width, table.height, table.steps.len()),
            cost: format!("gives up: {}; {scroller}", table.gives_up()),
            holds: table.is_clean(),
            moves_sync: adapter.changes_signal(own, &registers),
        })
    }
}

/// The worst steps of a table with the bench's own picture, made small where it is large.
fn film(bench: &Bench, table: &StepTable) -> Arc<[LiveFilmStep]> {
    let suspect = bench.stack();
    let [red, green, blue] = Mark::Broken.colour();
    let damage = [red, green, blue, 255];
    let step = |step: &TableStep| {
        let shown = table.view(bench, step, &suspect)?.marked(table.height, damage);
        let every = shown.width.div_ceil(FILM_WIDTH).max(1);
        let (width, height) = (shown.width / every, shown.height / every);
        let pixel = |x: u32, y: u32| shown.rgba.get((y * shown.width + x) as usize).copied().unwrap_or(damage);
        // A block in which anything is amiss has the colour of damage.
        let block = |x: u32, y: u32| {
            let mut all = (0..every * every).map(|at| pixel(x * every + at % every, y * every + at / every));
            if all.any(|one| one == damage) { damage } else { pixel(x * every, y * every) }
        };
        let rgba = (0..height).flat_map(|y| (0..width).map(move |x| (x, y))).map(|(x, y)| block(x, y)).collect();
        Some(LiveFilmStep { says: table.says(step), width, height, rgba })
    };
    table.worst_steps(MOST_STEPS).into_iter().filter_map(step).collect()
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
