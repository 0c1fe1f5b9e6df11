//! What `hazards` answers: JSON, and the same in words.

use anyhow::Result;
use backporch_bench::Bench;
use backporch_drive::Driver;
use backporch_hazards::{Advice, Budget, Count, Fit, KindMargin, Margins, MoveBudget, MoveKind, Sweep};
use backporch_script::{BUILT_IN_CPUS, Cpu, CpuModel, DotTime, NORMAL_SPEED, Width};
use serde::Serialize;

use super::named::{HazardAnswer, summed};

/// The JSON form.
#[derive(Debug, Serialize)]
pub struct HazardsAnswer {
    board: String,
    mode: String,
    quirks: Vec<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    routine: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    cpu: Option<String>,
    pub frames: u64,
    pub hazards: Vec<HazardAnswer>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub trouble: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub margins: Option<MarginsAnswer>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub advice: Option<AdviceAnswer>,
    pub budgets: Vec<BudgetAnswer>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub fit: Option<FitAnswer>,
    pub files: Vec<String>,
}

/// How often each kind struck.
#[derive(Debug, Serialize)]
pub struct MarginsAnswer {
    runs: u64,
    phases: u32,
    speeds_percent: Vec<f64>,
    frames_each: u64,
    frames: u64,
    #[serde(skip_serializing_if = "Option::is_none")]
    nearest_latch_us: Option<f64>,
    kinds: Vec<KindAnswer>,
}

#[derive(Debug, Serialize)]
struct KindAnswer {
    kind: &'static str,
    runs: ShareAnswer,
    frames: ShareAnswer,
    example: ExampleAnswer,
}

/// A share and the interval that holds the true one with 95 % confidence.
#[derive(Debug, Serialize)]
struct ShareAnswer {
    struck: u64,
    of: u64,
    share: f64,
    from: f64,
    to: f64,
}

/// A run in which it struck, to be made again.
#[derive(Debug, Serialize)]
struct ExampleAnswer {
    start_dot: u64,
    speed_percent: f64,
    frame: u64,
    line: u32,
    dot: u32,
}

/// The moment that holds.
#[derive(Debug, Serialize)]
pub struct AdviceAnswer {
    found: bool,
    #[serde(skip_serializing_if = "Option::is_none")]
    lines: Option<u16>,
    #[serde(skip_serializing_if = "Option::is_none")]
    margins: Option<MarginsAnswer>,
    says: String,
}

/// What one processor can move on the board.
#[derive(Debug, Serialize)]
pub struct BudgetAnswer {
    cpu: String,
    frame_clocks: u64,
    blanking_clocks: u64,
    line_blanking_clocks: u64,
    picture_bytes: u64,
    moves: Vec<MoveAnswer>,
}

#[derive(Debug, Serialize)]
struct MoveAnswer {
    kind: &'static str,
    unit_bytes: u32,
    clocks_each: u32,
    bytes_in_line_blanking: u64,
    bytes_in_blanking: u64,
    bytes_in_frame: u64,
    bytes_behind_beam: u64,
}

/// Whether the routine fits.
#[derive(Debug, Serialize)]
pub struct FitAnswer {
    busiest_pass_clocks: u64,
    allowed_clocks: u64,
    fits: bool,
}

impl From<Fit> for FitAnswer {
    fn from(fit: Fit) -> Self {
        Self { busiest_pass_clocks: fit.busiest_pass, allowed_clocks: fit.allowed, fits: fit.fits() }
    }
}

fn percent(permille: u32) -> f64 {
    f64::from(permille) / 10.0
}

impl MarginsAnswer {
    pub fn new(bench: &Bench, sweep: &Sweep, margins: &Margins) -> Self {
        let clock = DotTime::new(bench.adapter().dot_clock());
        Self {
            runs: margins.runs,
            phases: sweep.phases,
            speeds_percent: sweep.speeds.iter().copied().map(percent).collect(),
            frames_each: sweep.frames - sweep.settling,
            frames: margins.frames,
            nearest_latch_us: margins.nearest_latch.map(|dots| clock.picosecond_of(dots) as f64 / 1e6),
            kinds: margins.kinds.iter().map(KindAnswer::new).collect(),
        }
    }

    fn is_clean(&self) -> bool {
        self.kinds.is_empty()
    }

    fn text(&self) -> String {
        let speeds: Vec<String> = self.speeds_percent.iter().map(|speed| format!("{speed}")).collect();
        let mut text = format!(
            "\nmargins: {} phases at {} % of the speed, {} runs of {} frames\n",
            self.phases,
            speeds.join(", "),
            self.runs,
            self.frames_each
        );
        for KindAnswer { kind, runs, frames, example } in &self.kinds {
            text += &format!(
                "  {kind} strikes in {} of {} runs ({}) and {} of {} frames ({})\n",
                runs.struck,
                runs.of,
                runs.text(),
                frames.struck,
                frames.of,
                frames.text()
            );
            text += &format!(
                "    as when it starts at dot {} at {} % speed: frame {}, line {}, dot {}\n",
                example.start_dot, example.speed_percent, example.frame, example.line, example.dot
            );
        }
        if self.is_clean() {
            text += "  nothing strikes in any of them\n";
        }
        if let Some(near) = self.nearest_latch_us {
            text += &format!("  the start address is never changed nearer than {near:.1} us to its take-over\n");
        }
        text
    }
}

impl KindAnswer {
    fn new(margin: &KindMargin) -> Self {
        let (start_dot, speed) = margin.found_at;
        let (frame, line, dot) = (margin.example.frame, margin.example.line, margin.example.dot);
        Self {
            kind: margin.kind.name(),
            runs: ShareAnswer::new(margin.runs),
            frames: ShareAnswer::new(margin.frames),
            example: ExampleAnswer { start_dot, speed_percent: percent(speed), frame, line, dot },
        }
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
    pub fn new(bench: &Bench, sweep: &Sweep, advice: Option<&Advice>) -> Self {
        let says = match advice {
            Some(advice) => format!(
                "redraw when retrace begins, then write the next start address {}: nothing strikes in any of {} runs",
                moment(advice.lines),
                advice.margins.runs
            ),
            None => "no moment of the write holds at every phase and speed: see the cures".to_string(),
        };
        let margins = advice.map(|advice| MarginsAnswer::new(bench, sweep, &advice.margins));
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
    /// The budget of the script's processor, or of every built-in one.
    pub fn all(bench: &Bench, driver: &Driver, every: bool) -> Result<Vec<Self>> {
        let own = match driver {
            Driver::Script(script) => Some(script.cpu(bench)),
            Driver::Trace(_) | Driver::Program(_) => None,
        };
        let own_name = own.as_ref().map(|cpu| cpu.model().name.clone());
        let others = BUILT_IN_CPUS.iter().filter(|(name, _)| every && own_name.as_deref() != Some(*name));
        let others = others.filter_map(|(name, _)| CpuModel::built_in(name));
        let others = others.map(|model| Cpu::new(model.into(), bench.adapter(), NORMAL_SPEED));
        // Registers without a stable signal leave no time to share out.
        let budget = |cpu: Cpu| Some(Self::new(&cpu, Budget::new(bench.adapter(), bench.registers(), &cpu).ok()?));
        Ok(own.into_iter().chain(others).filter_map(budget).collect())
    }

    fn new(cpu: &Cpu, budget: Budget) -> Self {
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
        for one in &self.moves {
            let unit = if one.unit_bytes == 1 { "bytes" } else { "words" };
            text += &format!(
                "  {:16} {:11} {:14} {:12} {:11} {:16}\n",
                format!("{} {unit}", one.kind),
                one.clocks_each,
                one.bytes_in_line_blanking,
                one.bytes_in_blanking,
                one.bytes_in_frame,
                one.bytes_behind_beam
            );
        }
        text
    }
}

impl MoveAnswer {
    fn new(one: &MoveBudget) -> Self {
        Self {
            kind: match one.kind {
                MoveKind::Copy => "copy",
                MoveKind::Fill => "fill",
            },
            unit_bytes: match one.width {
                Width::Byte => 1,
                Width::Word => 2,
            },
            clocks_each: one.clocks_each,
            bytes_in_line_blanking: one.in_line_blanking,
            bytes_in_blanking: one.in_blanking,
            bytes_in_frame: one.in_frame,
            bytes_behind_beam: one.behind_beam,
        }
    }
}

impl HazardsAnswer {
    pub fn new(bench: &Bench, driver: Option<&Driver>) -> Self {
        let cpu = match driver {
            Some(Driver::Script(script)) => Some(script.model.name.clone()),
            Some(Driver::Program(program)) => {
                let (model, clock) = (program.setup.model, program.setup.clock);
                Some(format!("{} at {:.2} MHz", model.name(), clock.hertz() / 1e6))
            }
            Some(Driver::Trace(_)) | None => None,
        };
        Self {
            board: bench.adapter().name().to_string(),
            mode: bench.mode().name.clone(),
            quirks: bench.quirks().iter().map(|quirk| quirk.name().to_string()).collect(),
            routine: bench.routine().map(ToString::to_string),
            cpu,
            frames: 0,
            hazards: Vec::new(),
            trouble: None,
            margins: None,
            advice: None,
            budgets: Vec::new(),
            fit: None,
            files: Vec::new(),
        }
    }

    /// Whether nothing was found, neither as the routine is nor at any phase and speed.
    pub fn is_clean(&self) -> bool {
        self.hazards.is_empty()
            && self.trouble.is_none()
            && self.margins.as_ref().is_none_or(MarginsAnswer::is_clean)
            && self.fit.as_ref().is_none_or(|fit| fit.fits)
    }

    pub fn text(&self) -> String {
        let quirks = if self.quirks.is_empty() { "healthy".to_string() } else { self.quirks.join(", ") };
        let mut text = self.routine.as_ref().map_or_else(String::new, |name| format!("{name} on "));
        text += &format!("{} in {}, {quirks}", self.board, self.mode);
        if let Some(cpu) = &self.cpu {
            text += &format!("; {cpu}");
        }
        text += &format!("\n{}\n", counted(&self.hazards, self.frames));
        text.extend(summed(&self.hazards));
        if let Some(trouble) = &self.trouble {
            text += &format!("{trouble}\n");
        }
        if let Some(margins) = &self.margins {
            text += &margins.text();
        }
        if let Some(advice) = &self.advice {
            text += &format!("\nadvice: {}\n", advice.says);
        }
        text.extend(self.budgets.iter().map(BudgetAnswer::text));
        if let Some(FitAnswer { busiest_pass_clocks, allowed_clocks, fits }) = &self.fit {
            let verdict = if *fits { "it fits" } else { "it does not fit" };
            text += &format!("the busiest pass works {busiest_pass_clocks} clocks of {allowed_clocks}: {verdict}\n");
        }
        for file in &self.files {
            text += &format!("written: {file}\n");
        }
        text
    }
}

fn counted(hazards: &[HazardAnswer], frames: u64) -> String {
    match hazards.len() {
        0 => format!("no hazards in {frames} frames"),
        1 => format!("1 hazard in {frames} frames"),
        many => format!("{many} hazards in {frames} frames"),
    }
}
