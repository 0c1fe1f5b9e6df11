//! Fault taps: where a fault touches the pipeline, and what it is told.
//!
//! A tap holds one method per stage, each defaulting to *no fault*. The
//! contract that keeps the beam's two implementations equal: what a tap does
//! to a byte or pixel may depend only on the [`Line`], the position on it, the
//! value and what it *peeks* at, never on how the line was cut into stretches.

use std::ops::BitOr;

use backporch_adapter::{Cell, Guard, PLANES, Palette, PortRole, Spread, Timing};

use crate::facts::LineFacts;
use crate::frame::Shift;
use crate::provenance::{Bend, Touch};

/// A set of pipeline stages.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Stages(u8);

impl Stages {
    /// No stage.
    pub const NONE: Self = Self(0);
    /// Port writes.
    pub const PORT: Self = Self(1);
    /// Taking over the start address.
    pub const LATCH: Self = Self(2);
    /// Address of each byte.
    pub const ADDRESS: Self = Self(4);
    /// The bytes fetched.
    pub const FETCH: Self = Self(8);
    /// Pixel values.
    pub const PIXEL: Self = Self(16);
    /// Colour tables.
    pub const COLOUR: Self = Self(32);
    /// Comparands and sync.
    pub const SYNC: Self = Self(64);
    /// Bytes written to memory by the processor.
    pub const MEMORY: Self = Self(128);

    /// Whether this set has every stage of `other`.
    #[must_use]
    pub const fn has(self, other: Self) -> bool {
        self.0 & other.0 == other.0
    }

    /// Whether this set has no stage of `other`.
    #[must_use]
    pub const fn is_none_of(self, other: Self) -> bool {
        self.0 & other.0 == 0
    }
}

impl BitOr for Stages {
    type Output = Self;

    fn bitor(self, other: Self) -> Self {
        Self(self.0 | other.0)
    }
}

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
        self.stages.is_none_of(Stages::ADDRESS | Stages::FETCH | Stages::PIXEL)
    }
}

/// One scan line of the active area, as the fetch stage sees it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Line {
    /// Frame number since the board was made.
    pub frame: u64,
    /// Scan line of the frame, counted from the first one displayed.
    pub scan_line: u32,
    /// Line of the picture: scan lines that repeat their row count once.
    pub picture_line: u32,
    /// Character row.
    pub row: u32,
    /// Scan line inside the row.
    pub row_address: u8,
    /// Start address of this frame, in address units.
    pub start: u32,
    /// Linear address of the line's first byte, below `mask + 1`.
    pub linear: u32,
    /// Bytes from one row to the next.
    pub pitch: u32,
    /// Character clocks displayed.
    pub displayed: u32,
    /// Bytes a line shows.
    pub bytes: u32,
    /// Bytes an address unit stands for.
    pub unit: u32,
    /// Bits of the linear address that reach memory.
    pub mask: u32,
    /// Address bits put in by the row address.
    pub bank: u32,
    /// Position of the display format in the adapter's table.
    pub format: u32,
    /// Bytes of a character clock.
    pub char_bytes: u32,
    /// Pixels of a character clock.
    pub char_pixels: u32,
    /// Bits of a pixel value, 0 in text.
    pub pixel_bits: u8,
    /// Address bits that row and page bits replace.
    pub holes: u32,
    /// How a counter of planes is spread over addresses.
    pub spread: Spread,
    /// The address moves once in `1 << repeat` character clocks.
    pub repeat: u8,
    /// Pixels the line is panned to the left by.
    pub pan: u8,
}

impl Line {
    /// The linear address a healthy board has at a byte of this line.
    #[must_use]
    pub fn healthy(&self, offset: u32) -> u32 {
        if self.repeat == 0 {
            return self.linear.wrapping_add(offset);
        }
        let char_bytes = self.char_bytes.max(1);
        let steps = (offset / char_bytes) >> self.repeat;
        self.linear.wrapping_add(steps * char_bytes + offset % char_bytes)
    }

    /// Bytes the line fetches: panned, it needs one character more than it shows.
    #[must_use]
    pub fn fetched(&self) -> u32 {
        self.bytes + if self.pan > 0 && self.bytes > 0 { self.char_bytes } else { 0 }
    }

    /// Pixels the line shows.
    #[must_use]
    pub fn pixels(&self) -> u32 {
        self.bytes / self.char_bytes.max(1) * self.char_pixels
    }

    /// The memory address of a linear address.
    #[must_use]
    pub fn memory(&self, linear: u32) -> u32 {
        self.place(linear) | self.bank
    }

    /// The memory address of a linear address, its bank bits left out.
    pub(crate) fn place(&self, linear: u32) -> u32 {
        let inside = linear & self.mask;
        let spread = match self.spread {
            Spread::Byte => inside,
            spread => (spread.place(inside / PLANES) * PLANES) | (inside % PLANES),
        };
        spread & !self.holes
    }

    /// For how many bytes from a linear address on memory addresses are consecutive.
    pub(crate) fn consecutive(&self, linear: u32) -> u32 {
        let inside = linear & self.mask;
        let to_wrap = self.mask - inside + 1;
        match (self.spread, self.holes) {
            (Spread::Byte, 0) => to_wrap,
            (Spread::Byte, holes) => {
                let block = holes & holes.wrapping_neg();
                to_wrap.min(block - (inside & (block - 1)))
            }
            _ => PLANES - inside % PLANES,
        }
    }

    /// The bank bits among `bits`: those that do not count along the line.
    pub(crate) fn bank_bits(&self, bits: u32) -> u32 {
        bits & !(self.mask & !self.holes)
    }
}

/// Where a byte is fetched from, and for how many bytes on that stays true.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Run {
    /// Linear address of the first byte; the following ones are consecutive.
    pub linear: u32,
    /// Number of bytes for which that holds, at least 1.
    pub len: u32,
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
        LineFacts::ALL
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
        Stages::NONE
    }

    fn looks_at(&self) -> LineFacts {
        LineFacts::NONE
    }
}
