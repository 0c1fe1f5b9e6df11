//! The two boards of a session: a healthy and a faulty one in lock step.

use backporch_adapter::{Adapter, FieldId, Registers};
use backporch_bench::Bench;
use backporch_pc::Key;
use backporch_quirk::{Quirk, QuirkStack};
use backporch_raster::{Board, Frame, Healthy, Tap};
use backporch_script::{Hazard, PortValue, TraceAccess};

use super::drive::{Drive, Program};
use super::place::Place;

/// Something done to both boards at one dot.
#[derive(Clone, Debug)]
pub(crate) enum Act {
    /// A register turned by hand as a routine would: through its ports, the
    /// picture laid again for it.
    Turn { field: FieldId, value: u32 },
    /// A register set past the ports and any protection, the picture laid again for it.
    Force { field: FieldId, value: u32 },
    /// Other quirks on the faulty board.
    Quirks { quirks: Vec<Quirk>, seed: u64 },
    /// A key of the program's keyboard goes down, or up.
    Key { key: Key, down: bool },
}

/// The newest whole frame of each board.
#[derive(Clone, Debug, Default)]
pub(crate) struct Frames {
    pub right: Frame,
    pub wrong: Frame,
}

/// A healthy and a faulty board that are driven alike.
#[derive(Clone, Debug)]
pub(crate) struct Pair {
    pub right: Board<Healthy>,
    pub wrong: Board<QuirkStack>,
    /// Registers as whoever drives the boards believes them to be.
    pub wanted: Registers,
    pub newest: Frames,
    /// What drives them: a routine, a write trace, a program.
    drive: Option<Drive>,
    /// Dot asked for last; the beams stand at the first character clock from there on.
    asked: u64,
    place: Option<Place>,
    stopped: bool,
}

/// Dots a routine is asked for at a time while a frame is run to its end, and where the end is near.
const STRIDE: u64 = 1 << 14;
const NEAR: u64 = 8;

impl Pair {
    /// Both boards at the start of frame 0.
    pub fn new(bench: &Bench, drive: Option<Drive>) -> Self {
        let registers = bench.registers();
        Self {
            right: bench.healthy(registers),
            wrong: bench.faulty(registers),
            wanted: registers.clone(),
            newest: Frames::default(),
            drive,
            asked: 0,
            place: None,
            stopped: false,
        }
    }

    /// What drives the boards.
    pub fn drive(&self) -> Option<&Drive> {
        self.drive.as_ref()
    }

    /// The program that drives them, where it is one.
    pub fn program(&self) -> Option<&Program> {
        self.drive.as_ref()?.program()
    }

    /// How many mistakes of timing and order the routine has made.
    pub fn hazard_count(&self) -> usize {
        self.drive.as_ref().map_or(0, |drive| drive.hazards().count)
    }

    /// The newest of them.
    pub fn newest_hazard(&self) -> Option<&Hazard> {
        self.drive.as_ref()?.hazards().newest.as_ref()
    }

    /// Dots since the boards were made.
    pub fn now(&self) -> u64 {
        self.wrong.beam().dot
    }

    /// The dot asked for last, which the beams have just reached.
    pub fn asked(&self) -> u64 {
        self.asked
    }

    /// The dot up to which it is known what will happen.
    pub fn ahead(&self) -> u64 {
        self.drive.as_ref().map_or(0, Drive::now).max(self.now())
    }

    /// Number of the frame under way on the faulty board.
    pub fn frame(&self) -> u64 {
        self.wrong.frame_so_far().number
    }

    /// First dot of the frame under way.
    pub fn frame_start(&self) -> u64 {
        self.wrong.frame_so_far().first_dot
    }

    // ---- running ------------------------------------------------------------------------

    /// Asks runs to stop at a place inside a frame, or nowhere any more.
    pub fn stop_at(&mut self, place: Option<Place>) {
        if self.place.is_none() && place.is_none() {
            return;
        }
        (self.place, self.stopped) = (place, false);
        let asked = self.asked;
        if let Some(program) = self.drive.as_mut().and_then(Drive::program_mut) {
            program.stop_at(place, asked);
        }
    }

    /// Keeps what drives the boards from running beyond a dot, at which something will be done to it.
    pub fn hold(&mut self, dot: Option<u64>) {
        if let Some(drive) = &mut self.drive {
            drive.hold(dot);
        }
    }

    /// Runs both beams to a dot, keeping whole frames that end on the way; `false` where it stopped before.
    pub fn run_to(&mut self, dot: u64) -> bool {
        while !self.stopped
            && let Some(drive) = &mut self.drive
        {
            match (drive.next_until(dot), drive.came_to_place()) {
                (Some(coming), _) => {
                    self.run_boards_to(coming.dot);
                    self.make(coming.access);
                }
                (None, true) => {
                    let here = drive.now();
                    self.run_boards_to(here);
                    self.stopped = true;
                }
                (None, false) => break,
            }
        }
        if !self.stopped {
            self.run_boards_to(dot);
        }
        !self.stopped
    }

    fn run_boards_to(&mut self, dot: u64) {
        self.asked = self.asked.max(dot);
        self.wrong.run_to(dot);
        keep_newest(&mut self.wrong, &mut self.newest.wrong);
        self.catch_up();
    }

    /// Runs to the end of the faulty board's frame under way; `false` where it stopped before.
    pub fn finish_frame(&mut self) -> bool {
        let frame = match self.drive {
            Some(_) => self.drive_frame(),
            None => Some(self.wrong.run_frame()),
        };
        if let Some(frame) = frame {
            self.wrong.recycle(std::mem::replace(&mut self.newest.wrong, frame));
            self.asked = self.now();
        }
        self.catch_up();
        !self.stopped
    }

    /// Lets the routine drive the boards until a frame is whole, or it stops.
    ///
    /// It runs far ahead only while the end of a frame as long as the last one is far.
    fn drive_frame(&mut self) -> Option<Frame> {
        let length: u64 = self.newest.wrong.lines.iter().map(|line| u64::from(line.dots)).sum();
        let end = self.frame_start() + length;
        while !self.stopped {
            let here = self.now().max(self.asked);
            let until = match length {
                0 => here + STRIDE,
                _ => (here + STRIDE).min(end).max(here + NEAR),
            };
            let drive = self.drive.as_mut()?;
            let next = drive.next_until(until);
            let came_to = drive.came_to_place().then(|| drive.now());
            let dot = next.map(|coming| coming.dot).or(came_to).unwrap_or(until);
            if let Some(frame) = self.wrong.run_towards(dot) {
                return Some(frame);
            }
            self.asked = self.asked.max(dot);
            match next {
                Some(coming) => {
                    self.catch_up();
                    self.make(coming.access);
                }
                None => self.stopped = came_to.is_some(),
            }
        }
        None
    }

    /// Makes the routine's next access on both boards.
    fn make(&mut self, access: TraceAccess) {
        access_board(&mut self.right, access);
        access_board(&mut self.wrong, access);
        if let TraceAccess::Port(port, value) = access {
            self.wanted.clone_from(self.right.registers());
            let next = matches!(value, PortValue::Word(_)).then(|| port.wrapping_add(1));
            let written = |watched: u16| watched == port || Some(watched) == next;
            // A program stops by itself.
            self.stopped |=
                matches!(self.place, Some(Place::Port(watched)) if written(watched) && self.program().is_none());
        }
        if let Some(drive) = &mut self.drive {
            drive.done();
        }
    }

    /// Lets the healthy board, whose frames may be of another length, run to the same dot.
    fn catch_up(&mut self) {
        self.right.run_to(self.now());
        keep_newest(&mut self.right, &mut self.newest.right);
    }

    /// Runs to the end of what the routine is about: the bus access or the instruction under way.
    pub fn settle(&mut self) {
        let Some(dot) = self.drive.as_ref().map(Drive::now) else {
            return;
        };
        while let Some(coming) = self.drive.as_ref().and_then(|drive| drive.known_until(dot)) {
            self.run_boards_to(coming.dot);
            self.make(coming.access);
        }
        self.run_boards_to(dot);
    }

    /// Makes sure that the instruction under way is known; the dot at which it ends.
    pub fn end_of_instruction(&mut self) -> Option<u64> {
        let asked = self.asked;
        let drive = self.drive.as_mut().filter(|drive| drive.program().is_some_and(|program| !program.is_over()))?;
        drive.next_until(asked);
        Some(drive.now()).filter(|end| *end > asked)
    }

    /// Does something to both boards, now; under a routine, after the bus access under way.
    pub fn act(&mut self, bench: &Bench, act: &Act) {
        self.settle();
        if let Act::Turn { field, value } | Act::Force { field, value } = act {
            self.want(bench, *field, *value);
        }
        act_on(&mut self.right, act);
        act_on(&mut self.wrong, act);
        refit(&mut self.wrong, act);
        let Some(drive) = &mut self.drive else {
            return;
        };
        match (act, drive.program_mut()) {
            (Act::Key { key, down }, Some(program)) => program.key(*key, *down),
            (Act::Key { .. }, None) => {}
            _ => drive.past_the_routine(|board| {
                act_on(board, act);
                refit(board, act);
            }),
        }
    }

    /// Notes a register's new value and lays the picture for it, unless a routine draws it.
    fn want(&mut self, bench: &Bench, field: FieldId, value: u32) {
        let laid = self.drive.is_none().then(|| bench.memory(&self.wanted));
        let _ = bench.adapter().set(&mut self.wanted, field, u64::from(value));
        let Some(laid) = laid else {
            return;
        };
        let memory = bench.memory(&self.wanted);
        if laid != memory {
            self.right.load(&memory);
            self.wrong.load(&memory);
        }
    }
}

/// Sets a board's register as an act asks for.
fn act_on<T: Tap>(board: &mut Board<T>, act: &Act) {
    match act {
        Act::Turn { field, value } => turn(board, *field, *value),
        // The value was checked when the act was made.
        Act::Force { field, value } => drop(board.set(*field, u64::from(*value))),
        Act::Quirks { .. } | Act::Key { .. } => {}
    }
}

/// Puts other quirks on the faulty board where an act asks for it.
fn refit(board: &mut Board<QuirkStack>, act: &Act) {
    if let Act::Quirks { quirks, seed } = act {
        board.replace_tap(QuirkStack::new(quirks.clone(), *seed));
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

fn keep_newest<T: Tap>(board: &mut Board<T>, newest: &mut Frame) {
    if let Some(frame) = board.take_frame() {
        board.recycle(std::mem::replace(newest, frame));
    }
}

/// Programs a register through the ports of its class.
fn turn<T: Tap>(board: &mut Board<T>, field: FieldId, value: u32) {
    let adapter: &Adapter = board.adapter();
    for (port, byte) in adapter.programming(board.registers(), field, value) {
        board.write_port(port, byte);
    }
}
