//! The trail of hazards: every mistake found lately, by the frame that shows it.

use std::collections::BTreeMap;
use std::sync::Arc;

use backporch_hazards::{Hazard, HazardKind};

/// Most hazards remembered.
const MOST: usize = 4096;

/// Frame, line and dot of a hazard, and its kind.
type Place = (u64, u32, u32, HazardKind);

/// Hazards in the order of the beam.
#[derive(Clone, Debug, Default)]
pub struct HazardTrail {
    found: BTreeMap<Place, Arc<Hazard>>,
}

fn place_of(hazard: &Hazard) -> Place {
    (hazard.frame, hazard.line, hazard.dot, hazard.kind)
}

impl HazardTrail {
    /// The hazards that a frame shows, from the top.
    pub fn of_frame(&self, frame: u64) -> impl Iterator<Item = &Arc<Hazard>> {
        let first = (frame, 0, 0, HazardKind::ALL[0]);
        self.found.range(first..).map(|(_, hazard)| hazard).take_while(move |hazard| hazard.frame == frame)
    }

    /// How many of each kind.
    pub(crate) fn by_kind(&self) -> BTreeMap<HazardKind, usize> {
        let mut counts = BTreeMap::new();
        self.found.keys().for_each(|(.., kind)| *counts.entry(*kind).or_default() += 1);
        counts
    }

    /// The one after a hazard, or, after none, the first that a frame or a later one shows.
    pub(crate) fn next(&self, after: Option<&Hazard>, frame: u64) -> Option<&Arc<Hazard>> {
        match after.map(place_of) {
            Some(place) => self.found.range(place..).find(|(at, _)| **at > place).map(|(_, hazard)| hazard),
            None => self.found.range((frame, 0, 0, HazardKind::ALL[0])..).next().map(|(_, hazard)| hazard),
        }
    }

    /// The one before a hazard, or, before none, the last that an earlier frame shows.
    pub(crate) fn previous(&self, before: Option<&Hazard>, frame: u64) -> Option<&Arc<Hazard>> {
        let end = before.map_or((frame, 0, 0, HazardKind::ALL[0]), place_of);
        self.found.range(..end).next_back().map(|(_, hazard)| hazard)
    }

    /// Takes in what was found; what is known already stays as it is.
    pub(super) fn take<'a>(&mut self, found: impl Iterator<Item = &'a Arc<Hazard>>) {
        for hazard in found {
            self.found.entry(place_of(hazard)).or_insert_with(|| Arc::clone(hazard));
        }
        while self.found.len() > MOST {
            self.found.pop_first();
        }
    }

    /// Forgets what frames after `frame` showed: something new was done there.
    pub(super) fn forget_after(&mut self, frame: u64) {
        self.found.split_off(&(frame + 1, 0, 0, HazardKind::ALL[0]));
    }
}
