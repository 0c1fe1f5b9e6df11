//! The two boards of a session: a healthy and a faulty one in lock step.

use backporch_adapter::{Adapter, FieldId, Registers};
use backporch_bench::Bench;
use backporch_quirk::{Quirk, QuirkStack};
use backporch_raster::{Board, Frame, Healthy, Tap};

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
}

impl Pair {
    /// Both boards at the start of frame 0.
    pub fn new(bench: &Bench, registers: &Registers) -> Self {
        Self {
            right: bench.healthy(registers),
            wrong: bench.faulty(registers),
            wanted: registers.clone(),
            newest: Frames::default(),
        }
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
        self.wrong.run_to(dot);
        keep_newest(&mut self.wrong, &mut self.newest.wrong);
        self.catch_up();
    }

    /// Runs to the end of the faulty board's frame under way.
    pub fn finish_frame(&mut self) {
        let frame = self.wrong.run_frame();
        self.wrong.recycle(std::mem::replace(&mut self.newest.wrong, frame));
        self.catch_up();
    }

    /// Lets the healthy board, whose frames may be of another length, run to the same dot.
    fn catch_up(&mut self) {
        self.right.run_to(self.now());
        keep_newest(&mut self.right, &mut self.newest.right);
    }

    /// Does something to both boards, now.
    pub fn act(&mut self, bench: &Bench, act: &Act) {
        match act {
            Act::Turn { field, value } => {
                self.want(bench, *field, *value);
                turn(&mut self.right, *field, *value);
                turn(&mut self.wrong, *field, *value);
            }
            Act::Force { field, value } => {
                self.want(bench, *field, *value);
                // The value was checked when the act was made.
                let _ = self.right.set(*field, u64::from(*value));
                let _ = self.wrong.set(*field, u64::from(*value));
            }
            Act::Quirks { quirks, seed } => self.wrong.replace_tap(QuirkStack::new(quirks.clone(), *seed)),
        }
    }

    /// Notes a register's new value and lays the picture for it.
    fn want(&mut self, bench: &Bench, field: FieldId, value: u32) {
        let laid = bench.memory(&self.wanted);
        let _ = bench.adapter().set(&mut self.wanted, field, u64::from(value));
        let memory = bench.memory(&self.wanted);
        if laid != memory {
            self.right.load(&memory);
            self.wrong.load(&memory);
        }
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
