//! Mistakes of timing and order, counted as they are found.

use std::collections::{BTreeMap, VecDeque};
use std::sync::Arc;

use backporch_hazards::{Hazard, HazardKind};

/// Hazards of one kind.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct HazardCount {
    /// The kind.
    pub kind: HazardKind,
    /// How often it was made.
    pub count: usize,
    /// The newest one.
    pub newest: Hazard,
    /// The program's instruction that made it, disassembled, where one can be named.
    pub by: Option<String>,
}

/// Newest hazards kept whole: more than the frames between two looks show.
const RECENT: usize = 512;

/// Mistakes of timing and order made so far.
#[derive(Clone, Debug, Default)]
pub(crate) struct LiveHazards {
    /// How many, and the newest one, by kind.
    pub by_kind: BTreeMap<HazardKind, HazardCount>,
    /// How many in all.
    pub count: usize,
    /// The newest ones, in the order in which they were found.
    recent: VecDeque<Arc<Hazard>>,
}

impl LiveHazards {
    /// The newest ones, the last one last.
    pub fn recent(&self) -> impl Iterator<Item = &Arc<Hazard>> {
        self.recent.iter()
    }

    /// The one found last.
    pub fn newest(&self) -> Option<&Hazard> {
        self.recent.back().map(Arc::as_ref)
    }

    /// Takes one in, with the instruction that made it where one can be named.
    pub fn add(&mut self, hazard: Hazard, by: Option<String>) {
        self.count += 1;
        self.recent.push_back(Arc::new(hazard.clone()));
        if self.recent.len() > RECENT {
            self.recent.pop_front();
        }
        let fresh = || HazardCount { kind: hazard.kind, count: 0, newest: hazard.clone(), by: None };
        let kind = self.by_kind.entry(hazard.kind).or_insert_with(fresh);
        kind.count += 1;
        kind.newest = hazard;
        kind.by = by;
    }
}

/// A hazard in a line: kind, frame and line, what happened.
pub(crate) fn words(hazard: &Hazard) -> String {
    format!("{} in frame {}, line {}: {}", hazard.kind, hazard.frame, hazard.line, hazard.what)
}
