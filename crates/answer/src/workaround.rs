//! `workaround`: register settings that hold, what they cost, and how far from the monitor's limits they lie.

use std::collections::BTreeMap;

use backporch_bench::Bench;
use backporch_signal::SYNC_CAUTION;
use backporch_workaround::{Candidate, FailingStarts, Requirements, SearchResult, StepTable, TableSearch};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::art::ArtAnswer;
use crate::passing::PassingAnswer;
use crate::signal::SignalAnswer;
use crate::step_table::StepTableAnswer;
use crate::words::{self, counted};

/// What a search for settings that hold came to.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(untagged)]
pub enum WorkaroundsAnswer {
    /// Settings were judged.
    Searched(Box<WorkaroundAnswer>),
    /// Nothing could be searched.
    Impossible(NoWorkaroundAnswer),
}

/// Settings that hold against a fault.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct WorkaroundAnswer {
    /// The adapter profile.
    pub board: String,
    /// The faults to get around, with their probabilities.
    pub faults: Vec<String>,
    /// Whether some setting or table holds everywhere.
    pub holds: bool,
    /// How many settings were judged, and the widest that holds, in a sentence.
    pub searched: String,
    /// Settings that hold, the best first.
    pub candidates: Vec<CandidateAnswer>,
    /// Where nothing holds everywhere: the best that can be had at the step asked for.
    pub partial: Vec<CandidateAnswer>,
    /// Start addresses chosen for each step, where the obvious ones do not hold: those with least wrong first.
    #[serde(default)]
    pub tables: Vec<StepTableAnswer>,
    /// Settings of sufficient size that the monitor refuses.
    pub refused_by_monitor: u32,
    /// What was searched in full, and what was left out and why.
    pub remarks: Vec<String>,
    /// Read this before a setting is tried on a real monitor; null where no setting changes the signal.
    pub caution: Option<String>,
    /// How visible the fault is where it has to be lived with.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub art: Option<ArtAnswer>,
}

/// A setting.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct CandidateAnswer {
    /// Registers that differ from the bench's, and the start address.
    pub registers: BTreeMap<String, u32>,
    /// Pixels across.
    pub width_px: u32,
    /// Picture lines down.
    pub height_px: u32,
    /// Bytes from one row of memory to the next.
    pub pitch_bytes: u32,
    /// Pixels by which a step moves the picture across.
    pub step_px: u32,
    /// Picture lines by which a step moves it down.
    pub step_lines: u32,
    /// First start address of the scroll.
    pub origin: u32,
    /// Address units of a step.
    pub stride: u32,
    /// Start addresses that are clean under the likeliest fault.
    pub clean_starts: u32,
    /// Start addresses that are shown.
    pub of_starts: u32,
    /// Start addresses that fail; null where all are clean.
    pub failing: Option<FailingAnswer>,
    /// The same in words.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub fails_at: Option<String>,
    /// Probability that all start addresses are clean.
    pub probability_clean: f64,
    /// Whether the picture is in the middle of the screen, to the nearest character clock and row.
    pub centred: bool,
    /// Dots by which it is off the middle.
    pub off_centre_dots: i32,
    /// Scan lines by which it is off the middle.
    pub off_centre_lines: i32,
    /// Dots of border at the left and at the right.
    pub border_dots: [i32; 2],
    /// The signal, held against the monitor.
    pub signal: SignalAnswer,
    /// What the monitor gets while it is set; null without a monitor.
    #[serde(default)]
    pub passing: Option<PassingAnswer>,
    /// The video memory that is used.
    pub memory: UsedMemoryAnswer,
    /// Bytes that a step has to redraw.
    pub redraw_bytes: u32,
    /// What a step has to redraw, in words.
    pub redraws: String,
    /// Whether every start address was also rendered and held against the plain board.
    pub rendered: bool,
    /// What is given up, in words.
    pub cost: String,
}

/// Start addresses that fail.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct FailingAnswer {
    /// Start addresses after which the runs come again.
    pub every: u32,
    /// First and last start address of each run.
    pub runs: Vec<(u32, u32)>,
}

/// Video memory that a setting uses.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct UsedMemoryAnswer {
    /// First byte.
    pub from: u32,
    /// Bytes in each bank.
    pub bank_bytes: u32,
    /// Number of banks.
    pub banks: u32,
    /// Bytes of the board that are left free.
    pub free_bytes: u32,
}

/// Why nothing could be searched.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct NoWorkaroundAnswer {
    /// The adapter profile.
    pub board: String,
    /// Always false.
    pub holds: bool,
    /// Always empty.
    pub candidates: Vec<CandidateAnswer>,
    /// Why.
    pub reason: String,
}

impl WorkaroundsAnswer {
    /// Whether some setting holds everywhere.
    #[must_use]
    pub fn holds(&self) -> bool {
        match self {
            Self::Searched(answer) => answer.holds,
            Self::Impossible(_) => false,
        }
    }

    /// The answer in words, with `most` settings at most.
    #[must_use]
    pub fn text(&self, most: usize) -> String {
        match self {
            Self::Searched(answer) => answer.text(most),
            Self::Impossible(answer) => format!("No workaround: {}.\n", answer.reason),
        }
    }
}

impl WorkaroundAnswer {
    /// The answer to a search against `faults`, which are named for people.
    #[must_use]
    pub fn new(bench: &Bench, need: &Requirements, faults: &[String], found: &SearchResult) -> Self {
        let answers = |candidates: &[Candidate]| -> Vec<CandidateAnswer> {
            candidates.iter().map(|candidate| CandidateAnswer::new(bench, need, candidate)).collect()
        };
        let candidates = answers(&found.candidates);
        let partial = answers(&found.partial);
        let changes_signal = |one: &Candidate| bench.adapter().changes_signal(bench.registers(), &one.registers);
        let moves_sync = found.candidates.iter().chain(&found.partial).any(changes_signal);
        let refused = found.candidates.iter().chain(&found.partial).any(|candidate| !candidate.fit.accepted());
        Self {
            board: bench.adapter().name().to_string(),
            faults: faults.to_vec(),
            holds: found.holds(),
            searched: searched(need, found),
            candidates,
            partial,
            tables: Vec::new(),
            refused_by_monitor: found.refused,
            remarks: found.remarks.clone(),
            caution: (moves_sync || refused).then(|| SYNC_CAUTION.to_string()),
            art: None,
        }
    }

    /// The same with the tables found on the bench.
    #[must_use]
    pub fn with_tables(mut self, bench: &Bench, found: &TableSearch) -> Self {
        self.tables = found.tables.iter().map(|table| StepTableAnswer::new(bench, table)).collect();
        self.holds |= found.tables.iter().any(StepTable::is_clean);
        self.remarks.extend(found.remarks.iter().cloned());
        let mut signals = found.tables.iter().map(|table| &table.registers);
        if signals.any(|registers| bench.adapter().changes_signal(bench.registers(), registers)) {
            self.caution = Some(SYNC_CAUTION.to_string());
        }
        self
    }

    /// The answer in words, with `most` settings at most.
    #[must_use]
    pub fn text(&self, most: usize) -> String {
        let mut text = format!("{}, {}\n{}.\n", self.board, self.faults.join(", "), self.searched);
        for remark in &self.remarks {
            text += &format!("- {remark}.\n");
        }
        if self.refused_by_monitor > 0 {
            text += &format!("- {} settings of this size are refused by the monitor.\n", self.refused_by_monitor);
        }
        for (number, candidate) in (1..).zip(self.candidates.iter().take(most)) {
            text += &format!("\n{number:2}  {}", candidate.text());
        }
        text += &left_over(self.candidates.len(), most);
        if !self.tables.is_empty() {
            text += "\nTables, with a start address chosen for each step:\n";
            for (number, table) in (1..).zip(self.tables.iter().take(most)) {
                text += &format!("\n{number:2}  {}", table.text());
            }
            text += &left_over(self.tables.len(), most);
        }
        if !self.holds || !self.partial.is_empty() {
            let what = if self.holds { "No single setting" } else { "Nothing" };
            text += &format!("\n{what} holds everywhere. The best that can be had at the step asked for:\n");
            for candidate in self.partial.iter().take(most) {
                text += &format!("\n -  {}", candidate.text());
            }
            text += &left_over(self.partial.len(), most);
        }
        text += &self.art.as_ref().map_or_else(String::new, ArtAnswer::text);
        if let Some(caution) = &self.caution {
            text += &format!("\n{caution}\n");
        }
        text
    }
}

/// How many settings were judged, and the widest that holds.
fn searched(need: &Requirements, found: &SearchResult) -> String {
    let (least, most) = found.widths;
    let judged = match found.settings {
        1 => format!("one setting of {most} pixels across was judged"),
        settings if least == most => format!("{settings} settings of {most} pixels across were judged"),
        settings => format!("{settings} settings of {least} to {most} pixels across were judged"),
    };
    match found.widest(need) {
        Some(width) if width < most => {
            format!("{judged}; nothing wider than {width} pixels holds at the step asked for")
        }
        Some(width) => format!("{judged}; the widest, {width} pixels, holds"),
        None if found.settings == 1 => format!("{judged}; it does not hold at the step asked for"),
        None => format!("{judged}; none of them holds at the step asked for"),
    }
}

fn left_over(found: usize, most: usize) -> String {
    match found.saturating_sub(most) {
        0 => String::new(),
        left => format!("\n  … and {left} more; --most or --format json has them all\n"),
    }
}

impl CandidateAnswer {
    /// A setting of a search for `need`.
    #[must_use]
    pub fn new(bench: &Bench, need: &Requirements, candidate: &Candidate) -> Self {
        let adapter = bench.adapter();
        let format = adapter.format(adapter.format_index(&candidate.registers));
        let per_row = adapter.timing(&candidate.registers).lines_per_row();
        let memory = candidate.memory;
        Self {
            registers: candidate.changes(adapter, bench.registers()).into_iter().collect(),
            width_px: candidate.width,
            height_px: candidate.height,
            pitch_bytes: candidate.pitch_bytes,
            step_px: candidate.cost.step_pixels,
            step_lines: candidate.cost.step_lines,
            origin: candidate.origin,
            stride: candidate.stride,
            clean_starts: candidate.clean_starts,
            of_starts: candidate.of_starts,
            failing: candidate.failing.as_ref().map(FailingAnswer::new),
            fails_at: candidate.failing.as_ref().map(ToString::to_string),
            probability_clean: candidate.probability_clean,
            centred: candidate.centred(u32::from(format.char_dots), per_row),
            off_centre_dots: candidate.fit.off_dots,
            off_centre_lines: candidate.fit.off_lines,
            border_dots: [candidate.fit.border_dots.0, candidate.fit.border_dots.1],
            signal: SignalAnswer::new(bench, &candidate.fit.signal),
            passing: PassingAnswer::new(adapter, bench.mode(), bench.monitor(), &candidate.registers),
            memory: UsedMemoryAnswer {
                from: memory.from,
                bank_bytes: memory.bank_bytes,
                banks: memory.banks,
                free_bytes: memory.free_bytes,
            },
            redraw_bytes: candidate.redraw.bytes,
            redraws: candidate.redraw.to_string(),
            rendered: candidate.rendered,
            cost: cost(need, candidate),
        }
    }

    /// How far a step moves the picture, in words.
    #[must_use]
    pub fn step(&self) -> String {
        let (pixels, lines) = (counted(u64::from(self.step_px), "pixel"), counted(u64::from(self.step_lines), "line"));
        match (self.step_px, self.step_lines) {
            (_, 0) => pixels,
            (0, _) => lines,
            _ => format!("{pixels} and {lines}"),
        }
    }

    fn text(&self) -> String {
        let clean = match &self.failing {
            None => format!("all {} start addresses clean", self.of_starts),
            Some(_) => format!("{} of {} start addresses clean", self.clean_starts, self.of_starts),
        };
        let place = if self.centred { "centred" } else { "NOT centred" };
        let mut text = format!(
            "{} x {} pixels by steps of {}: {clean}, probability {:.3}\n\
             \x20   gives up    {}\n\
             \x20   registers   {}\n\
             \x20   picture     pitch {} bytes, {place}: {} dots and {} lines off the middle; border {} dots left, {} right\n\
             {}{}\
             \x20   memory      {} bytes in {} from {:04X}h, {} bytes of the board free\n\
             \x20   a step      redraws {}\n",
            self.width_px,
            self.height_px,
            self.step(),
            self.probability_clean,
            self.cost,
            words::settings(&self.registers),
            self.pitch_bytes,
            self.off_centre_dots,
            self.off_centre_lines,
            self.border_dots[0],
            self.border_dots[1],
            self.signal.brief(),
            PassingAnswer::brief(self.passing.as_ref()),
            self.memory.bank_bytes * self.memory.banks,
            if self.memory.banks == 1 { "one piece".to_string() } else { format!("{} banks", self.memory.banks) },
            self.memory.from,
            self.memory.free_bytes,
            self.redraws,
        );
        if let Some(failing) = &self.fails_at {
            text += &format!("    fails at    {failing}\n");
        }
        text
    }
}

impl FailingAnswer {
    fn new(failing: &FailingStarts) -> Self {
        Self { every: failing.every, runs: failing.runs.clone() }
    }
}

/// What is given up, in words.
fn cost(need: &Requirements, candidate: &Candidate) -> String {
    let cost = &candidate.cost;
    let mut parts = Vec::new();
    if cost.pixels_lost > 0 {
        parts.push(format!("{} pixels of each frame", cost.pixels_lost));
    }
    let own_pixels = need.step_pixels.unwrap_or(candidate.smallest_step.0);
    let own_lines = need.step_lines.unwrap_or(candidate.smallest_step.1);
    if cost.step_pixels > own_pixels {
        parts.push(format!("steps of {own_pixels} pixels, {} instead", cost.step_pixels));
    }
    if cost.step_lines > own_lines {
        parts.push(format!("steps of {own_lines} lines, {} instead", cost.step_lines));
    }
    if !candidate.fit.accepted() {
        parts.push("a signal inside the monitor's margins".to_string());
    }
    if candidate.failing.is_some() {
        parts.push(format!("{} start addresses", candidate.of_starts - candidate.clean_starts));
    }
    if parts.is_empty() { "nothing".to_string() } else { parts.join(", ") }
}
