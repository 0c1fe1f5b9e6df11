//! The board under test: registers, memory, beam, and the five calls that drive it.

use std::ops::Range;
use std::sync::Arc;

use backporch_adapter::{Adapter, Aspects, BoardPorts, FieldId, FramePosition, LinePlace, Registers, SetError};
use backporch_signal::Hertz;

use crate::board_state::{BoardState, PortByte};
use crate::counters::Counters;
use crate::decoded::Decoded;
use crate::drive::Drive;
use crate::field::FieldProgress;
use crate::frame::{Frame, ScanLine};
use crate::latch::Latch;
use crate::line::Line;
use crate::position::Beam;
use crate::stages::Stages;
use crate::tap::{LineEffects, Plain, Tap};
use crate::template::{LineStart, Templates};

/// What of the frame under way is drawn.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(crate) enum Drawing {
    /// All of it.
    #[default]
    All,
    /// Value 0 for all of memory: it is not to be seen.
    Blank,
    /// Nothing that is not needed to go on: the frame is thrown away.
    Nothing,
}

/// The scan line under way.
#[derive(Clone, Debug, Default)]
pub(crate) struct LineUnderWay {
    pub dots: u32,
    pub first_segment: u32,
    pub first_span: u32,
    /// How it was fetched at its first active stretch.
    pub fetch: Option<Line>,
    /// How it is fetched now, and under which shape of the registers.
    pub now: Option<(Line, u64)>,
    /// What of the tap acts on it, and after how many writes under which shape that was asked.
    pub effects: Option<(LineEffects, [u64; 2])>,
    /// Bytes along the line whose spans are noted.
    pub noted: u32,
    /// How it began and under which shape; `None` where it has no template.
    pub begins: Option<(LineStart, u64)>,
}

/// A whole active line drawn before, to be shown again where nothing has changed.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Drawn {
    pub writes: u64,
    pub shape: u64,
    pub line: Line,
    pub effects: LineEffects,
    pub first_value: u32,
    pub first_span: u32,
    pub spans: u32,
}

/// Where a frame holds a line drawn before.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct DrawnValues {
    /// Its first value.
    pub first: u32,
    pub spans: Range<usize>,
}

impl Drawn {
    pub fn values(&self) -> DrawnValues {
        let first = self.first_span as usize;
        DrawnValues { first: self.first_value, spans: first..first + self.spans as usize }
    }
}

/// One video board under test.
///
/// Cloning a board takes a snapshot of everything: registers, memory, beam and
/// faults; a clone runs on exactly as the original would.
#[derive(Clone, Debug)]
pub struct Board<T: Tap = Plain> {
    pub(crate) state: BoardState<T>,
    pub(crate) counters: Counters,
    pub(crate) latch: Latch,
    /// Start address taken over, to be shown from the next restart of the counter.
    pub(crate) taken: u32,
    /// Start address the counter last restarted from.
    pub(crate) start: u32,
    pub(crate) now: u64,
    pub(crate) frame: Frame,
    pub(crate) field: FieldProgress,
    pub(crate) finished: Option<Frame>,
    pub(crate) line: LineUnderWay,
    pub(crate) next_picture_line: u32,
    /// How the last whole line was fetched, and under which shape of the registers.
    pub(crate) line_before: Option<(Line, u64)>,
    /// What of the frame under way is drawn.
    pub(crate) drawing: Drawing,
    /// Where values of the frame under way stand that are left out: their first, and how many.
    pub(crate) passed: Option<(u32, u32)>,
    pub(crate) drawn: Option<Drawn>,
    pub(crate) templates: Templates,
    /// Shape of the registers, and character clocks the counters stay as they are under it.
    pub(crate) stable: (u64, u32),
    pub(crate) scratch: Vec<u8>,
}

impl Board<Plain> {
    /// The plain board with these registers and memory as start-up leaves it,
    /// its beam at the start of frame 0.
    #[must_use]
    pub fn plain(adapter: Arc<Adapter>, registers: Registers) -> Self {
        Self::new(adapter, registers, Plain)
    }
}

impl<T: Tap> Board<T> {
    /// A board under a tap, with these registers and memory as start-up
    /// leaves it (zero, but for glyphs), its beam at the start of frame 0.
    #[must_use]
    pub fn new(adapter: Arc<Adapter>, registers: Registers, tap: T) -> Self {
        let mut state = BoardState::new(adapter, registers, tap);
        let start = state.first_start();
        Self {
            counters: Counters::at_frame_start(start, &state.decoded.timing),
            state,
            latch: Latch::default(),
            taken: start,
            start,
            now: 0,
            frame: Frame::default(),
            field: FieldProgress::default(),
            finished: None,
            line: LineUnderWay::default(),
            next_picture_line: 0,
            line_before: None,
            drawing: Drawing::All,
            passed: None,
            drawn: None,
            templates: Templates::default(),
            stable: (0, 0),
            scratch: Vec::new(),
        }
    }

    /// The adapter this board is one of.
    #[must_use]
    pub fn adapter(&self) -> &Arc<Adapter> {
        &self.state.adapter
    }

    /// Dots a second under the registers as they are.
    #[must_use]
    pub fn dot_clock(&self) -> Hertz {
        self.state.adapter.dot_clock_of(&self.state.registers)
    }

    /// Registers as the ports have left them.
    #[must_use]
    pub fn registers(&self) -> &Registers {
        &self.state.registers
    }

    /// Video memory; where it has planes, byte `4 a + p` is byte `a` of plane `p`.
    #[must_use]
    pub fn memory(&self) -> &[u8] {
        &self.state.memory
    }

    /// The fault on this board.
    #[must_use]
    pub fn tap(&self) -> &T {
        &self.state.tap
    }

    /// Puts another fault in the place of this board's, now.
    pub fn replace_tap(&mut self, tap: T) {
        self.state.replace_tap(tap);
    }

    /// A copy of this board with another fault in the place of its own, from now on.
    #[must_use]
    pub fn with_tap<U: Tap>(&self, tap: U) -> Board<U> {
        Board {
            state: self.state.with_tap(tap),
            counters: self.counters.clone(),
            latch: self.latch.clone(),
            taken: self.taken,
            start: self.start,
            now: self.now,
            frame: self.frame.clone(),
            field: self.field,
            finished: self.finished.clone(),
            line: self.line.clone(),
            next_picture_line: self.next_picture_line,
            line_before: self.line_before,
            drawing: self.drawing,
            passed: self.passed,
            drawn: self.drawn.clone(),
            templates: self.templates.clone(),
            stable: self.stable,
            scratch: Vec::new(),
        }
    }

    /// Fills memory past the bus, from address 0; what does not fit is left out.
    pub fn load(&mut self, bytes: &[u8]) {
        self.state.load(bytes);
    }

    /// Fills memory past the bus with bytes of its size, and gives those it held, so that boards can share them by turns;
    /// where they are of another size, as [`load`](Self::load) does.
    pub fn exchange_memory(&mut self, bytes: &mut Vec<u8>) {
        self.state.exchange_memory(bytes);
    }

    /// Sets a named register past the ports and any protection, now.
    ///
    /// # Errors
    /// Where the field has too few bits for it.
    pub fn set(&mut self, field: FieldId, value: u64) -> Result<(), SetError> {
        self.state.set(field, value)
    }

    /// Sets the start address past the ports and begins the next frame with it at once, as a board at rest does whose start
    /// address has been that for long.
    ///
    /// # Errors
    /// Where the start address has too few bits for it.
    pub fn begin_frame_at(&mut self, start: u32) -> Result<(), SetError> {
        self.state.set_start(start)?;
        let begun = std::mem::take(&mut self.frame);
        self.frame.number = begun.number;
        self.frame.first_dot = self.now;
        self.recycle(begun);
        self.start = self.state.first_start();
        self.taken = self.start;
        self.counters = Counters::at_frame_start(self.start, &self.state.refresh(self.frame.number).timing);
        (self.latch, self.field, self.line) = Default::default();
        (self.next_picture_line, self.stable) = (0, (0, 0));
        (self.line_before, self.drawn, self.passed, self.finished) = (None, None, None, None);
        Ok(())
    }

    /// The start address that the address counter last restarted from.
    #[must_use]
    pub fn start_shown(&self) -> u32 {
        self.start
    }

    // ---- the five calls -------------------------------------------------

    /// Runs the beam until it has drawn every character clock that begins
    /// before `dot` (counted since the board was made).
    pub fn run_to(&mut self, dot: u64) {
        while self.now < dot {
            self.step_to(dot);
        }
    }

    /// Runs the beam as [`Board::run_to`] does, but stops where a frame ends and gives it.
    pub fn run_towards(&mut self, dot: u64) -> Option<Frame> {
        while self.now < dot && self.finished.is_none() {
            self.step_to(dot);
        }
        self.finished.take()
    }

    fn step_to(&mut self, dot: u64) {
        let char_dots = u64::from(self.state.refresh(self.frame.number).shown.char_dots);
        let chars = (dot - self.now).div_ceil(char_dots);
        self.step(chars.min(u64::from(u32::MAX)) as u32);
    }

    /// Writes a byte to a port, at the beam's place.
    pub fn write_port(&mut self, port: u16, value: u8) {
        self.write_bus(PortByte { port, value, upper_half: false });
    }

    /// Writes a word to a port: its lower half there, its upper half to the next.
    pub fn write_port_word(&mut self, port: u16, value: u16) {
        let [low, high] = value.to_le_bytes();
        self.write_bus(PortByte { port, value: low, upper_half: false });
        self.write_bus(PortByte { port: port.wrapping_add(1), value: high, upper_half: true });
    }

    fn write_bus(&mut self, byte: PortByte) {
        self.touch_light_pen(byte.port);
        let looks = self.state.tap.stages().contains(Stages::PORT);
        let beam = looks.then(|| (self.beam(), self.state.take_over().line));
        self.state.write_port(byte, self.now, beam);
    }

    /// Reads a byte from a port, at the beam's place.
    pub fn read_port(&mut self, port: u16) -> u8 {
        let beam = self.beam();
        self.touch_light_pen(port);
        let pixel = if self.state.shows_pixels_at(port) { self.pixel_under_beam() } else { None };
        self.state.read_port(port, &beam, pixel)
    }

    fn touch_light_pen(&mut self, port: u16) {
        let address = self.counters.address(self.state.decoded.shown.addressing.units_per_char);
        self.state.touch_light_pen(port, address);
    }

    /// The pixel drawn last, where it was one of memory on the line under way.
    fn pixel_under_beam(&self) -> Option<u8> {
        self.frame.last_value_from(self.line.first_segment)
    }

    /// Whether the board asks the processor for an interrupt.
    #[must_use]
    pub fn interrupts(&self) -> bool {
        self.state.adapter.interrupts(&self.state.registers)
    }

    /// Whether vertical sync is to ask for an interrupt that leaves the board.
    #[must_use]
    pub fn expects_interrupt(&self) -> bool {
        self.state.adapter.expects_interrupt(&self.state.registers)
    }

    /// Dots until vertical sync next asks for an interrupt, as registers and counters are now; `None` where it will not.
    #[must_use]
    pub fn dots_to_interrupt(&self) -> Option<u64> {
        if !self.expects_interrupt() {
            return None;
        }
        let timing = self.state.adapter.timing(&self.state.registers);
        let char_dots = u64::from(self.state.adapter.shown(&self.state.registers).char_dots);
        let lines = timing.lines().max(1);
        let ahead = match (timing.sync_line() + lines).saturating_sub(self.line_of_counters()) % lines {
            0 => lines,
            ahead => ahead,
        };
        let line_dots = u64::from(timing.chars()) * char_dots;
        Some((u64::from(ahead) * line_dots).saturating_sub(u64::from(self.line.dots)).max(1))
    }

    /// Writes a byte of video memory at an offset into the processor's window,
    /// the way the registers lead it. Memory repeats inside a larger window.
    pub fn write_memory(&mut self, offset: u32, value: u8) {
        let beam = self.state.tap.stages().contains(Stages::MEMORY).then(|| self.beam());
        self.state.write_memory(offset, value, beam);
    }

    /// Reads a byte of video memory at an offset into the processor's window,
    /// the way the registers lead it; where the class has latches, loads them.
    pub fn read_memory(&mut self, offset: u32) -> u8 {
        self.state.read_memory(offset)
    }

    /// Where a byte written at an offset into the window would go: the first
    /// address, and a bit for each byte from there on; `None` where nothing is mapped.
    pub fn written_at(&mut self, offset: u32) -> Option<(u32, u32)> {
        self.state.written_at(offset)
    }

    /// The byte the processor would read at an offset into its window, without
    /// leaving a trace; FFh where nothing is mapped there.
    #[must_use]
    pub fn peek_memory(&self, offset: u32) -> u8 {
        let path = self.state.adapter.memory_path(&self.state.registers);
        path.read(&self.state.memory, &mut [0; 4], offset)
    }

    // ---- frames -----------------------------------------------------------

    /// Runs to the end of the frame under way and gives it.
    pub fn run_frame(&mut self) -> Frame {
        let number = self.frame.number;
        while self.frame.number == number {
            self.step(u32::MAX);
        }
        self.finished.take().unwrap_or_default()
    }

    /// Runs the beam as [`Board::run_to`] does, faster, but leaves out what memory shows on the way: the frame under
    /// way has value 0 there and no fetch. Only for frames that are not looked at.
    pub fn pass_to(&mut self, dot: u64) {
        self.drawing = Drawing::Blank;
        self.run_to(dot);
        self.drawing = Drawing::All;
    }

    /// Runs to the end of the frame under way, which is not looked at, faster than [`Board::run_frame`].
    pub fn pass_frame(&mut self) {
        self.drawing = Drawing::Nothing;
        let frame = self.run_frame();
        self.drawing = Drawing::All;
        self.recycle(frame);
    }

    /// The newest whole frame, once.
    pub fn take_frame(&mut self) -> Option<Frame> {
        self.finished.take()
    }

    /// The frame under way, as far as it is drawn.
    #[must_use]
    pub fn frame_so_far(&self) -> &Frame {
        &self.frame
    }

    /// The frame under way with the scan line under way, as far as the beam has drawn it.
    #[must_use]
    pub fn frame_seen(&self) -> Frame {
        let mut frame = self.frame.clone();
        let (segments, spans) = (frame.segments.len() as u32, frame.spans.len() as u32);
        let LineUnderWay { dots, first_segment, first_span, fetch, .. } = self.line;
        if dots > 0 {
            frame.lines.push(ScanLine { dots, segments: first_segment..segments, spans: first_span..spans, fetch });
        }
        frame
    }

    /// Gives a frame's memory back, for the next one to use.
    pub fn recycle(&mut self, mut frame: Frame) {
        frame.lines.clear();
        frame.segments.clear();
        frame.spans.clear();
        frame.values.clear();
        frame.palettes.clear();
        if self.frame.lines.capacity() == 0 && self.frame.segments.is_empty() {
            let Frame { number, first_dot, .. } = self.frame;
            self.frame = Frame { number, first_dot, shift: Default::default(), unstable: false, ..frame };
        }
    }

    /// Where the beam is.
    #[must_use]
    pub fn beam(&self) -> Beam {
        let state = &self.state;
        let fresh;
        let decoded = if state.decoded.is_stale(Aspects::TIMING | Aspects::SHOWN) {
            fresh = Decoded::new(&state.adapter, &state.registers, &state.tap, self.frame.number);
            &fresh
        } else {
            &state.decoded
        };
        let mut here = self.counters.clone();
        here.stretch(&decoded.timing, decoded.shown.addressing.units_per_char, 1);
        Beam {
            dot: self.now,
            frame: self.frame.number,
            scan_line: self.frame.lines.len() as u32,
            char: here.along,
            line_dot: self.line.dots,
            display: here.shows(),
            horizontal_sync: here.sync.on,
            vertical_sync: here.vertical_sync(),
        }
    }

    /// The line the beam is on, and how long lines are while registers stay as they are.
    #[must_use]
    pub fn line_place(&self) -> LinePlace {
        let state = &self.state;
        let decoded = &state.decoded;
        let (chars, char_dots) = if decoded.is_stale(Aspects::TIMING | Aspects::SHOWN) {
            (state.adapter.timing(&state.registers).chars(), state.adapter.shown(&state.registers).char_dots)
        } else {
            (decoded.timing.chars(), decoded.shown.char_dots)
        };
        LinePlace { began: self.now.saturating_sub(u64::from(self.line.dots)), dots: chars * u32::from(char_dots) }
    }

    /// Where in a frame the start address is taken over next.
    #[must_use]
    pub fn take_over(&self) -> FramePosition {
        self.state.take_over()
    }
}

impl<T: Tap> BoardPorts for Board<T> {
    fn registers(&self) -> &Registers {
        Self::registers(self)
    }

    fn read(&mut self, port: u16) {
        self.read_port(port);
    }

    fn write(&mut self, port: u16, value: u8) {
        self.write_port(port, value);
    }
}

impl<T: Tap> Drive for Board<T> {
    fn run_to(&mut self, dot: u64) {
        Self::run_to(self, dot);
    }

    fn write_port(&mut self, port: u16, value: u8) {
        Self::write_port(self, port, value);
    }

    fn read_port(&mut self, port: u16) -> u8 {
        Self::read_port(self, port)
    }

    fn write_memory(&mut self, offset: u32, value: u8) {
        Self::write_memory(self, offset, value);
    }

    fn read_memory(&mut self, offset: u32) -> u8 {
        Self::read_memory(self, offset)
    }

    fn beam(&self) -> Beam {
        Self::beam(self)
    }

    fn run_frame(&mut self) -> Frame {
        Self::run_frame(self)
    }

    fn take_frame(&mut self) -> Option<Frame> {
        Self::take_frame(self)
    }

    fn frame_so_far(&self) -> &Frame {
        Self::frame_so_far(self)
    }
}
