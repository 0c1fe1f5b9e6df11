//! Taps: where the design of a class, or a fault, changes what the pipeline does.
//!
//! Three contracts, apart from one another:
//!
//! * [`Intercept`] is what a tap does: one method a stage, each of which by
//!   default changes nothing. What it does to a byte or pixel may depend only
//!   on the [`Line`], the position on it, the value and what it *peeks* at,
//!   never on how the line was cut into stretches. The stepper asks for
//!   nothing else.
//! * [`LineReuse`] is what it tells the span path, so that a line drawn before
//!   can be shown again and a search need not ask twice. By default nothing is
//!   reused.
//! * [`Explain`] says of one byte or pixel what was changed there, and by what.
//!
//! A [`Tap`] is all three.

use backporch_adapter::{Cell, Guard, Palette, PortRole, Timing};

use crate::changes::{AddressChange, ValueChange};
use crate::line::{Line, Run};
use crate::line_dependencies::LineDependencies;
use crate::shift::Shift;
use crate::stages::Stages;

/// What of a tap acts on a line: asked once a line, and handed back for every
/// stretch of it.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct LineEffects {
    /// Stages the tap works at on the line.
    pub stages: Stages,
    /// Whatever else the tap wants to find again.
    pub detail: [u64; 6],
}

impl LineEffects {
    /// Whether the line is drawn as without the tap.
    #[must_use]
    pub fn changes_nothing(&self) -> bool {
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
pub enum WriteOutcome {
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

/// What a tap does, stage by stage.
pub trait Intercept {
    /// Stages at which the tap does anything at all. At a stage not named here it is never called.
    fn stages(&self) -> Stages;

    /// Whether anything besides what the class does by design may show on a board at rest, whose ports and memory nothing
    /// writes to.
    fn acts_at_rest(&self) -> bool {
        !self.stages().is_empty()
    }

    /// A byte is written to a port.
    fn port(&mut self, write: &PortWrite) -> WriteOutcome {
        WriteOutcome::Take(write.value, Guard::AsRegister)
    }

    /// The processor writes a byte to memory; it arrives whatever the tap does.
    fn memory(&mut self, _write: &MemoryWrite) {}

    /// The start address is taken over; answers with the one the counters get, in address units.
    fn latch(&mut self, moment: &LatchMoment) -> u32 {
        moment.start
    }

    /// What [`latch`](Self::latch) would answer, which is not remembered.
    fn would_latch(&self, moment: &LatchMoment) -> u32
    where
        Self: Clone,
    {
        self.clone().latch(moment)
    }

    /// Scan lines by which the take-over comes late.
    fn latch_delay(&self) -> u32 {
        0
    }

    /// Comparands of the counters.
    fn timing(&self, _timing: &mut Timing) {}

    /// Linear address of the byte `offset` bytes along the line, and for how
    /// many bytes on that counts up. `linear` is where the stage before this
    /// one put it.
    fn address(&self, _line: &Line, _offset: u32, linear: u32) -> Run {
        Run { linear, len: u32::MAX }
    }

    /// Address bits that choose the bank a line is fetched from; those of the
    /// line's mask are left out.
    fn bank(&self, line: &Line) -> u32 {
        line.bank
    }

    /// Bytes fetched, the first of them `offset` bytes along the line; `peek`
    /// gives the byte fetched at any other offset.
    fn fetch(&self, _line: &Line, _offset: u32, _bytes: &mut [u8], _peek: &dyn Fn(u32) -> u8) {}

    /// Pixel values, the first of them at `x`; `peek` gives the value at any other x.
    fn pixels(&self, _line: &Line, _x: u32, _values: &mut [u8], _peek: &dyn Fn(u32) -> u8) {}

    /// Colours of a frame.
    fn colour(&self, _frame: u64, _palette: &mut Palette) {}

    /// How far the monitor shows the whole frame from its place.
    fn shift(&mut self, _frame: u64) -> Shift {
        Shift::default()
    }
}

/// What a tap tells the span path and searches, so that they need not ask again.
pub trait LineReuse: Intercept {
    /// What of a line may change what the tap does to it, the position on the line aside.
    fn depends_on(&self) -> LineDependencies {
        LineDependencies::all()
    }

    /// What of the tap acts on a line; its stages are some of [`Intercept::stages`].
    /// It is asked again where a write has come in between.
    fn line_effects(&self, _line: &Line) -> LineEffects {
        LineEffects { stages: self.stages(), detail: [0; 6] }
    }

    /// Whether every scan line that shows a picture line once more is changed as the one before it was, so that
    /// nothing need be asked about it.
    fn always_repeats(&self) -> bool {
        false
    }

    /// Whether a scan line that shows a picture line once more is changed as the one before it was.
    fn repeats(&self, before: &LineEffects, again: &LineEffects) -> bool {
        before.changes_nothing() && again.changes_nothing()
    }

    /// Calls `each` with the runs of `len` bytes from `offset` on, in order, and
    /// where each begins: what [`Intercept::address`] says of every byte, all at once.
    fn runs(&self, line: &Line, _effects: &LineEffects, offset: u32, len: u32, each: &mut dyn FnMut(u32, Run)) {
        let end = offset + len;
        let mut at = offset;
        while at < end {
            let run = self.address(line, at, line.plain_address(at));
            let len = run.len.clamp(1, end - at);
            each(at, Run { len, ..run });
            at += len;
        }
    }

    /// [`Intercept::fetch`] on a line of which it is known what acts on it.
    fn fetch_on(&self, line: &Line, _effects: &LineEffects, offset: u32, bytes: &mut [u8], peek: &dyn Fn(u32) -> u8) {
        self.fetch(line, offset, bytes, peek);
    }

    /// [`Intercept::pixels`] on a line of which it is known what acts on it.
    fn pixels_on(&self, line: &Line, _effects: &LineEffects, x: u32, values: &mut [u8], peek: &dyn Fn(u32) -> u8) {
        self.pixels(line, x, values, peek);
    }
}

/// What a tap says of what it did at one place.
pub trait Explain: Intercept {
    /// Every change the address stage makes to one byte, in stacking order.
    fn address_changes(&self, _line: &Line, _offset: u32, _linear: u32) -> Vec<AddressChange> {
        Vec::new()
    }

    /// Every other change to what is shown at one pixel, in stacking order.
    fn value_changes(&self, _line: &Line, _offset: u32, _x: u32) -> Vec<ValueChange> {
        Vec::new()
    }
}

/// Whatever sits on the pipeline of a [`Board`](crate::Board).
pub trait Tap: LineReuse + Explain {}

impl<T: LineReuse + Explain> Tap for T {}

/// The plain board: addresses are counted as a programmer's manual tells, and nothing is changed anywhere.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Plain;

impl Intercept for Plain {
    fn stages(&self) -> Stages {
        Stages::empty()
    }
}

impl LineReuse for Plain {
    fn depends_on(&self) -> LineDependencies {
        LineDependencies::empty()
    }

    fn always_repeats(&self) -> bool {
        true
    }
}

impl Explain for Plain {}
