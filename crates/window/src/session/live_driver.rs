//! What drives the boards of a session: a routine, a write trace or a program. What it does is
//! found out on a board of its own and then done to both boards of the pair at the same dots.
//!
//! ```text
//! DrivenBoard, on its own faulty board ─► accesses with their dots ─► both boards
//!                  └─► frame records ─► Inspector ─► hazards
//! ```
//!
//! It waits for the faulty board, as it would in the machine; its own board may be up to one
//! bus access or one instruction ahead of the pair, so the pair can stop at any character clock.

mod driven_board;
mod live_program;
mod pending_access;
mod typed_keys;

use std::collections::VecDeque;

use backporch_bench::Bench;
use backporch_drive::{Driven, Driver, Start};
use backporch_hazards::Inspector;
use backporch_input::InputError;
use backporch_quirk::QuirkStack;
use backporch_raster::Board;

use self::driven_board::DrivenBoard;
pub(crate) use self::live_program::LiveProgram;
pub(crate) use self::pending_access::PendingAccess;
use super::hazards::LiveHazards;

/// What drives the boards, a board of its own, and what it did there that the pair has yet to do.
#[derive(Clone, Debug)]
pub(crate) struct LiveDriver {
    /// What it is called, where the bench does not name it.
    name: String,
    board: DrivenBoard,
    pending: VecDeque<PendingAccess>,
    inspector: Inspector,
    hazards: LiveHazards,
    /// Dot beyond which it may not run yet.
    held: Option<u64>,
}

impl LiveDriver {
    /// What the bench names, on its faulty board.
    ///
    /// # Errors
    /// Where it cannot be read, or does not go with the class of board.
    pub fn of(bench: &Bench) -> Result<Option<Self>, InputError> {
        match Driver::of(bench)? {
            Some(driver) => Self::under(bench, &driver),
            None => Ok(None),
        }
    }

    /// A program that is in no file, on the bench's faulty board.
    ///
    /// # Errors
    /// Where the bytes are no program, or do not fit into memory.
    pub fn of_program(bench: &Bench, name: &str, bytes: &[u8]) -> Result<Option<Self>, InputError> {
        let driver = Self::under(bench, &Driver::of_program(bench, name, bytes)?)?;
        Ok(driver.map(|driver| Self { name: name.to_string(), ..driver }))
    }

    fn under(bench: &Bench, driver: &Driver) -> Result<Option<Self>, InputError> {
        let board = bench.faulty(bench.registers());
        let mut driven = match driver.start(bench, board.clone(), Start::default())? {
            Driven::Alone(_) => return Ok(None),
            Driven::Script(runner) => DrivenBoard::Script(runner),
            Driven::Trace(replay) => DrivenBoard::Trace(replay),
            Driven::Program(played) => DrivenBoard::program(played.into_machine(), board),
        };
        driven.watched_mut().keep_trace();
        let inspector = driver.inspector(bench);
        Ok(Some(Self {
            name: String::new(),
            board: driven,
            pending: VecDeque::new(),
            inspector,
            hazards: LiveHazards::default(),
            held: None,
        }))
    }

    /// Title of the routine, or what a program is called that the bench does not name; empty where it has none.
    pub fn title(&self) -> &str {
        if self.name.is_empty() { self.board.title() } else { &self.name }
    }

    /// The processor it runs on, where it is no trace.
    pub fn cpu(&self) -> Option<String> {
        self.board.cpu()
    }

    /// The program, where it is one.
    pub fn program(&self) -> Option<&LiveProgram> {
        match &self.board {
            DrivenBoard::Program(program) => Some(program),
            DrivenBoard::Script(_) | DrivenBoard::Trace(_) => None,
        }
    }

    /// The same, to press its keys and to stop it.
    pub fn program_mut(&mut self) -> Option<&mut LiveProgram> {
        match &mut self.board {
            DrivenBoard::Program(program) => Some(program),
            DrivenBoard::Script(_) | DrivenBoard::Trace(_) => None,
        }
    }

    /// Mistakes of timing and order found so far.
    pub fn hazards(&self) -> &LiveHazards {
        &self.hazards
    }

    /// The dot it has come to.
    pub fn now(&self) -> u64 {
        self.board.now()
    }

    /// Keeps it from running beyond a dot.
    pub fn hold(&mut self, dot: Option<u64>) {
        self.held = dot;
    }

    /// Whether its program has come to the place where it was asked to stop.
    pub fn is_at_breakpoint(&self) -> bool {
        self.program().is_some_and(LiveProgram::is_at_breakpoint)
    }

    /// The next access up to a dot that the pair has yet to do.
    pub fn next_until(&mut self, dot: u64) -> Option<PendingAccess> {
        if self.pending.is_empty() && self.now() <= dot && !self.is_at_breakpoint() {
            // One dot further, so that an access at that very dot is known.
            self.advance(self.held.map_or(dot + 1, |held| held.min(dot + 1)));
        }
        self.known_until(dot)
    }

    /// The same of what it has done already.
    pub fn known_until(&self, dot: u64) -> Option<PendingAccess> {
        self.pending.front().copied().filter(|access| access.dot <= dot)
    }

    fn advance(&mut self, dot: u64) {
        self.pending.extend(self.board.run_to(dot));
        while let Some(record) = self.board.watched_mut().take() {
            self.board.see(&record);
            self.inspector.see(record);
        }
        for hazard in self.inspector.take_found() {
            let by = self.board.blamed(&hazard);
            self.hazards.add(hazard, by);
        }
    }

    /// The pair has done the next access.
    pub fn done(&mut self) {
        self.pending.pop_front();
    }

    /// Does something to its boards that the routine has no part in.
    pub fn outside_routine(&mut self, action: impl Fn(&mut Board<QuirkStack>)) {
        if let Some(program) = self.program_mut() {
            program.past_the_program(&action);
        }
        self.board.watched_mut().past_the_driver(action);
    }
}
