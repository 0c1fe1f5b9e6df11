//! `hazards`: a routine's mistakes of timing and order, how often they strike, and when to write instead.

use std::cmp::Reverse;

use backporch_hazards::{
    Advice, Budget, BudgetFit, Count, Hazard, HazardKind, KindMargin, MarginSweep, Margins, MoveBudget, MoveKind,
};
use backporch_script::{Cpu, DotTime, Width};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::words;

/// A routine's mistakes of timing and order.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct HazardsAnswer {
    /// The adapter profile.
    #[serde(default)]
    pub board: String,
    /// The mode.
    #[serde(default)]
    pub mode: String,
    /// The quirks, in the order in which they act.
    #[serde(default)]
    pub quirks: Vec<String>,
    /// The routine.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub routine: Option<String>,
    /// The processor it ran on.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub cpu: Option<String>,
    /// Frames that were looked at.
    pub frames: u64,
    /// The mistakes, in the order in which they happened.
    pub hazards: Vec<HazardAnswer>,
    /// Why the program could not go on, where it could not.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub trouble: Option<String>,
    /// How often each kind strikes over start phase and speed.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub margins: Option<MarginsAnswer>,
    /// When to write instead.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub advice: Option<AdviceAnswer>,
    /// What a processor can move on the board.
    #[serde(default)]
    pub budgets: Vec<BudgetAnswer>,
    /// Whether the routine fits the time it has.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub fit: Option<FitAnswer>,
    /// Files that were written.
    #[serde(default)]
    pub files: Vec<String>,
}

/// One mistake.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct HazardAnswer {
    /// What sort of mistake.
    pub kind: String,
    /// Frame, from 0.
    pub frame: u64,
    /// Scan line of the frame.
    pub line: u32,
    /// Dot of the scan line.
    pub dot: u32,
    /// What happened.
    pub what: String,
    /// What to do about it.
    pub cure: String,
    /// The instruction behind it, disassembled, where one can be named.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub by: Option<String>,
}

/// How often each kind of mistake strikes over start phase and processor speed.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct MarginsAnswer {
    /// Runs in all.
    pub runs: u64,
    /// Start phases tried at each speed.
    pub phases: u32,
    /// Speeds tried, in hundredths of the processor's own.
    pub speeds_percent: Vec<f64>,
    /// Other cards of the class, by turns with the bench's own.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub cards: Vec<String>,
    /// Frames counted in each run.
    pub frames_each: u64,
    /// Frames counted in all.
    pub frames: u64,
    /// Least time between a write of the start address and its take-over, in microseconds.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub nearest_latch_us: Option<f64>,
    /// By how much a trace may be moved before a kind strikes that does not strike where it is.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub room: Option<RoomAnswer>,
    /// The kinds that strike.
    pub kinds: Vec<HazardShareAnswer>,
}

/// By how much a trace may be moved against the beam, in microseconds.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct RoomAnswer {
    /// Earlier by this.
    pub earlier_us: f64,
    /// Later by this.
    pub later_us: f64,
    /// It was tried at steps of this many.
    pub step_us: f64,
    /// Whether nothing else strikes wherever in a frame it begins.
    pub anywhere: bool,
}

/// How often one kind of mistake strikes.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct HazardShareAnswer {
    /// What sort of mistake.
    pub kind: String,
    /// Share of the runs.
    pub runs: ShareAnswer,
    /// Share of the frames.
    pub frames: ShareAnswer,
    /// A run in which it struck.
    pub example: StrikeAnswer,
}

/// A share, and the interval that holds the true one with 95 % confidence.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ShareAnswer {
    /// How many it struck.
    pub struck: u64,
    /// Of how many.
    pub of: u64,
    /// The share, 0 to 1.
    pub share: f64,
    /// Lower end of the interval.
    pub from: f64,
    /// Upper end of the interval.
    pub to: f64,
}

/// A run in which a mistake struck, to be made again.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct StrikeAnswer {
    /// Dot of the frame at which the routine starts.
    pub start_dot: u64,
    /// Speed, in hundredths of the processor's own.
    pub speed_percent: f64,
    /// Frame, from 0.
    pub frame: u64,
    /// Scan line of the frame.
    pub line: u32,
    /// Dot of the scan line.
    pub dot: u32,
}

/// The moment of the write that holds at every phase and speed.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct AdviceAnswer {
    /// Whether there is one.
    pub found: bool,
    /// Scan lines after display starts.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub lines: Option<u16>,
    /// How often each kind of mistake then strikes.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub margins: Option<MarginsAnswer>,
    /// The advice in a sentence.
    pub says: String,
}

/// What one processor can move on the board.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct BudgetAnswer {
    /// The processor.
    pub cpu: String,
    /// Processor clocks of a frame.
    pub frame_clocks: u64,
    /// Processor clocks of vertical blanking.
    pub blanking_clocks: u64,
    /// Processor clocks of a line's blanking.
    pub line_blanking_clocks: u64,
    /// Bytes of the picture.
    pub picture_bytes: u64,
    /// Ways to move bytes.
    pub moves: Vec<MoveAnswer>,
}

/// A way to move bytes, and how many go where.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct MoveAnswer {
    /// Copied from memory, or filled with a value.
    pub kind: MoveKindAnswer,
    /// Bytes moved at once: 1 or 2.
    pub unit_bytes: u32,
    /// Processor clocks of one, on average; three decimals.
    pub clocks_each: f64,
    /// Bytes moved in a line's blanking.
    pub bytes_in_line_blanking: u64,
    /// Bytes moved in vertical blanking.
    pub bytes_in_blanking: u64,
    /// Bytes moved in a frame.
    pub bytes_in_frame: u64,
    /// Bytes moved in a frame while following the beam.
    pub bytes_behind_beam: u64,
}

/// How bytes are moved.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum MoveKindAnswer {
    /// From memory to video memory.
    Copy,
    /// One value over and over.
    Fill,
}

/// Whether the routine fits the time it has.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct FitAnswer {
    /// Processor clocks of the busiest pass.
    pub busiest_pass_clocks: u64,
    /// Processor clocks it may take.
    pub allowed_clocks: u64,
    /// Whether it takes no more.
    pub fits: bool,
}

impl HazardAnswer {
    /// A mistake, and the instruction behind it where one can be named.
    #[must_use]
    pub fn new(hazard: Hazard, by: Option<String>) -> Self {
        let Hazard { kind, frame, line, dot, what, cure, made: _, by: _ } = hazard;
        Self { kind: kind.name().to_string(), frame, line, dot, what, cure, by }
    }

    /// The mistake in words.
    #[must_use]
    pub fn text(&self) -> String {
        let Self { kind, frame, line, dot, what, cure, by } = self;
        let mut text = format!("{kind}, frame {frame}, line {line}, dot {dot}: {what}\n  cure: {cure}\n");
        if let Some(by) = by {
            text += &format!("  by {by}\n");
        }
        text
    }
}

/// The mistakes in words: each kind that one instruction makes once, with how often it comes again; the gravest kinds
/// first, and of one kind what strikes most.
#[must_use]
pub fn hazards_text(hazards: &[HazardAnswer]) -> String {
    let mut groups: Vec<Vec<&HazardAnswer>> = Vec::new();
    for hazard in hazards {
        let same = |group: &&mut Vec<&HazardAnswer>| group[0].kind == hazard.kind && group[0].by == hazard.by;
        match groups.iter_mut().find(same) {
            Some(group) => group.push(hazard),
            None => groups.push(vec![hazard]),
        }
    }
    let gravity = |kind: &str| HazardKind::ALL.iter().position(|known| known.name() == kind);
    groups.sort_by_key(|group| (gravity(&group[0].kind), Reverse(group.len())));
    let said = groups.iter().map(|group| match (group.get(1), group.last()) {
        (Some(next), Some(last)) => {
            group[0].text() + &format!("  and {} more, in frames {} to {}\n", group.len() - 1, next.frame, last.frame)
        }
        _ => group[0].text(),
    });
    said.collect()
}

impl From<BudgetFit> for FitAnswer {
    fn from(fit: BudgetFit) -> Self {
        Self { busiest_pass_clocks: fit.busiest_pass, allowed_clocks: fit.allowed, fits: fit.fits() }
    }
}

fn percent(permille: u32) -> f64 {
    f64::from(permille) / 10.0
}

impl MarginsAnswer {
    /// The margins of a sweep over phase and speed on a board of that dot clock.
    #[must_use]
    pub fn new(clock: DotTime, sweep: &MarginSweep, margins: &Margins) -> Self {
        let microseconds = |dots| clock.picosecond_of(dots) as f64 / 1e6;
        Self {
            runs: margins.runs,
            phases: sweep.phases,
            speeds_percent: sweep.speeds.iter().copied().map(percent).collect(),
            cards: Vec::new(),
            frames_each: sweep.frames - sweep.settling,
            frames: margins.frames,
            nearest_latch_us: margins.nearest_latch.map(microseconds),
            room: margins.room.map(|room| RoomAnswer {
                earlier_us: microseconds(room.earlier),
                later_us: microseconds(room.later),
                step_us: microseconds(room.step),
                anywhere: room.anywhere,
            }),
            kinds: margins.kinds.iter().map(HazardShareAnswer::new).collect(),
        }
    }

    fn text(&self) -> String {
        let speeds: Vec<String> = self.speeds_percent.iter().map(ToString::to_string).collect();
        let mut text = format!(
            "\nmargins: {} phases at {} % of the speed, {} runs of {} frames\n",
            self.phases,
            speeds.join(", "),
            self.runs,
            self.frames_each
        );
        if !self.cards.is_empty() {
            text += &format!("  by turns on the bench's own card, {}\n", self.cards.join(", "));
        }
        text.extend(self.kinds.iter().map(HazardShareAnswer::text));
        if self.kinds.is_empty() {
            text += "  nothing strikes in any of them\n";
        }
        if let Some(RoomAnswer { earlier_us, later_us, step_us, anywhere }) = &self.room {
            let room = if *anywhere {
                "wherever it is moved to, nothing else strikes".to_string()
            } else {
                format!("it may come {earlier_us:.1} us earlier or {later_us:.1} us later and nothing else strikes")
            };
            text += &format!("  {room}, tried at steps of {step_us:.1} us\n");
        }
        if let Some(near) = self.nearest_latch_us {
            text += &format!("  the start address is never changed nearer than {near:.1} us to its take-over\n");
        }
        text
    }
}

impl HazardShareAnswer {
    fn new(margin: &KindMargin) -> Self {
        let (start_dot, speed) = margin.found_at;
        let (frame, line, dot) = (margin.example.frame, margin.example.line, margin.example.dot);
        Self {
            kind: margin.kind.name().to_string(),
            runs: ShareAnswer::new(margin.runs),
            frames: ShareAnswer::new(margin.frames),
            example: StrikeAnswer { start_dot, speed_percent: percent(speed), frame, line, dot },
        }
    }

    fn text(&self) -> String {
        let Self { kind, runs, frames, example } = self;
        format!(
            "  {kind} strikes in {} of {} runs ({}) and {} of {} frames ({})\n    \
             as when it starts at dot {} at {} % speed: frame {}, line {}, dot {}\n",
            runs.struck,
            runs.of,
            runs.text(),
            frames.struck,
            frames.of,
            frames.text(),
            example.start_dot,
            example.speed_percent,
            example.frame,
            example.line,
            example.dot
        )
    }
}

impl ShareAnswer {
    fn new(count: Count) -> Self {
        let (from, to) = count.interval();
        Self { struck: count.struck, of: count.of, share: count.share(), from, to }
    }

    fn text(&self) -> String {
        let Self { share, from, to, .. } = self;
        format!("{:.1} %, with 95 % confidence {:.1} to {:.1} %", share * 100.0, from * 100.0, to * 100.0)
    }
}

impl AdviceAnswer {
    /// The advice that a search for a moment came to.
    #[must_use]
    pub fn new(clock: DotTime, sweep: &MarginSweep, advice: Option<&Advice>) -> Self {
        let says = match advice {
            Some(advice) => format!(
                "redraw when retrace begins, then write the next start address {}: nothing strikes in any of {} runs",
                moment(advice.lines),
                advice.margins.runs
            ),
            None => "no moment of the write holds at every phase and speed: see the cures".to_string(),
        };
        let margins = advice.map(|advice| MarginsAnswer::new(clock, sweep, &advice.margins));
        Self { found: advice.is_some(), lines: advice.map(|advice| advice.lines), margins, says }
    }
}

fn moment(lines: u16) -> String {
    match lines {
        0 => "as soon as display starts".to_string(),
        lines => format!("{lines} scan lines after display starts"),
    }
}

impl BudgetAnswer {
    /// The budget of a processor.
    #[must_use]
    pub fn new(cpu: &Cpu, budget: &Budget) -> Self {
        Self {
            cpu: cpu.model().name.clone(),
            frame_clocks: budget.frame_clocks,
            blanking_clocks: budget.blanking_clocks,
            line_blanking_clocks: budget.line_blanking_clocks,
            picture_bytes: budget.picture_bytes,
            moves: budget.moves.iter().map(MoveAnswer::new).collect(),
        }
    }

    fn text(&self) -> String {
        let mut text = format!(
            "\nbudget of {}: {} clocks a frame, {} of them in blanking, {} beside each line; the picture has {} bytes\n",
            self.cpu, self.frame_clocks, self.blanking_clocks, self.line_blanking_clocks, self.picture_bytes
        );
        text += "  bytes moved      clocks each  beside a line  in blanking  in a frame  behind the beam\n";
        text.extend(self.moves.iter().map(MoveAnswer::text));
        text
    }
}

impl MoveAnswer {
    fn new(one: &MoveBudget) -> Self {
        Self {
            kind: match one.kind {
                MoveKind::Copy => MoveKindAnswer::Copy,
                MoveKind::Fill => MoveKindAnswer::Fill,
            },
            unit_bytes: match one.width {
                Width::Byte => 1,
                Width::Word => 2,
            },
            clocks_each: (one.clocks_each * 1000.0).round() / 1000.0,
            bytes_in_line_blanking: one.in_line_blanking,
            bytes_in_blanking: one.in_blanking,
            bytes_in_frame: one.in_frame,
            bytes_behind_beam: one.behind_beam,
        }
    }

    fn text(&self) -> String {
        let kind = match self.kind {
            MoveKindAnswer::Copy => "copy",
            MoveKindAnswer::Fill => "fill",
        };
        let unit = if self.unit_bytes == 1 { "bytes" } else { "words" };
        format!(
            "  {:16} {:11.1} {:14} {:12} {:11} {:16}\n",
            format!("{kind} {unit}"),
            self.clocks_each,
            self.bytes_in_line_blanking,
            self.bytes_in_blanking,
            self.bytes_in_frame,
            self.bytes_behind_beam
        )
    }
}

impl FitAnswer {
    fn text(&self) -> String {
        let Self { busiest_pass_clocks, allowed_clocks, fits } = self;
        let verdict = if *fits { "it fits" } else { "it does not fit" };
        format!("the busiest pass works {busiest_pass_clocks} clocks of {allowed_clocks}: {verdict}\n")
    }
}

impl HazardsAnswer {
    /// Whether nothing was found, neither as the routine is nor at any phase and speed.
    #[must_use]
    pub fn is_clean(&self) -> bool {
        self.hazards.is_empty()
            && self.trouble.is_none()
            && self.margins.as_ref().is_none_or(|margins| margins.kinds.is_empty())
            && self.fit.as_ref().is_none_or(|fit| fit.fits)
    }

    /// The answer in words.
    #[must_use]
    pub fn text(&self) -> String {
        let mut text = self.routine.as_ref().map_or_else(String::new, |name| format!("{name} on "));
        text += &format!("{} in {}, {}", self.board, self.mode, words::faults(&self.quirks));
        if let Some(cpu) = &self.cpu {
            text += &format!("; {cpu}");
        }
        text += &match self.hazards.len() {
            0 => format!("\nno hazards in {} frames\n", self.frames),
            number => format!("\n{} in {} frames\n", words::counted(number as u64, "hazard"), self.frames),
        };
        text += &hazards_text(&self.hazards);
        if let Some(trouble) = &self.trouble {
            text += &format!("{trouble}\n");
        }
        text += &self.margins.as_ref().map_or_else(String::new, MarginsAnswer::text);
        if let Some(advice) = &self.advice {
            text += &format!("\nadvice: {}\n", advice.says);
        }
        text.extend(self.budgets.iter().map(BudgetAnswer::text));
        text += &self.fit.as_ref().map_or_else(String::new, FitAnswer::text);
        for file in &self.files {
            text += &format!("written: {file}\n");
        }
        text
    }
}
