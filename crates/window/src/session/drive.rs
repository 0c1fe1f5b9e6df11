//! A routine, or a write trace, under the session: what it does is found out on a board of its
//! own and then done to both boards of the pair at the same dots.
//!
//! ```text
//! Runner on its own faulty board ─► accesses with their dots ─► both boards
//!                  └─► frame records ─► Inspector ─► hazards
//! ```
//!
//! The routine waits for the faulty board, as it would in the machine; its own
//! board may be up to one bus access ahead of the pair, so the pair can stop at
//! any character clock.

use std::collections::{BTreeMap, VecDeque};
use std::sync::Arc;

use backporch_bench::{Bench, Driven, is_program};
use backporch_form::FormError;
use backporch_quirk::QuirkStack;
use backporch_raster::Board;
use backporch_routine::{
    BUILT_IN_ROUTINES, Hazard, HazardKind, Inspector, Replay, Runner, Surroundings, TraceAccess, Watched,
};

use super::routine::HazardCount;

/// A board under what drives it.
#[derive(Clone, Debug)]
enum Under {
    Script(Box<Runner<QuirkStack>>),
    Trace(Box<Replay<QuirkStack>>),
}

/// A routine or a write trace, its board, and what it did there that the pair has yet to do.
#[derive(Clone, Debug)]
pub(crate) struct Drive {
    under: Under,
    coming: VecDeque<(u64, TraceAccess)>,
    inspector: Inspector,
    hazards: Hazards,
}

/// Mistakes of timing and order made so far.
#[derive(Clone, Debug, Default)]
pub(crate) struct Hazards {
    /// How many, and the newest one, by kind.
    pub by_kind: BTreeMap<HazardKind, HazardCount>,
    /// How many in all.
    pub count: usize,
    /// The one found last.
    pub newest: Option<Hazard>,
}

impl Hazards {
    fn add(&mut self, hazard: Hazard) {
        self.count += 1;
        self.newest = Some(hazard.clone());
        let fresh = || HazardCount { kind: hazard.kind, count: 0, newest: hazard.clone() };
        let kind = self.by_kind.entry(hazard.kind).or_insert_with(fresh);
        kind.count += 1;
        kind.newest = hazard;
    }
}

/// Whether a routine of that name is part of the program.
pub(crate) fn is_built_in(name: &str) -> bool {
    BUILT_IN_ROUTINES.iter().any(|(known, _)| *known == name)
}

impl Under {
    fn run_to(&mut self, dot: u64) {
        match self {
            Self::Script(runner) => runner.run_to(dot),
            Self::Trace(replay) => replay.run_to(dot),
        }
    }

    fn watched(&self) -> &Watched<QuirkStack> {
        match self {
            Self::Script(runner) => runner.board(),
            Self::Trace(replay) => replay.board(),
        }
    }

    fn watched_mut(&mut self) -> &mut Watched<QuirkStack> {
        match self {
            Self::Script(runner) => runner.board_mut(),
            Self::Trace(replay) => replay.board_mut(),
        }
    }
}

impl Drive {
    /// What the bench names, on its faulty board; nothing where it names a
    /// program, which needs a machine around it.
    ///
    /// # Errors
    /// Where it cannot be read, or does not go with the class of board.
    pub fn of(bench: &Bench) -> Result<Option<Self>, FormError> {
        if bench.routine().is_none_or(is_program) {
            return Ok(None);
        }
        let mut around = Surroundings { monitor: bench.monitor().cloned(), ..Surroundings::default() };
        let mut under = match bench.driven(bench.faulty(bench.registers()))? {
            Driven::Script(runner) => {
                around.cpu = Some(runner.cpu().clone());
                around.poll_extra_clocks = runner.program().file().poll_extra_clocks;
                Under::Script(runner)
            }
            Driven::Trace(replay) => Under::Trace(replay),
            Driven::Alone(_) | Driven::Program(_) => return Ok(None),
        };
        under.watched_mut().keep_trace();
        let inspector = Inspector::new(Arc::clone(bench.adapter()), around);
        Ok(Some(Self { under, coming: VecDeque::new(), inspector, hazards: Hazards::default() }))
    }

    /// Title of the routine; empty where it has none.
    pub fn title(&self) -> &str {
        match &self.under {
            Under::Script(runner) => &runner.program().file().title,
            Under::Trace(_) => "",
        }
    }

    /// The processor it runs on, where it is no trace.
    pub fn cpu(&self) -> Option<&str> {
        match &self.under {
            Under::Script(runner) => Some(&runner.cpu().model().name),
            Under::Trace(_) => None,
        }
    }

    /// Mistakes of timing and order found so far.
    pub fn hazards(&self) -> &Hazards {
        &self.hazards
    }

    /// Dot at which its board's beam stands.
    pub fn now(&self) -> u64 {
        self.under.watched().at().dot
    }

    /// The next access up to a dot that the pair has yet to do.
    pub fn next_until(&mut self, dot: u64) -> Option<(u64, TraceAccess)> {
        if self.coming.is_empty() && self.now() <= dot {
            // One dot further, so that an access at that very dot is known.
            self.under.run_to(dot + 1);
            let watched = self.under.watched_mut();
            self.coming.extend(watched.take_trace().accesses());
            while let Some(record) = watched.take() {
                self.inspector.see(record);
            }
            self.inspector.take_found().into_iter().for_each(|hazard| self.hazards.add(hazard));
        }
        self.coming.front().copied().filter(|(at, _)| *at <= dot)
    }

    /// The pair has done the next access.
    pub fn done(&mut self) {
        self.coming.pop_front();
    }

    /// Does something to its board that the routine has no part in.
    pub fn past_the_routine(&mut self, act: impl FnOnce(&mut Board<QuirkStack>)) {
        self.under.watched_mut().past_the_driver(act);
    }
}
