//! A board that is watched: whatever drives it, all that reaches its bus is
//! noted with the beam's place, frame by frame.

use std::collections::VecDeque;

use backporch_adapter::{Adapter, Aspects, Cell, PortRole, Registers};
use backporch_raster::{Board, Frame, Tap};

use crate::script::Moment;
use crate::trace::{PortValue, Trace, TraceAccess};

/// Where the beam was.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct At {
    /// Dots since the board was made.
    pub dot: u64,
    /// Frame.
    pub frame: u64,
    /// Scan line of the frame.
    pub line: u32,
    /// Dot of the line.
    pub line_dot: u32,
    /// Whether memory was shown there.
    pub display: bool,
}

/// Who made an access.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Maker {
    /// Not known: a script, a trace.
    #[default]
    Unnamed,
    /// An instruction of a program.
    Instruction(CodeAddress),
    /// Firmware at its own work, such as setting a mode, called by an instruction of a program.
    Firmware(CodeAddress),
}

impl Maker {
    /// Whether it is firmware at its own work.
    #[must_use]
    pub fn is_firmware(self) -> bool {
        matches!(self, Self::Firmware(_))
    }

    /// The program's instruction behind it, where one is known.
    #[must_use]
    pub fn place(self) -> Option<CodeAddress> {
        match self {
            Self::Unnamed => None,
            Self::Instruction(place) | Self::Firmware(place) => Some(place),
        }
    }
}

/// Where an instruction of a program stands in memory.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct CodeAddress {
    /// Segment.
    pub segment: u16,
    /// Offset.
    pub offset: u16,
}

/// A port read over and over by one loop, as one access.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Poll {
    /// Port.
    pub port: u16,
    /// Dot of the last read; the first has its own.
    pub last: u64,
    /// Reads in all, at least 1.
    pub times: u32,
}

/// A byte that reached a port.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct PortAccess {
    /// Beam, when it took effect.
    pub at: At,
    /// Who made it.
    pub by: Maker,
    /// Port.
    pub port: u16,
    /// Byte.
    pub value: u8,
    /// Register it went to, where the port led to one.
    pub cell: Option<Cell>,
    /// Start address before and after, where the register holds a part of it.
    pub start: Option<(u32, u32)>,
    /// The register is protected and kept another value.
    pub ignored: bool,
    /// What of the picture it changed.
    pub changes: Aspects,
    /// Entry of the DAC that it completed, where it did.
    pub colour: Option<u8>,
}

/// A read that left something behind: the status port's, which puts the attribute port back to its index, or one of
/// video memory that took the place of what the beam fetched.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Looked {
    /// Beam, when it took effect.
    pub at: At,
    /// Who made it.
    pub by: Maker,
    /// Whether it was memory that was read.
    pub of_memory: bool,
}

/// A byte that reached video memory.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct MemoryTransfer {
    /// Beam, when it took effect.
    pub at: At,
    /// Who made it.
    pub by: Maker,
    /// Offset into the processor's window that was written.
    pub offset: u32,
    /// Address in video memory.
    pub address: u32,
    /// Whether it took the place of what the beam fetched there.
    pub snows: bool,
    /// Byte before.
    pub old: u8,
    /// Byte after.
    pub new: u8,
}

/// A wait of a routine.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Waited {
    /// What for.
    pub moment: Moment,
    /// First dot of the wait.
    pub from: u64,
    /// Beam, when the routine saw the moment.
    pub until: At,
    /// Dots of a round of its loop, where they could be counted.
    pub round: Option<u64>,
}

/// A pass over the each-frame steps.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Passed {
    /// Number of the pass.
    pub pass: u64,
    /// Beam at its end.
    pub end: At,
    /// Clocks spent on work.
    pub busy_clocks: u64,
    /// Clocks spent on waiting.
    pub waited_clocks: u64,
    /// Frames it was meant to take.
    pub frames_meant: u32,
}

/// What happened, in order of time.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Event {
    /// A byte reached a port.
    Port(PortAccess),
    /// A byte reached video memory.
    Memory(MemoryTransfer),
    /// A read left something behind.
    Looked(Looked),
    /// A wait was over.
    Waited(Waited),
    /// A pass was over.
    Passed(Passed),
}

/// A frame and all that happened while it was drawn.
#[derive(Clone, Debug)]
pub struct FrameRecord {
    /// The frame.
    pub frame: Frame,
    /// Events while it was drawn.
    pub events: Vec<Event>,
    /// Registers at its end.
    pub registers: Registers,
    /// Scan lines from its start to the take-over of the start address.
    pub latch_line: u32,
    /// Dots of that scan line before the take-over.
    pub latch_line_dots: u32,
}

impl FrameRecord {
    /// First dot after the frame.
    #[must_use]
    pub fn end_dot(&self) -> u64 {
        self.dot_of_line(u32::MAX)
    }

    /// Dot at which a scan line begins, at most the frame's end.
    #[must_use]
    pub fn dot_of_line(&self, line: u32) -> u64 {
        let lines = self.frame.lines.iter().take(line as usize);
        self.frame.first_dot + lines.map(|line| u64::from(line.dots)).sum::<u64>()
    }

    /// Dot of the take-over of the start address that this frame holds, or ends with.
    #[must_use]
    pub fn latch_dot(&self) -> u64 {
        (self.dot_of_line(self.latch_line) + u64::from(self.latch_line_dots)).min(self.end_dot())
    }

    /// Start address shown, where anything is.
    #[must_use]
    pub fn start(&self) -> Option<u32> {
        self.frame.picture_lines().next()?.fetch.map(|line| line.start)
    }

    /// First dot after the last line that shows memory.
    #[must_use]
    pub fn active_end(&self) -> u64 {
        let shown = self.frame.lines.iter().rposition(|line| line.fetch.is_some());
        self.dot_of_line(shown.map_or(0, |line| line as u32 + 1))
    }
}

/// Signals at the beam.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Signals {
    /// Memory is shown.
    pub display: bool,
    /// Horizontal sync.
    pub horizontal_sync: bool,
    /// Vertical sync.
    pub vertical_sync: bool,
}

/// A board, its driver's accesses noted.
#[derive(Clone, Debug)]
pub struct Watched<T: Tap> {
    board: Board<T>,
    events: Vec<Event>,
    records: VecDeque<FrameRecord>,
    trace: Option<Trace>,
    signals: Option<Vec<(u64, Signals)>>,
    by: Maker,
    /// A loop that polls a port: the port, and the dot of its first read.
    polling: Option<(u16, u64)>,
}

impl<T: Tap> Watched<T> {
    /// Watches a board.
    #[must_use]
    pub fn new(board: Board<T>) -> Self {
        Self {
            board,
            events: Vec::new(),
            records: VecDeque::new(),
            trace: None,
            signals: None,
            by: Maker::default(),
            polling: None,
        }
    }

    /// The board.
    #[must_use]
    pub fn board(&self) -> &Board<T> {
        &self.board
    }

    /// Its adapter.
    #[must_use]
    pub fn adapter(&self) -> &Adapter {
        self.board.adapter()
    }

    /// Keeps every access from now on.
    pub fn keep_trace(&mut self) {
        self.trace.get_or_insert_default();
    }

    /// Accesses kept.
    #[must_use]
    pub fn trace(&self) -> Option<&Trace> {
        self.trace.as_ref()
    }

    /// Takes the accesses kept so far; later ones go on being kept.
    pub fn take_trace(&mut self) -> Trace {
        self.trace.as_mut().map(std::mem::take).unwrap_or_default()
    }

    /// Does something to the board that its driver has no part in, such as turning a register by hand.
    pub fn past_the_driver(&mut self, act: impl FnOnce(&mut Board<T>)) {
        act(&mut self.board);
    }

    /// Samples sync and display enable at every character clock from now on.
    pub fn keep_signals(&mut self) {
        self.signals.get_or_insert_default();
    }

    /// Changes of the signals kept: dot and signals from there on.
    #[must_use]
    pub fn signals(&self) -> &[(u64, Signals)] {
        self.signals.as_deref().unwrap_or(&[])
    }

    /// The oldest whole frame not yet taken.
    pub fn take(&mut self) -> Option<FrameRecord> {
        self.records.pop_front()
    }

    /// Whether a whole frame waits to be taken.
    #[must_use]
    pub fn has_record(&self) -> bool {
        !self.records.is_empty()
    }

    /// Where the beam is.
    #[must_use]
    pub fn at(&self) -> At {
        let beam = self.board.beam();
        let display = beam.display && !self.adapter().hides_memory(self.board.registers());
        At { dot: beam.dot, frame: beam.frame, line: beam.scan_line, line_dot: beam.line_dot, display }
    }

    /// Runs the beam to a dot.
    pub fn run_to(&mut self, dot: u64) {
        if self.signals.is_none() {
            self.run_straight_to(dot);
            return;
        }
        while self.board.beam().dot < dot {
            self.sample();
            self.run_straight_to(self.board.beam().dot + 1);
        }
    }

    fn run_straight_to(&mut self, dot: u64) {
        while let Some(frame) = self.board.run_towards(dot) {
            let events = std::mem::take(&mut self.events);
            let registers = self.board.registers().clone();
            let take_over = self.board.take_over();
            let char_dots = u32::from(self.board.adapter().shown(&registers).char_dots);
            self.records.push_back(FrameRecord {
                frame,
                events,
                registers,
                latch_line: take_over.line,
                latch_line_dots: take_over.char * char_dots,
            });
        }
    }

    fn sample(&mut self) {
        let beam = self.board.beam();
        let now =
            Signals { display: beam.display, horizontal_sync: beam.horizontal_sync, vertical_sync: beam.vertical_sync };
        let Some(signals) = &mut self.signals else { return };
        if signals.last().is_none_or(|(_, last)| *last != now) {
            signals.push((beam.dot, now));
        }
    }

    /// Who makes the accesses from now on.
    pub fn made_by(&mut self, by: Maker) {
        self.by = by;
    }

    /// Writes a port at a dot.
    pub fn write_port(&mut self, dot: u64, port: u16, value: PortValue) {
        self.run_to(dot);
        self.note(dot, TraceAccess::Port(port, value));
        match value {
            PortValue::Byte(byte) => self.watch_byte(port, byte, |board| board.write_port(port, byte)),
            PortValue::Word(word) => {
                // Both bytes are put on the bus by one call, which faults may look at;
                // what became of them is found from copies of the registers.
                let [low, high] = word.to_le_bytes();
                let before = self.board.registers().clone();
                let cells = self.cells_of_word(&before, port, low);
                self.board.write_port_word(port, word);
                self.note_port(&before, port, low, cells[0]);
                self.note_port(&before, port.wrapping_add(1), high, cells[1]);
            }
        }
    }

    fn watch_byte(&mut self, port: u16, byte: u8, write: impl FnOnce(&mut Board<T>)) {
        let before = self.board.registers().clone();
        let cell = self.board.adapter().target(&before, port);
        write(&mut self.board);
        self.note_port(&before, port, byte, cell);
    }

    fn cells_of_word(&self, before: &Registers, port: u16, low: u8) -> [Option<Cell>; 2] {
        let adapter = self.board.adapter();
        let mut between = before.clone();
        adapter.write_port(&mut between, port, low, Default::default());
        [adapter.target(before, port), adapter.target(&between, port.wrapping_add(1))]
    }

    fn note_port(&mut self, before: &Registers, port: u16, value: u8, cell: Option<Cell>) {
        let adapter = self.board.adapter();
        let after = self.board.registers();
        let start = adapter.start_address();
        let of_start = |cell: Cell| adapter.field_info(start).bits.iter().any(|slice| slice.cell() == Some(cell));
        let ignored = |cell: Cell| adapter.is_protected(before, cell) && after.cell(cell) != value;
        let colour = before.dac_completed_by(after);
        let access = PortAccess {
            at: self.at(),
            by: self.by,
            port,
            value,
            cell,
            changes: self.changes(before, cell, colour),
            colour,
            start: cell.filter(|cell| of_start(*cell)).map(|_| (adapter.get(before, start), adapter.get(after, start))),
            ignored: cell.is_some_and(ignored),
        };
        self.events.push(Event::Port(access));
    }

    /// What a write of a port changed of what is shown: nothing, where the register keeps its value.
    fn changes(&self, before: &Registers, cell: Option<Cell>, colour: Option<u8>) -> Aspects {
        let (adapter, after) = (self.board.adapter(), self.board.registers());
        let changed = cell.filter(|cell| before.cell(*cell) != after.cell(*cell));
        let mut of_cell = changed.map_or(Aspects::empty(), |cell| adapter.aspects(cell));
        if of_cell.contains(Aspects::SHOWN) && adapter.shown(before).shows_memory_like(&adapter.shown(after)) {
            of_cell.remove(Aspects::SHOWN);
        }
        let recoloured = colour.is_some_and(|entry| before.dac(entry) != after.dac(entry));
        let masked = before.dac_mask() != after.dac_mask() || before.palette_shown() != after.palette_shown();
        of_cell | if recoloured || masked { Aspects::COLOUR } else { Aspects::empty() }
    }

    /// Reads a port over and over, from a dot on: a wait, where it was read more than once.
    pub fn poll_port(&mut self, dot: u64, poll: Poll) {
        let Poll { port, last, times } = poll;
        self.run_to(dot);
        let goes_on = self.polling.filter(|(polled, _)| *polled == port).map(|(_, from)| from);
        self.look_at_port(dot, port);
        if times > 1 {
            self.run_to(last);
            self.look_at_port(last, port);
        }
        let is_status = self.adapter().port_role(self.board.registers(), port) == Some(PortRole::Status);
        if is_status && (times > 1 || goes_on.is_some()) {
            let round = (times > 1).then(|| last.saturating_sub(dot) / u64::from(times - 1));
            let (moment, until) = (self.moment_here(), self.at());
            self.events.push(Event::Waited(Waited { moment, from: goes_on.unwrap_or(dot), until, round }));
        }
        self.polling = Some((port, goes_on.unwrap_or(dot)));
    }

    /// A read of a port whose every read may end a wait, noted whether or not it changes what comes after.
    fn look_at_port(&mut self, dot: u64, port: u16) {
        if self.adapter().port_role(self.board.registers(), port) == Some(PortRole::Status)
            && !self.reading_matters(port)
        {
            self.note(dot, TraceAccess::Read(port));
        }
        self.read_port(dot, port);
    }

    /// What polling sees just here.
    fn moment_here(&self) -> Moment {
        let beam = self.board.beam();
        let below = self.board.frame_so_far().lines.last().is_some_and(|line| line.fetch.is_none());
        if beam.vertical_sync {
            Moment::RetraceStart
        } else if below {
            Moment::RetraceEnd
        } else if beam.display {
            Moment::DisplayStart
        } else {
            Moment::DisplayEnd
        }
    }

    /// Reads a port at a dot.
    pub fn read_port(&mut self, dot: u64, port: u16) -> u8 {
        self.run_to(dot);
        if self.reading_matters(port) {
            self.note(dot, TraceAccess::Read(port));
            if self.adapter().port_role(self.board.registers(), port) == Some(PortRole::Status) {
                self.events.push(Event::Looked(Looked { at: self.at(), by: self.by, of_memory: false }));
            }
        }
        self.board.read_port(port)
    }

    /// Whether reading a port changes what a later write does.
    fn reading_matters(&self, port: u16) -> bool {
        let adapter = self.board.adapter();
        match adapter.port_role(self.board.registers(), port) {
            Some(PortRole::Status) => {
                let attribute = adapter.port_of(self.board.registers(), PortRole::AttributeFlipFlop);
                attribute.is_some_and(|port| adapter.target(self.board.registers(), port).is_some())
            }
            Some(PortRole::DacData) => true,
            _ => false,
        }
    }

    /// Writes a byte of video memory at a dot. The offset wraps inside the window.
    pub fn write_memory(&mut self, dot: u64, offset: u32, new: u8) {
        self.run_to(dot);
        let offset = self.in_window(offset);
        self.note(dot, TraceAccess::Memory(offset, new));
        let at = self.at();
        let snows = at.display && self.adapter().snows(self.board.registers());
        let Some((first, bytes)) = self.board.written_at(offset) else { return };
        let addresses = (0..32).filter(|byte| bytes >> byte & 1 != 0).map(|byte| first + byte);
        let olds: Vec<(u32, u8)> =
            addresses.filter_map(|address| Some((address, *self.board.memory().get(address as usize)?))).collect();
        self.board.write_memory(offset, new);
        for (address, old) in olds {
            let new = self.board.memory()[address as usize];
            self.events.push(Event::Memory(MemoryTransfer { at, by: self.by, offset, address, snows, old, new }));
        }
    }

    /// Reads a byte of video memory at a dot. The offset wraps inside the window.
    pub fn read_memory(&mut self, dot: u64, offset: u32) -> u8 {
        self.run_to(dot);
        let offset = self.in_window(offset);
        let before = self.board.registers().latches();
        let value = self.board.read_memory(offset);
        if self.board.registers().latches() != before || !self.adapter().profile().snow.is_empty() {
            self.note(dot, TraceAccess::MemoryRead(offset));
        }
        let at = self.adapter().snows(self.board.registers()).then(|| self.at());
        if let Some(at) = at.filter(|at| at.display) {
            self.events.push(Event::Looked(Looked { at, by: self.by, of_memory: true }));
        }
        value
    }

    /// Does at a dot what a write trace says.
    pub fn make(&mut self, dot: u64, access: TraceAccess) {
        let is_read = matches!(access, TraceAccess::Read(_));
        self.polling = self.polling.filter(|_| is_read);
        match access {
            TraceAccess::Port(port, value) => self.write_port(dot, port, value),
            TraceAccess::Read(port) => self.poll_port(dot, Poll { port, last: dot, times: 1 }),
            TraceAccess::Memory(offset, value) => self.write_memory(dot, offset, value),
            TraceAccess::MemoryRead(offset) => drop(self.read_memory(dot, offset)),
        }
    }

    fn in_window(&self, offset: u32) -> u32 {
        offset & (self.adapter().memory().window_bytes - 1)
    }

    pub(crate) fn push(&mut self, event: Event) {
        self.events.push(event);
    }

    fn note(&mut self, dot: u64, access: TraceAccess) {
        if let Some(trace) = &mut self.trace {
            trace.push(dot, access);
        }
    }
}
