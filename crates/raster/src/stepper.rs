//! The literal stepper: the beam one character clock at a time.
//!
//! A second implementation of the road from counters to frames, to be read
//! beside the data sheets: the 6845 (`mc6845`), the EGA and VGA controller
//! (`vga`), then fetch and serialise (`pixels`) a byte and a pixel at a time. It is slow and plain. The span path of [`Board`](crate::Board) is
//! held equal to it by the tests, frame for frame; the two share data types,
//! registers and the bus, and none of the counting.

mod mc6845;
mod pixels;
mod vga;

use std::sync::Arc;

use backporch_adapter::{Adapter, Aspects, FieldId, FramePosition, Registers, SetError, StartLoad, Timing, Vertical};

use crate::board_state::{BoardState, PortByte};
use crate::counters::MOST_LINE_CHARS;
use crate::decoded::Decoded;
use crate::drive::Drive;
use crate::frame::{Frame, ScanLine, Segment, SegmentKind};
use crate::line::Line;
use crate::position::{Beam, MOST_FRAME_DOTS, MOST_FRAME_LINES};
use crate::stages::Stages;
use crate::tap::Intercept;

use mc6845::Mc6845;
use vga::Vga;

/// What a controller puts out in one character clock.
#[derive(Clone, Copy, Debug, Default)]
struct Outputs {
    display: bool,
    horizontal_sync: bool,
    vertical_sync: bool,
    blank: bool,
}

/// What a controller's line end brought.
#[derive(Clone, Copy, Debug, Default)]
struct Ended {
    frame: bool,
    vertical_sync: bool,
    vertical_sync_end: bool,
}

/// Where a controller is on its way down.
#[derive(Clone, Copy, Debug)]
struct StepperPosition {
    row: u32,
    scan: u8,
    row_start: u32,
    first_row: bool,
    below_split: bool,
    /// This scan line is the first of its row; the first of its row address.
    new_row: bool,
    new_scan: bool,
}

#[derive(Clone, Debug)]
enum Controller {
    Mc6845(Mc6845),
    Vga(Vga),
}

/// The scan line under way.
#[derive(Clone, Debug, Default)]
struct LineSoFar {
    dots: u32,
    /// Character clocks done.
    chars: u32,
    segments: u32,
    spans: u32,
    fetch: Option<Line>,
    noted: u32,
}

/// A board driven one character clock at a time.
#[derive(Clone, Debug)]
pub struct Stepper<T: Intercept> {
    state: BoardState<T>,
    controller: Controller,
    now: u64,
    /// Start address taken over, and the one shown.
    taken: u32,
    start: u32,
    /// Scan lines until a late take-over, and whether the counter restarts then.
    late: Option<(u32, bool)>,
    frame: Frame,
    finished: Option<Frame>,
    /// Whether the last field had vertical sync, and whether this one has.
    locked: bool,
    synced: bool,
    /// Scan lines of the field before the controller last restarted.
    restarted_at: u32,
    line: LineSoFar,
    next_picture_line: u32,
}

impl<T: Intercept> Stepper<T> {
    /// A board under a fault, its beam at the start of frame 0.
    #[must_use]
    pub fn new(adapter: Arc<Adapter>, registers: Registers, tap: T) -> Self {
        let mut state = BoardState::new(adapter, registers, tap);
        let start = state.first_start();
        let timing = state.decoded.timing;
        let mut controller = match &timing.vertical {
            Vertical::Rows(_) => Controller::Mc6845(Mc6845::new(&timing)),
            Vertical::Lines(_) => Controller::Vga(Vga::new(&timing)),
        };
        controller.restart(start, &timing);
        Self {
            state,
            controller,
            now: 0,
            taken: start,
            start,
            late: None,
            frame: Frame::default(),
            finished: None,
            locked: false,
            synced: false,
            restarted_at: 0,
            line: LineSoFar::default(),
            next_picture_line: 0,
        }
    }

    /// Fills memory past the bus, from address 0.
    pub fn load(&mut self, bytes: &[u8]) {
        self.state.load(bytes);
    }

    /// Sets a named register past the ports and any protection, now.
    ///
    /// # Errors
    /// Where the field has too few bits for it.
    pub fn set(&mut self, field: FieldId, value: u64) -> Result<(), SetError> {
        self.state.set(field, value)
    }

    /// One character clock.
    fn step(&mut self) {
        let decoded = self.state.refresh(self.frame.number);
        let (timing, shown) = (decoded.timing, decoded.shown);
        if self.now == 0 {
            self.locked = reaches_sync(&timing);
        }
        let outputs = self.controller.compare(&timing, shown.addressing.units_per_char);
        let kind = match outputs {
            _ if outputs.horizontal_sync || outputs.vertical_sync => SegmentKind::Sync,
            _ if outputs.blank => SegmentKind::Blank,
            _ if outputs.display => self.draw(),
            _ => SegmentKind::Border,
        };
        self.add(kind, u32::from(shown.char_dots));
        self.state.snow = None;
        self.now += u64::from(shown.char_dots);
        self.line.chars += 1;
        match self.controller.clock(&timing) {
            Some(ended) => self.end_line(&timing, ended),
            None if self.line.chars >= MOST_LINE_CHARS => {
                self.controller.begin_cut_line();
                self.close_line(true, false);
            }
            None if matches!(timing.start_load, StartLoad::LastSync { .. }) && self.is_at(timing.take_over()) => {
                let delay = self.state.latch_delay();
                if delay == 0 {
                    self.late = None;
                    self.taken = self.state.take_start(self.now, self.frame.number + 1, self.start);
                } else {
                    self.late = Some((delay, false));
                }
            }
            None => {}
        }
    }

    /// Address the controller puts out at this character clock.
    fn counter_address(&self) -> u32 {
        let along = self.line.chars.wrapping_mul(self.state.decoded.shown.addressing.units_per_char);
        self.controller.place().row_start.wrapping_add(along)
    }

    /// The pixel drawn last, where it was one of memory on the line under way.
    fn pixel_under_beam(&self) -> Option<u8> {
        self.frame.last_value_from(self.line.segments)
    }

    /// Whether the beam is at the beginning of a character clock of the frame.
    fn is_at(&self, position: FramePosition) -> bool {
        let line = self.frame.lines.len() as u32 - self.restarted_at;
        position == FramePosition { line, char: self.line.chars }
    }

    /// Adds a character clock to the line, to its last segment where that goes on.
    fn add(&mut self, kind: SegmentKind, dots: u32) {
        let current = &self.state.decoded.palette;
        let palettes = &mut self.frame.palettes;
        if palettes.last().is_none_or(|last| **last != **current) && palettes.len() < usize::from(u16::MAX) {
            palettes.push(Arc::clone(current));
        }
        let palette = (palettes.len() - 1) as u16;
        let dot = self.line.dots;
        self.line.dots += dots;
        if self.frame.segments.len() as u32 > self.line.segments
            && let Some(last) = self.frame.segments.last_mut()
            && last.palette == palette
        {
            match (&mut last.kind, kind) {
                (
                    SegmentKind::Active { count, pixel_dots, .. },
                    SegmentKind::Active { count: more, pixel_dots: same, .. },
                ) if *pixel_dots == same => {
                    *count += more;
                    last.dots += dots;
                    return;
                }
                (one, other) if *one == other => {
                    last.dots += dots;
                    return;
                }
                _ => {}
            }
        }
        self.frame.segments.push(Segment { dot, dots, kind, palette });
    }

    fn end_line(&mut self, timing: &Timing, ended: Ended) {
        self.close_line(false, ended.frame);
        self.synced |= ended.vertical_sync;
        if ended.vertical_sync {
            self.state.begin_vertical_sync();
        }
        let delay = self.state.latch_delay();
        let place = self.controller.place();
        let due = match timing.start_load {
            StartLoad::FrameStart => ended.frame,
            StartLoad::EachLineOfFirstRow => ended.frame || place.first_row,
            StartLoad::VerticalRetrace => ended.vertical_sync,
            StartLoad::VerticalRetraceEnd => ended.vertical_sync_end,
            StartLoad::LastSync { .. } => self.is_at(timing.take_over()),
        };
        let at_once = timing.start_load.restarts();
        let mut take = false;
        let mut restart = ended.frame;
        if due && delay == 0 {
            self.late = None;
            take = true;
            restart |= at_once;
        } else {
            if let Some((lines, restarts)) = self.late {
                let restarts = restarts || ended.frame;
                self.late = Some((lines - 1, restarts));
                if lines == 1 {
                    self.late = None;
                    take = true;
                    restart |= restarts;
                }
            }
            if due {
                self.late = Some((delay, at_once));
            }
        }
        if take {
            let shown_by = self.frame.number + u64::from(!at_once && !ended.frame);
            self.taken = self.state.take_start(self.now, shown_by, self.start);
        }
        if restart {
            self.start = self.taken;
            self.controller.restart(self.start, timing);
        }
    }

    fn close_line(&mut self, cut: bool, frame_ends: bool) {
        let line = std::mem::take(&mut self.line);
        let (segments, spans) = (self.frame.segments.len() as u32, self.frame.spans.len() as u32);
        self.frame.lines.push(ScanLine {
            dots: line.dots,
            segments: line.segments..segments,
            spans: line.spans..spans,
            fetch: line.fetch,
        });
        (self.line.segments, self.line.spans) = (segments, spans);
        let too_long =
            cut || self.now - self.frame.first_dot > MOST_FRAME_DOTS || self.frame.lines.len() >= MOST_FRAME_LINES;
        let waits = self.locked && !self.synced && self.frame.lines.len() < 1024;
        if too_long || (frame_ends && !waits) {
            self.close_frame(!frame_ends);
        } else if frame_ends {
            self.restarted_at = self.frame.lines.len() as u32;
        }
    }

    fn close_frame(&mut self, unstable: bool) {
        let next = Frame { number: self.frame.number + 1, first_dot: self.now, ..Frame::default() };
        let mut done = std::mem::replace(&mut self.frame, next);
        done.unstable = unstable;
        if self.state.tap.stages().contains(Stages::SYNC) {
            done.shift = self.state.tap.shift(done.number);
        }
        if self.state.tap.stages().contains(Stages::COLOUR) {
            self.state.decoded.spoil(Aspects::COLOUR);
        }
        self.finished = Some(done);
        (self.locked, self.synced, self.restarted_at) = (self.synced, false, 0);
        self.line = LineSoFar::default();
        self.next_picture_line = 0;
    }
}

/// Whether vertical sync comes before the controller restarts.
fn reaches_sync(timing: &Timing) -> bool {
    match timing.vertical {
        Vertical::Rows(rows)
            if u16::from(rows.sync_row) == (u16::from(rows.last_row) + 1) % rows.row_values && rows.sync_row > 0 =>
        {
            rows.adjust > 0 && rows.sync_lines > 0
        }
        Vertical::Rows(rows) => rows.sync_row <= rows.last_row && rows.sync_lines > 0,
        Vertical::Lines(lines) => lines.sync_line <= lines.last_line && lines.sync_lines > 0,
    }
}

impl Controller {
    fn compare(&mut self, timing: &Timing, units_per_char: u32) -> Outputs {
        match self {
            Self::Mc6845(controller) => controller.compare(timing, units_per_char),
            Self::Vga(controller) => controller.compare(timing),
        }
    }

    fn clock(&mut self, timing: &Timing) -> Option<Ended> {
        match self {
            Self::Mc6845(controller) => controller.clock(timing),
            Self::Vga(controller) => controller.clock(timing),
        }
    }

    fn restart(&mut self, start: u32, timing: &Timing) {
        match self {
            Self::Mc6845(controller) => controller.restart(start),
            Self::Vga(controller) => controller.restart(start, timing),
        }
    }

    fn place(&self) -> StepperPosition {
        match self {
            Self::Mc6845(controller) => controller.place(),
            Self::Vga(controller) => controller.place(),
        }
    }

    /// The line was cut: character clocks are counted anew.
    fn begin_cut_line(&mut self) {
        if let Self::Mc6845(controller) = self {
            controller.begin_cut_line();
        }
    }
}

impl<T: Intercept> Drive for Stepper<T> {
    fn run_to(&mut self, dot: u64) {
        while self.now < dot {
            self.step();
        }
    }

    fn write_port(&mut self, port: u16, value: u8) {
        let address = self.counter_address();
        self.state.touch_light_pen(port, address);
        let looks = self.state.tap.stages().contains(Stages::PORT);
        let beam = looks.then(|| (self.beam(), self.state.take_over().line));
        self.state.write_port(PortByte { port, value, upper_half: false }, self.now, beam);
    }

    fn read_port(&mut self, port: u16) -> u8 {
        let beam = self.beam();
        let address = self.counter_address();
        self.state.touch_light_pen(port, address);
        let pixel = if self.state.shows_pixels_at(port) { self.pixel_under_beam() } else { None };
        self.state.read_port(port, &beam, pixel)
    }

    fn write_memory(&mut self, offset: u32, value: u8) {
        let beam = self.state.tap.stages().contains(Stages::MEMORY).then(|| self.beam());
        self.state.write_memory(offset, value, beam);
    }

    fn read_memory(&mut self, offset: u32) -> u8 {
        self.state.read_memory(offset)
    }

    fn beam(&self) -> Beam {
        let state = &self.state;
        let now = Decoded::new(&state.adapter, &state.registers, &state.tap, self.frame.number);
        let mut here = self.controller.clone();
        let outputs = here.compare(&now.timing, now.shown.addressing.units_per_char);
        Beam {
            dot: self.now,
            frame: self.frame.number,
            scan_line: self.frame.lines.len() as u32,
            char: self.line.chars,
            line_dot: self.line.dots,
            display: outputs.display,
            horizontal_sync: outputs.horizontal_sync,
            vertical_sync: outputs.vertical_sync,
        }
    }

    fn run_frame(&mut self) -> Frame {
        let number = self.frame.number;
        while self.frame.number == number {
            self.step();
        }
        self.finished.take().unwrap_or_default()
    }

    fn take_frame(&mut self) -> Option<Frame> {
        self.finished.take()
    }

    fn frame_so_far(&self) -> &Frame {
        &self.frame
    }
}
