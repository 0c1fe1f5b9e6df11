//! What drives the boards of a session: a routine, a write trace or a program. What it does is
//! found out on a board of its own and then done to both boards of the pair at the same dots.
//!
//! ```text
//! Under, on its own faulty board ─► accesses with their dots ─► both boards
//!                  └─► frame records ─► Inspector ─► hazards
//! ```
//!
//! It waits for the faulty board, as it would in the machine; its own board may be up to one
//! bus access or one instruction ahead of the pair, so the pair can stop at any character clock.

mod coming;
mod program;
mod under;

use std::collections::VecDeque;

use backporch_bench::{Bench, Driven, Start};
use backporch_input::FormError;
use backporch_quirk::QuirkStack;
use backporch_raster::Board;
use backporch_script::Inspector;

pub(crate) use self::coming::Coming;
pub(crate) use self::program::Program;
use self::under::Under;
use super::hazards::Hazards;

/// What drives the boards, a board of its own, and what it did there that the pair has yet to do.
#[derive(Clone, Debug)]
pub(crate) struct Drive {
    under: Under,
    coming: VecDeque<Coming>,
    inspector: Inspector,
    hazards: Hazards,
    /// Dot beyond which it may not run yet.
    held: Option<u64>,
}

impl Drive {
    /// What the bench names, on its faulty board.
    ///
    /// # Errors
    /// Where it cannot be read, or does not go with the class of board.
    pub fn of(bench: &Bench) -> Result<Option<Self>, FormError> {
        let Some(driver) = bench.driver()? else {
            return Ok(None);
        };
        let board = bench.faulty(bench.registers());
        let mut under = match driver.start(bench, board.clone(), Start::default())? {
            Driven::Alone(_) => return Ok(None),
            Driven::Script(runner) => Under::Script(runner),
            Driven::Trace(replay) => Under::Trace(replay),
            Driven::Program(played) => Under::program(played.into_machine(), board),
        };
        under.watched_mut().keep_trace();
        let inspector = driver.inspector(bench);
        Ok(Some(Self { under, coming: VecDeque::new(), inspector, hazards: Hazards::default(), held: None }))
    }

    /// Title of the routine; empty where it has none.
    pub fn title(&self) -> &str {
        self.under.title()
    }

    /// The processor it runs on, where it is no trace.
    pub fn cpu(&self) -> Option<String> {
        self.under.cpu()
    }

    /// The program, where it is one.
    pub fn program(&self) -> Option<&Program> {
        match &self.under {
            Under::Program(program) => Some(program),
            Under::Script(_) | Under::Trace(_) => None,
        }
    }

    /// The same, to press its keys and to stop it.
    pub fn program_mut(&mut self) -> Option<&mut Program> {
        match &mut self.under {
            Under::Program(program) => Some(program),
            Under::Script(_) | Under::Trace(_) => None,
        }
    }

    /// Mistakes of timing and order found so far.
    pub fn hazards(&self) -> &Hazards {
        &self.hazards
    }

    /// The dot it has come to.
    pub fn now(&self) -> u64 {
        self.under.now()
    }

    /// Keeps it from running beyond a dot.
    pub fn hold(&mut self, dot: Option<u64>) {
        self.held = dot;
    }

    /// Whether its program has come to the place where it was asked to stop.
    pub fn came_to_place(&self) -> bool {
        self.program().is_some_and(Program::came_to_place)
    }

    /// The next access up to a dot that the pair has yet to do.
    pub fn next_until(&mut self, dot: u64) -> Option<Coming> {
        if self.coming.is_empty() && self.now() <= dot && !self.came_to_place() {
            // One dot further, so that an access at that very dot is known.
            self.advance(self.held.map_or(dot + 1, |held| held.min(dot + 1)));
        }
        self.known_until(dot)
    }

    /// The same of what it has done already.
    pub fn known_until(&self, dot: u64) -> Option<Coming> {
        self.coming.front().copied().filter(|coming| coming.dot <= dot)
    }

    fn advance(&mut self, dot: u64) {
        self.coming.extend(self.under.run_to(dot));
        while let Some(record) = self.under.watched_mut().take() {
            self.under.see(&record);
            self.inspector.see(record);
        }
        for hazard in self.inspector.take_found() {
            let by = self.under.blamed(&hazard);
            self.hazards.add(hazard, by);
        }
    }

    /// The pair has done the next access.
    pub fn done(&mut self) {
        self.coming.pop_front();
    }

    /// Does something to its boards that the routine has no part in.
    pub fn past_the_routine(&mut self, act: impl Fn(&mut Board<QuirkStack>)) {
        if let Some(program) = self.program_mut() {
            program.past_the_program(&act);
        }
        self.under.watched_mut().past_the_driver(act);
    }
}
