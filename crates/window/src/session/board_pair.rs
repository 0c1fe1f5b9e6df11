//! The boards of a session, in lock step: the plain one, the one as its class is built, and the one under its quirks.

use std::sync::Arc;

use backporch_adapter::{Adapter, FieldId, Registers};
use backporch_bench::Bench;
use backporch_hazards::Hazard;
use backporch_pc::{Key, MouseMovement};
use backporch_quirk::QuirkStack;
use backporch_raster::{Board, Frame, Plain, Provenance, Tap};
use backporch_script::{PortValue, TraceAccess};

use super::breakpoint::Breakpoint;
use super::bus_writes::{self, BusWrite, BusWrites};
use super::live_driver::{LiveDriver, LiveProgram};
use super::{BoardSide, FittedQuirks};

/// Something done to both boards at one dot.
#[derive(Clone, Debug)]
pub(crate) enum BoardAction {
    /// A register written as a routine would: through its ports, the
    /// picture laid again for it.
    WritePorts { field: FieldId, value: u32 },
    /// A register set past the ports and any protection, the picture laid again for it.
    WriteDirect { field: FieldId, value: u32 },
    /// Other quirks on the faulty board, over what its class does by design; as they are listed, and as they act.
    FitQuirks { fitted: Arc<FittedQuirks>, stack: QuirkStack },
    /// A key of the program's keyboard goes down, or up.
    Key { key: Key, down: bool },
    /// The program's mouse is moved, or its buttons are.
    Mouse(MouseMovement),
}

/// The newest whole frame of each board.
#[derive(Clone, Debug, Default)]
pub(crate) struct Frames {
    pub plain: Frame,
    /// Of the board as built, where that is another one than the plain board.
    pub built: Frame,
    pub faulty: Frame,
}

/// A plain board, one as built and a faulty one that are driven alike.
#[derive(Clone, Debug)]
pub(crate) struct BoardPair {
    pub plain: Board<Plain>,
    /// The board as its class is built, where the class does anything by design.
    pub built: Option<Board<QuirkStack>>,
    pub faulty: Board<QuirkStack>,
    /// Registers as the driver of the boards believes them to be.
    pub intended: Registers,
    pub newest: Frames,
    /// The quirks that were put on the faulty board last.
    pub fitted: Arc<FittedQuirks>,
    /// What drives them: a routine, a write trace, a program.
    driver: Option<LiveDriver>,
    /// Dot asked for last; the beams stand at the first character clock from there on.
    asked: u64,
    breakpoint: Option<Breakpoint>,
    stopped: bool,
    writes: BusWrites,
}

/// Dots a routine is asked for at a time while a frame is run to its end, and where the end is near.
const STRIDE: u64 = 1 << 14;
const NEAR: u64 = 8;

impl BoardPair {
    /// Both boards at the start of frame 0.
    pub fn new(bench: &Bench, fitted: Arc<FittedQuirks>, driver: Option<LiveDriver>) -> Self {
        let registers = bench.registers();
        Self {
            plain: bench.plain(registers),
            built: (!bench.layers().design().is_empty()).then(|| bench.by_design(registers)),
            faulty: bench.faulty(registers),
            intended: registers.clone(),
            newest: Frames::default(),
            fitted,
            driver,
            asked: 0,
            breakpoint: None,
            stopped: false,
            writes: BusWrites::default(),
        }
    }

    /// What was written in a frame, where that is the one under way or the one before.
    pub fn writes(&self, frame: u64) -> &[BusWrite] {
        self.writes.of_frame(frame)
    }

    /// How many more there were.
    pub fn writes_left_out(&self, frame: u64) -> usize {
        self.writes.left_out(frame)
    }

    /// What drives the boards.
    pub fn driver(&self) -> Option<&LiveDriver> {
        self.driver.as_ref()
    }

    /// The program that drives them, where it is one.
    pub fn program(&self) -> Option<&LiveProgram> {
        self.driver.as_ref()?.program()
    }

    /// How many mistakes of timing and order the routine has made.
    pub fn hazard_count(&self) -> usize {
        self.driver.as_ref().map_or(0, |driver| driver.hazards().count)
    }

    /// The newest of them.
    pub fn newest_hazard(&self) -> Option<&Hazard> {
        self.driver.as_ref()?.hazards().newest()
    }

    /// The newest whole frame of a board.
    pub fn frame_of(&self, side: BoardSide) -> &Frame {
        match side {
            BoardSide::Plain => &self.newest.plain,
            // A class that does nothing by design is built as it is meant.
            BoardSide::Built if self.built.is_none() => &self.newest.plain,
            BoardSide::Built => &self.newest.built,
            BoardSide::Faulty => &self.newest.faulty,
        }
    }

    /// The frame of a board that is being drawn.
    pub fn frame_under_way(&self, side: BoardSide) -> Frame {
        match (side, &self.built) {
            (BoardSide::Built, Some(built)) => built.frame_seen(),
            (BoardSide::Plain | BoardSide::Built, _) => self.plain.frame_seen(),
            (BoardSide::Faulty, _) => self.faulty.frame_seen(),
        }
    }

    /// Where a pixel of a board's newest frame comes from.
    pub fn provenance(&self, side: BoardSide, x: u32, line: u32) -> Option<Provenance> {
        match (side, &self.built) {
            (BoardSide::Built, Some(built)) => built.provenance(&self.newest.built, x, line),
            (BoardSide::Plain | BoardSide::Built, _) => self.plain.provenance(&self.newest.plain, x, line),
            (BoardSide::Faulty, _) => self.faulty.provenance(&self.newest.faulty, x, line),
        }
    }

    /// The newest mistakes of timing and order, where something drives the boards.
    pub fn recent_hazards(&self) -> impl Iterator<Item = &Arc<Hazard>> {
        self.driver.iter().flat_map(|driver| driver.hazards().recent())
    }

    /// Dots since the boards were made.
    pub fn now(&self) -> u64 {
        self.faulty.beam().dot
    }

    /// The dot asked for last, which the beams have just reached.
    pub fn asked(&self) -> u64 {
        self.asked
    }

    /// The dot up to which it is known what will happen.
    pub fn ahead(&self) -> u64 {
        self.driver.as_ref().map_or(0, LiveDriver::now).max(self.now())
    }

    /// Number of the frame under way on the faulty board.
    pub fn frame(&self) -> u64 {
        self.faulty.frame_so_far().number
    }

    /// First dot of the frame under way.
    pub fn frame_start(&self) -> u64 {
        self.faulty.frame_so_far().first_dot
    }

    // ---- running ------------------------------------------------------------------------

    /// Asks runs to stop at a breakpoint inside a frame, or nowhere any more.
    pub fn stop_at(&mut self, breakpoint: Option<Breakpoint>) {
        if self.breakpoint.is_none() && breakpoint.is_none() {
            return;
        }
        (self.breakpoint, self.stopped) = (breakpoint, false);
        let asked = self.asked;
        if let Some(program) = self.driver.as_mut().and_then(LiveDriver::program_mut) {
            program.stop_at(breakpoint, asked);
        }
    }

    /// Keeps what drives the boards from running beyond a dot, at which something will be done to it.
    pub fn hold(&mut self, dot: Option<u64>) {
        if let Some(driver) = &mut self.driver {
            driver.hold(dot);
        }
    }

    /// Runs both beams to a dot, keeping whole frames that end on the way; `false` where it stopped before.
    pub fn run_to(&mut self, dot: u64) -> bool {
        while !self.stopped
            && let Some(driver) = &mut self.driver
        {
            if let Some(pending) = driver.next_until(dot) {
                self.run_boards_to(pending.dot);
                self.perform(pending.access);
            } else if driver.is_at_breakpoint() {
                let here = driver.now();
                self.run_boards_to(here);
                self.stopped = true;
            } else {
                break;
            }
        }
        if !self.stopped {
            self.run_boards_to(dot);
        }
        !self.stopped
    }

    fn run_boards_to(&mut self, dot: u64) {
        self.asked = self.asked.max(dot);
        self.faulty.run_to(dot);
        take_newest(&mut self.faulty, &mut self.newest.faulty);
        self.catch_up();
    }

    /// Runs to the end of the faulty board's frame under way; `false` where it stopped before.
    pub fn finish_frame(&mut self) -> bool {
        let frame = match self.driver {
            Some(_) => self.drive_frame(),
            None => Some(self.faulty.run_frame()),
        };
        if let Some(frame) = frame {
            self.faulty.recycle(std::mem::replace(&mut self.newest.faulty, frame));
            self.asked = self.now();
        }
        self.catch_up();
        !self.stopped
    }

    /// Lets the routine drive the boards until a frame is whole, or it stops.
    ///
    /// It runs far ahead only while the end of a frame as long as the last one is far.
    fn drive_frame(&mut self) -> Option<Frame> {
        let length: u64 = self.newest.faulty.lines.iter().map(|line| u64::from(line.dots)).sum();
        let end = self.frame_start() + length;
        while !self.stopped {
            let here = self.now().max(self.asked);
            let until = match length {
                0 => here + STRIDE,
                _ => (here + STRIDE).min(end).max(here + NEAR),
            };
            let driver = self.driver.as_mut()?;
            let next = driver.next_until(until);
            let halted_at = driver.is_at_breakpoint().then(|| driver.now());
            let dot = next.map(|pending| pending.dot).or(halted_at).unwrap_or(until);
            if let Some(frame) = self.faulty.run_towards(dot) {
                return Some(frame);
            }
            self.asked = self.asked.max(dot);
            match next {
                Some(pending) => {
                    self.catch_up();
                    self.perform(pending.access);
                }
                None => self.stopped = halted_at.is_some(),
            }
        }
        None
    }

    /// Makes the routine's next access on both boards.
    fn perform(&mut self, access: TraceAccess) {
        if let Some(what) = bus_writes::written(access) {
            let beam = self.faulty.beam();
            self.writes.take(beam.frame, BusWrite { line: beam.scan_line, dot: beam.line_dot, what });
        }
        access_board(&mut self.plain, access);
        if let Some(built) = &mut self.built {
            access_board(built, access);
        }
        access_board(&mut self.faulty, access);
        if let TraceAccess::Port(port, value) = access {
            self.intended.clone_from(self.plain.registers());
            let next = matches!(value, PortValue::Word(_)).then(|| port.wrapping_add(1));
            let written = |watched: u16| watched == port || Some(watched) == next;
            // A program stops by itself.
            self.stopped |= matches!(self.breakpoint, Some(Breakpoint::Port(watched)) if written(watched) && self.program().is_none());
        }
        if let Some(driver) = &mut self.driver {
            driver.done();
        }
    }

    /// Lets the other boards, whose frames may be of another length, run to the same dot.
    fn catch_up(&mut self) {
        let now = self.now();
        self.plain.run_to(now);
        take_newest(&mut self.plain, &mut self.newest.plain);
        if let Some(built) = &mut self.built {
            built.run_to(now);
            take_newest(built, &mut self.newest.built);
        }
    }

    /// Runs to the end of what the routine is about: the bus access or the instruction under way.
    pub fn settle(&mut self) {
        let Some(dot) = self.driver.as_ref().map(LiveDriver::now) else {
            return;
        };
        while let Some(pending) = self.driver.as_ref().and_then(|driver| driver.known_until(dot)) {
            self.run_boards_to(pending.dot);
            self.perform(pending.access);
        }
        self.run_boards_to(dot);
    }

    /// Makes sure that the instruction under way is known; the dot at which it ends.
    pub fn end_of_instruction(&mut self) -> Option<u64> {
        let asked = self.asked;
        let driver =
            self.driver.as_mut().filter(|driver| driver.program().is_some_and(|program| !program.is_over()))?;
        driver.next_until(asked);
        Some(driver.now()).filter(|end| *end > asked)
    }

    /// Applies an action to the boards, now; under a routine, after the bus access under way.
    pub fn apply(&mut self, bench: &Bench, action: &BoardAction) {
        self.settle();
        if let BoardAction::WritePorts { field, value } | BoardAction::WriteDirect { field, value } = action {
            self.intend(bench, *field, *value);
        }
        write_register(&mut self.plain, action);
        if let Some(built) = &mut self.built {
            write_register(built, action);
        }
        write_register(&mut self.faulty, action);
        fit_quirks(&mut self.faulty, action);
        if let BoardAction::FitQuirks { fitted, .. } = action {
            self.fitted = Arc::clone(fitted);
        }
        let Some(driver) = &mut self.driver else {
            return;
        };
        match (action, driver.program_mut()) {
            (BoardAction::Key { key, down }, Some(program)) => program.key(*key, *down),
            (BoardAction::Mouse(movement), Some(program)) => program.move_mouse(*movement),
            (BoardAction::Key { .. } | BoardAction::Mouse(_), None) => {}
            _ => driver.outside_routine(|board| {
                write_register(board, action);
                fit_quirks(board, action);
            }),
        }
    }

    /// SightingNotes a register's new value and lays the picture for it, unless a routine draws it.
    fn intend(&mut self, bench: &Bench, field: FieldId, value: u32) {
        let laid = self.driver.is_none().then(|| bench.memory(&self.intended));
        let _ = bench.adapter().set(&mut self.intended, field, u64::from(value));
        let Some(laid) = laid else {
            return;
        };
        let memory = bench.memory(&self.intended);
        if laid != memory {
            self.plain.load(&memory);
            if let Some(built) = &mut self.built {
                built.load(&memory);
            }
            self.faulty.load(&memory);
        }
    }
}

/// Sets a board's register as an action asks for.
fn write_register<T: Tap>(board: &mut Board<T>, action: &BoardAction) {
    match action {
        BoardAction::WritePorts { field, value } => write_ports(board, *field, *value),
        // The value was checked when the action was made.
        BoardAction::WriteDirect { field, value } => drop(board.set(*field, u64::from(*value))),
        BoardAction::FitQuirks { .. } | BoardAction::Key { .. } | BoardAction::Mouse(_) => {}
    }
}

/// Puts other quirks on the faulty board where an action asks for it.
fn fit_quirks(board: &mut Board<QuirkStack>, action: &BoardAction) {
    if let BoardAction::FitQuirks { stack, .. } = action {
        board.replace_tap(stack.clone());
    }
}

/// What a routine does on the bus, done to a board.
pub(crate) fn access_board<T: Tap>(board: &mut Board<T>, access: TraceAccess) {
    match access {
        TraceAccess::Port(port, PortValue::Byte(value)) => board.write_port(port, value),
        TraceAccess::Port(port, PortValue::Word(value)) => board.write_port_word(port, value),
        TraceAccess::Read(port) => drop(board.read_port(port)),
        TraceAccess::Memory(offset, value) => board.write_memory(offset, value),
        TraceAccess::MemoryRead(offset) => drop(board.read_memory(offset)),
    }
}

fn take_newest<T: Tap>(board: &mut Board<T>, newest: &mut Frame) {
    if let Some(frame) = board.take_frame() {
        board.recycle(std::mem::replace(newest, frame));
    }
}

/// Programs a register through the ports of its class.
fn write_ports<T: Tap>(board: &mut Board<T>, field: FieldId, value: u32) {
    let adapter: &Adapter = board.adapter();
    for (port, byte) in adapter.programming(board.registers(), field, value) {
        board.write_port(port, byte);
    }
}
