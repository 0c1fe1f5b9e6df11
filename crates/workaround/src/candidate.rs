//! Candidates: settings with their price, and which of them are worth showing.

use std::fmt;

use backporch_adapter::{Adapter, Registers};

use crate::bit_ring::BitRing;
use crate::scroll_path::ScrollPath;
use crate::signal_fit::SignalFit;

/// What the user gives up, each the less the better.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Cost {
    /// Pixels a frame shows fewer than the bench's.
    pub pixels_lost: u32,
    /// Pixels a horizontal step moves the picture.
    pub step_pixels: u32,
    /// Picture lines a vertical step moves it.
    pub step_lines: u32,
    /// Bytes of video memory in use.
    pub memory_bytes: u32,
    /// Bytes redrawn a frame.
    pub redraw_bytes: u32,
    /// Distance of the picture from the middle, dots and lines added.
    pub off_centre: u32,
}

impl Cost {
    fn parts(&self) -> [u32; 6] {
        let Self { pixels_lost, step_pixels, step_lines, memory_bytes, redraw_bytes, off_centre } = *self;
        [pixels_lost, step_pixels, step_lines, memory_bytes, redraw_bytes, off_centre]
    }

    /// Whether no part of this is more than the other's.
    #[must_use]
    pub fn no_more_than(&self, other: &Self) -> bool {
        self.parts().iter().zip(other.parts()).all(|(mine, other)| *mine <= other)
    }
}

/// The bytes of memory a scroll uses.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct MemoryMap {
    /// Linear address of the first byte.
    pub from: u32,
    /// Bytes in use from there on, wrapping around, in each bank.
    pub bank_bytes: u32,
    /// Banks that the lines alternate between.
    pub banks: u32,
    /// Bytes of the board left to the routine.
    pub free_bytes: u32,
}

/// What a step has to redraw.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Redraw {
    /// Pixel columns at the entering edge.
    pub columns: u32,
    /// Bytes of each line in them.
    pub column_bytes: u32,
    /// Picture lines at the entering edge.
    pub lines: u32,
    /// Bytes in all.
    pub bytes: u32,
}

impl fmt::Display for Redraw {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Self { columns, lines, bytes, .. } = self;
        let ending = |count: &u32| if *count == 1 { "" } else { "s" };
        let columns_are = format!("{columns} column{}", ending(columns));
        let lines_are = format!("{lines} line{}", ending(lines));
        match (columns, lines) {
            (0, _) => write!(f, "{lines_are} at the entering edge, {bytes} bytes a step"),
            (_, 0) => write!(f, "{columns_are} at the entering edge, {bytes} bytes a step"),
            _ => write!(f, "{columns_are} and {lines_are} at the entering edges, {bytes} bytes a step"),
        }
    }
}

/// Start addresses that fail: the same ones in every stretch of `every`.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct FailingStarts {
    /// Start addresses after which the list repeats.
    pub every: u32,
    /// Whether there is more than one such stretch.
    pub repeats: bool,
    /// First and last of each run, within the first stretch.
    pub runs: Vec<(u32, u32)>,
}

impl FailingStarts {
    /// The places of a ring that are on.
    #[must_use]
    pub fn of(ring: &BitRing) -> Self {
        let every = ring.period();
        let mut runs: Vec<(u32, u32)> = Vec::new();
        for at in (0..every).filter(|at| ring.has(*at)) {
            match runs.last_mut() {
                Some((_, last)) if *last + 1 == at => *last = at,
                _ => runs.push((at, at)),
            }
        }
        Self { every, repeats: every < ring.len(), runs }
    }

    /// Whether a start address is among them.
    #[must_use]
    pub fn has(&self, start: u32) -> bool {
        let at = start % self.every.max(1);
        self.runs.iter().any(|(from, to)| (*from..=*to).contains(&at))
    }
}

impl fmt::Display for FailingStarts {
    /// The first few runs in words.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        const SHOWN: usize = 12;
        let run = |(from, to): &(u32, u32)| if from == to { from.to_string() } else { format!("{from} to {to}") };
        let runs: Vec<String> = self.runs.iter().take(SHOWN).map(run).collect();
        write!(f, "{}", runs.join(", "))?;
        if self.runs.len() > SHOWN {
            write!(f, " and {} more runs", self.runs.len() - SHOWN)?;
        }
        if self.repeats { write!(f, " of every {}", self.every) } else { Ok(()) }
    }
}

/// Register settings that hold, or the nearest to it, with their price.
#[derive(Clone, Debug)]
pub struct Candidate {
    /// Registers, the start address at the origin.
    pub registers: Registers,
    /// Pixels across.
    pub width: u32,
    /// Picture lines.
    pub height: u32,
    /// Bytes from one row of memory to the next.
    pub pitch_bytes: u32,
    /// First start address of the scroll.
    pub origin: u32,
    /// Address units of a step.
    pub stride: u32,
    /// Start addresses shown.
    pub of_starts: u32,
    /// Those that are clean under the likeliest fault; for a single fault, clean at all.
    pub clean_starts: u32,
    /// Probability that all of them are clean.
    pub probability_clean: f64,
    /// Suspects under which all of them are clean, by position.
    pub clean_under: Vec<usize>,
    /// The start addresses, counted from the origin.
    pub path: ScrollPath,
    /// Start addresses of the board that differ.
    pub ring: u32,
    /// Where they fail under the likeliest fault under which some do.
    pub failing: Option<FailingStarts>,
    /// The signal around it.
    pub fit: SignalFit,
    /// Its price.
    pub cost: Cost,
    /// Memory it uses.
    pub memory: MemoryMap,
    /// What a step redraws.
    pub redraw: Redraw,
    /// Pixels and picture lines of the smallest steps the board can make.
    pub smallest_step: (u32, u32),
    /// Whether every start address was also rendered and held against a healthy board.
    pub rendered: bool,
    /// Position of its setting in the search.
    pub(crate) setting: usize,
    /// Required steps taken at once.
    pub(crate) multiplier: u32,
}

impl Candidate {
    /// The start addresses it is claimed for, in the order they are shown.
    pub fn starts(&self) -> impl Iterator<Item = u32> + Clone + use<> {
        self.path.starts(self.origin, self.ring)
    }

    /// Registers whose stored values differ from `bench`, and the start address, by name.
    #[must_use]
    pub fn changes(&self, adapter: &Adapter, bench: &Registers) -> Vec<(String, u32)> {
        let start = adapter.start_address();
        let fields = adapter.fields();
        let listed = fields
            .filter(|(field, _)| *field == start || adapter.get(&self.registers, *field) != adapter.get(bench, *field));
        listed.map(|(field, info)| (info.name.clone(), adapter.get(&self.registers, field))).collect()
    }

    /// Whether the picture stands in the middle as well as whole character clocks allow.
    #[must_use]
    pub fn centred(&self, char_dots: u32, lines_per_row: u32) -> bool {
        let within = |off: i32, step: u32| off.unsigned_abs() * 2 <= step;
        within(self.fit.off_dots, char_dots) && within(self.fit.off_lines, lines_per_row)
    }

    /// Whether this is at least as good as another in every way.
    fn covers(&self, other: &Self) -> bool {
        let share = |one: &Self| u64::from(one.clean_starts);
        self.probability_clean >= other.probability_clean
            && share(self) * u64::from(other.of_starts) >= share(other) * u64::from(self.of_starts)
            && self.fit.accepted() >= other.fit.accepted()
            && self.cost.no_more_than(&other.cost)
    }
}

/// Those candidates that no other covers, the ones that give up least first.
#[must_use]
pub fn pareto_front(mut candidates: Vec<Candidate>) -> Vec<Candidate> {
    candidates.sort_by(|one, other| {
        let key = |one: &Candidate| (one.cost.pixels_lost, one.cost.parts());
        other
            .probability_clean
            .total_cmp(&one.probability_clean)
            .then_with(|| other.clean_starts.cmp(&one.clean_starts))
            .then_with(|| key(one).cmp(&key(other)))
    });
    let mut kept: Vec<Candidate> = Vec::new();
    for candidate in candidates {
        if !kept.iter().any(|better| better.covers(&candidate)) {
            kept.push(candidate);
        }
    }
    kept
}
