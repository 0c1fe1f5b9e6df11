//! A board under a routine, a write trace or a program, its accesses noted.

use backporch_hazards::Hazard;
use backporch_pc::Machine;
use backporch_quirk::QuirkStack;
use backporch_raster::Board;
use backporch_script::{FrameRecord, Replay, Runner, Watched};

use super::live_program::LiveProgram;
use super::pending_access::PendingAccess;

/// A board under what drives it.
#[derive(Clone, Debug)]
pub(super) enum DrivenBoard {
    Script(Box<Runner<QuirkStack>>),
    Trace(Box<Replay<QuirkStack>>),
    Program(Box<LiveProgram>),
}

impl DrivenBoard {
    /// A program in its machine; `board` is like the machine's own at its start.
    pub fn program(machine: Machine<QuirkStack>, board: Board<QuirkStack>) -> Self {
        Self::Program(Box::new(LiveProgram::new(machine, board)))
    }

    /// Lets it run to a dot at least; what it did on the way.
    pub fn run_to(&mut self, dot: u64) -> Vec<PendingAccess> {
        match self {
            Self::Script(runner) => runner.run_to(dot),
            Self::Trace(replay) => replay.run_to(dot),
            Self::Program(program) => program.run_to(dot),
        }
        let made = self.watched_mut().take_trace();
        made.accesses().iter().map(|&(dot, access)| PendingAccess { dot, access }).collect()
    }

    /// The dot it has come to.
    pub fn now(&self) -> u64 {
        match self {
            Self::Script(_) | Self::Trace(_) => self.watched().at().dot,
            Self::Program(program) => program.now(),
        }
    }

    /// Takes in a whole frame of its board.
    pub fn see(&mut self, record: &FrameRecord) {
        if let Self::Program(program) = self {
            program.see(record);
        }
    }

    /// The instruction that made a mistake, disassembled, where one can be named.
    pub fn blamed(&self, hazard: &Hazard) -> Option<String> {
        match self {
            Self::Program(program) => program.blamed(hazard),
            Self::Script(_) | Self::Trace(_) => None,
        }
    }

    pub fn watched(&self) -> &Watched<QuirkStack> {
        match self {
            Self::Script(runner) => runner.board(),
            Self::Trace(replay) => replay.board(),
            Self::Program(program) => program.watched(),
        }
    }

    pub fn watched_mut(&mut self) -> &mut Watched<QuirkStack> {
        match self {
            Self::Script(runner) => runner.board_mut(),
            Self::Trace(replay) => replay.board_mut(),
            Self::Program(program) => program.watched_mut(),
        }
    }

    pub fn title(&self) -> &str {
        match self {
            Self::Script(runner) => &runner.program().file().title,
            Self::Trace(_) | Self::Program(_) => "",
        }
    }

    pub fn cpu(&self) -> Option<String> {
        match self {
            Self::Script(runner) => Some(runner.cpu().model().name.clone()),
            Self::Trace(_) => None,
            Self::Program(program) => Some(program.processor()),
        }
    }
}
