//! `run`: what a real-mode program did to the bench's board.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::hazards::{HazardAnswer, hazards_text};
use crate::words;

/// A program's run.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct RunAnswer {
    /// The adapter profile.
    pub board: String,
    /// The mode the bench starts in.
    pub mode: String,
    /// The quirks, in the order in which they act.
    pub quirks: Vec<String>,
    /// The program.
    pub program: String,
    /// The processor.
    pub processor: String,
    /// Its clock.
    pub clock_hz: f64,
    /// How the run ended.
    pub ended: EndAnswer,
    /// The code the program ended with.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub exit_code: Option<u8>,
    /// Why the program could not go on.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub trouble: Option<TroubleAnswer>,
    /// Where it was stopped.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub stopped: Option<StoppedAnswer>,
    /// Whole frames that were run.
    pub frames: u64,
    /// Time of the machine in seconds.
    pub seconds: f64,
    /// Frames that differ from the plain board's.
    pub damaged_frames: u64,
    /// The first of them.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub first_damaged: Option<u64>,
    /// What made the pixel that was asked for.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub pixel: Option<WrittenPixelAnswer>,
    /// The program's mistakes of timing and order, where they were asked for.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub hazards: Option<Vec<HazardAnswer>>,
    /// Mistakes beyond those listed.
    #[serde(default, skip_serializing_if = "is_zero")]
    pub hazards_beyond: u64,
    /// What the program asked for that is not present, once each in the order in which it came; it went on without.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub asked: Vec<AskedAnswer>,
    /// Requests for what is not present beyond those listed.
    #[serde(default, skip_serializing_if = "is_zero")]
    pub asked_beyond: u64,
    /// What the program waits for that cannot come.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub stuck: Option<StuckAnswer>,
    /// Whether the record of what the program did ran full, so that its end is missing from trace and hazards.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub record_full: bool,
    /// What the program printed.
    pub printed: String,
    /// The picture of the last frame; left out where that shows nothing.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub file: Option<String>,
    /// The picture of the last frame of graphics, where the run ended in text.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub graphics_file: Option<String>,
}

fn is_zero(number: &u64) -> bool {
    *number == 0
}

/// Something a program asked for that is not present.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct AskedAnswer {
    /// What the program did, in words.
    pub what: String,
    /// The instruction that did it first, disassembled.
    pub by: String,
    /// How often.
    pub times: u64,
}

/// A wait that cannot end.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct StuckAnswer {
    /// The instruction at which it waits, disassembled.
    pub at: String,
    /// Why that cannot end.
    pub why: String,
}

/// How a run ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum EndAnswer {
    /// The frames asked for are over; the program runs on.
    FramesOver,
    /// The program ended.
    Exit,
    /// A breakpoint stopped it.
    Breakpoint,
    /// The first damaged frame stopped it.
    Damaged,
    /// It was taken back to an earlier frame.
    GoneBack,
    /// It waits for a key, and none is to come.
    WaitsForKey,
    /// The board shows no whole frame any more.
    NoFrame,
    /// The program cannot go on.
    Trouble,
}

/// Why a program cannot go on.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct TroubleAnswer {
    /// What it did, in words.
    pub what: String,
    /// Address of the instruction.
    pub at: String,
    /// Registers of the processor.
    pub registers: String,
    /// The instructions before it, the newest last.
    pub last: Vec<String>,
}

/// Where a run was stopped.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct StoppedAnswer {
    /// Why, in words.
    pub why: String,
    /// Scan line of the beam.
    pub scan_line: u32,
    /// Registers of the processor.
    pub registers: String,
    /// The instructions that come next.
    pub next: Vec<String>,
}

/// What made a pixel.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct WrittenPixelAnswer {
    /// Pixels from the left of the active area.
    pub x: u32,
    /// Picture line from the top.
    pub line: u32,
    /// Value of the pixel.
    pub value: u8,
    /// Memory address it was fetched from.
    pub address: u32,
    /// The instruction that wrote it last, disassembled; left out where the program did not.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub by: Option<String>,
}

impl RunAnswer {
    fn ending(&self) -> String {
        match (self.ended, self.exit_code) {
            (EndAnswer::Exit, Some(code)) => format!("the program ended with code {code}"),
            (EndAnswer::Exit, None) => "the program ended".to_string(),
            (EndAnswer::FramesOver, _) => "the program runs on".to_string(),
            (EndAnswer::WaitsForKey, _) => {
                "the program waits for a key, and none is to come (--key MS=KEY)".to_string()
            }
            (EndAnswer::NoFrame, _) => "the board shows no whole frame any more".to_string(),
            (EndAnswer::Damaged, _) => "stopped at the first damaged frame".to_string(),
            (EndAnswer::GoneBack, _) => "gone back".to_string(),
            (EndAnswer::Breakpoint, _) => "stopped at a breakpoint".to_string(),
            (EndAnswer::Trouble, _) => "the program cannot go on".to_string(),
        }
    }

    /// The answer in words.
    #[must_use]
    pub fn text(&self) -> String {
        let mut text = format!(
            "{} on {} in {}, {}; {} at {:.2} MHz\n{} frames, {:.3} s: {}\n",
            self.program,
            self.board,
            self.mode,
            words::faults(&self.quirks),
            self.processor,
            self.clock_hz / 1e6,
            self.frames,
            self.seconds,
            self.ending()
        );
        if let Some(trouble) = &self.trouble {
            text += &format!("at {} the program {}\n{}\n", trouble.at, trouble.what, trouble.registers);
            trouble.last.iter().for_each(|line| text += &format!("  {line}\n"));
        }
        if let Some(stopped) = &self.stopped {
            text += &format!("{}; beam on scan line {}\n{}\n", stopped.why, stopped.scan_line, stopped.registers);
            stopped.next.iter().for_each(|line| text += &format!("  {line}\n"));
        }
        if let Some(first) = self.first_damaged {
            text += &format!("{} frames damaged, the first is frame {first}\n", self.damaged_frames);
        }
        text += &self.pixel.as_ref().map_or_else(String::new, WrittenPixelAnswer::text);
        match self.hazards.as_deref() {
            Some([]) => text += "no hazards\n",
            Some(hazards) => text += &hazards_text(hazards),
            None => {}
        }
        if self.hazards_beyond > 0 {
            text += &format!("and {} more beyond those listed\n", self.hazards_beyond);
        }
        if let Some(stuck) = &self.stuck {
            text += &format!("stuck-wait at {}: {}\n", stuck.at, stuck.why);
        }
        if !self.asked.is_empty() {
            text += "asked for, but not present:\n";
            self.asked.iter().for_each(|asked| text += &asked.text());
        }
        if self.asked_beyond > 0 {
            text += &format!("  and {} requests more\n", self.asked_beyond);
        }
        if self.record_full {
            text += "the record of what it did is full: its end is missing from trace and hazards (fewer --frames)\n";
        }
        if !self.printed.is_empty() {
            text += &format!("it printed:\n{}\n", self.printed.replace('\r', "").trim_end());
        }
        if let Some(file) = &self.graphics_file {
            text += &format!("{file} (the last frame of graphics)\n");
        }
        text + &self.file.as_ref().map_or("the last frame shows nothing\n".to_string(), |file| format!("{file}\n"))
    }
}

impl AskedAnswer {
    fn text(&self) -> String {
        let times = if self.times > 1 { format!(" ({} times)", self.times) } else { String::new() };
        format!("  {}: {}{times}\n", self.by, self.what)
    }
}

impl WrittenPixelAnswer {
    fn text(&self) -> String {
        let Self { x, line, value, address, by } = self;
        let by = by.as_ref().map_or("not written by the program".to_string(), |by| format!("written by {by}"));
        format!("pixel {x}, line {line}: value {value}, fetched from {address:05X}h, {by}\n")
    }
}
