//! `workaround`: register settings that hold, what they cost, and how far from the monitor's limits they lie.

use std::collections::BTreeMap;

use anyhow::Result;
use backporch_adapter::Adapter;
use backporch_bench::{Bench, Overrides};
use backporch_input::{InputError, Source};
use backporch_signal::SYNC_CAUTION;
use backporch_workaround::{
    Candidate, Direction, FailingStarts, Origin, Requirements, RequirementsFile, SearchResult, may_change, search,
};
use serde::Serialize;

use super::art::{self, ArtAnswer};
use super::signal::SignalAnswer;
use super::suspects::{self, Faults};
use crate::answer::{Answer, Found};
use crate::args::{DirectionArg, NeedArgs, StartsArg, WorkaroundArgs};
use crate::progress;

/// The JSON form.
#[derive(Debug, Serialize)]
pub struct WorkaroundAnswer {
    board: String,
    faults: Vec<String>,
    holds: bool,
    candidates: Vec<CandidateAnswer>,
    partial: Vec<CandidateAnswer>,
    refused_by_monitor: u32,
    remarks: Vec<String>,
    caution: Option<&'static str>,
    #[serde(skip_serializing_if = "Option::is_none")]
    art: Option<ArtAnswer>,
    #[serde(skip)]
    widest: String,
}

#[derive(Debug, Serialize)]
struct CandidateAnswer {
    registers: BTreeMap<String, u32>,
    width_px: u32,
    height_px: u32,
    pitch_bytes: u32,
    step_px: u32,
    step_lines: u32,
    origin: u32,
    stride: u32,
    clean_starts: u32,
    of_starts: u32,
    failing: Option<FailingAnswer>,
    probability_clean: f64,
    centred: bool,
    off_centre_dots: i32,
    off_centre_lines: i32,
    border_dots: [i32; 2],
    signal: SignalAnswer,
    memory: MemoryAnswer,
    redraw_bytes: u32,
    rendered: bool,
    cost: String,
    #[serde(skip)]
    redraw: String,
    #[serde(skip)]
    failing_words: Option<String>,
}

/// Start addresses that fail: `runs`, again every `every`.
#[derive(Debug, Serialize)]
struct FailingAnswer {
    every: u32,
    runs: Vec<(u32, u32)>,
}

#[derive(Debug, Serialize)]
struct MemoryAnswer {
    from: u32,
    bank_bytes: u32,
    banks: u32,
    free_bytes: u32,
}

/// Why nothing was searched, in JSON.
#[derive(Debug, Serialize)]
struct NothingAnswer {
    board: String,
    holds: bool,
    candidates: [u8; 0],
    reason: String,
}

pub fn run(args: &WorkaroundArgs, answer: &mut Answer) -> Result<Found> {
    let (bench, need) = opened(&args.bench.bench, args.bench.overrides(), &args.need)?;
    super::frame::say_notes(&bench, answer)?;
    let faults = suspects::faults(&bench, suspects::source(args.diagnosis.as_deref())?.as_ref())?;
    match searched(&bench, &need, &faults, answer) {
        Ok(found) => {
            let mut told = WorkaroundAnswer::new(&bench, &need, &faults, &found);
            if let Some(path) = &args.art {
                told.art = art::checked(&bench, &need, &faults, &found, path, answer)?;
            }
            let status = if told.holds { Found::Nothing } else { Found::Something };
            answer.give(&told, |told| told.text(args.most))?;
            Ok(status)
        }
        Err(reason) => {
            let board = bench.adapter().name().to_string();
            let told = NothingAnswer { board, holds: false, candidates: [], reason };
            answer.give(&told, |told| format!("No workaround: {}.\n", told.reason))?;
            Ok(Found::Something)
        }
    }
}

/// Searches with progress; what cannot be met is told in words.
pub fn searched(bench: &Bench, need: &Requirements, faults: &Faults, answer: &Answer) -> Result<SearchResult, String> {
    let bar = progress::bar(answer, "judging settings", 0);
    let found = search(bench, need, &faults.suspects, &|done, of| {
        bar.set_length(of);
        bar.set_position(done);
    });
    bar.finish_and_clear();
    found.map_err(|impossible| impossible.to_string())
}

/// The bench and the need, the need's own mode and monitor on the bench.
pub fn opened(name: &str, mut overrides: Overrides, args: &NeedArgs) -> Result<(Bench, Requirements)> {
    let mut written = None;
    if let Some(path) = &args.need {
        let source = Source::read(path)?;
        let file = RequirementsFile::from_source(&source)?;
        overrides.mode = overrides.mode.or_else(|| file.mode.clone());
        overrides.monitor = overrides.monitor.or_else(|| file.monitor.clone());
        written = Some((file, source));
    }
    let bench = Bench::open(name, &overrides)?;
    let mut need = match &written {
        Some((file, source)) => file.requirements(source, bench.adapter())?,
        None => Requirements::default(),
    };
    overlay(args, bench.adapter(), &mut need)?;
    Ok((bench, need))
}

/// Lays what was typed over the need.
fn overlay(args: &NeedArgs, adapter: &Adapter, need: &mut Requirements) -> Result<()> {
    match args.direction {
        Some(DirectionArg::Horizontal) => need.direction = Direction::Horizontal,
        Some(DirectionArg::Vertical) => need.direction = Direction::Vertical,
        Some(DirectionArg::Both) => need.direction = Direction::Both,
        None => {}
    }
    match args.starts {
        Some(StartsArg::Endless) => need.starts = None,
        Some(StartsArg::Range(from, to)) => need.starts = Some(from..=to),
        None => {}
    }
    need.step_pixels = args.step.or(need.step_pixels);
    need.step_lines = args.step_lines.or(need.step_lines);
    need.least_width = args.least_width.or(need.least_width);
    need.least_height = args.least_height.or(need.least_height);
    need.keep_free = args.keep_free.unwrap_or(need.keep_free);
    need.out_of_margin |= args.out_of_margin;
    if args.free_origin {
        need.origin = Origin::Free;
    }
    if !args.may_change.is_empty() {
        let roles = args.may_change.iter().map(|name| may_change(adapter, name));
        let roles = roles.collect::<Result<_, _>>();
        need.may_change = roles.map_err(|error| InputError::new("--may-change", error.found(), error.allowed()))?;
    }
    Ok(())
}

impl WorkaroundAnswer {
    pub fn new(bench: &Bench, need: &Requirements, faults: &Faults, found: &SearchResult) -> Self {
        let told = |candidates: &[Candidate]| -> Vec<CandidateAnswer> {
            candidates.iter().map(|candidate| CandidateAnswer::new(bench, need, candidate)).collect()
        };
        let candidates = told(&found.candidates);
        let partial = told(&found.partial);
        let changes_signal = |one: &Candidate| bench.adapter().changes_signal(bench.registers(), &one.registers);
        let moves_sync = found.candidates.iter().chain(&found.partial).any(changes_signal);
        let refused = found.candidates.iter().chain(&found.partial).any(|candidate| !candidate.fit.accepted());
        let (least, most) = found.widths;
        let judged = match (found.settings, least == most) {
            (1, _) => format!("one setting of {most} pixels across was judged"),
            (settings, true) => format!("{settings} settings of {most} pixels across were judged"),
            (settings, false) => format!("{settings} settings of {least} to {most} pixels across were judged"),
        };
        Self {
            board: bench.adapter().name().to_string(),
            faults: faults.names.clone(),
            holds: found.holds(),
            widest: match found.widest(need) {
                Some(width) if width < most => {
                    format!("{judged}; nothing wider than {width} pixels holds at the step asked for")
                }
                Some(width) => format!("{judged}; the widest, {width} pixels, holds"),
                None if found.settings == 1 => format!("{judged}; it does not hold at the step asked for"),
                None => format!("{judged}; none of them holds at the step asked for"),
            },
            candidates,
            partial,
            refused_by_monitor: found.refused,
            remarks: found.remarks.clone(),
            caution: (moves_sync || refused).then_some(SYNC_CAUTION),
            art: None,
        }
    }

    pub fn text(&self, most: usize) -> String {
        let mut text = format!("{}, {}\n{}.\n", self.board, self.faults.join(", "), self.widest);
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
        if !self.holds {
            text += "\nNothing holds everywhere. The best that can be had at the step asked for:\n";
            for candidate in self.partial.iter().take(most) {
                text += &format!("\n -  {}", candidate.text());
            }
            text += &left_over(self.partial.len(), most);
        }
        if let Some(art) = &self.art {
            text += &art.text();
        }
        if let Some(caution) = self.caution {
            text += &format!("\n{caution}\n");
        }
        text
    }
}

fn left_over(found: usize, most: usize) -> String {
    match found.saturating_sub(most) {
        0 => String::new(),
        left => format!("\n  … and {left} more; --most or --format json has them all\n"),
    }
}

impl CandidateAnswer {
    fn new(bench: &Bench, need: &Requirements, candidate: &Candidate) -> Self {
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
            failing_words: candidate.failing.as_ref().map(ToString::to_string),
            probability_clean: candidate.probability_clean,
            centred: candidate.centred(u32::from(format.char_dots), per_row),
            off_centre_dots: candidate.fit.off_dots,
            off_centre_lines: candidate.fit.off_lines,
            border_dots: [candidate.fit.border_dots.0, candidate.fit.border_dots.1],
            signal: SignalAnswer::new(bench, &candidate.fit.signal),
            memory: MemoryAnswer {
                from: memory.from,
                bank_bytes: memory.bank_bytes,
                banks: memory.banks,
                free_bytes: memory.free_bytes,
            },
            redraw_bytes: candidate.redraw.bytes,
            redraw: candidate.redraw.to_string(),
            rendered: candidate.rendered,
            cost: cost(need, candidate),
        }
    }

    fn text(&self) -> String {
        let registers: Vec<String> = self.registers.iter().map(|(name, value)| format!("{name} {value}")).collect();
        let steps = match (self.step_px, self.step_lines) {
            (pixels, 0) => counted(pixels, "pixel"),
            (0, lines) => counted(lines, "line"),
            (pixels, lines) => format!("{} and {}", counted(pixels, "pixel"), counted(lines, "line")),
        };
        let clean = match &self.failing_words {
            None => format!("all {} start addresses clean", self.of_starts),
            Some(_) => format!("{} of {} start addresses clean", self.clean_starts, self.of_starts),
        };
        let place = match self.centred {
            true => "centred",
            false => "NOT centred",
        };
        let mut text = format!(
            "{} x {} pixels by steps of {steps}: {clean}, probability {:.3}\n\
             \x20   gives up    {}\n\
             \x20   registers   {}\n\
             \x20   picture     pitch {} bytes, {place}: {} dots and {} lines off the middle; border {} dots left, {} right\n\
             {}\
             \x20   memory      {} bytes in {} from {:04X}h, {} bytes of the board free\n\
             \x20   a step      redraws {}\n",
            self.width_px,
            self.height_px,
            self.probability_clean,
            self.cost,
            registers.join(", "),
            self.pitch_bytes,
            self.off_centre_dots,
            self.off_centre_lines,
            self.border_dots[0],
            self.border_dots[1],
            self.signal.brief(),
            self.memory.bank_bytes * self.memory.banks,
            if self.memory.banks == 1 { "one piece".to_string() } else { format!("{} banks", self.memory.banks) },
            self.memory.from,
            self.memory.free_bytes,
            self.redraw,
        );
        if let Some(failing) = &self.failing_words {
            text += &format!("    fails at    {failing}\n");
        }
        text
    }
}

fn counted(number: u32, what: &str) -> String {
    match number {
        1 => format!("1 {what}"),
        number => format!("{number} {what}s"),
    }
}

impl FailingAnswer {
    fn new(failing: &FailingStarts) -> Self {
        Self { every: failing.every, runs: failing.runs.clone() }
    }
}

/// What is given up, in words.
pub fn cost(need: &Requirements, candidate: &Candidate) -> String {
    let cost = &candidate.cost;
    let mut parts = Vec::new();
    if cost.pixels_lost > 0 {
        parts.push(format!("{} pixels of each frame", cost.pixels_lost));
    }
    let own =
        (need.step_pixels.unwrap_or(candidate.smallest_step.0), need.step_lines.unwrap_or(candidate.smallest_step.1));
    if cost.step_pixels > own.0 {
        parts.push(format!("steps of {} pixels, {} instead", own.0, cost.step_pixels));
    }
    if cost.step_lines > own.1 {
        parts.push(format!("steps of {} lines, {} instead", own.1, cost.step_lines));
    }
    if !candidate.fit.accepted() {
        parts.push("a signal inside the monitor's margins".to_string());
    }
    if candidate.failing.is_some() {
        parts.push(format!("{} start addresses", candidate.of_starts - candidate.clean_starts));
    }
    match parts.is_empty() {
        true => "nothing".to_string(),
        false => parts.join(", "),
    }
}
