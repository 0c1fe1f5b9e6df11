//! Fault taps: where a fault touches the pipeline, and what it is told.
//!
//! A tap holds one method per stage, each defaulting to *no fault*. The
//! contract that keeps the beam's two implementations equal: what a tap does
//! to a byte or pixel may depend only on the [`Line`], the position on it, the
//! value and what it *peeks* at, never on how the line was cut into stretches.

use backporch_adapter::{Cell, Guard, Palette, PortRole, Timing};

use crate::bend::{Bend, Touch};
use crate::facts::LineFacts;
use crate::line::{Line, Run};
use crate::shift::Shift;
use crate::stages::Stages;

/// What a tap has settled about a line before its places are drawn: asked once
/// a line, and handed back for every stretch of it.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Acting {
    /// Stages the tap touches on the line.
    pub stages: Stages,
    /// Whatever else the tap wants to find again.
    pub marks: [u64; 6],
}

impl Acting {
    /// Whether nothing bends how the line is drawn.
    #[must_use]
    pub fn is_unbent(&self) -> bool {
        !self.stages.intersects(Stages::ADDRESS | Stages::FETCH | Stages::PIXEL)
    }
}

/// A byte on its way to a port.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct PortWrite {
    /// Dot of the write since the board was made.
    pub dot: u64,
    /// Frame it falls in.
    pub frame: u64,
    /// Scan line of that frame.
    pub scan_line: u32,
    /// Character clock of that line.
    pub char: u32,
    /// Port number.
    pub port: u16,
    /// The byte.
    pub value: u8,
    /// Whether it is the upper half of a word-wide write.
    pub upper_half: bool,
    /// What the port does, where the board has it.
    pub role: Option<PortRole>,
    /// The register a data port would write.
    pub cell: Option<Cell>,
    /// Scan lines from the frame's start to the next take-over of the start address.
    pub latch_line: u32,
}

/// A byte the processor writes to video memory.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct MemoryWrite {
    /// Dot of the write since the board was made.
    pub dot: u64,
    /// Frame it falls in.
    pub frame: u64,
    /// Scan line of that frame.
    pub scan_line: u32,
    /// Character clock of that line.
    pub char: u32,
    /// Address in memory.
    pub address: u32,
    /// The byte.
    pub value: u8,
}

/// What became of a byte on its way to a port.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Outcome {
    /// This byte arrives, under this guard.
    Take(u8, Guard),
    /// Nothing arrives.
    Lost,
}

/// The adapter takes the start address over.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct LatchMoment {
    /// Dot of the take-over.
    pub dot: u64,
    /// Frame that will show it.
    pub frame: u64,
    /// Start address in the registers, in address units.
    pub start: u32,
    /// Start address shown until now.
    pub shown: u32,
    /// Dots since a byte of the start address was last written.
    pub since_write: Option<u64>,
}

/// A fault, or a stack of them, sitting on the pipeline.
pub trait Tap {
    /// Stages this tap touches at all. A stage not named here is never called.
    fn stages(&self) -> Stages;

    /// Stages this tap touches on one line; a subset of [`Tap::stages`].
    fn stages_on(&self, _line: &Line) -> Stages {
        self.stages()
    }

    /// Facts of a line that may change what [`Tap::stages_on`], [`Tap::address`],
    /// [`Tap::fetch`] and [`Tap::pixels`] answer, the place on the line aside.
    fn looks_at(&self) -> LineFacts {
        LineFacts::all()
    }

    /// What of this tap acts on a line. It is asked again where a write has come in between.
    fn acting(&self, line: &Line) -> Acting {
        Acting { stages: self.stages_on(line), marks: [0; 6] }
    }

    /// Whether a scan line that shows a picture line once more is bent as the one before it was.
    fn repeats(&self, before: &Acting, again: &Acting) -> bool {
        before.is_unbent() && again.is_unbent()
    }

    /// A byte is written to a port.
    fn port(&mut self, write: &PortWrite) -> Outcome {
        Outcome::Take(write.value, Guard::AsRegister)
    }

    /// The processor writes a byte to memory; it arrives whatever the tap does.
    fn memory(&mut self, _write: &MemoryWrite) {}

    /// The start address is taken over; answers with the one the counters get.
    fn latch(&mut self, moment: &LatchMoment) -> u32 {
        moment.start
    }

    /// Scan lines by which the take-over comes late.
    fn latch_delay(&self) -> u32 {
        0
    }

    /// Comparands of the counters.
    fn timing(&self, _timing: &mut Timing) {}

    /// Linear address of the byte `offset` bytes along the line. `linear` is
    /// where the stage before this one put it.
    fn address(&self, _line: &Line, _offset: u32, linear: u32) -> Run {
        Run { linear, len: u32::MAX }
    }

    /// Calls `each` with the runs of `len` bytes from `offset` on, in order, and
    /// where each begins: what [`Tap::address`] says of every byte, all at once.
    fn runs(&self, line: &Line, _acting: &Acting, offset: u32, len: u32, each: &mut dyn FnMut(u32, Run)) {
        let end = offset + len;
        let mut at = offset;
        while at < end {
            let run = self.address(line, at, line.healthy(at));
            let len = run.len.clamp(1, end - at);
            each(at, Run { len, ..run });
            at += len;
        }
    }

    /// Address bits that choose the bank a line is fetched from; those of the
    /// line's mask are left out.
    fn bank(&self, line: &Line) -> u32 {
        line.bank
    }

    /// Bytes fetched, the first of them `offset` bytes along the line; `peek`
    /// gives the byte fetched at any other offset.
    fn fetch(&self, _line: &Line, _acting: &Acting, _offset: u32, _bytes: &mut [u8], _peek: &dyn Fn(u32) -> u8) {}

    /// Pixel values, the first of them at `x`; `peek` gives the value at any other x.
    fn pixels(&self, _line: &Line, _acting: &Acting, _x: u32, _values: &mut [u8], _peek: &dyn Fn(u32) -> u8) {}

    /// Colours of a frame.
    fn colour(&self, _frame: u64, _palette: &mut Palette) {}

    /// How far the monitor shows the whole frame from its place.
    fn shift(&mut self, _frame: u64) -> Shift {
        Shift::default()
    }

    /// Every change the address stage makes to one byte, in stacking order.
    fn bends(&self, _line: &Line, _offset: u32, _linear: u32) -> Vec<Bend> {
        Vec::new()
    }

    /// Every other change made to what is shown at one byte and pixel, in stacking order.
    fn touches(&self, _line: &Line, _offset: u32, _x: u32) -> Vec<Touch> {
        Vec::new()
    }
}

/// No fault at all.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Healthy;

impl Tap for Healthy {
    fn stages(&self) -> Stages {
        Stages::empty()
    }

    fn looks_at(&self) -> LineFacts {
        LineFacts::empty()
    }
}
