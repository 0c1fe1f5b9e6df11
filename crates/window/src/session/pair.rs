//! The two boards of a session: a healthy and a faulty one in lock step.

use backporch_adapter::{Adapter, FieldId, Registers};
use backporch_bench::Bench;
use backporch_quirk::{Quirk, QuirkStack};
use backporch_raster::{Board, Frame, Healthy, Tap};
use backporch_routine::{Hazard, PortValue, TraceAccess};

use super::drive::Drive;

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
    /// The routine that drives them, where one does.
    drive: Option<Drive>,
}

/// Dots a routine is asked for at a time while a frame is run to its end.
const STRIDE: u64 = 1 << 14;

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
        }
    }

    /// The routine that drives the boards.
    pub fn drive(&self) -> Option<&Drive> {
        self.drive.as_ref()
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

    /// Number of the frame under way on the faulty board.
    pub fn frame(&self) -> u64 {
        self.wrong.frame_so_far().number
    }

    /// First dot of the frame under way.
    pub fn frame_start(&self) -> u64 {
        self.wrong.frame_so_far().first_dot
    }

    /// Runs both beams to a dot, keeping whole frames that end on the way.
    pub fn run_to(&mut self, dot: u64) {
        while let Some((at, access)) = self.drive.as_mut().and_then(|drive| drive.next_until(dot)) {
            self.run_boards_to(at);
            self.make(access);
        }
        self.run_boards_to(dot);
    }

    fn run_boards_to(&mut self, dot: u64) {
        self.wrong.run_to(dot);
        keep_newest(&mut self.wrong, &mut self.newest.wrong);
        self.catch_up();
    }

    /// Runs to the end of the faulty board's frame under way.
    pub fn finish_frame(&mut self) {
        let frame = match self.drive {
            Some(_) => self.drive_frame(),
            None => self.wrong.run_frame(),
        };
        self.wrong.recycle(std::mem::replace(&mut self.newest.wrong, frame));
        self.catch_up();
    }

    /// Lets the routine drive the boards until a frame is whole.
    fn drive_frame(&mut self) -> Frame {
        loop {
            let stride = self.now() + STRIDE;
            let next = self.drive.as_mut().and_then(|drive| drive.next_until(stride));
            if let Some(frame) = self.wrong.run_towards(next.map_or(stride, |(at, _)| at)) {
                return frame;
            }
            if let Some((_, access)) = next {
                self.catch_up();
                self.make(access);
            }
        }
    }

    /// Makes the routine's next access on both boards.
    fn make(&mut self, access: TraceAccess) {
        access_board(&mut self.right, access);
        access_board(&mut self.wrong, access);
        if let TraceAccess::Port(..) = access {
            self.wanted.clone_from(self.right.registers());
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

    /// Does something to both boards, now; under a routine, after the bus access under way.
    pub fn act(&mut self, bench: &Bench, act: &Act) {
        if let Some(dot) = self.drive.as_ref().map(Drive::now) {
            self.run_to(dot);
        }
        if let Act::Turn { field, value } | Act::Force { field, value } = act {
            self.want(bench, *field, *value);
        }
        act_on(&mut self.right, act);
        act_on(&mut self.wrong, act);
        refit(&mut self.wrong, act);
        if let Some(drive) = &mut self.drive {
            drive.past_the_routine(|board| {
                act_on(board, act);
                refit(board, act);
            });
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
        Act::Quirks { .. } => {}
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
