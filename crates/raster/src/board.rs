//! The board under test: registers, memory, beam, and the five calls that drive it.

use std::sync::Arc;

use backporch_adapter::{
    Adapter, CharacterSet, Format, Guard, Palette, PortRole, Registers, SetError, StartLoad, Timing,
};

use crate::counters::{Counters, LineEnd};
use crate::fetch;
use crate::frame::{Frame, ScanLine, Segment, SegmentKind};
use crate::latch::{Latch, Reload};
use crate::provenance::Provenance;
use crate::serialise::Serialiser;
use crate::tap::{Healthy, LatchMoment, Line, MemoryWrite, Outcome, PortWrite, Stages, Tap};
use crate::template::{LineStart, LineTemplate, Templates};

/// A frame of more dots than this is cut: no monitor locks to it.
const MOST_FRAME_DOTS: u64 = 1 << 21;

/// Where the beam is: the next character clock to be drawn.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Beam {
    /// Dots since the board was made.
    pub dot: u64,
    /// Frame number since the board was made.
    pub frame: u64,
    /// Scan line of the frame, counted from the first one displayed.
    pub scan_line: u32,
    /// Character clock of the line.
    pub char: u32,
    /// Dot of the line.
    pub line_dot: u32,
    /// Whether memory is shown here.
    pub display: bool,
    /// Whether horizontal sync is on.
    pub horizontal_sync: bool,
    /// Whether vertical sync is on.
    pub vertical_sync: bool,
}

/// Registers as the pipeline needs them.
#[derive(Clone, Debug)]
struct Decoded {
    timing: Timing,
    format: Format,
    format_index: u32,
    blink: bool,
    palette: Arc<Palette>,
}

/// The scan line under way.
#[derive(Clone, Debug, Default)]
struct LineUnderWay {
    dots: u32,
    first_segment: u32,
    first_span: u32,
    fetch: Option<Line>,
    /// How it began and after how many writes; `None` until its first stretch.
    begins: Option<(LineStart, u64)>,
}

/// A whole active line drawn before, to be shown again where nothing has changed.
#[derive(Clone, Debug, PartialEq, Eq)]
struct Drawn {
    writes: u64,
    line: Line,
    first_value: u32,
    first_span: u32,
    spans: u32,
}

/// One video board under test.
///
/// Cloning a board takes a snapshot of everything: registers, memory, beam and
/// faults; a clone runs on exactly as the original would.
#[derive(Clone, Debug)]
pub struct Board<T: Tap = Healthy> {
    adapter: Arc<Adapter>,
    registers: Registers,
    memory: Vec<u8>,
    tap: T,
    counters: Counters,
    latch: Latch,
    /// Start address taken over, to be shown from the next restart of the counter.
    taken: u32,
    /// Start address the counter last restarted from.
    start: u32,
    start_written: Option<u64>,
    now: u64,
    decoded: Decoded,
    cells_changed: bool,
    colours_changed: bool,
    /// Counts everything that may change a picture.
    writes: u64,
    frame: Frame,
    finished: Option<Frame>,
    line: LineUnderWay,
    next_picture_line: u32,
    drawn: Option<Drawn>,
    templates: Templates,
    scratch: Vec<u8>,
}

impl Board<Healthy> {
    /// A healthy board with these registers and memory all zero, its beam at
    /// the start of frame 0.
    #[must_use]
    pub fn healthy(adapter: Arc<Adapter>, registers: Registers) -> Self {
        Self::new(adapter, registers, Healthy)
    }
}

impl<T: Tap> Board<T> {
    /// A board under a fault, with these registers and memory all zero, its
    /// beam at the start of frame 0.
    #[must_use]
    pub fn new(adapter: Arc<Adapter>, registers: Registers, mut tap: T) -> Self {
        let decoded = Decoded::new(&adapter, &registers, &tap, 0);
        let set = adapter.get(&registers, adapter.start_address());
        let start = match tap.stages().has(Stages::LATCH) {
            true => tap.latch(&LatchMoment { dot: 0, frame: 0, start: set, shown: set, since_write: None }),
            false => set,
        };
        let bytes = adapter.memory().bytes as usize;
        Self {
            counters: Counters::at_frame_start(start, &decoded.timing),
            adapter,
            registers,
            memory: vec![0; bytes],
            tap,
            latch: Latch::default(),
            taken: start,
            start,
            start_written: None,
            now: 0,
            decoded,
            cells_changed: false,
            colours_changed: false,
            writes: 0,
            frame: Frame::default(),
            finished: None,
            line: LineUnderWay::default(),
            next_picture_line: 0,
            drawn: None,
            templates: Templates::default(),
            scratch: Vec::new(),
        }
    }

    /// The adapter this board is one of.
    #[must_use]
    pub fn adapter(&self) -> &Arc<Adapter> {
        &self.adapter
    }

    /// Registers as the ports have left them.
    #[must_use]
    pub fn registers(&self) -> &Registers {
        &self.registers
    }

    /// Video memory.
    #[must_use]
    pub fn memory(&self) -> &[u8] {
        &self.memory
    }

    /// The fault on this board.
    #[must_use]
    pub fn tap(&self) -> &T {
        &self.tap
    }

    /// Puts another fault in the place of this board's, now.
    pub fn replace_tap(&mut self, tap: T) {
        self.tap = tap;
        self.cells_changed = true;
        self.drawn = None;
        self.writes += 1;
    }

    /// Fills memory past the bus, from address 0; what does not fit is left out.
    pub fn load(&mut self, bytes: &[u8]) {
        let len = bytes.len().min(self.memory.len());
        self.memory[..len].copy_from_slice(&bytes[..len]);
        self.writes += 1;
    }

    /// Sets a named register past the ports and any protection, now.
    ///
    /// # Errors
    /// Where the field has too few bits for it.
    pub fn set(&mut self, field: backporch_adapter::FieldId, value: u64) -> Result<(), SetError> {
        self.adapter.set(&mut self.registers, field, value)?;
        self.cells_changed = true;
        self.writes += 1;
        Ok(())
    }

    // ---- the five calls -------------------------------------------------

    /// Runs the beam until it has drawn every character clock that begins
    /// before `dot` (counted since the board was made).
    pub fn run_to(&mut self, dot: u64) {
        while self.now < dot {
            let char_dots = u64::from(self.decoded().format.char_dots);
            let chars = (dot - self.now).div_ceil(char_dots);
            self.step(chars.min(u64::from(u32::MAX)) as u32);
        }
    }

    /// Runs the beam as [`Board::run_to`] does, but stops where a frame ends and gives it.
    pub fn run_towards(&mut self, dot: u64) -> Option<Frame> {
        while self.now < dot && self.finished.is_none() {
            let char_dots = u64::from(self.decoded().format.char_dots);
            let chars = (dot - self.now).div_ceil(char_dots);
            self.step(chars.min(u64::from(u32::MAX)) as u32);
        }
        self.finished.take()
    }

    /// Writes a byte to a port, at the beam's place.
    pub fn write_port(&mut self, port: u16, value: u8) {
        self.write_bus(port, value, false);
    }

    /// Writes a word to a port: its lower half there, its upper half to the next.
    pub fn write_port_word(&mut self, port: u16, value: u16) {
        let [low, high] = value.to_le_bytes();
        self.write_bus(port, low, false);
        self.write_bus(port.wrapping_add(1), high, true);
    }

    /// Reads a byte from a port, at the beam's place.
    pub fn read_port(&mut self, port: u16) -> u8 {
        let beam = self.beam();
        let status = self.adapter.status(beam.display, beam.horizontal_sync, beam.vertical_sync);
        self.adapter.read_port(&mut self.registers, port, status)
    }

    /// Writes a byte of video memory at an offset into the processor's window.
    /// Memory repeats inside a larger window.
    pub fn write_memory(&mut self, offset: u32, value: u8) {
        let at = offset as usize & (self.memory.len() - 1);
        if self.tap.stages().has(Stages::MEMORY) {
            let Beam { dot, frame, scan_line, char, .. } = self.beam();
            self.tap.memory(&MemoryWrite { dot, frame, scan_line, char, address: at as u32, value });
        }
        self.memory[at] = value;
        self.writes += 1;
    }

    /// Reads a byte of video memory at an offset into the processor's window.
    #[must_use]
    pub fn read_memory(&self, offset: u32) -> u8 {
        self.memory[offset as usize & (self.memory.len() - 1)]
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
        let (timing, units) = match self.cells_changed {
            true => {
                let fresh = Decoded::new(&self.adapter, &self.registers, &self.tap, self.frame.number);
                (fresh.timing, fresh.format.address.units_per_char)
            }
            false => (self.decoded.timing, self.decoded.format.address.units_per_char),
        };
        let mut here = self.counters.clone();
        here.stretch(&timing, units, 1);
        Beam {
            dot: self.now,
            frame: self.frame.number,
            scan_line: self.frame.lines.len() as u32,
            char: here.along,
            line_dot: self.line.dots,
            display: here.shows(),
            horizontal_sync: here.sync_left > 0,
            vertical_sync: here.sync_lines_left > 0,
        }
    }

    /// Where a pixel of `frame`, drawn by this board, comes from.
    ///
    /// `None` outside its active area.
    #[must_use]
    pub fn provenance(&self, frame: &Frame, x: u32, picture_line: u32) -> Option<Provenance> {
        let value = frame.value_at(x, picture_line)?;
        let scan = frame.picture_lines().nth(picture_line as usize)?;
        let line = scan.fetch.as_ref()?;
        let format = self.adapter.format(line.format as usize);
        let (offset, _) = self.serialiser(line, false).bytes_of(x);
        let holds = |span: &&fetch::Span| (span.at..span.end()).contains(&offset);
        let span = frame.spans_of(scan).iter().find(holds)?;
        let healthy = line.healthy(offset);
        let names = ["start_address", "displayed", "max_scan_line"].into_iter().map(str::to_string);
        let names = names.chain(format.when.iter().map(|(name, _)| name.clone()));
        let decided = |name: String| {
            let field = self.adapter.field(&name)?;
            Some((name, self.adapter.get(&self.registers, field)))
        };
        Some(Provenance {
            x,
            picture_line,
            scan_line: line.scan_line,
            char: offset / format.address.bytes_per_char(),
            row: (line.row, line.row_address),
            offset,
            address: span.address + (offset - span.at),
            healthy_address: line.memory(healthy),
            value,
            start: line.start,
            pitch: line.pitch,
            crossings: (healthy >> 8) - (line.linear >> 8),
            bends: self.tap.bends(line, offset, healthy),
            touches: self.tap.touches(line, offset, x),
            decided_by: names.filter_map(decided).collect(),
        })
    }

    // ---- the bus -------------------------------------------------------------

    fn write_bus(&mut self, port: u16, value: u8, upper_half: bool) {
        let role = self.adapter.role(port);
        let cell = self.adapter.target(&self.registers, port);
        let outcome = match self.tap.stages().has(Stages::PORT) {
            true => {
                let beam = self.beam();
                self.tap.port(&PortWrite {
                    dot: self.now,
                    frame: beam.frame,
                    scan_line: beam.scan_line,
                    char: beam.char,
                    port,
                    value,
                    upper_half,
                    role,
                    cell,
                    latch_line: self.latch_line(),
                })
            }
            false => Outcome::Take(value, Guard::AsRegister),
        };
        let Outcome::Take(value, guard) = outcome else {
            return;
        };
        if !self.adapter.write_port(&mut self.registers, port, value, guard) {
            return;
        }
        self.writes += 1;
        match role {
            Some(PortRole::Data(_) | PortRole::Single(_) | PortRole::AttributeFlipFlop) => self.cells_changed = true,
            Some(PortRole::DacData | PortRole::DacMask) => self.colours_changed = true,
            _ => {}
        }
        let start = self.adapter.field_info(self.adapter.start_address());
        if cell.is_some() && start.bits.iter().any(|slice| slice.cell() == cell) {
            self.start_written = Some(self.now);
        }
    }

    /// Scan lines from a frame's start to the next take-over of the start address.
    #[must_use]
    pub fn latch_line(&self) -> u32 {
        let timing = &self.decoded.timing;
        match timing.start_load {
            StartLoad::FrameStart | StartLoad::EachLineOfFirstRow => timing.lines(),
            StartLoad::VerticalRetrace => u32::from(timing.sync_row) * timing.lines_per_row(),
        }
    }

    // ---- the beam --------------------------------------------------------------

    fn decoded(&mut self) -> &Decoded {
        if self.cells_changed {
            self.decoded = Decoded::new(&self.adapter, &self.registers, &self.tap, self.frame.number);
        } else if self.colours_changed {
            let palette = Decoded::palette(&self.adapter, &self.registers, &self.tap, self.frame.number);
            self.decoded.palette = Arc::new(palette);
        }
        self.cells_changed = false;
        self.colours_changed = false;
        &self.decoded
    }

    /// Draws one stretch of at most `most` character clocks, or a whole line
    /// where one like it has been drawn before.
    fn step(&mut self, most: u32) {
        let timing = self.decoded().timing;
        let line_begins = self.counters.along == 0;
        if line_begins && most >= timing.chars() {
            let begins = LineStart::of(&self.counters);
            if let Some(template) = self.templates.find(self.writes, &begins) {
                let template = template.clone();
                return self.repeat(&timing, &template);
            }
        }
        if line_begins {
            self.line.begins = Some((LineStart::of(&self.counters), self.writes));
        }
        let chars = self.counters.stretch(&timing, self.decoded.format.address.units_per_char, most);
        if self.counters.in_sync() {
            self.push(SegmentKind::Sync, chars);
        } else if self.counters.in_blanking() {
            self.push(SegmentKind::Blank, chars);
        } else if self.counters.shows() {
            self.draw(chars);
        } else {
            self.push(SegmentKind::Border, chars);
        }
        self.now += u64::from(chars) * u64::from(self.decoded.format.char_dots);
        let (left, along) = ((self.counters.sync_left, self.counters.blank_left), self.counters.along);
        if let Some(end) = self.counters.advance(&timing, chars) {
            let ran = chars as u16;
            let ends = (left.0.saturating_sub(ran), left.1.saturating_sub(ran));
            if along + chars == timing.chars() {
                self.keep_template(ends);
            }
            self.end_line(&timing, end);
        }
    }

    /// Keeps the line under way as a template, where nothing was written in it.
    fn keep_template(&mut self, ends: (u16, u16)) {
        if let Some((begins, writes)) = self.line.begins
            && writes == self.writes
        {
            let segments = self.frame.segments[self.line.first_segment as usize..].to_vec();
            self.templates.keep(writes, LineTemplate { begins, segments, dots: self.line.dots, ends });
        }
    }

    /// Draws a whole line as the template says.
    fn repeat(&mut self, timing: &Timing, template: &LineTemplate) {
        let palette = self.palette_index();
        let address = &self.decoded.format.address;
        let (char_dots, units) = (u32::from(self.decoded.format.char_dots), address.units_per_char);
        for segment in &template.segments {
            match segment.kind {
                SegmentKind::Active { .. } => {
                    self.counters.along = segment.dot / char_dots;
                    self.draw(segment.dots / char_dots);
                }
                _ => {
                    self.frame.segments.push(Segment { palette, ..*segment });
                    self.line.dots += segment.dots;
                }
            }
        }
        self.now += u64::from(template.dots);
        let end = self.counters.run_line(timing, units, template.ends);
        self.end_line(timing, end);
    }

    fn push(&mut self, kind: SegmentKind, chars: u32) {
        let dots = chars * u32::from(self.decoded.format.char_dots);
        let palette = self.palette_index();
        let segment = Segment { dot: self.line.dots, dots, kind, palette };
        self.line.dots += dots;
        let on_this_line = self.frame.segments.len() as u32 > self.line.first_segment;
        let last = self.frame.segments.last_mut().filter(|_| on_this_line);
        if !last.is_some_and(|last| last.joins(&segment)) {
            self.frame.segments.push(segment);
        }
    }

    /// Position of the palette in force among the frame's palettes.
    fn palette_index(&mut self) -> u16 {
        let palettes = &mut self.frame.palettes;
        let known = |last: &Arc<Palette>| Arc::ptr_eq(last, &self.decoded.palette) || **last == *self.decoded.palette;
        if !palettes.last().is_some_and(known) && palettes.len() < usize::from(u16::MAX) {
            palettes.push(Arc::clone(&self.decoded.palette));
        }
        (palettes.len() - 1) as u16
    }

    /// Draws `chars` character clocks of the active area.
    fn draw(&mut self, chars: u32) {
        let line = self.line_fetched();
        let along = self.counters.along;
        let format = &self.decoded.format;
        let (char_dots, pixel_dots) = (format.char_dots, format.pixel_dots);
        let count = chars * u32::from(char_dots / pixel_dots);
        let active = |first| SegmentKind::Active { first, count, pixel_dots };

        let whole = along == 0 && chars == line.displayed;
        if whole && let Some(drawn) = self.drawn_before(&line) {
            let spans = drawn.first_span as usize..(drawn.first_span + drawn.spans) as usize;
            let first = drawn.first_value;
            self.frame.spans.extend_from_within(spans);
            self.push(active(first), chars);
            return;
        }
        let first = self.frame.values.len() as u32;
        let first_span = self.frame.spans.len() as u32;
        self.fetch(&line, along, chars);
        self.push(active(first), chars);
        self.drawn = whole.then(|| Drawn {
            writes: self.writes,
            line,
            first_value: first,
            first_span,
            spans: self.frame.spans.len() as u32 - first_span,
        });
    }

    /// The line drawn just before, where this one would be drawn alike.
    fn drawn_before(&self, line: &Line) -> Option<&Drawn> {
        let drawn = self.drawn.as_ref()?;
        let Line { scan_line, row_address, .. } = drawn.line;
        let repeats = drawn.writes == self.writes && drawn.line == Line { scan_line, row_address, ..*line };
        let alike = self.tap.stages() == Stages::NONE || self.tap.repeats(&drawn.line, line);
        (repeats && alike).then_some(drawn)
    }

    /// How the line under way is fetched; decided at its first active stretch.
    fn line_fetched(&mut self) -> Line {
        if let Some(line) = self.line.fetch {
            return line;
        }
        let Decoded { timing, format, format_index, .. } = &self.decoded;
        let address = &format.address;
        let counters = &self.counters;
        let repeats = counters.scan != 0 && !format.uses_row_address() && self.next_picture_line > 0;
        let picture_line = if repeats { self.next_picture_line - 1 } else { self.next_picture_line };
        let shown = u32::from(timing.displayed).min(timing.chars());
        let bytes = shown * address.bytes_per_char();
        let line = Line {
            frame: self.frame.number,
            scan_line: self.frame.lines.len() as u32,
            picture_line,
            row: u32::from(counters.row),
            row_address: counters.scan,
            start: self.start,
            linear: counters.row_start.wrapping_mul(address.unit) & address.mask,
            pitch: if shown < timing.chars() { bytes } else { 0 },
            displayed: u32::from(timing.displayed),
            bytes,
            unit: address.unit,
            mask: address.mask,
            bank: address.bank(counters.scan),
            format: *format_index,
            char_bytes: address.bytes_per_char(),
            char_pixels: format.pixels_per_char(),
            pixel_bits: format.serialise.pixel_bits(),
        };
        self.next_picture_line = picture_line + 1;
        self.line.fetch = Some(line);
        line
    }

    /// Fetches and serialises `chars` character clocks from `along` on.
    fn fetch(&mut self, line: &Line, along: u32, chars: u32) {
        let per_char = self.decoded.format.address.bytes_per_char();
        let (offset, len) = (along * per_char, chars * per_char);
        let Self { tap, memory, frame, scratch, line: under_way, .. } = self;
        scratch.clear();
        let stages = fetch::stages_on(tap, line);
        let spans = &mut frame.spans;
        fetch::spans(tap, line, stages, offset, len, |span| {
            let from = span.address as usize;
            let there = memory.len().clamp(from, from + span.len as usize);
            scratch.extend_from_slice(memory.get(from..there).unwrap_or(&[]));
            // Where a fault leads out of memory, nothing answers.
            scratch.resize((span.end() - offset) as usize, 0);
            let on_this_line = spans.len() as u32 > under_way.first_span;
            match spans.last_mut() {
                Some(last) if on_this_line && span.continues(last) => last.len += span.len,
                _ => spans.push(span),
            }
        });

        let tap = &*tap;
        let byte = |at: u32| fetch::byte(tap, line, memory, at);
        if stages.has(Stages::FETCH) {
            tap.fetch(line, offset, scratch, &byte);
        }
        let serialiser = Serialiser {
            rule: self.decoded.format.serialise,
            characters: CharacterSet::built_in(),
            row_address: line.row_address,
            blink: self.decoded.blink,
        };
        let first = frame.values.len();
        serialiser.append(scratch, &mut frame.values);
        if stages.has(Stages::PIXEL) {
            let bent = |at: u32| {
                let mut one = [byte(at)];
                if stages.has(Stages::FETCH) {
                    tap.fetch(line, at, &mut one, &byte);
                }
                one[0]
            };
            let x = along * self.decoded.format.pixels_per_char();
            let peek = |x: u32| serialiser.pixel(x, bent);
            tap.pixels(line, x, &mut frame.values[first..], &peek);
        }
    }

    fn serialiser(&self, line: &Line, blink: bool) -> Serialiser<'_> {
        Serialiser {
            rule: self.adapter.format(line.format as usize).serialise,
            characters: CharacterSet::built_in(),
            row_address: line.row_address,
            blink,
        }
    }

    // ---- line and frame ends -----------------------------------------------------

    fn end_line(&mut self, timing: &Timing, end: LineEnd) {
        let line = std::mem::take(&mut self.line);
        let segments = self.frame.segments.len() as u32;
        let spans = self.frame.spans.len() as u32;
        self.frame.lines.push(ScanLine {
            dots: line.dots,
            segments: line.first_segment..segments,
            spans: line.first_span..spans,
            fetch: line.fetch,
        });
        let too_long = self.now - self.frame.first_dot > MOST_FRAME_DOTS;
        if end.frame || too_long {
            self.end_frame(too_long && !end.frame);
        } else {
            self.line.first_segment = segments;
            self.line.first_span = spans;
        }
        let first_row = self.counters.row == 0 && self.counters.adjusting.is_none();
        let delay = match self.tap.stages().has(Stages::LATCH) {
            true => self.tap.latch_delay(),
            false => 0,
        };
        let reload = self.latch.at_line_start(timing.start_load, end.frame, end.vertical_sync, first_row, delay);
        if matches!(reload, Reload::Take | Reload::TakeAndRestart) {
            self.taken = self.take_start(timing.start_load, end.frame);
        }
        if matches!(reload, Reload::Restart | Reload::TakeAndRestart) {
            self.start = self.taken;
            self.counters.row_start = self.start;
            self.counters.next_row = self.start;
        }
    }

    fn take_start(&mut self, rule: StartLoad, at_frame: bool) -> u32 {
        let start = self.adapter.get(&self.registers, self.adapter.start_address());
        if !self.tap.stages().has(Stages::LATCH) {
            return start;
        }
        let ahead = u64::from(rule == StartLoad::VerticalRetrace && !at_frame);
        self.tap.latch(&LatchMoment {
            dot: self.now,
            frame: self.frame.number + ahead,
            start,
            shown: self.start,
            since_write: self.start_written.map(|dot| self.now - dot),
        })
    }

    fn end_frame(&mut self, unstable: bool) {
        let number = self.frame.number + 1;
        let mut done = std::mem::take(&mut self.frame);
        done.unstable = unstable;
        if self.tap.stages().has(Stages::SYNC) {
            done.shift = self.tap.shift(done.number);
        }
        self.frame.number = number;
        self.frame.first_dot = self.now;
        self.finished = Some(done);
        self.next_picture_line = 0;
        self.drawn = None;
        self.colours_changed |= self.tap.stages().has(Stages::COLOUR);
    }
}

impl Segment {
    /// Takes `next` in, where it continues this segment.
    fn joins(&mut self, next: &Self) -> bool {
        let follows = self.palette == next.palette && self.dot + self.dots == next.dot;
        let alike = match (&mut self.kind, next.kind) {
            (
                SegmentKind::Active { first, count, pixel_dots },
                SegmentKind::Active { first: then, count: more, pixel_dots: same },
            ) if follows && *pixel_dots == same && *first + *count == then => {
                *count += more;
                true
            }
            (SegmentKind::Active { .. }, _) | (_, SegmentKind::Active { .. }) => false,
            (this, that) => *this == that,
        };
        if follows && alike {
            self.dots += next.dots;
        }
        follows && alike
    }
}

impl Decoded {
    fn new<T: Tap>(adapter: &Adapter, registers: &Registers, tap: &T, frame: u64) -> Self {
        let mut timing = adapter.timing(registers);
        if tap.stages().has(Stages::SYNC) {
            tap.timing(&mut timing);
        }
        let format_index = adapter.format_index(registers);
        let blink = adapter.field("blink").is_some_and(|field| adapter.get(registers, field) != 0);
        Self {
            timing,
            format: adapter.format(format_index).clone(),
            format_index: format_index as u32,
            blink,
            palette: Arc::new(Self::palette(adapter, registers, tap, frame)),
        }
    }

    fn palette<T: Tap>(adapter: &Adapter, registers: &Registers, tap: &T, frame: u64) -> Palette {
        let mut palette = adapter.palette(registers);
        if tap.stages().has(Stages::COLOUR) {
            tap.colour(frame, &mut palette);
        }
        palette
    }
}
