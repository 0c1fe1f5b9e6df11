//! The file form of a routine: `*.routine.ron`.
//!
//! A routine does some steps once and then others again and again, one *pass*
//! after another. It knows the beam only as a program does: by polling the
//! status port.

use std::collections::BTreeMap;
use std::fmt;

use backporch_input::{Number, Version1};
use serde::{Deserialize, Serialize};

use crate::cpu::Width;
use crate::value::ValueForm;

/// A routine as written.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct RoutineFile {
    /// Version of the file form.
    pub version: Version1,
    /// What it does, for people.
    #[serde(default)]
    pub title: String,
    /// CPU model it is meant for: built-in, or the path of a model beside this file.
    #[serde(default)]
    pub cpu: Option<String>,
    /// Dot of frame 0 at which the first instruction begins.
    #[serde(default)]
    pub start_dot: u64,
    /// Clocks that each round of a polling loop takes beyond reading, testing and jumping.
    #[serde(default)]
    pub poll_extra_clocks: u32,
    /// Frames a pass over the each-frame steps is meant to take.
    #[serde(default = "one")]
    pub frames_per_pass: u32,
    /// Counters, by name.
    #[serde(default)]
    pub counters: BTreeMap<String, CounterForm>,
    /// Steps done once, before the first pass.
    #[serde(default)]
    pub once: Vec<Step>,
    /// Steps of each pass.
    pub each_frame: Vec<Step>,
}

fn one() -> u32 {
    1
}

/// A counter that moves between two ends.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct CounterForm {
    /// Least value.
    pub from: i64,
    /// Greatest value.
    pub to: i64,
    /// Value at first; `from` if left out.
    #[serde(default)]
    pub start: Option<i64>,
    /// What a step adds.
    #[serde(default = "one_step")]
    pub step: i64,
    /// What happens at an end.
    #[serde(default)]
    pub at_end: AtEnd,
}

fn one_step() -> i64 {
    1
}

/// What a counter does at its end.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub enum AtEnd {
    /// Goes on at the other end.
    #[default]
    Wrap,
    /// Turns round.
    Bounce,
    /// Stays there.
    Stop,
}

/// A moment a routine finds by polling the status port; `L` is how a line is written, a number where it is known.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum Moment<L = u16> {
    /// Retrace begins, then ends, then display begins: the first line shown.
    ActiveStart,
    /// Display begins: the left edge of a line shown.
    DisplayStart,
    /// Display ends: the right edge of a line shown.
    DisplayEnd,
    /// Vertical retrace begins.
    RetraceStart,
    /// Vertical retrace ends.
    RetraceEnd,
    /// Active start, then as many display starts: a scan line, counted from the first shown.
    Line(L),
}

impl<L: fmt::Display> fmt::Display for Moment<L> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::ActiveStart => "the start of the active area",
            Self::DisplayStart => "display to begin",
            Self::DisplayEnd => "display to end",
            Self::RetraceStart => "retrace to begin",
            Self::RetraceEnd => "retrace to end",
            Self::Line(line) => return write!(f, "line {line}"),
        })
    }
}

impl<L> Moment<L> {
    /// The same with its line written another way.
    pub(crate) fn with_line<M, E>(&self, line: impl FnOnce(&L) -> Result<M, E>) -> Result<Moment<M>, E> {
        Ok(match self {
            Self::ActiveStart => Moment::ActiveStart,
            Self::DisplayStart => Moment::DisplayStart,
            Self::DisplayEnd => Moment::DisplayEnd,
            Self::RetraceStart => Moment::RetraceStart,
            Self::RetraceEnd => Moment::RetraceEnd,
            Self::Line(own) => Moment::Line(line(own)?),
        })
    }
}

/// Which byte of a register goes first.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub enum ByteOrder {
    /// Upper byte first.
    #[default]
    HighFirst,
    /// Lower byte first.
    LowFirst,
}

/// Where copied bytes come from.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum CopySource {
    /// The picture, as it lies in system memory.
    Picture,
    /// Video memory.
    Memory,
}

/// One thing a routine does.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub enum Step {
    /// Polls until the moment comes.
    Wait(Moment<ValueForm>),
    /// Writes a named register: index and data of each of its bytes.
    Set {
        /// Name of the register.
        register: String,
        /// Value; bits the register has not are cut.
        value: ValueForm,
        /// Which byte first.
        #[serde(default)]
        order: ByteOrder,
        /// `Word` writes index and data by one instruction.
        #[serde(default)]
        width: Width,
        /// Clocks of other work between the bytes.
        #[serde(default)]
        between_clocks: u32,
        /// Lifts the write protection before and restores it after.
        #[serde(default)]
        unlock: bool,
    },
    /// Writes a port.
    Port {
        /// Port number.
        port: Number,
        /// Value; its lower 8 or 16 bits.
        value: ValueForm,
        /// Byte or word.
        #[serde(default)]
        width: Width,
    },
    /// Stores one byte again and again.
    Fill {
        /// Offset into the window of video memory.
        to: ValueForm,
        /// Number of bytes.
        bytes: ValueForm,
        /// The byte.
        value: ValueForm,
        /// Bytes at a time.
        #[serde(default)]
        width: Width,
    },
    /// Copies consecutive bytes.
    Copy {
        /// Where they come from.
        from: CopySource,
        /// Offset of the first byte there; the picture repeats.
        #[serde(default = "zero")]
        at: ValueForm,
        /// Plane of the picture, where its pixels are spread over planes.
        #[serde(default = "zero", skip_serializing_if = "is_zero")]
        plane: ValueForm,
        /// Offset into the window of video memory.
        to: ValueForm,
        /// Number of bytes.
        bytes: ValueForm,
        /// Bytes at a time.
        #[serde(default)]
        width: Width,
    },
    /// Stores these bytes.
    Bytes {
        /// Offset into the window of video memory.
        to: ValueForm,
        /// The bytes.
        bytes: Vec<u8>,
    },
    /// Draws some byte columns of the picture, row by row.
    Column {
        /// Byte column of the picture; columns repeat.
        column: ValueForm,
        /// Plane of the picture, where its pixels are spread over planes.
        #[serde(default = "zero", skip_serializing_if = "is_zero")]
        plane: ValueForm,
        /// Start address for which it is drawn.
        start: ValueForm,
        /// Byte offset on the screen's line at which it stands.
        x: ValueForm,
        /// Bytes wide.
        bytes: ValueForm,
        /// Rows; those of the picture if left out.
        #[serde(default)]
        rows: Option<ValueForm>,
        /// Bytes from row to row in video memory; the board's own if left out.
        #[serde(default)]
        pitch: Option<ValueForm>,
        /// Bytes at a time.
        #[serde(default)]
        width: Width,
    },
    /// Writes DAC entries.
    Palette {
        /// First entry.
        first: ValueForm,
        /// Red, green and blue levels, 0 to 63.
        colours: Vec<[u8; 3]>,
        /// Entries by which the colours are moved on, around.
        #[serde(default = "zero")]
        rotate: ValueForm,
    },
    /// Moves a counter by its step.
    Count(String),
    /// Puts a number into a counter; its ends hold.
    Put(String, ValueForm),
    /// Does one list of steps or another.
    If {
        /// Condition.
        when: StepCondition,
        /// Steps where it holds.
        then: Vec<Step>,
        /// Steps where it does not.
        #[serde(default)]
        otherwise: Vec<Step>,
    },
    /// Does steps several times.
    Repeat {
        /// How often.
        times: ValueForm,
        /// Steps.
        steps: Vec<Step>,
    },
    /// Any other work, in clocks.
    Work(ValueForm),
    /// Other work of 0 to this many clocks, by chance (interrupts, say); the seed decides.
    Jitter(u32),
}

fn zero() -> ValueForm {
    ValueForm::from(0)
}

fn is_zero(value: &ValueForm) -> bool {
    *value == zero()
}

/// A condition; `frame` is the number of the pass, from 0.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum StepCondition {
    /// Both are the same.
    Equal(ValueForm, ValueForm),
    /// The first is less.
    Below(ValueForm, ValueForm),
    /// The other does not hold.
    Not(Box<StepCondition>),
}
