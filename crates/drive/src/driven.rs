//! A board under whatever drives it, frame by frame.

use backporch_pc::record::AccessKind;
use backporch_pc::{Machine, RecordedAccess, Report, Stop};
use backporch_raster::{Board, Frame, Tap};
use backporch_script::{PortValue, Replay, Runner, Trace, TraceAccess};

/// A program that shows no frame within this time of its own is not waited for
/// any longer, in nanoseconds: a frame of the slowest board lasts a tenth of that.
pub const LONGEST_FRAME: u64 = 200_000_000;

/// A board and what drives it. Cloning it takes a snapshot.
#[derive(Clone, Debug)]
pub enum Driven<T: Tap> {
    /// Nothing: the board shows what it holds.
    Alone(Box<Board<T>>),
    /// A routine script.
    Script(Box<Runner<T>>),
    /// A write trace.
    Trace(Box<Replay<T>>),
    /// A real-mode program.
    Program(Box<Played<T>>),
}

impl<T: Tap> Driven<T> {
    /// Runs to the end of the frame under way.
    pub fn next_frame(&mut self) -> Frame {
        match self {
            Self::Alone(board) => board.run_frame(),
            Self::Script(runner) => runner.next_frame(),
            Self::Trace(replay) => replay.next_frame().frame,
            Self::Program(played) => played.next_frame(),
        }
    }

    /// The board.
    #[must_use]
    pub fn board(&self) -> &Board<T> {
        match self {
            Self::Alone(board) => board,
            Self::Script(runner) => runner.board().board(),
            Self::Trace(replay) => replay.board().board(),
            Self::Program(played) => played.machine.board(),
        }
    }

    /// Gives a frame's memory back, for the next one to use.
    pub fn recycle(&mut self, frame: Frame) {
        match self {
            Self::Alone(board) => board.recycle(frame),
            Self::Program(played) => played.machine.recycle(frame),
            // A watched board hands its frames out for good.
            Self::Script(_) | Self::Trace(_) => drop(frame),
        }
    }

    /// Why a program could not go on, where it could not.
    #[must_use]
    pub fn trouble(&self) -> Option<&Report> {
        match self {
            Self::Program(played) => played.trouble(),
            _ => None,
        }
    }
}

/// A program at work; once it has ended its board shows on what it showed.
#[derive(Clone, Debug)]
pub struct Played<T: Tap> {
    machine: Machine<T>,
    ended: Option<Stop>,
}

impl<T: Tap> Played<T> {
    /// A machine about to run.
    #[must_use]
    pub fn new(machine: Machine<T>) -> Self {
        Self { machine, ended: None }
    }

    /// The machine.
    #[must_use]
    pub fn machine(&self) -> &Machine<T> {
        &self.machine
    }

    /// The same, with a choice of what to keep.
    pub fn machine_mut(&mut self) -> &mut Machine<T> {
        &mut self.machine
    }

    /// The machine, for the caller to run.
    #[must_use]
    pub fn into_machine(self) -> Machine<T> {
        self.machine
    }

    /// How the program ended, where it did.
    #[must_use]
    pub fn ended(&self) -> Option<&Stop> {
        self.ended.as_ref()
    }

    fn trouble(&self) -> Option<&Report> {
        match &self.ended {
            Some(Stop::Trouble(report)) => Some(report),
            _ => None,
        }
    }

    /// Runs to the end of the frame under way.
    pub fn next_frame(&mut self) -> Frame {
        while self.ended.is_none() {
            self.machine.set_deadline(self.machine.nanoseconds().saturating_add(LONGEST_FRAME));
            match self.machine.run() {
                Stop::Frame(frame) => return *frame,
                // Breakpoints are for whoever set them.
                stop @ (Stop::Exit(_) | Stop::Trouble(_) | Stop::WaitsForKey | Stop::TimeOver) => {
                    self.ended = Some(stop);
                }
                Stop::Address(_) | Stop::Port(_) | Stop::ScanLine(_) => {}
            }
        }
        self.machine.finish_frame()
    }
}

/// What a program did to its board, as a write trace.
#[must_use]
pub fn trace_of(accesses: &[RecordedAccess]) -> Trace {
    let mut trace = Trace::default();
    for access in accesses {
        trace.push(access.dot, traced(access));
        // The last read of a loop that waited tells when it saw what it waited for.
        if access.times > 1 {
            trace.push(access.last, traced(access));
        }
    }
    trace
}

/// One access of a program, as a write trace has it.
#[must_use]
pub fn traced(access: &RecordedAccess) -> TraceAccess {
    let port = access.address as u16;
    match access.kind {
        AccessKind::Port => TraceAccess::Port(port, PortValue::Byte(access.value as u8)),
        AccessKind::PortWord => TraceAccess::Port(port, PortValue::Word(access.value)),
        AccessKind::PortRead => TraceAccess::Read(port),
        AccessKind::Memory => TraceAccess::Memory(access.address, access.value as u8),
        AccessKind::MemoryRead => TraceAccess::MemoryRead(access.address),
    }
}
