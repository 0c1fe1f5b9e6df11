//! What a survey of a real machine counted, as its program wrote it: `SURVEY.TXT`.
//!
//! A line says one thing, a keyword first. Beats are those of the timer, a twelfth of the crystal of 14.31818 MHz each
//! (common practice): all times of the file are multiples of one, and every figure comes with its least and its most.
//!
//! | line | says |
//! | --- | --- |
//! | `backporch survey 1` | the form and its version |
//! | `board NAME` | the class it was made for |
//! | `shifts whole`, `shifts masked` | how the processor counts shifts by 32 places |
//! | `processor NUMBER` | where it masks them, which it is: 80186, 80286 or 80386; surveys made before do not say |
//! | `refresh most N` | the most the timer's second counter was found at |
//! | `time NAME copies C runs R least A most B total Th` | beats that C copies of a pattern took, in R runs |
//! | `delays NAME copies C runs R least A … spread S` | the same for delays of 0, 1, 2, … clocks; the least of each |
//! | `mode NAME` | the mode of what follows |
//! | `beam NAME runs R least A most B total Th`, `beam NAME unseen` | beats of frame, retrace, 128 lines; lines between retraces |
//! | `registers V …` | what controller registers 0 to 18h read as |
//! | `turned I A B C` | register I before, while and after a bit of it is turned over |
//! | `memory O A B` | what the bytes at 0 and O read as after 165 and 90 were written |
//! | `planes A B C D` | what the planes read as after 16, 17, 18 and 19 were written |
//! | `take-over taken A missed B`, `take-over unseen` | latest write of the start address that the next picture showed, earliest that it did not: beats since retrace began a frame before, 0 for none |
//! | `check X` | the check over all lines before |

mod pattern;
mod read;
mod turned;

use std::collections::BTreeMap;

use backporch_processor_timing::Model;

pub use pattern::{SeriesPattern, SurveyPattern, TimedPattern};
pub use turned::{TurnedBit, turned_bits};

/// Lines that a survey times at a time.
pub const TIMED_LINES: u32 = 128;

/// Controller registers that a survey reads.
pub const SURVEYED_REGISTERS: usize = 0x19;

/// A survey of one machine.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Survey {
    /// Name of the adapter profile it was made for.
    pub board: String,
    /// Whether the processor counts the places of a shift modulo 32.
    pub masks_shifts: bool,
    /// Which processor that masks shifts it is, where the survey says.
    pub processor: Option<Model>,
    /// The most that the timer's second counter was found at: what it counts from, in beats.
    pub refresh_beats: u32,
    /// Experiments on processor, memory and ports.
    pub machine: Experiments,
    /// What was measured in each mode.
    pub modes: Vec<SurveyedMode>,
}

/// What was taken of a number of runs.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Taken {
    /// Runs, at least 1.
    pub runs: u32,
    /// The least of them.
    pub least: u32,
    /// The most of them.
    pub most: u32,
    /// All of them together.
    pub total: u32,
}

/// Beats that copies of a pattern take.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Timed {
    /// Copies, at least 1.
    pub copies: u32,
    /// Beats of all copies together.
    pub beats: Taken,
}

/// The same for a series of delays.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Series {
    /// Copies, at least 1.
    pub copies: u32,
    /// Least beats of all copies together, for delays of 0, 1, 2, … clocks.
    pub least: Vec<u32>,
    /// Greatest difference between two runs of one delay, in beats.
    pub spread: u32,
}

/// Experiments by what they time.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Experiments {
    /// Without delays.
    pub timed: BTreeMap<TimedPattern, Timed>,
    /// With delays.
    pub series: BTreeMap<SeriesPattern, Series>,
}

/// A mode that was surveyed.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SurveyedMode {
    /// Its name in the adapter profile.
    pub name: String,
    /// Beats of a frame; `None` where the status port did not show frames.
    pub frame: Option<Taken>,
    /// Beats of a vertical retrace.
    pub retrace: Option<Taken>,
    /// Beats of [`TIMED_LINES`] lines.
    pub lines: Option<Taken>,
    /// Lines that end between two retraces, as the status port shows them.
    pub marks: Option<Taken>,
    /// What the controller's registers read as, from 0 on.
    pub registers: Vec<u8>,
    /// Registers of which a bit was turned over and back.
    pub turned: Vec<Turned>,
    /// Two bytes of memory, for distances from 512 to 32768.
    pub memory: Vec<MemoryProbe>,
    /// What the four planes read as.
    pub planes: Option<[u8; 4]>,
    /// When the start address is taken over; `None` where the program could not see it.
    pub take_over: Option<TakeOver>,
    /// Experiments on the board's memory.
    pub experiments: Experiments,
}

/// Writes of the start address, in beats since vertical retrace began a frame before the one of the next picture.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct TakeOver {
    /// The latest that the next picture showed; `None` where it showed none.
    pub taken: Option<u32>,
    /// The earliest that it did not show; `None` where it showed all. Edges seen a round of polling late may put it a
    /// little before the other.
    pub missed: Option<u32>,
}

/// A register of which a bit was turned over and back.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Turned {
    /// Its index.
    pub index: u8,
    /// What it read as before, while the bit was turned over, and after.
    pub reads: [u8; 3],
}

/// What two bytes of memory read as after 165 was written to the first and 90 to the second.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct MemoryProbe {
    /// Bytes from the first to the second.
    pub offset: u32,
    /// The first.
    pub first: u8,
    /// The second.
    pub second: u8,
}

impl Taken {
    /// The mean of the runs.
    #[must_use]
    pub fn mean(&self) -> f64 {
        f64::from(self.total) / f64::from(self.runs.max(1))
    }

    /// The most less the least.
    #[must_use]
    pub fn spread(&self) -> u32 {
        self.most - self.least
    }
}
